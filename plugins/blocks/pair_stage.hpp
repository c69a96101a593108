// Opening of a dual-output coil: its secondary touches earth nowhere, each end feeds a plug, the loop closes through
// the cylinder head. Primary, switch and events are those of any coil (flyback.hpp); here are the two towers.
//
// States: the volts of both towers, each counted positive in its own healthy polarity. What lies behind a tower (lead,
// gap's capacity, deposit) is fast beside the rise and enters as it stands: conductance, capacity, a share of the
// volts.
#pragma once

#include <array>
#include <cstddef>

#include "opening_stage.hpp"

namespace lostspark::blocks {

/// What hangs on one tower.
struct PairSide {
  double tower_leak_ohm = 1e10;  ///< from the tower to core or metal
  double lead_ohm = 5e3;         ///< cap, lead, joint in series
  double plug_leak_ohm = 1e10;   ///< deposit across the gap
  double arc_volt = 600;         ///< of the burning gap
  [[nodiscard]] bool operator==(const PairSide&) const = default;
};

/// What leaks past a gap that holds, so that the spark at the other end of the loop goes on; judgement.
inline constexpr double k_loop_ampere = 5e-3;

/// OpeningSettings with other meanings: secondary_farad lies between the towers, lead_farad at each tower to metal.
inline OpeningSettings pair_settings() {
  OpeningSettings s;
  s.secondary_farad = 10e-12;
  s.lead_farad = 25e-12;
  return s;
}

/// coil: lead_ohm and plug_leak_ohm are not used; secondary_leak_ohm lies from tower to tower.
struct PairInputs {
  OpeningInputs coil;
  std::array<PairSide, 2> side;
};

/// Crests of one side, all > 0.
struct PairSideOpening {
  double alone_plug = 0, alone_tower = 0;  ///< volt, both gaps holding
  Opening led;                             ///< this gap holding while the partner's conducts from the beginning
};
using PairOpening = std::array<PairSideOpening, 2>;

PairOpening open_pair(const OpeningSettings& settings, const OpeningPort& port, const PairInputs& in);

/// One firing of both plugs.
struct PairBurnInputs {
  std::array<double, 2> gives_way_volt{6000, 1500};  ///< of each side's gap (at the plug), breaks in series counted in
  std::size_t side = 0;                              ///< that is reported
  double strike_at_most_second = 3e-4, watch_second = 6e-3;
};
/// Follows both gaps until the spark dies. For reports.
BurnReport burn_pair(const OpeningSettings& settings, const OpeningPort& port, const PairInputs& in,
                     const PairBurnInputs& firing);

}  // namespace lostspark::blocks
