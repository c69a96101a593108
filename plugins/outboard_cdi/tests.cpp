// Conditions, set-ups and test kinds. Ranges, scatter and minutes: common practice and judgement, no source.
#include "blocks/high_tension.hpp"
#include "blocks/spark_tests.hpp"
#include "blocks/supply_tests.hpp"
#include "family.hpp"

namespace lostspark::outboard_cdi {
namespace {

// Every measurement while the engine turns; the propeller is a hazard of its own: S17.
constexpr const char* k_cranking = "S01 S02 S03 S04 S11 S12 S17 S19 S22";
constexpr const char* k_sparking = "S01 S02 S03 S04 S09 S12 S17 S19 S22";

ls_test_kind_v1 peak(const char* id, const char* title, const char* link, const char* source) {
  auto row = blocks::steady_volts(id, title, link, "cranking");
  row.source = source;
  row.instrument = "peak_voltmeter";
  row.log_sd = 0.10;
  row.minutes = 3;
  row.cautions = k_cranking;
  return row;
}

}  // namespace

void add_conditions(plugin::Tables& t, const Options& options) {
  t.add(ls_condition_v1{"key_off", "state", "engine off", "", "engine stopped, key off where there is one", 0,
                        LS_NEEDS_ENGINE_OFF});
  t.add(ls_condition_v1{
      "cranking", "state", "cranking", "",
      "neutral, propeller off or clear, fuel hose off; instrument connected with the engine still; lanyard "
      "clip on; crank 3 to 5 seconds",
      1, LS_NEEDS_CRANK});
  t.add(ls_condition_v1{"idle", "state", "running at idle", "",
                        "start the engine in water or on a flush feed and let it idle; never dry", 4,
                        LS_NEEDS_RUNNING});
  blocks::add_provocations(t, blocks::Steering::none, "read again after running it under load in the test tank or on the water");
  blocks::effect(t, "condition:idle", LS_SCALE_PARAMETER, "cranking_speed_rpm", 2);
  for (int n = 1; n <= options.cylinders; ++n)
    blocks::effect(t, "condition:idle", LS_SCALE_PARAMETER, of("demand_volt", n).c_str(), 1.2);

  t.add(ls_setup_v1{
      "stop_unplugged", "stop line unplugged",
      "take the stop line off the switch box, box still connected: neither key nor lanyard stops the engine", "", 1,
      1});
  t.add(ls_effect_v1{"setup:stop_unplugged", LS_OPEN_TERMINAL, "switch_box.stop", "", 1});
  t.add(ls_setup_v1{"box_and_stop_unplugged", "switch box and stop line unplugged",
                    "unplug the low-speed winding and the stop line at the switch box, insulate the ends", "", 1.5, 1});
  t.add(ls_effect_v1{"setup:box_and_stop_unplugged", LS_OPEN_TERMINAL, "switch_box.source", "", 1});
  t.add(ls_effect_v1{"setup:box_and_stop_unplugged", LS_OPEN_TERMINAL, "switch_box.stop", "", 1});
  if (options.charging) {
    t.add(ls_setup_v1{"rectifier_unplugged", "rectifier unplugged",
                      "engine stopped, unplug the rectifier from the battery winding, insulate the ends", "", 1.5, 1});
    blocks::effect(t, "setup:rectifier_unplugged", LS_SET_PARAMETER, "stator_load_one", 1);
  }
  t.add(ls_setup_v1{
      "gap_tester", "gap tester at the plug's end",
      "caps off the plugs and onto the gap tester one after the other, the others earthed, tester earthed to "
      "the engine, away from the plug holes; set to 8 kilovolt (about 7 mm between points in air)",
      "gap_tester", 1.5, 0});
  for (int n = 1; n <= options.cylinders; ++n)
    blocks::add_gap_tester_effects(t, "setup:gap_tester", 8e3, "_" + std::to_string(n));
  t.add(ls_setup_v1{"key_in_stop", "key turned to stop", "turn the key to stop", "", 0.3, 0});
  blocks::effect(t, "setup:key_in_stop", LS_SET_PARAMETER, "key_switch_ohm", 0.001);
}

namespace {

void source_tests(plugin::Tables& t, const Options& options) {
  auto low = peak("charge_peak", "low-speed winding peak", "low_wire", "charge");
  low.setups = options.charging ? "|stop_unplugged|rectifier_unplugged" : "|stop_unplugged";
  low.hook_up =
      "back-probe the winding's wire, other lead on bare engine metal, meter set to positive peaks; clear the hold, "
      "crank, keep "
      "the highest of three";
  low.low_means = "winding, stop line leaking, box input, rectifier loading the stator, slow engine";
  low.zero_means = "winding open, stop line earthed, wire broken";
  low.high_means = "box input open: unloaded";
  low.cautions = "S01 S02 S03 S04 S11 S12 S13 S17 S19 S22 S24";
  t.add(low);
  auto alone = peak("charge_peak_unplugged", "low-speed winding peak", "low_wire", "charge");
  alone.setups = "box_and_stop_unplugged";
  alone.hook_up = "stop the engine, unplug, meter on the winding's side of the connector and on bare engine metal";
  alone.low_means = "winding's turns, magnets, speed, rectifier loading the stator";
  alone.zero_means = "winding open or short to its core";
  alone.cautions = "S01 S02 S03 S04 S11 S12 S13 S17 S19 S22 S24";
  t.add(alone);
  auto high = peak("high_peak", "high-speed winding peak", "high_wire", "");
  high.hook_up =
      "back-probe the high-speed winding's wire, other lead on bare engine metal; a few tens of volts while cranking";
  high.low_means = "shorted turns, magnets, slow engine: the engine starts and has no revs";
  high.zero_means = "winding or wire open";
  t.add(high);
  const auto ohm = [&](const char* id, const char* title, const char* subject) {
    auto row = blocks::unplugged_ohms(id, title, subject, "earth", 0.03);
    row.hook_up = "winding unplugged, ohmmeter to bare engine metal";
    row.low_means = "shorted turns, or short to its core";
    row.zero_means = "short to its core";
    row.high_means = "open winding or bad joint (repeat hot)";
    row.cautions = "S10 S15 S24";
    t.add(row);
  };
  ohm("charge_ohm", "low-speed winding resistance", "charge_low.hot");
  ohm("high_ohm_of", "high-speed winding resistance", "charge_high.hot");
  t.add(ls_test_kind_v1{.id = "cranking_speed",
                        .title = "cranking speed",
                        .reads = LS_READS_OUTPUT,
                        .unit = "rpm",
                        .subject = "fire_1.speed_rpm",
                        .condition = "cranking",
                        .instrument = "timing_light",
                        .log_sd = 0.05,
                        .minutes = 2,
                        .mistaken = 0.03,
                        .place = "flywheel",
                        .hook_up = "tachometer on the flywheel, or the period of the peak meter's pulses",
                        .low_means = "all readings of that crank are low by as much: battery, starter, a tired arm",
                        .cautions = k_cranking});
}

void stop_tests(plugin::Tables& t, const Options& options) {
  const auto ohm = [&](const char* id, const char* title, const char* setups, const char* how) {
    auto row = blocks::unplugged_ohms(id, title, "key_switch.lead", "earth", 0.05);
    row.setups = setups;
    row.minutes = 3;
    row.hook_up = how;
    row.cautions = "S10 S13 S23";
    return row;
  };
  auto run =
      ohm("stop_line_ohm", "stop line to earth, key ON, clip on", "stop_unplugged",
          "stop line off the switch box; FIRST a voltmeter, key ON: 0 volt, or wires are crossed and no box may be "
          "connected; then ohms to bare engine metal, key ON, lanyard clip on");
  run.low_means = "damp switch or plug, chafed wire";
  run.zero_means = "switch or wire earthed";
  t.add(run);
  auto off =
      ohm("stop_line_off_ohm", "stop line to earth, key in stop", "stop_unplugged key_in_stop",
          "stop line off the switch box; FIRST a voltmeter, key ON: 0 volt, or wires are crossed and no box may be "
          "connected; then ohms to bare engine metal, key in stop");
  off.log_sd = 0.10;
  off.high_means = "the key never closes: UNSAFE, the engine cannot be stopped";
  t.add(off);
  if (!options.limiter) return;
  auto limit = blocks::unplugged_ohms("limiter_ohm", "overheat or low-oil sensor to earth", "limiter_sensor.lead",
                                      "earth", 0.10);
  limit.hook_up =
      "sensor lead unplugged at the switch box, engine cold and full of oil: no continuity to bare engine metal";
  limit.low_means = "sensor active or its wire chafed: the box holds the revs down";
  limit.zero_means = "sensor closed or wire earthed";
  t.add(limit);
}

void cylinder_tests(plugin::Tables& t, int n) {
  const auto number = " " + std::to_string(n), suffix = "_" + std::to_string(n);
  const auto live = of("fire", n) + ".trigger_margin", fire = of("fire", n);
  const auto trigger_id = of("trigger_peak", n), trigger_title = "trigger coil" + number + " peak",
             trigger_wire = of("trigger_wire", n);
  auto trigger = peak(trigger_id.c_str(), trigger_title.c_str(), trigger_wire.c_str(), "");
  trigger.log_sd = 0.12;
  trigger.hook_up = "back-probe the trigger's wire, other lead on bare engine metal; compare the cylinders";
  trigger.low_means = "on one: shorted turns; on all: plate, magnets, slow engine";
  trigger.zero_means = "open winding or wire, meter set to the wrong polarity";
  t.add(trigger);
  const auto ohm_id = of("trigger_ohm_of", n), ohm_title = "trigger coil" + number + " resistance",
             trigger_coil = of("trigger_coil", n) + ".hot";
  auto ohm = blocks::unplugged_ohms(ohm_id.c_str(), ohm_title.c_str(), trigger_coil.c_str(), "earth", 0.03);
  ohm.hook_up = "trigger unplugged, ohmmeter to bare engine metal; compare the cylinders";
  ohm.low_means = "shorted turns";
  ohm.zero_means = "short";
  ohm.high_means = "open (repeat hot)";
  t.add(ohm);
  const auto primary_id = of("primary_peak", n), primary_title = "primary peak" + number,
             coil_wire = of("coil_wire", n);
  auto primary = peak(primary_id.c_str(), primary_title.c_str(), coil_wire.c_str(), fire.c_str());
  primary.dead_below = live.c_str();
  primary.minutes = 4;
  primary.hook_up =
      "coil connected; back-probe the wire between switch box and coil, other lead on bare engine metal, meter set to "
      "POSITIVE "
      "peaks; read both ends of a joint, compare the cylinders";
  primary.low_means = "on all: charge winding, stop line, box; at one coil only: the joint between";
  primary.zero_means = "on all: no charge, box; on one: its trigger, its output, its wire";
  t.add(primary);
  const auto earth_id = of("coil_earth_drop", n), earth_title = "earth drop of coil" + number,
             coil_ground = of("coil_ground", n);
  auto earth = peak(earth_id.c_str(), earth_title.c_str(), coil_ground.c_str(), fire.c_str());
  earth.dead_below = live.c_str();
  earth.log_sd = 0.15;
  earth.hook_up = "peak meter from the coil's earth tag to bare engine metal; compare the coils with one instrument";
  earth.high_means = "rusty coil earth";
  t.add(earth);

  blocks::SparkTestSettings s;
  s.suffix = suffix;
  s.number = number;
  s.live = live;
  s.setups = "gap_tester|gap_tester stop_unplugged";
  s.returns = "; a spark that comes back with the stop line off accuses the stop line; compare the cylinders";
  s.cranking = k_cranking;
  s.sparking = k_sparking;
  blocks::add_discharge_tests(t, s);
  blocks::add_spark_tests(t, s);
}

}  // namespace

void add_tests(plugin::Tables& t, const Options& options) {
  source_tests(t, options);
  auto earth = peak("box_earth_drop", "earth drop of the switch box", "box_ground", "fire_1 charge");
  earth.dead_below = "fire_1.trigger_margin";
  earth.log_sd = 0.15;
  earth.hook_up = "peak meter from the switch box's earth tag to bare engine metal";
  earth.high_means = "corroded earth of the switch box";
  t.add(earth);
  stop_tests(t, options);
  for (int n = 1; n <= options.cylinders; ++n) cylinder_tests(t, n);
}

}  // namespace lostspark::outboard_cdi
