// Capacitor-discharge charging: an exciter winding charges the storage capacitor through a diode over part of a turn.
//
// States: exciter current i, capacitor volts v. The circuit is piecewise linear; in each diode mode the solution is
//   x(t) = phasor(t) + constant + exp(A t) z,  A a 2x2 matrix,
// evaluated in closed form; switching instants are found on a cubic and corrected by Newton, so no step error enters.
#pragma once

#include <array>
#include <cstdint>

namespace lostspark::blocks {

/// Terminals in the order of the packed harness matrix.
enum ChargeTerminal : std::uint8_t {
  k_exciter_hot,
  k_exciter_foot,
  k_module_source,
  k_module_ground,
  k_module_coil_out,
  k_coil_primary,
  k_coil_ground,
  k_charge_terminals
};

/// What is the same for all vehicles of a family.
struct ChargeSettings {
  double reference_rpm = 500;  ///< speed at which the EMF is stated
  double pole_pairs = 4;       ///< EMF cycles in a turn
  double firing_turn = 0.96;   ///< when the capacitor is discharged, as part of the turn that charges it
  double diode_end_ohm = 6e5;  ///< open volts over diode current as a half-wave ends: sets the diode's drop there
  double diode_ohm = 1.0;      ///< slope of charge and clamp diode
  double limit_volt = 330;     ///< limiter across the capacitor
  double limit_ohm = 20;
};

struct ChargeInputs {
  double speed_rpm = 500;
  double emf_volt = 220;  ///< peak at reference_rpm
  double exciter_ohm = 300, exciter_henry = 0.35;
  double capacitor_farad = 1e-6, capacitor_leak_ohm = 10e6;  ///< leak: capacitor's upper side to module ground
  double primary_ohm = 0.3;         ///< the charging current returns through the coil's primary
  const double* harness = nullptr;  ///< packed, k_charge_terminals nodes
};

/// Peaks in the polarity that is positive in a healthy circuit, all > 0 (1e-6 is "nothing").
struct ChargeOutputs {
  double capacitor_volt = 0;                                             ///< when the capacitor is discharged
  double hot_volt = 0, foot_volt = 0, source_volt = 0, ground_volt = 0;  ///< to earth
  double coil_ground_volt = 0;                                           ///< to earth
  double coil_out_volt = 0, primary_volt = 0;                            ///< to earth, while charging (wrong polarity)
  double hot_ohm = 0, source_ohm = 0;  ///< source resistance behind hot and source at their peaks
};

/// The harness of a module whose capacitor stands on its own earth, so that no coil lies in the charging current's way:
/// packed for the first four terminals (exciter, module source, ground), to the form that charge() takes; `primary_ohm`
/// then only has to be > 0.
std::array<double, k_charge_terminals*(k_charge_terminals + 1) / 2> harness_without_coil(const double* packed);

/// Throws nothing; values must be finite and > 0 (the caller checks).
ChargeOutputs charge(const ChargeSettings& settings, const ChargeInputs& in);

}  // namespace lostspark::blocks
