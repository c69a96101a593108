// Dwell: battery volts drive a growing current through an ignition coil's primary and a closed switch (transistor,
// contact, driver of a control unit). First order, so it is exact: i rises to (volts / ohms) with the time constant
// henry / ohms, where volts and ohms are those of the loop seen through the harness.
#pragma once

#include <array>

#include "primary_loop.hpp"

namespace lostspark::blocks {

struct DwellInputs {
  double dwell_second = 8e-3;
  double primary_henry = 5e-3, primary_ohm = 2.2;
  double switch_volt = 0.8;   ///< what the closed switch keeps for itself whatever the current (contact: next to 0)
  double switch_ohm = 0.15;   ///< closed, with everything in series inside the unit or over the contact's faces
  double limit_ampere = 1e3;  ///< where a unit limits the current
  double switches = 1;        ///< 0..1: the switch closes at all; scales what the terminals show, not the current
};

/// Nodes of the loop and one more that is watched: the control unit's supply pin.
inline constexpr std::size_t k_dwell_terminals = k_loop_terminals + 1;

/// All > 0 but volts of the ground.
struct DwellOutputs {
  double current = 0;         ///< ampere at the end of the dwell
  double settled = 0;         ///< ampere if the dwell lasted for ever
  double time_constant = 0;   ///< second
  double switch_current = 0;  ///< ampere in the switch: less than in the coil where a wire between them is chafed
  std::array<double, k_dwell_terminals> volt{};  ///< to earth at the end of the dwell, where the supply is lowest
};

/// Values must be finite and > 0 (the caller checks).
DwellOutputs dwell(const PrimaryLoop<k_dwell_terminals>& loop, const double* open_volt, const DwellInputs& in);

/// Dwell from an angle: degrees of crank at a speed, second.
inline double dwell_second(double degrees, double rpm) { return degrees / (6 * rpm); }

}  // namespace lostspark::blocks
