// Parameters, components, terminals, elements and links. Medians: engineering judgement, common practice, no source.
// Shares per 1000 ignition complaints: judgement, the table of the family (docs/families/coil_on_plug.md).
#include "blocks/pickup.hpp"
#include "blocks/relay_feed.hpp"
#include "blocks/spark_plug.hpp"
#include "family.hpp"

namespace lostspark::coil_on_plug {

blocks::SupplySettings supply_settings() {
  blocks::SupplySettings s;
  s.fresh_ohm = 0.018;
  s.starter_ohm = 0.11;
  s.battery_share = 65;
  s.no_charge_share = 11;
  s.shorted_diode_share = 6;
  s.overcharge_share = 3;
  s.winding_share = 7;
  return s;
}

namespace {

void control_unit(blocks::PartWriter& p, const Options& options) {
  p.parameter("dwell_second", "second", 3.5e-3, 0.06, "how long the unit lets the current rise while cranking");
  p.parameter("driver_drop_volt", "volt", 0.8, 0, "volts that a closed driver keeps");
  p.parameter("driver_on_ohm", "ohm", 0.08, 0, "and its resistance");
  p.parameter("unit_load_ohm", "ohm", 25, 0, "what the unit itself draws");
  p.parameter("cutout_volt", "volt", 6.5, 0.04, "supply below which the unit resets");
  p.parameter("clamp_volt", "volt", 400, 0.04, "where the drivers' clamps hold terminal 1");
  p.parameter("snubber_farad", "farad", 1e-9, 0, "across a driver");
  p.parameter("unit_logic_one", "one", 1e3, 0, "the unit works: far above 1; dead: far below");
  p.part("control_unit", "engine control unit", "CTL", 5);
  p.terminal("control_unit", "supply", "15", "unit supply");
  p.terminal("control_unit", "ground", "31", "unit earth");
  p.ohm("unit_load", "control_unit.supply", "control_unit.ground", "unit_load_ohm");
  if (options.immobiliser) {
    blocks::add_immobiliser(p);
  }
  if (!options.has_rail()) return;
  // The rail is regulated against the unit's earth; taken against engine metal, so that sensors stay a network of their
  // own: what a bad unit earth does to them is a tenth of what it does to the coils.
  p.parameter("sensor_rail_volt", "volt", 5, 0.01, "the unit's own supply of its sensors");
  p.parameter("sensor_rail_ohm", "ohm", 2, 0, "and its resistance");
  p.parameter("sensor_return_ohm", "ohm", 0.02, 0, "sensor earth inside the unit");
  p.parameter("pull_up_ohm", "ohm", 1000, 0, "from the rail to an input of the unit");
  p.terminal("control_unit", "sensor_supply", "", "sensor supply, 5 volt");
  p.terminal("control_unit", "sensor_ground", "31", "sensor earth");
  p.source("sensor_rail", "control_unit.sensor_supply", "earth", "sensor_rail_volt", "sensor_rail_ohm");
  p.ohm("sensor_return", "control_unit.sensor_ground", "earth", "sensor_return_ohm");
}

/// A sensor of three wires, in the moment in which it pulls its signal to earth.
void hall(blocks::PartWriter& p, const char* part, const char* title, const char* pin, const char* pin_title) {
  const std::string id = part;
  p.part(id, title, "TRG", 3);
  p.terminal(id, "supply", "", "sensor supply");
  p.terminal(id, "ground", "31", "sensor earth");
  p.terminal(id, "signal", "", "sensor signal");
  p.terminal("control_unit", pin, "", pin_title);
  p.parameter(id + "_load_ohm", "ohm", 600, 0, "what the sensor draws");
  p.parameter(id + "_on_ohm", "ohm", 60, 0, "its output, pulled to earth");
  p.ohm(id + "_load", id + ".supply", id + ".ground", id + "_load_ohm");
  p.ohm(id + "_output", id + ".signal", id + ".ground", id + "_on_ohm");
  p.ohm(id + "_pull_up", "control_unit.sensor_supply", std::string("control_unit.") + pin, "pull_up_ohm");
}

/// A switch that connects an input of the unit to earth as long as it permits.
void permitting_switch(blocks::PartWriter& p, const char* part, const char* title, const char* pin) {
  const std::string id = part;
  p.part(id, title, "INH", 2, true);
  p.terminal(id, "hot", "", "unit side");
  p.terminal(id, "foot", "31", "earth side");
  p.terminal("control_unit", pin, "", "input that permits");
  p.parameter(id + "_ohm", "ohm", 0.3, 0, "its contact, permitting");
  p.ohm(id + "_contact", id + ".hot", id + ".foot", id + "_ohm");
  p.ohm(id + "_pull_up", "control_unit.sensor_supply", std::string("control_unit.") + pin, "pull_up_ohm");
}

void cylinder(plugin::Tables& t, blocks::PartWriter& p, int n) {
  const auto id = [n](const char* stem) { return of(stem, n); };
  const auto title = [n](const char* words) { return words + (" " + std::to_string(n)); };
  const auto coil = id("ignition_coil"), boot = id("boot"), driver = id("driver");
  p.terminal("control_unit", driver.c_str(), "1", title("driver").c_str());
  p.parameter(id("driver_ohm"), "ohm", 1e-3, 0, "in series with the driver: a dead one");
  p.parameter(id("primary_henry"), "henry", 2.5e-3, 0, "coil primary");
  p.parameter(id("primary_ohm"), "ohm", 0.6, 0.05, "coil primary: windings, and copper between 5 and 35 celsius");
  p.parameter(id("turns_ratio_one"), "one", 80, 0.05, "secondary over primary turns");
  p.parameter(id("secondary_meter_ohm"), "ohm", 6000, 0.05, "coil secondary as an ohmmeter sees it, breaks included");
  p.parameter(id("secondary_leak_ohm"), "ohm", 1e10, 0, "leak across the secondary: insulation, tracking");
  p.parameter(id("secondary_break_volt"), "volt", 1, 0, "gap inside a burnt secondary, added to the demand");
  p.parameter(id("boot_ohm"), "ohm", 1000, 0.05, "spring and resistor of the boot");
  p.parameter(id("boot_leak_ohm"), "ohm", 1e10, 0, "carbon track along the boot");
  p.parameter(id("boot_break_volt"), "volt", 1, 0, "gap at a burnt spring or resistor, added to the demand");
  p.parameter(id("well_leak_ohm"), "ohm", 1e10, 0, "oil or water round boot and plug");
  p.part(coil, title("ignition coil").c_str(), "PRI", 3);
  p.terminal(coil, "supply", "15", "coil supply");
  p.terminal(coil, "primary", "1", "coil primary, unit side");
  p.terminal(coil, "ht", "4", "coil high tension");
  p.ohm(id("primary_winding"), coil + ".supply", coil + ".primary", id("primary_ohm"));
  p.ohm(id("secondary_winding"), coil + ".ht", coil + ".supply", id("secondary_meter_ohm"), LS_IN_OHM_TESTS);
  p.part(boot, title("boot and spring").c_str(), "SEC", 1);
  p.terminal(boot, "plug_end", "4", "boot, plug end");
  p.ohm(id("boot_spring"), coil + ".ht", boot + ".plug_end", id("boot_ohm"), LS_IN_OHM_TESTS);
  p.part(id("plug_well"), title("plug well").c_str(), "SEC", 2);
  blocks::add_spark_plug(t, {.suffix = "_" + std::to_string(n), .title = title("spark plug"), .demand_volt = 6500});
  // Set-up: a lamp that draws its current through the feed.
  p.parameter(id("load_lamp_ohm"), "ohm", 1e9, 0, "load lamp from the coil's supply to engine metal");
  p.ohm(id("load_lamp"), coil + ".supply", "earth", id("load_lamp_ohm"));
}

}  // namespace

void add_parts(plugin::Tables& t, const Options& options) {
  blocks::PartWriter p(t);
  p.parameter("cranking_speed_rpm", "rpm", 280, 0.10, "crank speed while cranking, the same at every reading of one crank",
              0.05);
  blocks::add_supply(t, supply_settings(), "cranking_speed_rpm");
  blocks::add_supply_line(t, {.fuse_share = 5, .fuse_holder_share = 2, .key_share = 3, .stop_share = 7, .lighting_ohm = 6});
  blocks::add_relay_feed(p);
  control_unit(p, options);
  if (options.hall_crank_sensor)
    hall(p, "crank_sensor", "crank sensor", "crank", "crank signal");
  else
    blocks::add_pickup(t,
                       {.component = "crank_sensor",
                        .title = "crank sensor",
                        .hertz = 110,
                        .ohm = 550,
                        .henry = 0.15,
                        .input_ohm = 5000,
                        .open_share = 18,
                        .weak_share = 8,
                        .gap_share = 17,
                        .hot_share = 44},
                       "control_unit", "cranking_speed_rpm");
  if (options.cam_sensor) hall(p, "cam_sensor", "cam sensor", "cam", "cam signal");
  if (options.stand_switch) permitting_switch(p, "stand_switch", "side-stand switch", "stand");
  if (options.tip_sensor) permitting_switch(p, "tip_sensor", "tip-over sensor", "tip");
  // Alike in all coils.
  p.parameter("coupling_one", "one", 0.96, 0, "coupling of a coil's windings");
  p.parameter("secondary_ohm", "ohm", 6000, 0, "coil secondary as the spark sees it");
  for (int n = 1; n <= options.cylinders; ++n) cylinder(t, p, n);

  p.parameter("timing_shift_degree", "degree", 1, 0, "ignition timing error, crank degrees; moves no electrical reading");
  p.parameter("loom_leak_ohm", "ohm", 1e9, 0, "chewed or tapped loom: leak of coil feed and crank signal to metal");
  p.parameter("meter_rise_second", "second", 1e-6, 0, "response of the peak meter, time constant of one pole");
  p.part("wiring_loom", "wiring loom, whole run", "CON", 2);
  p.ohm("loom_leak_feed", "coil_splice.out", "earth", "loom_leak_ohm");
  p.ohm("loom_leak_crank", options.hall_crank_sensor ? "control_unit.crank" : "control_unit.gate", "earth",
        "loom_leak_ohm");
  p.part("operator_state",
         options.motorcycle() ? "key, run switch, stand or gear left wrong" : "key, inertia cut-off or gear left wrong", "INH", 1, true, LS_COMPONENT_OPERATOR);

  const auto elsewhere = [&](const char* id, const char* title, const char* group, int price) {
    p.part(id, title, group, price, false, LS_COMPONENT_ELSEWHERE);
  };
  elsewhere("fuel", "fuel supply", "FUE", 2);
  elsewhere("compression", "compression and valves", "CMP", 5);
  elsewhere("air", "air filter, leaks, exhaust", "AIR", 2);
  elsewhere("other", "starter, gearbox switch, other", "OTH", 2);
}

// What has no share of its own makes no fault: the table books earths and supplies of sensors under their signal wires.
// The unit's connector (20: water, spread pins) is contacts of the wires that end there: 5 its supply, 5 its earth, 4 the
// crank sensor, 6 the drivers. Of the relay's share (31) key switch and hold wire have 5. Battery posts and main strap (37): half on each post.
void add_links(plugin::Tables& t, const Options& options) {
  const auto link = [&](const std::string& id, const std::string& title, const std::string& from, const std::string& to,
                        const char* carries, double corroded, double open, double chafed, double mild, double severe,
                        bool stops = false) {
    t.add(ls_link_v1{id.c_str(), title.c_str(), from.c_str(), to.c_str(), carries, "CON", corroded, open, chafed, mild,
                     severe, 50, 0.2, stops ? 1 : 0});
  };
  link("battery_plus", "battery cable", "battery.plus", "starter.battery", "supply", 18.5, 0, 0, 0.01, 0.4);
  link("battery_minus", "battery earth cable", "battery.minus", "earth", "earth", 18.5, 0, 0, 0.01, 0.4);
  link("main_feed", "main supply wire", "starter.battery", "main_fuse.in", "supply", 0, 0, 0, 0.2, 10);
  link("key_feed", "supply wire to the key", "main_fuse.out", "key_switch.in", "supply", 0, 0, 0, 0.2, 20, true);
  link("stop_feed", "wire from key to " + options.cut_off(), "key_switch.out", "stop_switch.in", "supply", 0, 0, 0, 0.2, 20, true);
  blocks::add_relay_feed_links(t, "stop_switch.out", ("wire from " + options.cut_off() + " to relay coil").c_str(),
                               {.hold_wire = 2, .relay_wire = 2, .feed_wire = 4, .feed_open = 1});
  link("unit_feed", "supply wire of the control unit", "key_switch.out", "control_unit.supply", "supply", 5, 0, 0, 1, 300);
  link("unit_ground", "earth of the control unit", "control_unit.ground", "earth", "earth", 22 + 5, 0, 0, 0.2, 10);
  const double each = 1.0 / options.cylinders;
  for (int n = 1; n <= options.cylinders; ++n) {
    const auto number = " " + std::to_string(n);
    const auto coil = of("ignition_coil", n);
    link(of("coil_supply", n), "supply wire of coil" + number, "coil_splice.out", coil + ".supply", "supply", 21 * each,
         0, 0, 0.3, 30);
    link(of("driver_wire", n), "driver wire of coil" + number, "control_unit." + of("driver", n), coil + ".primary",
         "energy", (21 + 6) * each, 11 * each, 6 * each, 0.3, 100);
  }
  if (options.hall_crank_sensor) {
    link("crank_supply", "supply of the crank sensor", "control_unit.sensor_supply", "crank_sensor.supply", "sense", 7, 4,
         0, 50, 1e5);
    link("crank_ground", "earth of the crank sensor", "crank_sensor.ground", "control_unit.sensor_ground", "sense", 4, 2,
         0, 50, 1e5);
    link("crank_signal", "crank signal wire", "crank_sensor.signal", "control_unit.crank", "trigger", 8, 6, 0, 300, 1e5);
  } else {
    link("crank_signal", "crank signal wire", "crank_sensor.hot", "control_unit.gate", "trigger", 13, 6, 2, 3e3, 1e6);
    link("crank_return", "return wire of the crank sensor", "crank_sensor.foot", "control_unit.gate_return", "trigger", 7,
         3, 0, 3e3, 1e6);
  }
  if (options.cam_sensor) {
    link("cam_supply", "supply of the cam sensor", "control_unit.sensor_supply", "cam_sensor.supply", "sense", 0, 0, 0, 50,
         1e5);
    link("cam_ground", "earth of the cam sensor", "cam_sensor.ground", "control_unit.sensor_ground", "sense", 0, 0, 0, 50,
         1e5);
    link("cam_signal", "cam signal wire", "cam_sensor.signal", "control_unit.cam", "sense", 7, 2, 0, 300, 1e5);
  }
  if (options.stand_switch) {
    link("stand_wire", "wire of the side-stand switch", "control_unit.stand", "stand_switch.hot", "inhibit", 0, 0, 0, 100,
         1e5, true);
    link("stand_earth", "earth of the side-stand switch", "stand_switch.foot", "earth", "earth", 0, 0, 0, 10, 1e3, true);
  }
  if (options.tip_sensor) {
    link("tip_wire", "wire of the tip-over sensor", "control_unit.tip", "tip_sensor.hot", "inhibit", 0, 0, 0, 100, 1e5,
         true);
    link("tip_earth", "earth of the tip-over sensor", "tip_sensor.foot", "earth", "earth", 0, 0, 0, 10, 1e3, true);
  }
}

}  // namespace lostspark::coil_on_plug
