#include "spice/inductive_parts.hpp"

#include <fmt/format.h>

namespace lostspark::spice {

namespace {

std::string n(std::string_view id) { return Deck::node(id); }
std::string v(double value) { return Deck::number(value); }

/// Contacts and loads that are there whether anything runs or not.
void add_line(Deck& deck, const InductiveParts& p, bool alarm) {
  add_supply_line(deck, p);
  deck.resistor("relay", "interlock_relay.in", "interlock_relay.out", p.relay_ohm + p.operator_ohm);
  if (alarm) deck.resistor("alarm", "alarm_splice.in", "alarm_splice.out", p.alarm_ohm);
  deck.resistor("load_lamp", "ignition_coil.supply", "control_module.ground", p.load_lamp_ohm);
  deck.resistor("supply_lead", "battery.plus", "ignition_coil.supply", p.supply_lead_ohm);
  deck.resistor("earth_lead", "control_module.ground", "earth", p.earth_lead_ohm);
  deck.resistor("loom_coil", "ignition_coil.primary", "earth", p.loom_leak_ohm);
  deck.resistor("loom_pulse", "control_module.gate", "earth", p.loom_leak_ohm);
  deck.resistor("pulse_foot", "pulse_coil.foot", "earth", p.pulse_foot_ohm);
}

}  // namespace

void add_inductive_parts(Deck& deck, const InductiveParts& p, bool alarm, bool strikes) {
  deck.line(fmt::format(".include \"{}/tests/spice/inductive_stages.inc\"", LOSTSPARK_SOURCE_DIR));
  add_battery(deck, p);
  add_line(deck, p, alarm);
  const double ratio = p.rpm / p.reference_rpm;
  deck.line(fmt::format("Xpickup {} {} pickup emf={} freq={} ohm={} henry={}", n("pulse_coil.hot"),
                        n("pulse_coil.foot"), v(p.cranks ? p.pulse_emf_volt * ratio : 0), v(p.pulse_hertz * ratio),
                        v(p.pulse_ohm), v(p.pulse_henry)));
  deck.ammeter("primary", "ignition_coil.supply", "coil_inner");
  deck.line(fmt::format(
      "Xcoil {} {} {} sparkcoil henry={} ohm={} turns={} coupling={} ohm2={} farad2={} core_ohm={} leak_ohm={}",
      n("coil_inner"), n("ignition_coil.primary"), n("tower"), v(p.primary_henry), v(p.primary_ohm), v(p.turns),
      v(p.coupling), v(p.secondary_ohm), v(p.secondary_farad), v(p.core_ohm), v(p.secondary_leak_ohm)));
  deck.line(
      fmt::format("Xmodule {} {} {} {} {} icm threshold={} load_ohm={} on_second={} off_second={} drop_volt={} "
                  "on_ohm={} output_ohm={}"
                  " clamp_volt={} farad={} input_ohm={}",
                  n("control_module.supply"), n("control_module.coil_out"), n("control_module.ground"),
                  n("control_module.gate"), n("control_module.gate_return"), v(p.threshold_volt), v(p.module_load_ohm),
                  v(p.on_second()), v(p.off_second()), v(p.module_drop_volt), v(p.module_on_ohm),
                  v(p.module_output_ohm), v(p.clamp_volt), v(p.snubber_farad), v(p.gate_input_ohm)));
  add_lead_and_gap(deck, p, "tower", "plug", strikes);
}

void add_inductive_resistances(Deck& deck, const InductiveParts& p, bool alarm) {
  add_battery_resistances(deck, p);
  add_line(deck, p, alarm);
  deck.resistor("stand", "side_stand_switch.hot", "side_stand_switch.foot", p.stand_ohm);
  deck.resistor("neutral", "neutral_switch.hot", "earth", p.neutral_ohm);
  deck.resistor("pulse_winding", "pulse_coil.hot", "pulse_coil.foot", p.pulse_ohm);
  deck.resistor("gate", "control_module.gate", "control_module.gate_return", p.gate_input_ohm);
  deck.resistor("module_load", "control_module.supply", "control_module.ground", p.module_load_ohm);
  deck.resistor("primary", "ignition_coil.supply", "ignition_coil.primary", p.primary_ohm);
  deck.resistor("secondary", "ignition_coil.ht", "ignition_coil.supply", p.secondary_meter_ohm);
  deck.resistor("lead_conductor", "ht_lead.coil_end", "ht_lead.cap_end", p.lead_conductor_ohm);
  deck.resistor("lead_joint", "ht_lead.cap_end", "plug_cap.lead_end", p.lead_joint_ohm);
  deck.resistor("cap", "plug_cap.lead_end", "plug_cap.plug_end", p.cap_ohm);
}

}  // namespace lostspark::spice
