// Capacitor-discharge firing, the expensive half: the capacitor tips through the switch into the coil's primary.
//
// Linear in the capacitor's volts, so everything is computed per volt: five states (primary and secondary current,
// capacitor, tower and plug volts), one matrix exponential for the gap unbroken and one for the gap burning. The crest
// is taken through three samples. What happens after breakdown depends on when the gap breaks, that is on demand /
// reserve; it is tabulated over that fraction.
#pragma once

#include <array>
#include <cstddef>
#include <cstdint>

namespace lostspark::blocks {

/// Terminals in the order of the packed harness matrix.
enum DischargeTerminal : std::uint8_t {
  k_fire_ground,
  k_fire_coil_out,
  k_fire_primary,
  k_fire_coil_ground,
  k_discharge_terminals
};

/// demand / reserve at which the course after breakdown is tabulated.
inline constexpr std::array<double, 6> k_break_fractions{0.05, 0.2, 0.4, 0.6, 0.8, 1.0};

struct DischargeSettings {
  double switch_ohm = 0.3;          ///< thyristor and its series diode, slope
  double secondary_farad = 25e-12;  ///< winding
  double lead_farad = 10e-12, gap_farad = 10e-12;
  double core_ohm = 2e6;        ///< core and dielectric loss, across the secondary
  double arc_ohm = 2000;        ///< of the burning gap, beside its arc volts
  double step_second = 0.5e-6;  ///< for L1 C1 = 0.35 mH x 1 uF; scales with sqrt(L1 C1)
};

struct DischargeInputs {
  double capacitor_farad = 1e-6;
  double output_ohm = 1e-3;  ///< series resistance inside the module (a dead output: megohms)
  double primary_henry = 0.35e-3, primary_ohm = 0.3, turns = 70, coupling = 0.9;
  double secondary_ohm = 4e3, secondary_leak_ohm = 1e10;
  double lead_ohm = 5e3;            ///< cap, lead, joint, plug resistor in series
  double plug_leak_ohm = 1e10;      ///< deposit across the gap
  double meter_rise_second = 1e-6;  ///< time constant of the meter's single pole
  double earth_henry = 0.2e-6;      ///< inductance of the earth leads of module and coil
  const double* harness = nullptr;  ///< packed, k_discharge_terminals nodes
};

/// Crests per volt of the capacitor within 48 step pairs (48 us for the usual coil), all > 0.
struct DischargeGains {
  double plug = 0;                                                ///< at the plug, gap unbroken
  double tower = 0;                                               ///< at the coil's tower, gap unbroken
  std::array<double, k_break_fractions.size()> tower_at_break{};  ///< tower over plug volts as the gap breaks
  double coil_out_raw = 0, primary_raw = 0;                       ///< instantaneous, 15 ns after the switch closes
  double coil_out = 0, primary = 0, coil_ground = 0, ground = 0;  ///< as the meter shows them, magnitudes
  double coil_ground_ohm = 0, ground_ohm = 0;  ///< drops without the leads' inductance, per primary ampere
  double current = 0;                          ///< primary ampere, gap unbroken
  std::array<double, k_break_fractions.size()> current_fired{};   ///< ampere per volt, by break fraction
  std::array<double, k_break_fractions.size()> current_arc{};     ///< what each volt of arc takes off, ampere
  std::array<double, k_break_fractions.size()> coil_ground_fired{}, ground_fired{};  ///< as the meter shows them
};

DischargeGains discharge(const DischargeSettings& settings, const DischargeInputs& in);

/// Course of one firing for the report.
struct SparkInputs {
  double capacitor_volt = 220, demand_volt = 5000, arc_volt = 600;
};
struct SparkReport {
  double spark_second = 0;   ///< time the gap conducts more than 4 mA (2 us filter), all strikes together
  double current_crest = 0;  ///< ampere, after a 2 us filter
};
/// Steps through breakdown, arc, extinction and new strikes for 400 us. For reports only: about 20 us of work.
SparkReport spark(const DischargeSettings& settings, const DischargeInputs& in, const SparkInputs& firing);

}  // namespace lostspark::blocks
