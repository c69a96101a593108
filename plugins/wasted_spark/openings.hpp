// The opening of a dual-output coil as the tables hold it, and how its inputs are listed: shared by the stages that
// take them.
#pragma once

#include <string>
#include <vector>

#include "blocks/coil_stages.hpp"
#include "blocks/pair_stage.hpp"
#include "family.hpp"

namespace lostspark::wasted_spark {

/// '#' is followed by the number of the coil or the cylinder.
inline std::string named(std::string id, int number) {
  if (id.back() == '#') id.replace(id.size() - 1, 1, "_" + std::to_string(number));
  return id;
}

template <std::size_t N>
void parameters(plugin::Tables& t, const char* const (&ids)[N], int number = 0) {
  for (const char* id : ids) t.input(LS_INPUT_PARAMETER, named(id, number).c_str());
}

/// Openings are computed at currents of a grid and read between: a fault of the supply changes the current a little and
/// no opening, so the same few of them serve all. Neighbours are a factor apart; in between logarithms are linear.
inline constexpr double k_grid_step = 0.13;

/// Parameters of a pair's coil and of both its sides; throws plugin::Refusal for one that is not above zero.
blocks::PairInputs take_pair(blocks::StageIn& in, blocks::OpeningSettings& settings);
void add_pair_inputs(plugin::Tables& t, const Options& options, int pair);

/// The stage `opening` of a pair: at the grid's current below and above that of dwell.
void evaluate_opening(blocks::StageIn in, blocks::StageOut out);
/// Its table rows; ids of its outputs, in order.
std::vector<std::string> add_opening(plugin::Tables& t, const Options& options, int pair);
/// The outputs of that stage, read `part` of the way between the grid's currents; turned: side b first.
blocks::PairOpening take_opening(blocks::StageIn& in, double part, bool turned);

}  // namespace lostspark::wasted_spark
