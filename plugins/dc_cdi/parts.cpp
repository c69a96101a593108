// Parameters, components, terminals, elements and links. Medians: engineering judgement, common practice, no source.
// Shares per 1000 ignition complaints: judgement, the table of the family (docs/families/dc_cdi.md).
#include "blocks/high_tension.hpp"
#include "blocks/pickup.hpp"
#include "family.hpp"

namespace lostspark::dc_cdi {

blocks::SupplySettings supply_settings() {
  blocks::SupplySettings s;
  s.fresh_ohm = 0.03;     // a battery of 9 to 14 ampere-hours
  s.starter_ohm = 0.17;   // 55 ampere
  s.battery_share = 127;  // discharged 82, worn 45: one mode, from mild to severe
  s.no_charge_share = 22;
  s.shorted_diode_share = 24;
  s.overcharge_share = 9;
  s.winding_share = 24;
  return s;
}

namespace {

void module(blocks::PartWriter& p, const Options& options) {
  // The converter draws from its supply as a resistance does while it charges (docs/families/dc_cdi.md).
  p.parameter("converter_ohm", "ohm", 5, 0.15, "what the converter is to its supply while it charges");
  p.parameter("converter_efficiency_one", "one", 0.7, 0.05, "of the converter");
  p.parameter("converter_end_volt", "volt", 280, 0.05, "capacitor volts at which the converter stops");
  p.parameter("capacitor_leak_ohm", "ohm", 8.3e6, 0, "leak of capacitor and thyristor");
  p.parameter("cutout_volt", "volt", 8, 0.05, "supply below which the converter stops for this turn");
  p.parameter("module_load_ohm", "ohm", 80, 0.1, "what the module's electronics draw");
  p.part("control_module", "ignition control module", "CTL", 4);
  p.terminal("control_module", "supply", "15", "module supply");
  p.terminal("control_module", "coil_out", "", "output to the coil");
  p.terminal("control_module", "ground", "31", "module earth");
  p.ohm("module_load", "control_module.supply", "control_module.ground", "module_load_ohm");
  blocks::add_discharge_parameters(p.tables(), 1e-6);
  blocks::add_discharge_coil(p.tables(), {});
  if (!options.inhibit) return;
  p.parameter("inhibit_pull_ohm", "ohm", 2200, 0, "from the module's supply to its inhibit input");
  p.parameter("inhibit_threshold_volt", "volt", 3, 0.05, "volts at the inhibit input above which the module fires");
  p.terminal("control_module", "inhibit", "", "inhibit input");
  p.ohm("inhibit_pull", "control_module.supply", "control_module.inhibit", "inhibit_pull_ohm");
  p.part("inhibit_switch", "stand, neutral or brake switch", "INH", 2, true);
  p.terminal("inhibit_switch", "lead", "", "switch lead");
  p.parameter("inhibit_switch_ohm", "ohm", 1e9, 0, "its contact to earth, in its riding position: open");
  p.ohm("inhibit_contact", "inhibit_switch.lead", "earth", "inhibit_switch_ohm");
}

/// What set-ups bring along: off until then.
void test_gear(blocks::PartWriter& p) {
  p.parameter("load_lamp_ohm", "ohm", 1e9, 0, "load lamp from the module's supply to its earth");
  p.parameter("supply_lead_ohm", "ohm", 1e9, 0, "fused lead from the battery to the module's supply");
  p.parameter("stop_lead_ohm", "ohm", 1e9, 0, "lead across the run/stop switch");
  p.parameter("earth_lead_ohm", "ohm", 1e9, 0, "lead from the module's earth to the engine");
  p.ohm("test_lamp", "control_module.supply", "control_module.ground", "load_lamp_ohm");
  p.ohm("test_supply_lead", "battery.plus", "control_module.supply", "supply_lead_ohm");
  p.ohm("test_stop_lead", "stop_switch.in", "stop_switch.out", "stop_lead_ohm");
  p.ohm("test_earth_lead", "control_module.ground", "earth", "earth_lead_ohm");
}

}  // namespace

void add_parts(plugin::Tables& t, const Options& options) {
  blocks::PartWriter p(t);
  p.parameter("cranking_speed_rpm", "rpm", 400, 0.10,
              "crank speed while cranking, the same at every reading of one crank", 0.05);
  blocks::add_supply(t, supply_settings(), "cranking_speed_rpm");
  p.part("stator_connector", "connector of the charging winding", "SRC", 1);
  // Of key switch (16) and run switch (22) some sits on the connectors of the line: add_links().
  blocks::add_supply_line(t, {.fuse_share = 20, .fuse_holder_share = 11, .key_share = 12, .stop_share = 18});
  p.part("operator_state", "key, run switch, stand or brake left wrong", "INH", 1, true, LS_COMPONENT_OPERATOR);
  module(p, options);
  p.part("flywheel_key", "flywheel key", "TIM", 2);
  blocks::add_pickup(t, {.open_share = 27, .weak_share = 8, .gap_share = 12, .hot_share = 20}, "control_module",
                     "cranking_speed_rpm");
  blocks::add_high_tension(t, {});
  test_gear(p);
  p.parameter("timing_shift_degree", "degree", 1, 0,
              "ignition timing error, crank degrees; moves no electrical reading");
  p.parameter("loom_leak_ohm", "ohm", 1e9, 0, "chewed or tapped loom: leak of coil and pulse wire to metal");
  p.part("wiring_loom", "wiring loom, whole run", "CON", 2);
  p.ohm("loom_leak_coil", "ignition_coil.primary", "earth", "loom_leak_ohm");
  p.ohm("loom_leak_pulse", "control_module.gate", "earth", "loom_leak_ohm");
}

// Battery terminals (41): half on each post. A supply wire shorted to earth blows the fuse: it is in the fuse's share.
// Of a coil wire "open or to earth" (13) a third is to earth.
void add_links(plugin::Tables& t, const Options& options) {
  const auto link = [&](const char* id, const char* title, const char* from, const char* to, const char* carries,
                        double corroded, double open, double chafed, double mild, double severe, bool stops = false) {
    t.add(
        ls_link_v1{id, title, from, to, carries, "CON", corroded, open, chafed, mild, severe, 50, 0.2, stops ? 1 : 0});
  };
  link("battery_plus", "battery cable", "battery.plus", "starter.battery", "supply", 20.5, 0, 0, 0.02, 0.5);
  link("battery_minus", "battery earth cable", "battery.minus", "earth", "earth", 20.5, 0, 0, 0.02, 0.5);
  link("main_feed", "main supply wire", "starter.battery", "main_fuse.in", "supply", 0, 0, 0, 0.2, 10);
  link("key_feed", "supply wire to the key", "main_fuse.out", "key_switch.in", "supply", 2, 0, 0, 0.2, 20, true);
  link("stop_feed", "wire from key to run switch", "key_switch.out", "stop_switch.in", "supply", 6, 0, 0, 0.2, 20,
       true);
  link("module_supply", "module supply wire", "stop_switch.out", "control_module.supply", "supply", 22, 11, 0, 0.4, 30);
  link("module_ground", "module earth", "control_module.ground", "earth", "earth", 29, 0, 0, 0.4, 100);
  link("coil_wire", "wire from module to coil", "control_module.coil_out", "ignition_coil.primary", "energy", 13, 9, 4,
       3, 300);
  link("coil_ground", "coil earth", "ignition_coil.ground", "earth", "earth", 11, 0, 0, 0.5, 300);
  link("pulse_wire", "pulse wire", "pulse_coil.hot", "control_module.gate", "trigger", 7, 5, 0, 1000, 1e6);
  link("pulse_return", "return wire of the pulse coil", "pulse_coil.foot", "control_module.gate_return", "trigger", 6,
       4, 0, 1000, 1e6);
  // What earths the inhibit input without the switch: a third of the switch's share.
  if (options.inhibit)
    link("inhibit_wire", "wire to the stand, neutral or brake switch", "control_module.inhibit", "inhibit_switch.lead",
         "inhibit", 0, 0, 8, 50, 0.2, true);
}

}  // namespace lostspark::dc_cdi
