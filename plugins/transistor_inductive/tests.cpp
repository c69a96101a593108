// Conditions, set-ups and test kinds. Ranges, scatter and minutes: common practice and judgement, no source.
#include "blocks/high_tension.hpp"
#include "blocks/interlock.hpp"
#include "blocks/spark_tests.hpp"
#include "blocks/supply_tests.hpp"
#include "family.hpp"

namespace lostspark::transistor_inductive {
namespace {

constexpr const char* k_key_on = "S07 S16 S12";
constexpr const char* k_cranking = "S01 S02 S03 S04 S11 S12 S19";  // every measurement while the engine turns
constexpr const char* k_sparking = "S01 S02 S03 S04 S09 S12 S19";
constexpr const char* k_live = "dwell.supply_margin fire.trigger_margin";  // else the module does not switch

void set(plugin::Tables& t, const char* owner, const char* parameter, double value) {
  blocks::effect(t, owner, LS_SET_PARAMETER, parameter, value);
}

}  // namespace

void add_conditions(plugin::Tables& t) {
  t.add(ls_condition_v1{"key_off", "state", "key off", "", "engine stopped, key off", 0, LS_NEEDS_ENGINE_OFF});
  t.add(ls_condition_v1{"key_on", "state", "key on, engine stopped", "",
                        "key ON, run switch in RUN, stand up, neutral; off again after the reading", 0.3,
                        LS_NEEDS_ENGINE_OFF});
  t.add(ls_condition_v1{"cranking", "state", "cranking", "",
                        "neutral, chocks, fuel off; instrument connected with the engine still; crank 3 to 5 seconds",
                        1, LS_NEEDS_CRANK});
  t.add(ls_condition_v1{"idle", "state", "running at raised idle", "",
                        "start the engine, with a helping battery where its own is flat; hold it at a raised idle", 3,
                        LS_NEEDS_RUNNING});
  blocks::add_provocations(t, blocks::Steering::bars, "read again after riding it under load");
  blocks::add_supply_states(t, supply_settings());
  blocks::effect(t, "condition:idle", LS_SCALE_PARAMETER, "cranking_speed_rpm", 5);
  blocks::effect(t, "condition:idle", LS_SCALE_PARAMETER, "demand_volt", 1.2);

  t.add(ls_setup_v1{
      "load_lamp", "load lamp fitted",
      "21 watt lamp from the coil's supply terminal, probed with the connector left on, to the module's earth "
      "pin; never to terminal 1",
      "", 1.5, 0});
  set(t, "setup:load_lamp", "load_lamp_ohm", 6.9);
  t.add(
      ls_setup_v1{"supply_bypassed", "fused lead from the battery to the coil's supply",
                  "10 ampere fused lead from battery plus to the coil's supply terminal; fuel off, tester at the plug "
                  "lead: the key no longer stops the engine",
                  "", 1.5, 0});
  set(t, "setup:supply_bypassed", "supply_lead_ohm", 0.05);
  t.add(ls_setup_v1{"stop_bypassed", "lead across the run/stop switch",
                    "lead across the two terminals of the run/stop switch at its connector; fuel off: the switch no "
                    "longer stops the engine",
                    "", 1.5, 0});
  set(t, "setup:stop_bypassed", "stop_lead_ohm", 0.05);
  t.add(ls_setup_v1{"module_earthed", "lead from the module's earth to the engine",
                    "lead from the module's earth pin, probed with the connector left on, to bare engine metal", "", 1,
                    0});
  set(t, "setup:module_earthed", "earth_lead_ohm", 0.02);
  t.add(ls_setup_v1{
      "gap_tester", "gap tester at the plug's end",
      "cap off the plug and onto the gap tester, tester earthed to the engine, away from the plug hole; set "
      "to 12 kilovolt (about 10 mm between points in air)",
      "gap_tester", 1.5, 0});
  blocks::add_gap_tester_effects(t, "setup:gap_tester", 12e3);
  t.add(ls_setup_v1{"stop_pressed", "run/stop switch set to stop", "set the run/stop switch to stop", "", 0.3, 0});
  set(t, "setup:stop_pressed", "stop_position_ohm", 1e9);
}

namespace {

/// The supply line, link by link: with nothing drawn, and with a lamp that draws 1.8 ampere.
void supply_tests(plugin::Tables& t, const Options& options) {
  std::vector<blocks::SupplyPoint> points{{"fuse", "supply before the fuse", "main_feed"},
                                          {"key", "supply before the key", "key_feed"},
                                          {"stop", "supply between key and run switch", "stop_feed"},
                                          {"relay", "supply before the stand relay", "relay_feed"}};
  if (options.alarm) points.push_back({"alarm", "supply before the alarm splice", "alarm_feed"});
  points.push_back({"coil", "supply of the coil", "coil_supply"});
  blocks::add_supply_line_tests(
      t, points,
      "back-probe, black lead on bare engine metal; the coil draws nothing now, so this proves no open but "
      "never a low resistance",
      "open before this point: fuse, key, run switch, relay, alarm, wire");
  auto module = blocks::steady_volts("module_supply", "supply of the module", "module_supply", "key_on");
  module.hook_up = "back-probe the module's supply pin, black lead on bare engine metal";
  module.low_means = "a joint in the module's own branch";
  module.zero_means = "open, or the common supply is missing";
  module.cautions = k_key_on;
  t.add(module);
  auto stopped = blocks::steady_volts("coil_supply_stopped", "supply of the coil", "coil_supply", "key_on");
  stopped.setups = "stop_pressed";
  stopped.hook_up = "back-probe the coil's supply, run/stop switch set to stop: nothing may be left";
  stopped.high_means = "the switch does not open: UNSAFE, the engine cannot be stopped";
  stopped.cautions = "S07 S12 S13";
  t.add(stopped);
  auto cranking = blocks::steady_volts("coil_supply_cranking", "least supply of the coil", "coil_supply", "cranking");
  cranking.source = "dwell";
  cranking.instrument = "peak_voltmeter";
  cranking.log_sd = 0.03;
  cranking.minutes = 3;
  cranking.hook_up =
      "peak meter holding the LEAST volts, at the coil's supply, black lead on bare engine metal; an ordinary "
      "meter averages and sees nothing of a bad joint";
  cranking.low_means = "within half a volt of the battery: sound; lower: joints, key, relay, run switch";
  cranking.zero_means = "open supply";
  cranking.cautions = k_cranking;
  t.add(cranking);
}

void earth_and_coil_wire_tests(plugin::Tables& t) {
  auto earth = blocks::steady_volts("module_earth_cranking", "lift of the module's earth", "module_ground", "cranking");
  earth.source = "dwell";
  earth.instrument = "peak_voltmeter";
  earth.log_sd = 0.15;
  earth.minutes = 3;
  earth.hook_up = "peak meter from the module's earth pin to bare engine metal while cranking";
  earth.high_means = "over 0.3 volt: corroded earth";
  earth.cautions = k_cranking;
  t.add(earth);
  auto lamp = blocks::steady_volts("module_earth_loaded", "lift of the module's earth", "module_ground", "key_on");
  lamp.setups = "load_lamp";
  lamp.log_sd = 0.05;
  lamp.hook_up = "multimeter from the module's earth pin to bare engine metal while the lamp burns";
  lamp.high_means = "over 0.1 volt: corroded earth";
  lamp.cautions = k_key_on;
  t.add(lamp);
  auto wire = blocks::steady_volts("coil_wire_volts", "terminal 1 with the key on", "coil_wire", "key_on");
  wire.hook_up = "back-probe terminal 1, black lead on bare engine metal: the supply must come through the coil";
  wire.low_means = "the wire to the module is chafed: current flows all the time, the coil gets hot";
  wire.zero_means = "primary open, wire open, or no supply";
  wire.cautions = k_key_on;
  t.add(wire);
}

void trigger_tests(plugin::Tables& t) {
  blocks::add_pickup_tests(t, k_cranking);
  t.add(ls_test_kind_v1{
      .id = "cranking_speed",
      .title = "cranking speed",
      .reads = LS_READS_OUTPUT,
      .unit = "rpm",
      .subject = "fire.speed_rpm",
      .condition = "cranking",
      .instrument = "timing_light",
      .log_sd = 0.05,
      .minutes = 2,
      .mistaken = 0.03,
      .place = "ignition_coil",
      .hook_up = "tachometer, or the period of the peak meter's pulses",
      .low_means = "weak battery, its posts, or a dragging starter; the pulse coil's peak is low by as much",
      .cautions = k_cranking});
}

void primary_tests(plugin::Tables& t) {
  auto peak = blocks::steady_volts("primary_peak", "primary peak", "coil_wire", "cranking");
  peak.source = "fire";
  peak.dead_below = k_live;
  peak.instrument = "peak_voltmeter";
  peak.log_sd = 0.08;
  peak.minutes = 4;
  peak.hook_up =
      "back-probe terminal 1, other lead on bare engine metal, meter set to POSITIVE peaks; the clamp holds it near "
      "400 volt whatever the supply, so it says nothing of the supply";
  peak.low_means = "very little current, shorted turns, a chafed wire";
  peak.zero_means = "module does not switch: supply, trigger, earth, module; or open coil circuit";
  peak.cautions = k_cranking;
  t.add(peak);
  t.add(ls_test_kind_v1{.id = "primary_current",
                        .title = "primary current",
                        .reads = LS_READS_OUTPUT,
                        .unit = "ampere",
                        .subject = "dwell.current",
                        .dead_below = k_live,
                        .condition = "cranking",
                        .instrument = "current_pickup",
                        .log_sd = 0.05,
                        .minutes = 4,
                        .mistaken = 0.03,
                        .place = "ignition_coil",
                        .hook_up = "clamp round the coil's supply wire, peak hold",
                        .low_means = "resistance in supply, coil wire or earth, weak battery, short dwell",
                        .zero_means = "open coil circuit, module does not switch",
                        .high_means = "shorted turns in the primary",
                        .cautions = k_cranking});
  auto ohm = blocks::unplugged_ohms("primary_ohm", "primary resistance", "ignition_coil.supply",
                                    "ignition_coil.primary", 0.05);
  ohm.hook_up = "coil unplugged; short the leads first and take them off; copper gains 4 % for 10 kelvin";
  ohm.low_means = "shorted turns (often inside the tolerance)";
  ohm.high_means = "open, or the wrong coil";
  t.add(ohm);
  auto secondary =
      blocks::unplugged_ohms("secondary_ohm", "secondary resistance", "ignition_coil.ht", "ignition_coil.supply", 0.05);
  secondary.hook_up = "lead off the coil, coil unplugged, ohmmeter from the tower to its supply terminal";
  secondary.low_means = "shorted turns";
  secondary.zero_means = "short";
  secondary.high_means = "open winding";
  t.add(secondary);
}

void spark_tests(plugin::Tables& t) {
  blocks::SparkTestSettings s;
  s.live = k_live;
  s.setups = "gap_tester|gap_tester supply_bypassed|gap_tester stop_bypassed|gap_tester module_earthed";
  s.returns = "; a spark that comes back with a lead fitted accuses the span that the lead passes by";
  s.sparking = k_sparking;
  s.at_tester = "S13 S16";
  blocks::add_spark_tests(t, s);
}

}  // namespace

void add_tests(plugin::Tables& t, const Options& options) {
  blocks::add_battery_tests(t);
  supply_tests(t, options);
  earth_and_coil_wire_tests(t);
  trigger_tests(t);
  primary_tests(t);
  spark_tests(t);
  blocks::add_interlock_tests(t);
}

}  // namespace lostspark::transistor_inductive
