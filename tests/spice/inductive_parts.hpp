// The parts of a transistor ignition as values, and their lines in a deck.
#pragma once

#include <string>
#include <string_view>

#include "spice/deck.hpp"
#include "spice/stages.hpp"
#include "spice/supply_parts.hpp"

namespace lostspark::spice {

/// Physical values of all parts, SI units; what a test's state and set-ups make of them included.
struct InductiveParts : HighTension, SupplyParts {
  double rpm = 300, reference_rpm = 300;
  double relay_ohm = 0.02, operator_ohm = 1e-3, alarm_ohm = 0.02;
  double stand_ohm = 0.3, neutral_ohm = 0.3;
  double dwell_second = 8e-3, module_drop_volt = 0.8, module_on_ohm = 0.15, module_output_ohm = 1e-3;
  double module_load_ohm = 60, cutout_volt = 6.5, clamp_volt = 400, snubber_farad = 1e-9;
  double primary_henry = 5e-3, primary_ohm = 2.2, turns = 70, coupling = 0.96;
  double secondary_ohm = 9e3, secondary_meter_ohm = 9e3, secondary_leak_ohm = 1e10;
  double secondary_farad = 22e-12, core_ohm = 2e6;
  double pulse_emf_volt = 3.5, pulse_hertz = 100, pulse_ohm = 220, pulse_henry = 0.09, pulse_foot_ohm = 0.02;
  double gate_input_ohm = 1000, threshold_volt = 0.8;
  double load_lamp_ohm = 1e9, supply_lead_ohm = 1e9, earth_lead_ohm = 1e9, loom_leak_ohm = 1e9;
  bool cranks = true;

  InductiveParts() {
    lead_farad = 8e-12;
    lead_conductor_ohm = 1;
    lead_joint_ohm = 0.2;
    lead_limit_ohm = 1e5;
  }
  /// The pulse comes first, then the current rises; both in this order within one deck.
  [[nodiscard]] double on_second() const { return 0.9 / (pulse_hertz * rpm / reference_rpm); }
  [[nodiscard]] double off_second() const { return on_second() + dwell_second; }
  [[nodiscard]] double end_second() const { return cranks ? off_second() + 5e-3 : 12e-3; }
};

/// Everything but the harness: battery to plug, between the points named as in the network.
void add_inductive_parts(Deck&, const InductiveParts&, bool alarm, bool strikes);
/// What an ohmmeter can see of them.
void add_inductive_resistances(Deck&, const InductiveParts&, bool alarm);

}  // namespace lostspark::spice
