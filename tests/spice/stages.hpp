// The parts of an ignition as values, and their lines in a deck: what follows the coil in every family, and a
// capacitor-discharge ignition.
#pragma once

#include <string>

#include "spice/deck.hpp"

namespace lostspark::spice {

/// Lead, cap and plug.
struct HighTension {
  double lead_conductor_ohm = 0, lead_joint_ohm = 0, cap_ohm = 5e3, lead_farad = 10e-12;
  double demand_volt = 5e3, arc_volt = 600, extinct_volt = 120, deposit_ohm = 1e10, gap_farad = 10e-12;
  /// Gaps in series with the plug (burnt secondary, lead, joint, cap, loose body). Taken as so much more demand: a rule
  /// of the trade ("3 to 15 kV added"), not the physics of two gaps in series, which would strike one after the other.
  double secondary_break_volt = 0, lead_break_volt = 0, joint_break_volt = 0, cap_break_volt = 0, seat_break_volt = 0;
  double lead_flash_volt = 1e5, cap_flash_volt = 1e5, plug_flash_volt = 1e5;  ///< a second gap, to engine metal
  /// No resistor stands tens of kilovolts: what is more than this is jumped over (the gap is among those above). A rule
  /// of the trade like them; 1e12: not applied.
  double lead_limit_ohm = 1e12;
  [[nodiscard]] double lead_ohm() const {
    const double all = lead_conductor_ohm + lead_joint_ohm + cap_ohm;
    return all < lead_limit_ohm ? all : lead_limit_ohm;
  }
  [[nodiscard]] double break_volt() const {
    return secondary_break_volt + lead_break_volt + joint_break_volt + cap_break_volt + seat_break_volt;
  }
  /// A gap tester of this breakdown in the plug's place.
  void fit_tester(double volt);
};

/// Physical values of all parts, SI units. Defaults are those of the stored reference decks
/// (tests/spice/data/accdi_stored_results.csv names them).
struct Parts : HighTension {
  double rpm = 500;               ///< crank speed
  double reference_rpm = 500;     ///< at which the exciter's EMF is stated
  double exciter_emf_volt = 220;  ///< peak at reference_rpm, in proportion to the speed
  double exciter_pole_pairs = 4;
  double exciter_ohm = 300, exciter_henry = 0.35;
  double exciter_short_ohm = 1e10;  ///< winding to its core
  double exciter_foot_ohm = 1e-3;   ///< core to engine
  double pulse_reference_rpm = 500;
  double pulse_emf_volt = 3;  ///< peak at pulse_reference_rpm, in proportion to the speed
  double pulse_hertz = 100;   ///< at pulse_reference_rpm, in proportion to the speed
  double pulse_ohm = 100, pulse_henry = 0, pulse_foot_ohm = 1e-3;
  double storage_farad = 1e-6;
  double storage_leak_ohm = 10e6;  ///< beside the thyristor's own leak, switch_off_ohm
  double limit_volt = 330, limit_ohm = 20;
  double gate_ohm = 1e9, gate_volt = 0.7;
  double switch_on_ohm = 0.1, switch_off_ohm = 50e6;
  double output_ohm = 0;                 ///< in series with the thyristor: a dead output stage
  double module_input_short_ohm = 1e10;  ///< source pin to ground, inside the module
  double kill_bridge_ohm = 1e-3;         ///< source pin to kill pin
  double primary_henry = 0.35e-3, primary_ohm = 0.3, turns = 70, coupling = 0.9;
  double secondary_ohm = 4e3, secondary_farad = 25e-12, core_ohm = 2e6, secondary_leak_ohm = 1e10;
  double secondary_meter_ohm = 4e3;  ///< what an ohmmeter sees
  double kill_switch_ohm = 1e9, kill_closed_ohm = 0.1, key_switch_ohm = 1e9, tether_switch_ohm = 1e9;
  double operator_stop_ohm = 1e9, loom_leak_ohm = 1e9;
  double earth_lead_henry = 0;  ///< of the earth leads of module and coil
  double fire_at_turn = 0.96;   ///< where in the first turn a healthy pulse fires
  /// How long before that it begins, in its own cycles: 3 V at the module pass 0.7 V after asin(0.7 / 3) / 2 pi.
  double pulse_lead_cycle = 0.0375;
  double after_fire_second = 1.5e-3;  ///< how long the discharge is watched, from the latest moment a pulse fires

  [[nodiscard]] double turn_second() const { return 60 / rpm; }
  [[nodiscard]] double fire_second() const { return turn_second() * fire_at_turn; }
  /// End of the analysis: a weak pulse fires a quarter of its cycle late.
  [[nodiscard]] double end_second() const {
    return fire_second() + 0.25 / (pulse_hertz * rpm / pulse_reference_rpm) + after_fire_second;
  }
};

/// Full path of the subcircuits' file.
[[nodiscard]] std::string stages_file();

void add_exciter(Deck&, const Parts&, std::string_view source, std::string_view foot);
void add_pulse_coil(Deck&, const Parts&, std::string_view signal, std::string_view foot);
/// Gate driven as in the stored decks: a square pulse of pulse_emf_volt, 3 ms, straight at the module.
void add_square_pulse(Deck&, const Parts&, std::string_view signal);
void add_module(Deck&, const Parts&, std::string_view source, std::string_view trigger, std::string_view primary,
                std::string_view ground);
void add_coil(Deck&, const Parts&, std::string_view primary, std::string_view tower, std::string_view foot);
/// Lead with its capacitance, gap, and the observers of the spark. The gap returns to engine metal. strikes = false:
/// the gap holds whatever comes (reserve); insulation still flashes over.
void add_lead_and_gap(Deck&, const HighTension&, std::string_view tower, std::string_view plug, bool strikes = true);
/// Measurements of the spark over a window, and tolerances under which ngspice gets over its strike.
void add_spark_measures(Deck&, double from, double to);
/// The analysis and measurements every deck has: spark time, arc and plug current, tower volts.
void add_analysis(Deck&, const Parts&, std::string_view tower);

}  // namespace lostspark::spice
