// One vehicle in one state as a deck: parts, harness, faults, set-ups and the meters on it.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "spice/harness.hpp"
#include "spice/stages.hpp"

namespace lostspark::spice {

/// A path from a point of the harness to engine metal: a chafed wire.
struct Shunt {
  std::string point;
  double ohm = 1e11;
};

/// A vehicle ready for the bench.
struct Situation {
  Parts parts;
  Harness harness;
  std::vector<Shunt> shunts;
};

/// A peak meter between two points.
struct Meter {
  std::string a, b = "earth";
  double input_ohm = 2e6, rise_time_second = 1e-6;
};

/// The parameters of the family's plugin by id, and what they are here. The one place where the names of plugins/ac_cdi
/// meet those of the deck. Throws std::runtime_error for an id it does not know; those without an electrical meaning
/// (timing) are accepted and do nothing.
void set_parameter(Parts& parts, std::string_view id, double value);

/// Brings a set-up about, by its id in plugins/ac_cdi: unplugs, or changes a part. Throws for an unknown one.
void make_setup(Situation& situation, std::string_view id);

/// What the gap does in a deck.
enum class Gap { as_fitted, holds };

/// The cranking deck. Meter k gives the measurements m<k>_max and m<k>_min; further: plug_volt (least), and those of
/// add_analysis. Peaks are those of the whole turn, as a peak meter holds them: a module may fire before its pulse.
[[nodiscard]] std::string cranking_deck(const Situation& situation, const std::vector<Meter>& meters,
                                        Gap gap = Gap::as_fitted);

/// Resistances only, as an ohmmeter from a to b finds them: measurement "ohm".
[[nodiscard]] std::string ohm_deck(const Situation& situation, const std::string& a, const std::string& b);

}  // namespace lostspark::spice
