// Passage: a flywheel's magnet passes the legs of a core and drives a current through the core's primary, which a
// closed contact or transistor shorts, until that opens. First order with a half sine as EMF, so it is exact:
//   L di/dt + R i = e sin(pi t / T),   R = winding + harness + closed switch,   T = time of the passage.
#pragma once

#include "primary_loop.hpp"

namespace lostspark::blocks {

struct PassageInputs {
  double speed_rpm = 500;
  double emf_volt = 4.4;  ///< peak at k_passage_rpm; in proportion to speed
  double degree = 15;     ///< of the crank while the magnet passes
  double opening = 0.72;  ///< part of the passage gone as the switch opens
  double primary_henry = 3e-3, primary_ohm = 0.8;
  double switch_ohm = 0.05;  ///< closed
  /// What loads the secondary (a wet plug, a leak), seen from the primary: over turns squared. It takes volts from the
  /// rising current; what is left counts as current, since the secondary's works against it.
  double load_ohm = 1e9;
};
inline constexpr double k_passage_rpm = 500;

struct PassageOutputs {
  double emf_peak = 0;     ///< volt at this speed
  double current = 0;      ///< ampere as the switch opens
  double emf_opening = 0;  ///< volt at that moment; next to nothing beside the volts of the swing
  double switch_volt = 0;  ///< across the closed switch at that current
};

/// Values must be finite and > 0 (the caller checks); the harness holds no sources.
PassageOutputs pass(const PrimaryLoop<k_loop_terminals>& loop, const PassageInputs& in);

}  // namespace lostspark::blocks
