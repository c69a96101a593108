// What eyes, hands and a lamp find: word tables over modes, engineering judgement; and the family's words.
#include "blocks/spark_tests.hpp"
#include "blocks/supply_tests.hpp"
#include "blocks/words.hpp"
#include "family.hpp"

namespace lostspark::wasted_spark {
namespace {

using blocks::FindingWriter;

void look_and_tug(FindingWriter& f, const Options& options) {
  f.kind("look_and_tug", "look and tug", "components", "eyes", "key_off", 2, 0.02, "",
         "green copper, chafe, rodents, spread pins, add-on splices, rust, cracks; tug each wire", "S21",
         "nothing_found", 0.95);
  f.row("*.corroded", "found", 0.6);
  f.row("*.chafed", "found", 0.6);
  f.row("*.open", "found", 0.5);
  f.row("main_fuse.blown", "found", 0.9);
  f.row("main_fuse.holder_corroded", "found", 0.6);
  if (options.engine_unit) {
    f.row("coil_fuse.blown", "found", 0.9);
    f.row("coil_splice.corroded", "found", 0.7);
  } else {
    f.row("stop_switch.dirty", "found", 0.3);
    f.row("side_stand_switch.open", "found", 0.4);
  }
  f.row("wiring_loom.damaged", "found", 0.75);
  f.row("pulse_coil.wide_gap", "found", 0.6);
  f.row("ignition_unit.wrong_part", "found", 0.5);
  for (int pair = 1; pair <= options.pairs; ++pair) {
    const auto coil = of("ignition_coil", pair);
    f.row(coil + ".wrong_part", "found", 0.5);
    for (const char* letter : {"a", "b"}) {
      f.row(coil + ".tower_" + letter + "_leaks", "found", 0.3);
      f.row(coil + ".tower_" + letter + "_corroded", "found", 0.75);
    }
  }
  for (int c = 1; c <= options.cylinders(); ++c) {
    f.row(of("ht_joint", c) + ".loose", "found", 0.75);
    f.row(of("plug_cap", c) + ".cracked", "found", 0.5);
    f.row(of("ht_lead", c) + ".insulation_leak", "found", 0.5);
    f.row(of("spark_plug", c) + ".loose_in_head", "found", 0.75);
  }
}

/// Codes as an engine control unit stores them: SAE J2012 / ISO 15031-6 [from memory]. They name a circuit or a
/// cylinder.
void stored_codes(FindingWriter& f, const Options& options) {
  f.kind(
      "stored_codes", "stored trouble codes", "", "eyes", "key_on", 3, 0.03, "diagnosis socket",
      "read the codes before anything is unplugged, clear them at the end; a code names a circuit or a cylinder, never "
      "the part; old codes count less",
      "S07", "none", 0.9);
  for (const char* mode : {"ignition_unit.dead", "ignition_unit.no_output"})
    if ((options.pairs == 1) == (std::string(mode) == "ignition_unit.no_output")) f.row(mode, "no_answer", 0.6);
  for (const char* mode : {"main_fuse.blown", "link:unit_supply.corroded"}) f.row(mode, "no_answer", 0.8);
  f.row("key_switch.worn", "no_answer", 0.4);
  f.row("immobiliser.refuses", "p0513", 0.85);
  f.row("battery.discharged", "p0562", 0.45);
  for (const char* mode : {"regulator.no_charge", "regulator.shorted_diode", "stator.open_or_shorted"})
    f.row(mode, "p0562", 0.7);
  f.row("regulator.overcharges", "p0563", 0.7);
  f.row("link:unit_ground.corroded", "p0562", 0.5);
  f.row("link:battery_*", "p0562", 0.35);
  f.row("main_relay.does_not_pull", "p0685", 0.8);
  for (const char* mode : {"main_relay.contact_burnt", "coil_fuse.blown", "link:coil_feed.open"})
    f.row(mode, "p0350", 0.7);
  for (const char* mode : {"coil_splice.corroded", "link:coil_feed.corroded", "link:relay_feed.corroded"})
    f.row(mode, "p0300", 0.4);
  f.row("pulse_coil.*", "p0335", 0.7);
  f.row("link:pulse_*", "p0335", 0.75);
  for (int pair = 1; pair <= options.pairs; ++pair) {
    const auto circuit = "p035" + std::to_string(pair), coil = of("ignition_coil", pair);
    if (options.pairs > 1) f.row("ignition_unit." + of("output", pair) + "_dead", circuit, 0.75);
    f.row("link:" + of("coil_wire", pair) + ".*", circuit, 0.7);
    f.row("link:" + of("coil_supply", pair) + ".*", circuit, 0.5);
    f.row(coil + ".open_primary", circuit, 0.85);
    f.row(coil + ".shorted_primary", circuit, 0.45);
    f.row(coil + ".wrong_part", circuit, 0.2);
    f.row(coil + ".open_secondary", "p0300", 0.5);
  }
  for (int c = 1; c <= options.cylinders(); ++c) {
    const auto misfire = "p030" + std::to_string(c), number = "_" + std::to_string(c);
    f.row(of("ignition_coil", options.pair_of(c)) + ".tower_" + (options.side_of(c) == 0 ? "a" : "b") + "_leaks",
          misfire, 0.6);
    for (const char* part : {"plug_cap", "ht_lead", "ht_joint", "spark_plug"})
      f.row(part + number + ".*", misfire, 0.5);
  }
  f.row("wiring_loom.damaged", "p0300", 0.3);
  for (const char* mode : {"fuel.fault", "compression.fault", "air.fault"}) f.row(mode, "p0300", 0.15);
}

/// What stands in the interlock's place behind an engine control unit.
void relay_and_key(FindingWriter& f) {
  f.kind("relay_click", "click of the main relay", "", "eyes", "key_on", 1, 0.02, "main_relay",
         "key from OFF to ON with a finger on the relay: it clicks", "S12", "clicks", 0.97);
  for (const char* mode : {"main_relay.does_not_pull", "main_fuse.blown"}) f.row(mode, "silent", 0.95);
  f.row("key_switch.worn", "silent", 0.4);
  f.row("link:relay_hold.*", "silent", 0.7);
  f.kind("key_lamp", "lamp of the immobiliser", "", "eyes", "key_on", 0.7, 0.02, "instrument panel",
         "key ON: the lamp goes out after two seconds", "", "goes_out", 0.98);
  f.row("immobiliser.refuses", "stays_on", 0.95);
}

}  // namespace

void add_findings(plugin::Tables& t, const Options& options) {
  FindingWriter f(t);
  look_and_tug(f, options);
  for (int c = 1; c <= options.cylinders(); ++c)
    blocks::add_plug_look(f, "_" + std::to_string(c), " " + std::to_string(c));

  f.kind(
      "timing_mark", "timing mark", "", "timing_light", "cranking", 10, 0.04, "pulse_coil",
      "timing light on a lead, clamp turned to its polarity (the leads of a pair have opposite ones), mark against the "
      "case, 2 degrees either way",
      "S01 S02 S03 S04 S12 S19", "on_mark", 0.95);
  f.row("ignition_unit.wrong_part", "off_mark", 0.7);

  blocks::add_charging_findings(f);
  if (options.engine_unit) {
    stored_codes(f, options);
    relay_and_key(f);
  }

  f.kind("mist", "dark and mist test", "", "eyes", "idle", 5, 0.03, "ht_lead_1",
         "in the dark, water mist on coil towers, leads and caps: glow, sparks or stumbling", "S01 S02 S03 S04 S06 S12",
         "no_glow", 0.95);
  for (int c = 1; c <= options.cylinders(); ++c) {
    const auto number = "_" + std::to_string(c);
    f.row("plug_cap" + number + ".cracked", "sparks_at_cap" + number, 0.75);
    f.row("ht_lead" + number + ".insulation_leak", "sparks_at_lead" + number, 0.75);
    f.row("spark_plug" + number + ".cracked", "sparks_at_plug" + number, 0.4);
    f.row(of("ignition_coil", options.pair_of(c)) + ".tower_" + (options.side_of(c) == 0 ? "a" : "b") + "_leaks",
          "sparks_at_tower" + number, 0.6);
  }
  blocks::add_elsewhere_findings(f, "spark_plug_1", "S01 S02 S03 S04 S09 S12 S19");
}

void add_words(plugin::Tables& t, const Options& options) {
  blocks::add_cautions(t, {"S01", "S02", "S03", "S04", "S05", "S06", "S07", "S09", "S10", "S11", "S12", "S13", "S15",
                           "S16", "S17", "S19", "S21", "S24"});
  const auto ladders = [&](const std::vector<int>& cylinders) {
    std::string margins;
    for (int c : cylinders) margins += (margins.empty() ? "" : "|") + ladder(options, c);
    return margins;
  };
  std::vector<int> every;
  for (int c = 1; c <= options.cylinders(); ++c) every.push_back(c);
  const auto margins = ladders(every);
  blocks::add_common_complaints(t, margins.c_str());
  t.add(ls_complaint_v1{"one_cylinder_dead", "one cylinder dead all the time", margins.c_str(), "one", "none",
                        "SRC=1 CON=4 INH=0.1 TRG=3 CTL=6 PRI=9 SEC=8 PLG=10 TIM=0.1 FUE=5 CMP=9 AIR=2 OTH=0.1"});
  t.add(ls_complaint_v1{"one_cylinder_misfires", "one cylinder misfires now and then", "", "", "",
                        "SRC=1 CON=9 INH=0.1 TRG=3 CTL=4 PRI=7 SEC=9 PLG=7 TIM=0.1 FUE=4 CMP=3 AIR=2 OTH=0.1"});
  // Which two says more than how many: two that share a coil accuse what they share, or one open lead. Asked of that
  // pair and one cylinder of each other: no fault of another pair shows two of these dead.
  for (int pair = 1; options.pairs > 1 && pair <= options.pairs; ++pair) {
    const auto cylinders = options.of_pair(pair);
    const auto id = of("pair_dead", pair);
    const auto title = "cylinders " + std::to_string(cylinders[0]) + " and " + std::to_string(cylinders[1]) + " dead";
    std::vector<int> asked(cylinders.begin(), cylinders.end());
    for (int other = 1; other <= options.pairs; ++other)
      if (other != pair) asked.push_back(options.of_pair(other)[0]);
    t.add(ls_complaint_v1{id.c_str(), title.c_str(), ladders(asked).c_str(), "two", "none",
                          "SRC=1 CON=5 INH=0.1 TRG=3 CTL=8 PRI=10 SEC=5 PLG=3 TIM=0.1 FUE=2 CMP=3 AIR=1 OTH=0.1"});
  }
  t.add(ls_complaint_v1{
      "battery_goes_flat", "battery goes flat, then no spark", "", "", "",
      "SRC=10 CON=6 INH=1 TRG=0.1 CTL=0.1 PRI=1 SEC=0.1 PLG=0.1 TIM=0.1 FUE=0.1 CMP=0.1 AIR=0.1 OTH=4"});
  if (options.engine_unit) return;
  // Computed from the switch itself: the table by group would accuse a switch that is open of not stopping the engine.
  t.add(ls_complaint_v1{
      "cannot_stop", "cannot be stopped", "stop.run_on_margin", "", "steady",
      "SRC=0.1 CON=6 INH=10 TRG=0.1 CTL=1 PRI=0.1 SEC=0.1 PLG=0.1 TIM=0.1 FUE=0.1 CMP=0.1 AIR=0.1 OTH=1"});
}

}  // namespace lostspark::wasted_spark
