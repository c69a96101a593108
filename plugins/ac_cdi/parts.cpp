// Parameters, components, terminals, elements and links. Medians: engineering judgement, common practice, no source,
// the values of the simulation decks where these state one. Spreads between healthy vehicles: judgement.
#include "family.hpp"

namespace lostspark::ac_cdi {
namespace {
constexpr std::uint32_t k_both = LS_IN_OHM_TESTS | LS_IN_RUNNING;
}

void add_parameters(plugin::Tables& t, const Options& options) {
  const auto add = [&](const char* id, const char* unit, double typical, double log_sd, const char* description,
                       double event_log_sd = 0) {
    t.add(ls_parameter_v1{.id = id,
                          .unit = unit,
                          .description = description,
                          .typical = typical,
                          .log_sd = log_sd,
                          .event_log_sd = event_log_sd});
  };
  const bool starter = options.start == "starter";
  add("cranking_speed_rpm", "rpm",
      starter                     ? 400
      : options.start == "recoil" ? 550
                                  : 500,
      starter ? 0.10 : 0.18, "crank speed while cranking, the same at every reading of one kick",
      starter ? 0.05 : 0.12);

  add("exciter_emf_volt", "volt", 220, 0.12, "exciter EMF peak at 500 rpm: magnets, turns, air gap");
  add("exciter_ohm", "ohm", 300, 0.04, "exciter winding");
  add("exciter_henry", "henry", 0.35, 0, "exciter winding");
  add("exciter_core_leak_ohm", "ohm", 1e9, 0, "exciter winding to its core");
  add("exciter_foot_ohm", "ohm", 0.02, 0, "exciter foot riveted to the core, core to the engine");

  add("pulse_emf_volt", "volt", 3.6, 0.25, "pulse coil EMF peak at the usual cranking speed: magnets, air gap, turns");
  add("pulse_hertz", "hertz", 100, 0, "of the half-wave that the pulse stands for, at the usual cranking speed");
  add("pulse_ohm", "ohm", 200, 0.05, "pulse winding");
  add("pulse_henry", "henry", 0.08, 0, "pulse winding");
  add("pulse_foot_ohm", "ohm", 0.02, 0, "pulse coil foot to the engine");
  add("gate_input_ohm", "ohm", 1000, 0, "module input at the pulse lead");
  add("gate_threshold_volt", "volt", 0.7, 0.10, "pulse volts at the module that fire its thyristor");

  add("capacitor_farad", "farad", 1e-6, 0.03, "storage capacitor");
  add("capacitor_leak_ohm", "ohm", 8.3e6, 0, "leak of capacitor and thyristor");
  add("module_input_ohm", "ohm", 1e9, 0, "leak from the module's source pin to its earth pin");
  add("module_output_ohm", "ohm", 0.001, 0, "series resistance of the module's discharge path beyond the healthy one");
  add("kill_bridge_ohm", "ohm", 0.02, 0, "bridge from the source pin to the kill pin inside the module");

  add("primary_henry", "henry", 0.35e-3, 0, "coil primary");
  add("primary_ohm", "ohm", 0.3, 0.05, "coil primary");
  add("turns_ratio_one", "one", 70, 0.08, "secondary over primary turns: gain of the coil");
  add("coupling_one", "one", 0.90, 0, "coupling of the windings");
  add("secondary_ohm", "ohm", 4000, 0, "coil secondary as the spark sees it");
  add("secondary_meter_ohm", "ohm", 4000, 0.05, "coil secondary as an ohmmeter sees it, breaks included");
  add("secondary_leak_ohm", "ohm", 1e10, 0, "leak across the secondary: insulation, tracking");
  add("secondary_break_volt", "volt", 1, 0, "gap inside a burnt secondary, added to the demand");

  add("lead_ohm", "ohm", 1, 0.05, "plug lead, copper");
  add("ht_joint_ohm", "ohm", 0.2, 0.05, "joints of the lead at coil and cap");
  add("cap_ohm", "ohm", 5000, 0.05, "resistor of the plug cap");
  add("lead_break_volt", "volt", 1, 0, "gap in a broken lead, added to the demand");
  add("joint_break_volt", "volt", 1, 0, "gap in a loose lead joint, added to the demand");
  add("cap_break_volt", "volt", 1, 0, "gap in a burnt cap resistor, added to the demand");
  add("lead_flash_volt", "volt", 60e3, 0, "where the lead's insulation flashes over");
  add("cap_flash_volt", "volt", 60e3, 0, "where the cap flashes over");
  add("plug_flash_volt", "volt", 60e3, 0, "where the plug's insulator flashes over");
  add("plug_leak_ohm", "ohm", 1e10, 0, "deposit across the plug's gap");
  add("seat_break_volt", "volt", 1, 0, "gap between a loose plug body and the head, added to the demand");
  add("demand_volt", "volt", 6500, 0.28, "breakdown of the plug's gap while cranking", 0.10);
  add("arc_volt", "volt", 600, 0, "burning volts of the spark");

  add("kill_switch_ohm", "ohm", 1e9, 0, "kill switch contact, RUN");
  add("kill_switch_closed_ohm", "ohm", 0.1, 0, "kill switch contact and its earth once pressed to stop");
  if (options.key_switch) add("key_switch_ohm", "ohm", 1e9, 0, "OFF contact of the key switch, key ON");
  if (options.tether_switch) add("tether_switch_ohm", "ohm", 1e9, 0, "tether or stand contact, in run position");
  add("operator_stop_ohm", "ohm", 1e9, 0, "whatever switch was left in its stop position");
  add("loom_leak_ohm", "ohm", 1e9, 0, "chewed or tapped loom: leak of exciter and coil wire to metal");
  add("timing_shift_degree", "degree", 1, 0, "ignition timing error, crank degrees; moves no electrical reading");

  add("meter_rise_second", "second", 1e-6, 0, "response of the peak meter, time constant of one pole");
  add("earth_lead_henry", "henry", 0.2e-6, 0.4, "inductance of the earth leads of module and coil");
}

void add_parts(plugin::Tables& t, const Options& options) {
  const auto part = [&](const char* id, const char* title, const char* group, int price_class, bool stops = false,
                        int kind = LS_COMPONENT_PART) {
    t.add(ls_component_v1{id, title, group, kind, price_class, stops ? 1 : 0});
  };
  const auto terminal = [&](const char* component, const char* id, const char* din, const char* title) {
    t.add(ls_terminal_v1{component, id, din, title});
  };
  const auto element = [&](const char* id, const char* a, const char* b, const char* ohm, std::uint32_t used = k_both) {
    t.add(ls_element_v1{.id = id, .terminal_a = a, .terminal_b = b, .resistance_ohm = ohm, .used_in = used});
  };

  part("flywheel", "flywheel magnets", "SRC", 4);
  part("flywheel_key", "flywheel key", "TIM", 2);
  part("stator_plate", "stator plate", "TIM", 1);

  part("exciter", "exciter coil", "SRC", 4);
  terminal("exciter", "hot", "", "exciter output");
  terminal("exciter", "foot", "31", "exciter foot at the core");
  element("exciter_winding", "exciter.hot", "exciter.foot", "exciter_ohm", LS_IN_OHM_TESTS);  // its pulse life: stage
  element("exciter_core_leak", "exciter.hot", "earth", "exciter_core_leak_ohm");
  element("exciter_foot", "exciter.foot", "earth", "exciter_foot_ohm");

  part("pulse_coil", "pulse coil", "TRG", 3);
  terminal("pulse_coil", "hot", "", "pulse output");
  terminal("pulse_coil", "foot", "31", "pulse coil foot");
  t.add(ls_element_v1{"pulse_winding", "pulse_coil.hot", "pulse_coil.foot", "pulse_ohm", "pulse_henry",
                      "pulse_emf_volt", "pulse_hertz", "cranking_speed_rpm", k_both});
  element("pulse_foot", "pulse_coil.foot", "earth", "pulse_foot_ohm");

  part("control_module", "ignition control module", "CTL", 4);
  terminal("control_module", "source", "", "exciter input");
  terminal("control_module", "kill", "2", "kill lead");
  terminal("control_module", "gate", "", "pulse input");
  terminal("control_module", "coil_out", "", "output to the coil");
  terminal("control_module", "ground", "31", "module earth");
  element("kill_bridge", "control_module.source", "control_module.kill", "kill_bridge_ohm");
  element("module_input_leak", "control_module.source", "control_module.ground", "module_input_ohm");
  element("gate_input", "control_module.gate", "control_module.ground", "gate_input_ohm");

  part("ignition_coil", "ignition coil", "PRI", 3);
  terminal("ignition_coil", "primary", "1", "coil primary");
  terminal("ignition_coil", "ground", "31", "coil mounting earth");
  terminal("ignition_coil", "ht", "4", "coil high tension");
  element("primary_winding", "ignition_coil.primary", "ignition_coil.ground", "primary_ohm", LS_IN_OHM_TESTS);
  element("secondary_winding", "ignition_coil.ht", "ignition_coil.ground", "secondary_meter_ohm", LS_IN_OHM_TESTS);

  part("ht_lead", "plug lead", "SEC", 2);
  part("ht_joint", "joints of the plug lead", "SEC", 1);
  part("plug_cap", "plug cap", "SEC", 2);
  part("spark_plug", "spark plug", "PLG", 1);
  terminal("ht_lead", "coil_end", "4", "lead, coil end");
  terminal("ht_lead", "cap_end", "4", "lead, cap end");
  terminal("plug_cap", "lead_end", "4", "cap, lead end");
  terminal("plug_cap", "plug_end", "", "cap, plug end");
  element("lead_conductor", "ht_lead.coil_end", "ht_lead.cap_end", "lead_ohm", LS_IN_OHM_TESTS);
  element("lead_joint", "ht_lead.cap_end", "plug_cap.lead_end", "ht_joint_ohm", LS_IN_OHM_TESTS);
  element("cap_resistor", "plug_cap.lead_end", "plug_cap.plug_end", "cap_ohm", LS_IN_OHM_TESTS);

  part("kill_switch", "kill switch", "INH", 2, true);
  terminal("kill_switch", "lead", "2", "kill switch lead");
  terminal("kill_switch", "contact", "31", "kill switch earth side");
  element("kill_contact", "kill_switch.lead", "kill_switch.contact", "kill_switch_ohm");
  element("kill_closed", "kill_switch.contact", "earth", "kill_switch_closed_ohm");
  element("operator_stop", "kill_switch.lead", "earth", "operator_stop_ohm");
  if (options.key_switch) {
    part("key_switch", "key switch, OFF contact", "INH", 2, true);
    terminal("key_switch", "lead", "2", "key switch lead");
    element("key_contact", "key_switch.lead", "earth", "key_switch_ohm");
  }
  if (options.tether_switch) {
    part("tether_switch", "tether or stand switch", "INH", 2, true);
    terminal("tether_switch", "lead", "2", "tether switch lead");
    element("tether_contact", "tether_switch.lead", "earth", "tether_switch_ohm");
  }
  part("wiring_loom", "wiring loom, whole run", "CON", 2);
  element("loom_leak_source", "control_module.source", "earth", "loom_leak_ohm");
  element("loom_leak_coil", "ignition_coil.primary", "earth", "loom_leak_ohm");
  part("operator_state", "switch, tether, stand or key left in stop", "INH", 1, true, LS_COMPONENT_OPERATOR);

  part("fuel", "fuel supply", "FUE", 2, false, LS_COMPONENT_ELSEWHERE);
  part("compression", "compression and valves", "CMP", 5, false, LS_COMPONENT_ELSEWHERE);
  part("air", "air filter, leaks, exhaust", "AIR", 2, false, LS_COMPONENT_ELSEWHERE);
  part("other", "starting gear, fuel tap, choke, other", "OTH", 2, false, LS_COMPONENT_ELSEWHERE);
}

// Shares per 1000 ignition complaints (judgement). The module connector's pins (20: spread or corroded) have no row of
// their own: they are contacts of the wires that end there, split 6 exciter, 6 pulse, 4 coil, 4 module earth.
void add_links(plugin::Tables& t, const Options& options) {
  t.add(ls_link_v1{"exciter_wire", "exciter wire", "exciter.hot", "control_module.source", "energy", "CON", 24 + 6, 16,
                   13, 100, 3e5, 50, 0.2, 0});
  t.add(ls_link_v1{"pulse_wire", "pulse wire", "pulse_coil.hot", "control_module.gate", "trigger", "CON", 13 + 6, 9, 0,
                   1000, 1e6, 50, 0.2, 0});
  t.add(ls_link_v1{"coil_wire", "wire from module to coil", "control_module.coil_out", "ignition_coil.primary",
                   "energy", "CON", 16 + 4, 16, 8, 3, 300, 50, 0.2, 0});
  t.add(ls_link_v1{"module_ground", "module earth", "control_module.ground", "earth", "earth", "CON", 26 + 4, 0, 0, 0.5,
                   300, 50, 0.2, 0});
  t.add(ls_link_v1{"coil_ground", "coil earth", "ignition_coil.ground", "earth", "earth", "CON", 20, 0, 0, 0.5, 300, 50,
                   0.2, 0});
  // A chafed kill lead (27) lies somewhere on the leads that are fitted.
  const int others = (options.key_switch ? 1 : 0) + (options.tether_switch ? 1 : 0);
  t.add(ls_link_v1{"kill_wire", "kill wire", "control_module.kill", "kill_switch.lead", "inhibit", "CON", 0, 0,
                   27.0 - 6 * others, 1, 100, 50, 0.2, 1});
  if (options.key_switch)
    t.add(ls_link_v1{"key_wire", "kill wire to the key switch", "control_module.kill", "key_switch.lead", "inhibit",
                     "CON", 0, 0, 6, 1, 100, 50, 0.2, 1});
  if (options.tether_switch)
    t.add(ls_link_v1{"tether_wire", "kill wire to the tether switch", "control_module.kill", "tether_switch.lead",
                     "inhibit", "CON", 0, 0, 6, 1, 100, 50, 0.2, 1});
}

}  // namespace lostspark::ac_cdi
