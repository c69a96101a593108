// Parameters, components, terminals, elements and links. Medians: engineering judgement, common practice, no source.
// Shares per 1000 ignition complaints: judgement, the table of the family (docs/families/wasted_spark.md); those of a
// coil divided by the number of coils, those of a cylinder by that of cylinders.
#include "blocks/high_tension.hpp"
#include "blocks/interlock.hpp"
#include "blocks/pickup.hpp"
#include "blocks/relay_feed.hpp"
#include "blocks/spark_tests.hpp"
#include "family.hpp"

namespace lostspark::wasted_spark {

blocks::SupplySettings supply_settings() {
  blocks::SupplySettings s;
  s.fresh_ohm = 0.016;
  s.starter_ohm = 0.09;
  s.battery_share = 70;
  s.no_charge_share = 14;
  s.shorted_diode_share = 8;
  s.overcharge_share = 4;
  s.winding_share = 8;
  return s;
}

namespace {

void ignition_unit(blocks::PartWriter& p, const Options& options) {
  p.parameter("dwell_second", "second", 5e-3, 0.07, "how long the unit lets the current rise while cranking");
  p.parameter("unit_drop_volt", "volt", 0.8, 0.1, "volts that the unit's closed transistors keep");
  p.parameter("unit_on_ohm", "ohm", 0.08, 0, "and their resistance");
  p.parameter("unit_load_ohm", "ohm", 60, 0.1, "what the unit itself draws");
  p.parameter("cutout_volt", "volt", 6.5, 0.05, "supply below which the unit resets");
  p.parameter("clamp_volt", "volt", 400, 0.04, "where the unit's clamps hold terminal 1");
  p.parameter("snubber_farad", "farad", 1e-9, 0, "across a transistor");
  p.part("ignition_unit", options.engine_unit ? "engine control unit" : "ignition unit", "CTL", 5);
  p.terminal("ignition_unit", "supply", "15", "unit supply");
  p.terminal("ignition_unit", "ground", "31", "unit earth");
  p.ohm("unit_load", "ignition_unit.supply", "ignition_unit.ground", "unit_load_ohm");
}

void coil(blocks::PartWriter& p, const Options& options, int pair) {
  const auto id = [pair](const char* stem) { return of(stem, pair); };
  const auto number = coil_number(options, pair), part = id("ignition_coil"), output = id("output");
  p.terminal("ignition_unit", output.c_str(), "1", ("output to coil" + number).c_str());
  p.parameter(id("output_ohm"), "ohm", 1e-3, 0, "in series with the unit's transistor: a dead output");
  p.parameter(id("primary_henry"), "henry", 4.5e-3, 0.04, "coil primary");
  p.parameter(id("primary_ohm"), "ohm", 0.7, 0.06, "coil primary: windings, and copper between 5 and 35 celsius");
  p.parameter(id("turns_ratio_one"), "one", 85, 0.06, "secondary over primary turns");
  p.parameter(id("secondary_meter_ohm"), "ohm", 12e3, 0.06, "coil secondary as an ohmmeter sees it, breaks included");
  p.parameter(id("secondary_leak_ohm"), "ohm", 1e10, 0, "loss across the secondary, tower to tower: shorted turns");
  p.parameter(id("secondary_break_volt"), "volt", 1, 0,
              "gap inside a burnt secondary, added to the demand of both plugs");
  p.part(part, ("dual-output ignition coil" + number).c_str(), "PRI", 3);
  p.terminal(part, "supply", "15", "coil supply");
  p.terminal(part, "primary", "1", "coil primary, unit side");
  const auto cylinders = options.of_pair(pair);
  p.terminal(part, "tower_a", "4a", ("tower of cylinder " + std::to_string(cylinders[0])).c_str());
  p.terminal(part, "tower_b", "4b", ("tower of cylinder " + std::to_string(cylinders[1])).c_str());
  p.ohm(id("primary_winding"), part + ".supply", part + ".primary", id("primary_ohm"));
  p.ohm(id("secondary_winding"), part + ".tower_a", part + ".tower_b", id("secondary_meter_ohm"), LS_IN_OHM_TESTS);
}

/// Lead, cap and plug of a cylinder, and the tower they sit on. The positive plug of a pair wants more volts: its
/// electrons leave the cold ground electrode (common practice: 10 to 30 % more).
void side(plugin::Tables& t, blocks::PartWriter& p, const Options& options, int cylinder) {
  const auto id = [cylinder](const char* stem) { return of(stem, cylinder); };
  p.parameter(id("tower_leak_ohm"), "ohm", 1e10, 0, "leak from the coil's tower to its core");
  p.parameter(id("tower_ohm"), "ohm", 0.1, 0, "contact in the coil's tower");
  p.parameter(id("tower_break_volt"), "volt", 1, 0, "gap in a corroded tower, added to the demand");
  const double demand = options.side_of(cylinder) == 0 ? 6000 : 6900;
  blocks::add_high_tension(t, {.suffix = "_" + std::to_string(cylinder), .demand_volt = demand});
  p.ohm(id("tower_contact"), tower(options, cylinder), id("ht_lead") + ".coil_end", id("tower_ohm"), LS_IN_OHM_TESTS);
}

/// What set-ups bring along: off until then.
void test_gear(blocks::PartWriter& p, const Options& options) {
  p.parameter("load_lamp_ohm", "ohm", 1e9, 0, "load lamp from the coil's supply to the unit's earth");
  p.parameter("supply_lead_ohm", "ohm", 1e9, 0, "fused lead from the battery to the coil's supply");
  p.parameter("earth_lead_ohm", "ohm", 1e9, 0, "lead from the unit's earth to the engine");
  p.ohm("test_lamp", "ignition_coil_1.supply", "ignition_unit.ground", "load_lamp_ohm");
  p.ohm("test_supply_lead", "battery.plus", "ignition_coil_1.supply", "supply_lead_ohm");
  p.ohm("test_earth_lead", "ignition_unit.ground", "earth", "earth_lead_ohm");
  if (options.engine_unit) return;
  p.parameter("stop_lead_ohm", "ohm", 1e9, 0, "lead across the run/stop switch");
  p.ohm("test_stop_lead", "stop_switch.in", "stop_switch.out", "stop_lead_ohm");
}

}  // namespace

void add_parts(plugin::Tables& t, const Options& options) {
  blocks::PartWriter p(t);
  p.parameter("cranking_speed_rpm", "rpm", 280, 0.10,
              "crank speed while cranking, the same at every reading of one crank", 0.05);
  blocks::add_supply(t, supply_settings(), "cranking_speed_rpm");
  if (options.engine_unit) {
    blocks::add_supply_line(
        t, {.fuse_share = 6, .fuse_holder_share = 4, .key_share = 4, .run_switch = false, .lighting_ohm = 5});
    blocks::add_relay_feed(p);
    blocks::add_immobiliser(p);
  } else {
    blocks::add_supply_line(t, {.fuse_share = 11, .fuse_holder_share = 7, .key_share = 12, .stop_share = 15});
    blocks::add_interlock(t, {.relay_share = 18, .stand_share = 16, .neutral_share = 8, .operator_share = 20});
  }
  ignition_unit(p, options);
  blocks::add_pickup(t,
                     {.title = options.engine_unit ? "crank sensor" : "pulse coil",
                      .open_share = 20,
                      .weak_share = 5,
                      .gap_share = 12,
                      .hot_share = 34},
                     "ignition_unit", "cranking_speed_rpm");
  // Alike in all coils.
  p.parameter("coupling_one", "one", 0.96, 0, "coupling of a coil's windings");
  p.parameter("secondary_ohm", "ohm", 12e3, 0, "coil secondary as the spark sees it");
  p.parameter("exhaust_part_one", "one", 0.28, 0, "demand of a gap on its exhaust stroke over that under compression");
  for (int pair = 1; pair <= options.pairs; ++pair) coil(p, options, pair);
  for (int c = 1; c <= options.cylinders(); ++c) side(t, p, options, c);
  test_gear(p, options);
  p.parameter("timing_shift_degree", "degree", 1, 0,
              "ignition timing error, crank degrees; moves no electrical reading");
  p.parameter("loom_leak_ohm", "ohm", 1e9, 0, "chewed or tapped loom: leak of first coil and pulse wire to metal");
  p.parameter("meter_rise_second", "second", 1e-6, 0, "response of the peak meter, time constant of one pole");
  p.part("wiring_loom", "wiring loom, whole run", "CON", 2);
  p.ohm("loom_leak_coil", "ignition_coil_1.primary", "earth", "loom_leak_ohm");
  p.ohm("loom_leak_pulse", "ignition_unit.gate", "earth", "loom_leak_ohm");
  // 22 of 100 complaints booked as ignition are not, half of it fuel (judgement).
  if (options.engine_unit)
    blocks::add_elsewhere(t, 0.22, "starter, selector switch, other", "starter, selector switch, fuel cut-off");
  else
    blocks::add_elsewhere(t, 0.22, "starter, clutch, fuel tap, other", "starter, fuel tap, choke, gearbox");
}

// The unit connector's pins (18) are contacts of the wires that end there: 2 and 2 pulse pair, 5 coil wires, 5 unit
// earth, 4 supply. Battery terminals (36): half on each post. Of relay or key contact (36) 6 are contacts of their
// wires, of the run switch (20) 5.
void add_links(plugin::Tables& t, const Options& options) {
  const auto link = [&](const std::string& id, const std::string& title, const std::string& from, const std::string& to,
                        const char* carries, double corroded, double open, double chafed, double mild, double severe,
                        bool stops = false) {
    t.add(ls_link_v1{id.c_str(), title.c_str(), from.c_str(), to.c_str(), carries, "CON", corroded, open, chafed, mild,
                     severe, 50, 0.2, stops ? 1 : 0});
  };
  const char* feeds = options.engine_unit ? "coil_splice.out" : "interlock_relay.out";
  link("battery_plus", "battery cable", "battery.plus", "starter.battery", "supply", 18, 0, 0, 0.01, 0.4);
  link("battery_minus", "battery earth cable", "battery.minus", "earth", "earth", 18, 0, 0, 0.01, 0.4);
  link("main_feed", "main supply wire", "starter.battery", "main_fuse.in", "supply", 0, 0, 0, 0.2, 10);
  link("key_feed", "supply wire to the key", "main_fuse.out", "key_switch.in", "supply", options.engine_unit ? 0 : 3, 0,
       0, 0.2, 20, true);
  if (options.engine_unit) {
    blocks::add_relay_feed_links(t, "key_switch.out", "wire from the key to the relay coil",
                                 {.hold_wire = 4, .relay_wire = 2, .feed_wire = 3, .feed_open = 1});
  } else {
    link("stop_feed", "wire from key to run switch", "key_switch.out", "stop_switch.in", "supply", 5, 0, 0, 0.2, 20,
         true);
    link("relay_feed", "wire from run switch to stand relay", "stop_switch.out", "interlock_relay.in", "supply", 3, 0,
         0, 0.2, 20, true);
  }
  const double each = 1.0 / options.pairs;
  for (int pair = 1; pair <= options.pairs; ++pair) {
    const auto number = coil_number(options, pair), part = of("ignition_coil", pair);
    link(of("coil_supply", pair), "supply wire of coil" + number, feeds, part + ".supply", "supply",
         (options.engine_unit ? 16 : 24) * each, 4 * each, 0, 0.2, 10);
    link(of("coil_wire", pair), "wire from coil" + number + " to the unit", part + ".primary",
         "ignition_unit." + of("output", pair), "energy", 5 * each, 12 * each, 6 * each, 0.2, 100);
  }
  link("unit_supply", "supply wire of the unit", options.engine_unit ? "key_switch.out" : feeds, "ignition_unit.supply",
       "supply", 4, 0, 0, 10, 3e3);
  link("pulse_wire", "pulse wire", "pulse_coil.hot", "ignition_unit.gate", "trigger", 10 + 2, 5, 0, 1000, 1e6);
  link("pulse_return", "return wire of the pulse coil", "pulse_coil.foot", "ignition_unit.gate_return", "trigger",
       8 + 2, 5, 0, 1000, 1e6);
  link("unit_ground", "earth of the unit", "ignition_unit.ground", "earth", "earth", 22 + 5, 0, 0, 0.2, 30);
}

}  // namespace lostspark::wasted_spark
