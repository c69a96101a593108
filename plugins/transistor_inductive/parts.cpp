// Parameters, components, terminals, elements and links. Medians: engineering judgement, common practice, no source.
// Shares per 1000 ignition complaints: judgement, the table of the family (docs/families/transistor_inductive.md).
#include "blocks/high_tension.hpp"
#include "blocks/interlock.hpp"
#include "blocks/pickup.hpp"
#include "family.hpp"

namespace lostspark::transistor_inductive {

blocks::SupplySettings supply_settings() {
  blocks::SupplySettings s;
  s.battery_share = 73;
  s.no_charge_share = 25;
  s.shorted_diode_share = 13;
  s.overcharge_share = 9;
  s.winding_share = 17;
  return s;
}

namespace {

void module_and_coil(blocks::PartWriter& p) {
  p.parameter("dwell_second", "second", 8e-3, 0.08, "how long the module lets the current rise");
  p.parameter("module_drop_volt", "volt", 0.8, 0.1, "volts that the module's closed transistor keeps");
  p.parameter("module_on_ohm", "ohm", 0.15, 0.1, "and its resistance");
  p.parameter("module_output_ohm", "ohm", 1e-3, 0, "in series with the transistor: a dead output");
  p.parameter("module_load_ohm", "ohm", 60, 0.1, "what the module itself draws");
  p.parameter("cutout_volt", "volt", 6.5, 0.05, "supply below which the module resets");
  p.parameter("clamp_volt", "volt", 400, 0.04, "where the module's clamp holds terminal 1");
  p.parameter("snubber_farad", "farad", 1e-9, 0, "across the transistor");
  p.part("control_module", "ignition control module", "CTL", 5);
  p.terminal("control_module", "supply", "15", "module supply");
  p.terminal("control_module", "coil_out", "1", "output to the coil");
  p.terminal("control_module", "ground", "31", "module earth");
  p.ohm("module_load", "control_module.supply", "control_module.ground", "module_load_ohm");

  p.parameter("primary_henry", "henry", 5e-3, 0.04, "coil primary");
  p.parameter("primary_ohm", "ohm", 2.2, 0.06, "coil primary: windings, and copper between 5 and 35 celsius");
  p.parameter("turns_ratio_one", "one", 70, 0.06, "secondary over primary turns");
  p.parameter("coupling_one", "one", 0.96, 0, "coupling of the windings");
  p.parameter("secondary_ohm", "ohm", 9000, 0, "coil secondary as the spark sees it");
  p.parameter("secondary_meter_ohm", "ohm", 9000, 0.06, "coil secondary as an ohmmeter sees it, breaks included");
  p.parameter("secondary_leak_ohm", "ohm", 1e10, 0, "leak across the secondary: insulation, tracking");
  p.parameter("secondary_break_volt", "volt", 1, 0, "gap inside a burnt secondary, added to the demand");
  p.part("ignition_coil", "ignition coil", "PRI", 3);
  p.terminal("ignition_coil", "supply", "15", "coil supply");
  p.terminal("ignition_coil", "primary", "1", "coil primary, module side");
  p.terminal("ignition_coil", "ht", "4", "coil high tension");
  p.ohm("primary_winding", "ignition_coil.supply", "ignition_coil.primary", "primary_ohm");
  p.ohm("secondary_winding", "ignition_coil.ht", "ignition_coil.supply", "secondary_meter_ohm", LS_IN_OHM_TESTS);
}

/// What set-ups bring along: off until then.
void test_gear(blocks::PartWriter& p) {
  p.parameter("load_lamp_ohm", "ohm", 1e9, 0, "load lamp from the coil's supply to the module's earth");
  p.parameter("supply_lead_ohm", "ohm", 1e9, 0, "fused lead from the battery to the coil's supply");
  p.parameter("stop_lead_ohm", "ohm", 1e9, 0, "lead across the run/stop switch");
  p.parameter("earth_lead_ohm", "ohm", 1e9, 0, "lead from the module's earth to the engine");
  p.ohm("test_lamp", "ignition_coil.supply", "control_module.ground", "load_lamp_ohm");
  p.ohm("test_supply_lead", "battery.plus", "ignition_coil.supply", "supply_lead_ohm");
  p.ohm("test_stop_lead", "stop_switch.in", "stop_switch.out", "stop_lead_ohm");
  p.ohm("test_earth_lead", "control_module.ground", "earth", "earth_lead_ohm");
}

}  // namespace

void add_parts(plugin::Tables& t, const Options& options) {
  blocks::PartWriter p(t);
  p.parameter("cranking_speed_rpm", "rpm", 300, 0.10,
              "crank speed while cranking, the same at every reading of one crank", 0.05);
  blocks::add_supply(t, supply_settings(), "cranking_speed_rpm");
  blocks::add_supply_line(t, {.fuse_share = 12,
                              .fuse_holder_share = 10,
                              .key_share = 16,
                              .stop_share = 26,
                              .alarm_share = 15,
                              .alarm = options.alarm});
  blocks::add_interlock(t, {.relay_share = 21, .stand_share = 25, .neutral_share = 13, .operator_share = 24});
  module_and_coil(p);
  blocks::add_pickup(t, {.open_share = 22, .weak_share = 13, .gap_share = 11, .hot_share = 24}, "control_module",
                     "cranking_speed_rpm");
  blocks::add_high_tension(t, {});
  test_gear(p);
  p.parameter("timing_shift_degree", "degree", 1, 0,
              "ignition timing error, crank degrees; moves no electrical reading");
  p.parameter("loom_leak_ohm", "ohm", 1e9, 0, "chewed or tapped loom: leak of coil and pulse wire to metal");
  p.parameter("meter_rise_second", "second", 1e-6, 0, "response of the peak meter, time constant of one pole");
  p.part("wiring_loom", "wiring loom, whole run", "CON", 2);
  p.ohm("loom_leak_coil", "ignition_coil.primary", "earth", "loom_leak_ohm");
  p.ohm("loom_leak_pulse", "control_module.gate", "earth", "loom_leak_ohm");

  const auto elsewhere = [&](const char* id, const char* title, const char* group, int price) {
    p.part(id, title, group, price, false, LS_COMPONENT_ELSEWHERE);
  };
  elsewhere("fuel", "fuel supply", "FUE", 2);
  elsewhere("compression", "compression and valves", "CMP", 5);
  elsewhere("air", "air filter, leaks, exhaust", "AIR", 2);
  elsewhere("other", "starter, fuel tap, choke, other", "OTH", 2);
}

// The module connector's pins (20: spread or corroded) are contacts of the wires that end there: 5 pulse pair, 5 coil
// wire, 5 module earth, 5 supply. Battery terminals (32): half on each post. Contacts along the line carry what the
// table books to key (22), run switch (31) and pulse connector (27) beyond the parts themselves.
void add_links(plugin::Tables& t, const Options& options) {
  const auto link = [&](const char* id, const char* title, const char* from, const char* to, const char* carries,
                        double corroded, double open, double chafed, double mild, double severe, bool stops = false) {
    t.add(
        ls_link_v1{id, title, from, to, carries, "CON", corroded, open, chafed, mild, severe, 50, 0.2, stops ? 1 : 0});
  };
  const char* feeds = "interlock_relay.out";
  link("battery_plus", "battery cable", "battery.plus", "starter.battery", "supply", 16, 0, 0, 0.01, 0.4);
  link("battery_minus", "battery earth cable", "battery.minus", "earth", "earth", 16, 0, 0, 0.01, 0.4);
  link("main_feed", "main supply wire", "starter.battery", "main_fuse.in", "supply", 0, 0, 0, 0.2, 10);
  link("key_feed", "supply wire to the key", "main_fuse.out", "key_switch.in", "supply", 3, 0, 0, 0.2, 20, true);
  link("stop_feed", "wire from key to run switch", "key_switch.out", "stop_switch.in", "supply", 5, 0, 0, 0.2, 20,
       true);
  link("relay_feed", "wire from run switch to stand relay", "stop_switch.out", "interlock_relay.in", "supply", 3, 0, 0,
       0.2, 20, true);
  if (options.alarm) {
    link("alarm_feed", "wire to the alarm splice", feeds, "alarm_splice.in", "supply", 0, 0, 0, 0.2, 20, true);
    feeds = "alarm_splice.out";
  }
  link("coil_supply", "coil supply wire", feeds, "ignition_coil.supply", "supply", 35, 11, 0, 0.3, 10);
  link("module_supply", "module supply wire", feeds, "control_module.supply", "supply", 3, 2, 0, 10, 3e3);
  link("coil_wire", "wire from coil to module", "ignition_coil.primary", "control_module.coil_out", "energy", 5, 11, 8,
       0.5, 100);
  link("pulse_wire", "pulse wire", "pulse_coil.hot", "control_module.gate", "trigger", 11, 7, 0, 1000, 1e6);
  link("pulse_return", "return wire of the pulse coil", "pulse_coil.foot", "control_module.gate_return", "trigger", 8,
       6, 0, 1000, 1e6);
  link("module_ground", "module earth", "control_module.ground", "earth", "earth", 27 + 5, 0, 0, 0.3, 30);
}

}  // namespace lostspark::transistor_inductive
