// Conditions, set-ups and test kinds. Ranges, scatter and minutes: common practice and judgement, no source.
#include "blocks/spark_tests.hpp"
#include "blocks/tables.hpp"
#include "family.hpp"

namespace lostspark::ac_cdi {
namespace {

constexpr const char* k_cranking = "S01 S02 S03 S04 S11 S12 S19 S22";  // every measurement while the engine turns
constexpr const char* k_sparking = "S01 S02 S03 S04 S09 S12 S19 S22";

}  // namespace

void add_conditions(plugin::Tables& t) {
  t.add(ls_condition_v1{"key_off", "state", "engine off", "", "engine stopped, key off where there is one", 0,
                        LS_NEEDS_ENGINE_OFF});
  t.add(ls_condition_v1{"cranking", "state", "cranking", "",
                        "neutral, chocks, fuel off; instrument connected with the engine still; crank 3 to 5 turns", 1,
                        LS_NEEDS_CRANK});
  t.add(
      ls_condition_v1{"idle", "state", "running at idle", "", "start the engine and let it idle", 3, LS_NEEDS_RUNNING});
  blocks::add_provocations(t, blocks::Steering::bars, "read again after riding it under load");
  t.add(ls_effect_v1{"condition:idle", LS_SCALE_PARAMETER, "cranking_speed_rpm", "", 2.8});
  t.add(ls_effect_v1{"condition:idle", LS_SCALE_PARAMETER, "demand_volt", "", 1.2});

  t.add(ls_setup_v1{"kill_unplugged", "kill lead unplugged", "unplug the kill lead at the module, box still connected",
                    "", 1, 1});
  t.add(ls_effect_v1{"setup:kill_unplugged", LS_OPEN_TERMINAL, "control_module.kill", "", 1});
  t.add(ls_setup_v1{"module_and_kill_unplugged", "module and kill lead unplugged",
                    "unplug exciter wire and kill lead at the module, insulate the ends", "", 1.5, 1});
  t.add(ls_effect_v1{"setup:module_and_kill_unplugged", LS_OPEN_TERMINAL, "control_module.source", "", 1});
  t.add(ls_effect_v1{"setup:module_and_kill_unplugged", LS_OPEN_TERMINAL, "control_module.kill", "", 1});
  t.add(ls_setup_v1{
      "gap_tester", "gap tester at the plug's end",
      "cap off the plug and onto the gap tester, tester earthed to the engine, away from the plug hole; set "
      "to 8 kilovolt (about 7 mm between points in air)",
      "gap_tester", 1.5, 0});
  t.add(ls_effect_v1{"setup:gap_tester", LS_SET_PARAMETER, "demand_volt", "", 8000});
  t.add(ls_effect_v1{"setup:gap_tester", LS_SET_PARAMETER, "plug_leak_ohm", "", 1e10});
  t.add(ls_effect_v1{"setup:gap_tester", LS_SET_PARAMETER, "plug_flash_volt", "", 60e3});
  t.add(ls_effect_v1{"setup:gap_tester", LS_SET_PARAMETER, "seat_break_volt", "", 1});
  t.add(ls_setup_v1{"kill_switch_off", "kill switch pressed to stop", "hold the kill switch in its stop position", "",
                    0.3, 0});
  t.add(ls_effect_v1{"setup:kill_switch_off", LS_SET_PARAMETER, "kill_switch_ohm", "", 0.001});
}

namespace {

void source_tests(plugin::Tables& t) {
  t.add(ls_test_kind_v1{.id = "exciter_peak",
                        .title = "exciter peak",
                        .reads = LS_READS_HARNESS_VOLTS,
                        .unit = "volt",
                        .subject = "exciter_wire",
                        .source = "charge",
                        .condition = "cranking",
                        .setups = "|kill_unplugged",
                        .instrument = "peak_voltmeter",
                        .log_sd = 0.10,
                        .minutes = 3,
                        .mistaken = 0.03,
                        .hook_up =
                            "back-probe the exciter wire, other lead on bare engine metal, meter set to positive "
                            "peaks; clear the hold, crank, keep the highest of three kicks",
                        .low_means = "exciter, kill leak, module input or a weak kick",
                        .zero_means = "exciter open, kill lead earthed, wire broken",
                        .high_means = "module input open: unloaded",
                        .cautions = k_cranking});
  t.add(ls_test_kind_v1{.id = "exciter_peak_unplugged",
                        .title = "exciter peak",
                        .reads = LS_READS_HARNESS_VOLTS,
                        .unit = "volt",
                        .subject = "exciter_wire",
                        .source = "charge",
                        .condition = "cranking",
                        .setups = "module_and_kill_unplugged",
                        .instrument = "peak_voltmeter",
                        .log_sd = 0.10,
                        .minutes = 3,
                        .mistaken = 0.03,
                        .hook_up = "stop the engine, unplug, meter on the exciter's side of the connector and on bare "
                                   "engine metal",
                        .low_means = "exciter turns, magnets, speed",
                        .zero_means = "exciter open or short to its core",
                        .cautions = "S01 S02 S03 S04 S11 S12 S19 S22 S24"});
  t.add(ls_test_kind_v1{.id = "exciter_ohm",
                        .title = "exciter resistance",
                        .reads = LS_READS_OHMS,
                        .unit = "ohm",
                        .subject = "exciter.hot",
                        .against = "earth",
                        .condition = "key_off",
                        .instrument = "ohmmeter",
                        .log_sd = 0.03,
                        .minutes = 3,
                        .mistaken = 0.03,
                        .hook_up = "exciter wire unplugged, ohmmeter to bare engine metal; short the leads first and "
                                   "take them off",
                        .low_means = "shorted turns, or short to its core",
                        .zero_means = "short to its core",
                        .high_means = "open winding or bad joint (repeat hot)",
                        .cautions = "S10 S15 S24"});
  t.add(
      ls_test_kind_v1{.id = "pulse_peak",
                      .title = "pulse coil peak",
                      .reads = LS_READS_HARNESS_VOLTS,
                      .unit = "volt",
                      .subject = "pulse_wire",
                      .condition = "cranking",
                      .instrument = "peak_voltmeter",
                      .log_sd = 0.12,
                      .minutes = 3,
                      .mistaken = 0.03,
                      .hook_up = "back-probe the pulse wire, other lead on bare engine metal; note the speed beside it",
                      .low_means = "air gap, debris, shorted turns, slow engine",
                      .zero_means = "open winding or wire, meter set to the wrong polarity",
                      .cautions = k_cranking});
  t.add(ls_test_kind_v1{.id = "pulse_ohm",
                        .title = "pulse coil resistance",
                        .reads = LS_READS_OHMS,
                        .unit = "ohm",
                        .subject = "pulse_coil.hot",
                        .against = "earth",
                        .condition = "key_off",
                        .instrument = "ohmmeter",
                        .log_sd = 0.03,
                        .minutes = 3,
                        .mistaken = 0.03,
                        .hook_up = "pulse wire unplugged, ohmmeter to bare engine metal",
                        .low_means = "shorted turns",
                        .zero_means = "short",
                        .high_means = "open (repeat hot)",
                        .cautions = "S10 S24"});
  t.add(ls_test_kind_v1{.id = "cranking_speed",
                        .title = "cranking speed",
                        .reads = LS_READS_OUTPUT,
                        .unit = "rpm",
                        .subject = "fire.speed_rpm",
                        .condition = "cranking",
                        .instrument = "timing_light",
                        .log_sd = 0.05,
                        .minutes = 2,
                        .mistaken = 0.03,
                        .place = "flywheel",
                        .hook_up = "tachometer on the flywheel, or the period of the peak meter's pulses",
                        .low_means = "all source readings of that kick are low by as much",
                        .cautions = k_cranking});
}

void primary_tests(plugin::Tables& t) {
  t.add(ls_test_kind_v1{
      .id = "primary_peak",
      .title = "primary peak",
      .reads = LS_READS_HARNESS_VOLTS,
      .unit = "volt",
      .subject = "coil_wire",
      .source = "fire",
      .dead_below = "fire.trigger_margin",
      .condition = "cranking",
      .instrument = "peak_voltmeter",
      .log_sd = 0.10,
      .minutes = 4,
      .mistaken = 0.03,
      .hook_up = "coil connected; back-probe the wire between module and coil, other lead on bare engine "
                 "metal, meter set to NEGATIVE peaks; read both ends of a joint",
      .low_means = "module's capacitor, source, earth; at the coil only: the joint between",
      .zero_means = "module, trigger, inhibit, wire; open coil circuit (it then shows a positive peak)",
      .cautions = k_cranking});
  const auto earth = [&](const char* id, const char* title, const char* link) {
    t.add(ls_test_kind_v1{.id = id,
                          .title = title,
                          .reads = LS_READS_HARNESS_VOLTS,
                          .unit = "volt",
                          .subject = link,
                          .source = "fire charge",
                          .dead_below = "fire.trigger_margin",
                          .condition = "cranking",
                          .instrument = "peak_voltmeter",
                          .log_sd = 0.15,
                          .minutes = 3,
                          .mistaken = 0.03,
                          .hook_up =
                              "peak meter from the part's earth tag to bare engine metal; compare two parts with "
                              "one instrument",
                          .high_means = "corroded earth or strap",
                          .cautions = k_cranking});
  };
  earth("coil_earth_drop", "earth drop of the coil", "coil_ground");
  earth("module_earth_drop", "earth drop of the module", "module_ground");
}

void spark_tests(plugin::Tables& t) {
  blocks::SparkTestSettings s;
  s.live = "fire.trigger_margin";
  s.setups = "gap_tester|gap_tester kill_unplugged";
  s.returns = "; a spark that comes back with the kill lead off accuses the kill circuit";
  s.cranking = k_cranking;
  s.sparking = k_sparking;
  blocks::add_discharge_tests(t, s);
  blocks::add_spark_tests(t, s);
}

void kill_tests(plugin::Tables& t) {
  constexpr const char* k_first =
      "kill lead unplugged at the module; FIRST a voltmeter, key RUN: 0 volt, or the switch is wrong or wires are "
      "crossed and "
      "no module may be connected; then ohms to bare engine metal, ";
  t.add(ls_test_kind_v1{.id = "kill_lead_ohm",
                        .title = "kill lead to earth, switches in RUN",
                        .reads = LS_READS_OHMS,
                        .unit = "ohm",
                        .subject = "kill_switch.lead",
                        .against = "earth",
                        .condition = "key_off",
                        .setups = "kill_unplugged",
                        .instrument = "ohmmeter",
                        .log_sd = 0.05,
                        .minutes = 3,
                        .mistaken = 0.03,
                        .hook_up = (std::string(k_first) + "all switches in run position").c_str(),
                        .low_means = "damp switch, chafed wire",
                        .zero_means = "switch or wire earthed",
                        .cautions = "S10 S13 S23"});
  t.add(ls_test_kind_v1{.id = "kill_lead_off_ohm",
                        .title = "kill lead to earth, kill switch pressed",
                        .reads = LS_READS_OHMS,
                        .unit = "ohm",
                        .subject = "kill_switch.lead",
                        .against = "earth",
                        .condition = "key_off",
                        .setups = "kill_unplugged kill_switch_off",
                        .instrument = "ohmmeter",
                        .log_sd = 0.10,
                        .minutes = 2,
                        .mistaken = 0.03,
                        .hook_up = (std::string(k_first) + "kill switch held in stop").c_str(),
                        .high_means = "the switch never closes: UNSAFE, the engine cannot be stopped",
                        .cautions = "S10 S13 S23"});
}

void findings(plugin::Tables& t) {
  blocks::FindingWriter f(t);
  f.kind("state_walk", "state walk", "", "eyes", "key_off", 1, 0.02, "operator_state",
       "key, stop switch, tether, stand, fuel tap, choke, plug cap on: everything in run position", "", "all_in_run",
       0.98);
  f.row("operator_state.left_in_stop", "in_stop", 0.9);
  f.row("other.fault", "tap_or_choke", 0.35);

  f.kind("look_and_tug", "look and tug", "components", "eyes", "key_off", 2, 0.02, "",
       "green copper, chafe, rodents, spread pins, add-on splices, rust, cracks; tug each wire", "S21", "nothing_found",
       0.95);
  f.row("*.corroded", "found", 0.6);
  f.row("*.chafed", "found", 0.6);
  f.row("*.open", "found", 0.5);
  f.row("wiring_loom.damaged", "found", 0.75);
  f.row("ht_joint.loose", "found", 0.75);
  f.row("plug_cap.cracked", "found", 0.5);
  f.row("ht_lead.insulation_leak", "found", 0.5);
  f.row("spark_plug.loose_in_head", "found", 0.75);
  f.row("stator_plate.loose", "found", 0.7);
  f.row("pulse_coil.wide_gap", "found", 0.6);
  f.row("flywheel.weak_magnets", "found", 0.15);
  f.row("kill_switch.leaks_damp", "found", 0.4);
  f.row("ignition_coil.secondary_leak", "found", 0.3);
  f.row("ignition_coil.wrong_part", "found", 0.5);
  f.row("control_module.wrong_part", "found", 0.5);

  blocks::add_plug_look(f);

  f.kind("timing_mark", "timing mark", "", "timing_light", "cranking", 10, 0.04, "flywheel",
       "timing light on the lead, mark against the case, 2 degrees either way; or key and marks with the cover off",
       k_cranking, "on_mark", 0.95);
  f.row("flywheel_key.sheared", "off_mark", 0.92);
  f.row("stator_plate.loose", "off_mark", 0.75);
  f.row("pulse_coil.leads_reversed", "off_mark", 0.85);
  f.row("control_module.advance_wrong", "wrong_advance", 0.6);
  f.row("control_module.wrong_part", "wrong_advance", 0.5);

  f.kind("pulse_lead_colours", "pulse leads against the diagram", "pulse_coil", "eyes", "key_off", 2, 0.02, "pulse_coil",
       "colours of the pulse pair at both connectors, signs of an earlier repair", "", "as_drawn", 0.97);
  f.row("pulse_coil.leads_reversed", "reversed", 0.85);

  f.kind("mist", "dark and mist test", "", "eyes", "idle", 5, 0.03, "ht_lead",
       "in the dark, water mist on coil, lead and cap: glow, sparks or stumbling", "S01 S02 S03 S04 S06 S12", "no_glow",
       0.95);
  blocks::add_mist_rows(f);

  blocks::add_elsewhere_findings(f, "spark_plug", k_sparking);
}

}  // namespace

void add_tests(plugin::Tables& t) {
  source_tests(t);
  primary_tests(t);
  spark_tests(t);
  kill_tests(t);
  findings(t);
}

}  // namespace lostspark::ac_cdi
