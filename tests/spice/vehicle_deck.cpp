#include "spice/vehicle_deck.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <stdexcept>

namespace lostspark::spice {

namespace {

using Member = double Parts::*;

const std::map<std::string, Member, std::less<>>& parameters() {
  static const std::map<std::string, Member, std::less<>> table{
      {"cranking_speed_rpm", &Parts::rpm},
      {"exciter_emf_volt", &Parts::exciter_emf_volt},
      {"exciter_ohm", &Parts::exciter_ohm},
      {"exciter_henry", &Parts::exciter_henry},
      {"exciter_core_leak_ohm", &Parts::exciter_short_ohm},
      {"exciter_foot_ohm", &Parts::exciter_foot_ohm},
      {"pulse_emf_volt", &Parts::pulse_emf_volt},
      {"pulse_hertz", &Parts::pulse_hertz},
      {"pulse_ohm", &Parts::pulse_ohm},
      {"pulse_henry", &Parts::pulse_henry},
      {"pulse_foot_ohm", &Parts::pulse_foot_ohm},
      {"gate_input_ohm", &Parts::gate_ohm},
      {"gate_threshold_volt", &Parts::gate_volt},
      {"capacitor_farad", &Parts::storage_farad},
      {"module_input_ohm", &Parts::module_input_short_ohm},
      {"module_output_ohm", &Parts::output_ohm},
      {"kill_bridge_ohm", &Parts::kill_bridge_ohm},
      {"primary_henry", &Parts::primary_henry},
      {"primary_ohm", &Parts::primary_ohm},
      {"turns_ratio_one", &Parts::turns},
      {"coupling_one", &Parts::coupling},
      {"secondary_ohm", &Parts::secondary_ohm},
      {"secondary_meter_ohm", &Parts::secondary_meter_ohm},
      {"secondary_leak_ohm", &Parts::secondary_leak_ohm},
      {"secondary_break_volt", &Parts::secondary_break_volt},
      {"lead_ohm", &Parts::lead_conductor_ohm},
      {"ht_joint_ohm", &Parts::lead_joint_ohm},
      {"cap_ohm", &Parts::cap_ohm},
      {"lead_break_volt", &Parts::lead_break_volt},
      {"joint_break_volt", &Parts::joint_break_volt},
      {"cap_break_volt", &Parts::cap_break_volt},
      {"seat_break_volt", &Parts::seat_break_volt},
      {"lead_flash_volt", &Parts::lead_flash_volt},
      {"cap_flash_volt", &Parts::cap_flash_volt},
      {"plug_flash_volt", &Parts::plug_flash_volt},
      {"plug_leak_ohm", &Parts::deposit_ohm},
      {"demand_volt", &Parts::demand_volt},
      {"arc_volt", &Parts::arc_volt},
      {"kill_switch_ohm", &Parts::kill_switch_ohm},
      {"kill_switch_closed_ohm", &Parts::kill_closed_ohm},
      {"key_switch_ohm", &Parts::key_switch_ohm},
      {"tether_switch_ohm", &Parts::tether_switch_ohm},
      {"operator_stop_ohm", &Parts::operator_stop_ohm},
      {"loom_leak_ohm", &Parts::loom_leak_ohm},
      {"earth_lead_henry", &Parts::earth_lead_henry},
  };
  return table;
}

bool has_link(const Harness& harness, std::string_view id) {
  return std::any_of(harness.links.begin(), harness.links.end(), [&](const Link& l) { return l.id == id; });
}

/// Switches of the kill line and what leaks beside them.
void add_contacts(Deck& deck, const Situation& s) {
  const Parts& p = s.parts;
  deck.resistor("kill_contact", "kill_switch.lead", "kill_switch.contact", p.kill_switch_ohm);
  deck.resistor("kill_closed", "kill_switch.contact", "earth", p.kill_closed_ohm);
  deck.resistor("operator_stop", "kill_switch.lead", "earth", p.operator_stop_ohm);
  if (has_link(s.harness, "key_wire")) deck.resistor("key_contact", "key_switch.lead", "earth", p.key_switch_ohm);
  if (has_link(s.harness, "tether_wire"))
    deck.resistor("tether_contact", "tether_switch.lead", "earth", p.tether_switch_ohm);
  deck.resistor("loom_source", "control_module.source", "earth", p.loom_leak_ohm);
  deck.resistor("loom_coil", "ignition_coil.primary", "earth", p.loom_leak_ohm);
  deck.resistor("kill_bridge", "control_module.source", "control_module.kill", p.kill_bridge_ohm);
}

/// Wires and contacts. `lead_suffix` renames the harness end of the two earth terminals, where the inductance of the
/// earth lead stands between part and harness.
void add_harness(Deck& deck, const Situation& s, bool earth_inductance) {
  const auto end = [&](const std::string& point) {
    const bool earth_tag = point == "control_module.ground" || point == "ignition_coil.ground";
    return earth_inductance && earth_tag ? point + ".lead" : point;
  };
  for (const auto& j : s.harness.joints) deck.resistor("h_" + j.name, end(j.a), end(j.b), j.ohm);
  for (std::size_t k = 0; k < s.shunts.size(); ++k)
    deck.resistor(fmt::format("chafed_{}", k), end(s.shunts[k].point), "earth", s.shunts[k].ohm);
  if (!earth_inductance) return;
  for (const char* part : {"control_module", "ignition_coil"}) {
    const auto tag = Deck::node(fmt::format("{}.ground", part)), lead = Deck::node(fmt::format("{}.ground.lead", part));
    deck.line(fmt::format("Lground_{} {} {} {}", part, tag, lead, Deck::number(s.parts.earth_lead_henry)));
    // Damps the coil and the diodes' capacitance against each other (20 ns); without it ngspice stops early.
    deck.line(fmt::format("Rground_{} {} {} 10", part, tag, lead));
  }
}

}  // namespace

void set_parameter(Parts& parts, std::string_view id, double value) {
  if (id == "timing_shift_degree" || id == "meter_rise_second") return;
  if (id == "capacitor_leak_ohm") {
    // The plugin states the leak of capacitor and open thyristor together; here the thyristor has its own.
    const double rest = 1 / value - 1 / parts.switch_off_ohm;
    parts.storage_leak_ohm = rest > 1e-12 ? 1 / rest : 1e12;
    return;
  }
  const auto found = parameters().find(id);
  if (found == parameters().end()) throw std::runtime_error(fmt::format("no deck element for parameter '{}'", id));
  parts.*found->second = value;
}

void make_setup(Situation& s, std::string_view id) {
  if (id == "kill_unplugged") {
    s.harness.unplug("control_module.kill");
  } else if (id == "module_and_kill_unplugged") {
    s.harness.unplug("control_module.kill");
    s.harness.unplug("control_module.source");
  } else if (id == "gap_tester") {
    s.parts.demand_volt = 8000;
    s.parts.deposit_ohm = 1e10;
    s.parts.plug_flash_volt = 1e5;
    s.parts.seat_break_volt = 0;
  } else if (id == "kill_switch_off") {
    s.parts.kill_switch_ohm = 1e-3;
  } else {
    throw std::runtime_error(fmt::format("the deck knows no set-up '{}'", id));
  }
}

std::string cranking_deck(const Situation& s, const std::vector<Meter>& meters, Gap gap) {
  const Parts& p = s.parts;
  Deck deck("capacitor discharge ignition, cranking");
  add_exciter(deck, p, "exciter.hot", "exciter.foot");
  deck.resistor("exciter_foot", "exciter.foot", "earth", p.exciter_foot_ohm);
  add_pulse_coil(deck, p, "pulse_coil.hot", "pulse_coil.foot");
  deck.resistor("pulse_foot", "pulse_coil.foot", "earth", p.pulse_foot_ohm);
  add_module(deck, p, "control_module.source", "control_module.gate", "control_module.coil_out",
             "control_module.ground");
  add_coil(deck, p, "ignition_coil.primary", "tower", "ignition_coil.ground");
  add_lead_and_gap(deck, p, "tower", "plug", gap == Gap::as_fitted);
  add_contacts(deck, s);
  add_harness(deck, s, p.earth_lead_henry > 0);
  for (std::size_t k = 0; k < meters.size(); ++k) {
    const auto name = fmt::format("m{}", k);
    const auto volts = Deck::meter_volts(name);
    deck.meter(name, meters[k].a, meters[k].b, meters[k].input_ohm, meters[k].rise_time_second);
    deck.measure(name + "_max", fmt::format("MAX {}", volts));
    deck.measure(name + "_min", fmt::format("MIN {}", volts));
  }
  add_analysis(deck, p, "tower");
  deck.measure("plug_volt", fmt::format("MIN v({})", Deck::node("plug")));
  return deck.text();
}

std::string ohm_deck(const Situation& s, const std::string& a, const std::string& b) {
  const Parts& p = s.parts;
  Deck deck("ohmmeter");
  deck.resistor("exciter_winding", "exciter.hot", "exciter.foot", p.exciter_ohm);
  deck.resistor("exciter_short", "exciter.hot", "earth", p.exciter_short_ohm);
  deck.resistor("exciter_foot", "exciter.foot", "earth", p.exciter_foot_ohm);
  deck.resistor("pulse_winding", "pulse_coil.hot", "pulse_coil.foot", p.pulse_ohm);
  deck.resistor("pulse_foot", "pulse_coil.foot", "earth", p.pulse_foot_ohm);
  deck.resistor("gate", "control_module.gate", "control_module.ground", p.gate_ohm);
  deck.resistor("module_input", "control_module.source", "control_module.ground", p.module_input_short_ohm);
  deck.resistor("primary", "ignition_coil.primary", "ignition_coil.ground", p.primary_ohm);
  deck.resistor("secondary", "ignition_coil.ht", "ignition_coil.ground", p.secondary_meter_ohm);
  deck.resistor("lead_conductor", "ht_lead.coil_end", "ht_lead.cap_end", p.lead_conductor_ohm);
  deck.resistor("lead_joint", "ht_lead.cap_end", "plug_cap.lead_end", p.lead_joint_ohm);
  deck.resistor("cap", "plug_cap.lead_end", "plug_cap.plug_end", p.cap_ohm);
  add_contacts(deck, s);
  add_harness(deck, s, false);
  // One volt behind one ohm: the current tells ten decades apart.
  deck.line("Vohm vo " + Deck::node(b) + " 1");
  deck.line("Rohm vo vi 1");
  deck.line("Vsense vi " + Deck::node(a) + " 0");
  deck.line(".options rshunt=1e12 abstol=1e-15 reltol=1e-9 vntol=1e-12");
  deck.line(".tran 1u 10u");
  deck.measure("ampere", "MAX i(Vsense)");
  return deck.text();
}

}  // namespace lostspark::spice
