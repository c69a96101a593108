// Conditions, set-ups and test kinds. Ranges, scatter and minutes: common practice and judgement, no source.
#include "blocks/high_tension.hpp"
#include "blocks/spark_tests.hpp"
#include "blocks/supply_tests.hpp"
#include "family.hpp"

namespace lostspark::dc_cdi {
namespace {

constexpr const char* k_key_on = "S07 S16 S12";
constexpr const char* k_cranking = "S01 S02 S03 S04 S11 S12 S19";  // every measurement while the engine turns
constexpr const char* k_sparking = "S01 S02 S03 S04 S09 S12 S19";

void set(plugin::Tables& t, const char* owner, const char* parameter, double value) {
  blocks::effect(t, owner, LS_SET_PARAMETER, parameter, value);
}

void states(plugin::Tables& t) {
  t.add(ls_condition_v1{"key_off", "state", "key off", "", "engine stopped, key off", 0, LS_NEEDS_ENGINE_OFF});
  t.add(ls_condition_v1{"key_on", "state", "key on, engine stopped", "",
                        "key ON, run switch in RUN, stand up, brake off; key off again after the reading", 0.3,
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
}

}  // namespace

void add_conditions(plugin::Tables& t, const Options& options) {
  states(t);
  t.add(
      ls_setup_v1{"load_lamp", "load lamp fitted",
                  "21 watt lamp from the module's supply pin to its earth pin, both probed with the connector left on",
                  "", 1.5, 0});
  set(t, "setup:load_lamp", "load_lamp_ohm", 6.9);
  t.add(ls_setup_v1{"supply_bypassed", "fused lead from the battery to the module's supply",
                    "10 ampere fused lead from battery plus to the module's supply pin, probed with the connector left "
                    "on; fuel off, tester at the plug lead: neither key nor run switch stops the engine any more",
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
  if (options.inhibit) {
    t.add(
        ls_setup_v1{"inhibit_unplugged", "inhibit lead unplugged",
                    "take the wire of the stand, neutral or brake switch off the module; fuel off, tester at the plug "
                    "lead: the interlock is out of work",
                    "", 1.5, 1});
    t.add(ls_effect_v1{"setup:inhibit_unplugged", LS_OPEN_TERMINAL, "control_module.inhibit", "", 1});
  }
  t.add(ls_setup_v1{
      "gap_tester", "gap tester at the plug's end",
      "cap off the plug and onto the gap tester, tester earthed to the engine, away from the plug hole; set "
      "to 10 kilovolt (about 8 mm between points in air)",
      "gap_tester", 1.5, 0});
  blocks::add_gap_tester_effects(t, "setup:gap_tester", 10e3);
  t.add(ls_setup_v1{"stop_pressed", "run/stop switch set to stop", "set the run/stop switch to stop", "", 0.3, 0});
  set(t, "setup:stop_pressed", "stop_position_ohm", 1e9);
}

namespace {

void supply_tests(plugin::Tables& t, const Options& options) {
  blocks::add_supply_line_tests(t,
                                {{"fuse", "supply before the fuse", "main_feed"},
                                 {"key", "supply before the key", "key_feed"},
                                 {"stop", "supply between key and run switch", "stop_feed"},
                                 {"module", "supply of the module", "module_supply"}},
                                "back-probe, black lead on bare engine metal; next to no current flows now, so this "
                                "proves no open but never a low "
                                "resistance",
                                "open before this point: fuse, key, run switch, wire");
  auto stopped = blocks::steady_volts("module_supply_stopped", "supply of the module, run switch in stop",
                                      "module_supply", "key_on");
  stopped.setups = "stop_pressed";
  stopped.hook_up = "back-probe the module's supply, run/stop switch set to stop: nothing may be left";
  stopped.high_means = "the switch does not open: UNSAFE, the engine cannot be stopped";
  stopped.cautions = "S07 S12 S13";
  t.add(stopped);
  auto cranking =
      blocks::steady_volts("module_supply_cranking", "least supply of the module", "module_supply", "cranking");
  cranking.source = "convert";
  cranking.instrument = "peak_voltmeter";
  cranking.log_sd = 0.03;
  cranking.minutes = 3;
  cranking.hook_up =
      "peak meter holding the LEAST volts, at the module's supply, black lead on bare engine metal; an ordinary meter "
      "averages and sees nothing of a bad joint";
  cranking.low_means =
      "within half a volt of the battery: sound; lower: joints, key, run switch; under 8 the converter stops";
  cranking.zero_means = "open supply";
  cranking.cautions = k_cranking;
  t.add(cranking);
  auto lamp = blocks::steady_volts("module_earth_loaded", "lift of the module's earth", "module_ground", "key_on");
  lamp.setups = "load_lamp";
  lamp.log_sd = 0.05;
  lamp.hook_up = "multimeter from the module's earth pin to bare engine metal while the lamp burns";
  lamp.high_means = "over 0.1 volt: corroded earth";
  lamp.cautions = k_key_on;
  t.add(lamp);
  if (!options.inhibit) return;
  auto inhibit = blocks::steady_volts("inhibit_volts", "inhibit line with the key on", "inhibit_wire", "key_on");
  inhibit.hook_up =
      "back-probe the wire of the stand, neutral or brake switch, black lead on bare engine metal, stand up, brake "
      "off: "
      "nearly the battery's volts permit the spark";
  inhibit.low_means = "under 3 volt the module gives no spark: the switch or its wire leaks to earth";
  inhibit.zero_means = "switch closed or wire earthed; or the module has no supply";
  inhibit.cautions = k_key_on;
  t.add(inhibit);
  auto ohm = blocks::unplugged_ohms("inhibit_switch_ohm", "stand, neutral or brake switch to earth",
                                    "inhibit_switch.lead", "earth", 0.10);
  ohm.setups = "inhibit_unplugged";
  ohm.hook_up =
      "its wire off the module, riding position: no continuity to bare engine metal; then operate the switch and "
      "see that it closes";
  ohm.low_means = "damp switch or chafed wire";
  ohm.zero_means = "switch stuck or wire earthed";
  ohm.cautions = "S10 S13";
  t.add(ohm);
}

void discharge_tests(plugin::Tables& t, const Options& options) {
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
      .place = "ht_lead",
      .hook_up = "tachometer, or the period of the peak meter's pulses",
      .low_means = "weak battery, its posts, or a dragging starter; the pulse coil's peak is low by as much",
      .cautions = k_cranking});
  auto peak = blocks::steady_volts("primary_peak", "primary peak", "coil_wire", "cranking");
  peak.source = "fire";
  peak.dead_below = live(options);
  peak.instrument = "peak_voltmeter";
  peak.log_sd = 0.08;
  peak.minutes = 4;
  peak.hook_up =
      "coil connected; back-probe the wire between module and coil, other lead on bare engine metal, meter set to "
      "NEGATIVE "
      "peaks; read both ends of a joint; the converter holds it near 250 volt whatever the battery, until it stops";
  peak.low_means = "converter weak; at the coil only: the joint between";
  peak.zero_means = "no supply, inhibited, no trigger, module dead, wire open";
  peak.cautions = k_cranking;
  t.add(peak);
  const auto earth = [&](const char* id, const char* title, const char* link, const char* source) {
    auto drop = blocks::steady_volts(id, title, link, "cranking");
    drop.source = source;
    drop.dead_below = live(options);
    drop.instrument = "peak_voltmeter";
    drop.log_sd = 0.15;
    drop.minutes = 3;
    drop.hook_up = "peak meter from the part's earth tag to bare engine metal; compare two parts with one instrument";
    drop.high_means = "corroded earth or strap";
    drop.cautions = k_cranking;
    t.add(drop);
  };
  earth("coil_earth_drop", "earth drop of the coil", "coil_ground", "fire");
  earth("module_earth_drop", "earth drop of the module", "module_ground", "fire convert");

  blocks::SparkTestSettings s;
  s.live = live(options);
  s.setups = "gap_tester|gap_tester supply_bypassed|gap_tester stop_bypassed|gap_tester module_earthed";
  if (options.inhibit) s.setups += "|gap_tester inhibit_unplugged";
  s.returns = "; a spark that comes back with a lead fitted accuses the span that the lead passes by";
  s.cranking = k_cranking;
  s.sparking = k_sparking;
  blocks::add_discharge_tests(t, s);
  blocks::add_spark_tests(t, s);
}

}  // namespace

void add_tests(plugin::Tables& t, const Options& options) {
  blocks::add_battery_tests(t);
  supply_tests(t, options);
  blocks::add_pickup_tests(t, k_cranking);
  discharge_tests(t, options);
}

}  // namespace lostspark::dc_cdi
