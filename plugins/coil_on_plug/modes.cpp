// Fault modes of relay, unit, coils, boots, wells, loom and of what is not ignition; those of supply, crank sensor and
// plugs come with their blocks. Shares per 1000 ignition complaints of the family, those of a cylinder divided by the
// number of cylinders; labour, success, severities: judgement.
#include "blocks/relay_feed.hpp"
#include "blocks/spark_plug.hpp"
#include "family.hpp"

namespace lostspark::coil_on_plug {
namespace {

using blocks::k_constant;
using blocks::k_hot;
using blocks::k_loaded;
using blocks::k_shaken;
using blocks::k_wet;
using blocks::scale;

void unit(blocks::ModeWriter& w, const Options& options) {
  w.of("control_unit");
  w.repair("replace", "replace the engine control unit", "replace", 25, 0.95, 5);
  w.mode("dead", "dead, does not start up", "replace", 6, k_constant, {{"unit_logic_one", 1e-3, 1e-3}},
         "nothing answers: no spark, no fuel, no codes");
  w.mode("wrong_part", "wrong part fitted", "replace", 4, k_constant,
         {{"timing_shift_degree", 3, 15}, scale("dwell_second", 0.8, 0.4)},
         "a unit of another type or coding: other dwell or timing");
  const double each = 1.0 / options.cylinders;
  // Plain coils: the share of a transistor inside the coil (19) goes to the unit's drivers and to coils that fail hot.
  for (int n = 1; n <= options.cylinders; ++n) {
    const auto id = of("driver", n) + "_dead";
    const auto title = "driver " + std::to_string(n) + " dead";
    w.mode(id.c_str(), title.c_str(), "replace", 18 * each, k_constant, {{of("driver_ohm", n), 1e6, 1e6}},
           "one output stage is burnt: its coil is never switched; look for the shorted coil that did it");
  }
  if (options.immobiliser) {
    blocks::add_immobiliser_modes(w, 19);
  }
  const auto stuck = [&](const char* part, const char* title, double share) {
    w.of(part);
    w.repair("clean", (std::string("clean, adjust or replace the ") + title).c_str(), "adjust", 15, 0.93, 2);
    w.mode("open", "open, does not permit", "clean", share, blocks::seen(0.7, 0.95, k_wet | k_shaken),
           {{std::string(part) + "_ohm", 3e3, 1e8}}, "dirt, water or wear: the unit believes it must not fire");
  };
  if (options.stand_switch) stuck("stand_switch", "side-stand switch", 6);
  if (options.tip_sensor) stuck("tip_sensor", "tip-over sensor", 4);
  w.of("operator_state");
  w.repair("set_right", "set the switch right and show the user", "adjust", 1, 0.98, 0);
  w.mode("left_off", "left off", "set_right", 15, k_constant, {{"stop_position_ohm", 1e11, 1e11}},
         options.motorcycle() ? "run switch in stop, stand down in gear, key of another bike"
                              : "inertia cut-off tripped, in gear, key of another car");
}

void sensors(blocks::ModeWriter& w, const Options& options) {
  const auto hall = [&](const char* part, const char* title, double dead, double hot, double gap) {
    const std::string on = std::string(part) + "_on_ohm";
    w.of(part);
    w.repair("replace", (std::string("replace the ") + title).c_str(), "replace", 25, 0.95, 3);
    w.mode("dead", "dead", "replace", dead, k_constant, {{on, 1e8, 1e8}}, "its output never pulls down");
    w.mode("fails_hot", "fails when hot", "replace", hot, blocks::intermittent(k_hot), {{on, 2e3, 1e8}},
           "a cracked joint inside opens as it warms");
    if (gap <= 0) return;
    w.repair("adjust", (std::string("clean the ") + title + " and set its air gap").c_str(), "adjust", 25, 0.93, 1);
    w.mode("wide_gap", "air gap too wide or metal on its tip", "adjust", gap, k_constant, {{on, 800, 1e5}},
           "the wheel passes too far away: the swing is too small");
  };
  if (options.hall_crank_sensor) hall("crank_sensor", "crank sensor", 26, 44, 17);
  if (options.cam_sensor) hall("cam_sensor", "cam sensor", 11, 14, 0);
}

void cylinder(plugin::Tables& t, blocks::ModeWriter& w, int n, double each) {
  const auto id = [n](const char* stem) { return of(stem, n); };
  w.of(id("ignition_coil"));
  const auto number = " " + std::to_string(n);
  w.repair("replace", ("replace ignition coil" + number).c_str(), "replace", 10, 0.95, 3);
  w.mode("open_primary", "open primary", "replace", 15 * each, blocks::mostly(k_hot), {{id("primary_ohm"), 1e11, 1e11}},
         "no current at all; its terminal 1 has no volts with the key on");
  w.mode("shorted_primary", "shorted turns in the primary", "replace", 17 * each, blocks::mostly(k_hot),
         {scale(id("primary_ohm"), 0.97, 0.6), scale(id("primary_henry"), 0.7, 0.12), {id("secondary_leak_ohm"), 6e5, 8e4}},
         "a closed turn takes the energy: current up, reserve down; check its driver");
  w.mode("open_secondary", "open secondary, burnt winding", "replace", 17 * each, k_constant,
         {{id("secondary_meter_ohm"), 1e5, 5e7}, {id("secondary_break_volt"), 3e3, 25e3}},
         "the spark jumps a gap inside the winding first", "SEC");
  w.mode("secondary_leak", "secondary leak, cracked body", "replace", 60 * each,
         blocks::wavering(k_hot | k_wet | k_loaded), {{id("secondary_leak_ohm"), 8e5, 3e4}},
         "high tension creeps away through cracked or wet insulation", "SEC");
  w.mode("weak_hot", "weak when hot", "replace", 37 * each, blocks::intermittent(k_hot),
         {{id("secondary_leak_ohm"), 3e5, 3e4}, scale(id("primary_ohm"), 1.1, 1.4)},
         "turns short or insulation gives way as the coil warms", "SEC");
  w.mode("wrong_part", "wrong part fitted", "replace", 8 * each, k_constant,
         {scale(id("primary_ohm"), 1.8, 4), scale(id("primary_henry"), 1.4, 2.8)},
         "a coil of other primary ohms: too little current");

  w.of(id("boot"));
  w.repair("replace", ("replace boot and spring" + number + ", dielectric grease").c_str(), "replace", 8, 0.95, 1);
  w.mode("leaks", "carbon track along the boot", "replace", 58 * each, blocks::wavering(k_wet | k_loaded),
         {{id("boot_leak_ohm"), 8e5, 3e4}}, "the spark runs down the boot to the well, worst in the wet");
  w.mode("spring_open", "spring or resistor burnt", "replace", 19 * each, blocks::mostly(k_shaken),
         {{id("boot_ohm"), 3e4, 2e7}, {id("boot_break_volt"), 500, 25e3}}, "the spark jumps inside the boot");
  w.of(id("plug_well"));
  w.repair("dry", ("cure the gasket, dry plug well" + number + ", replace its boot").c_str(), "replace", 40, 0.92, 2);
  w.mode("wet", "oil or water in the well", "dry", 27 * each, blocks::mostly(k_wet), {{id("well_leak_ohm"), 8e5, 3e4}},
         "a leaking gasket or a blocked drain fills the well");
  blocks::add_spark_plug_modes(t,
                               {.fouled_dry = 56 * each,
                                .fouled_wet = 51 * each,
                                .gap_wide = 42 * each,
                                .gap_narrow = 17 * each,
                                .cracked = 17 * each,
                                .loose = 8 * each,
                                .wrong_plug = 7 * each},
                               "_" + std::to_string(n), "");
}

// 25 of 100 complaints booked as ignition are not: 1000 x 25 / 75, half of it fuel (judgement).
void elsewhere(blocks::ModeWriter& w) {
  constexpr double k_all = 1000.0 * 25 / 75;
  const auto fault = [&](const char* part, const char* repair, const char* kind, double minutes, int price,
                         const char* title, double share, const char* how) {
    w.of(part);
    w.repair("mend", repair, kind, minutes, 0.9, price);
    w.mode("fault", title, "mend", k_all * share, k_constant, {}, how);
  };
  fault("fuel", "mend the fuel supply", "replace", 45, 2, "fuel supply at fault", 0.5,
        "empty, stale, pump, filter, injector");
  fault("compression", "mend valves, rings or gasket", "replace", 180, 5, "no compression", 0.15,
        "valves, rings, gasket");
  fault("air", "mend the air path", "clean", 30, 2, "air path at fault", 0.15, "filter, leak, throttle bodies");
  fault("other", "mend the starting gear or show the user", "adjust", 30, 2, "something else", 0.2,
        "starter, gearbox switch, fuel tap");
}

}  // namespace

void add_modes(plugin::Tables& t, const Options& options) {
  blocks::ModeWriter w(t);
  blocks::add_relay_feed_modes(w, {.fuse = 10, .contact = 17, .coil = 9, .splice = 10});
  unit(w, options);
  sensors(w, options);
  for (int n = 1; n <= options.cylinders; ++n) cylinder(t, w, n, 1.0 / options.cylinders);
  w.of("wiring_loom");
  w.repair("mend", "repair the loom, undo or re-make splices", "replace", 40, 0.9, 2);
  w.mode("damaged", "chewed, spliced or tapped", "mend", 22, blocks::intermittent(k_wet | k_shaken),
         {{"loom_leak_ohm", 100, 0.5}}, "rodents or an add-on: bare copper touches metal when wet or shaken");
  elsewhere(w);
}

}  // namespace lostspark::coil_on_plug
