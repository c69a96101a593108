// What eyes, hands and a lamp find: word tables over modes, engineering judgement; and the family's words.
#include "blocks/spark_tests.hpp"
#include "blocks/supply_tests.hpp"
#include "blocks/words.hpp"
#include "family.hpp"

namespace lostspark::transistor_inductive {

void add_findings(plugin::Tables& t, const Options& options) {
  blocks::FindingWriter f(t);
  f.kind("look_and_tug", "look and tug", "components", "eyes", "key_off", 2, 0.02, "",
         "green copper, chafe, rodents, spread pins, add-on splices, rust, cracks; tug each wire", "S21",
         "nothing_found", 0.95);
  f.row("*.corroded", "found", 0.6);
  f.row("*.chafed", "found", 0.6);
  f.row("*.open", "found", 0.5);
  f.row("main_fuse.blown", "found", 0.9);
  f.row("main_fuse.holder_corroded", "found", 0.6);
  f.row("stop_switch.dirty", "found", 0.3);
  if (options.alarm) f.row("alarm_splice.cuts_supply", "found", 0.6);
  f.row("side_stand_switch.open", "found", 0.4);
  f.row("wiring_loom.damaged", "found", 0.75);
  f.row("ht_joint.loose", "found", 0.75);
  f.row("plug_cap.cracked", "found", 0.5);
  f.row("ht_lead.insulation_leak", "found", 0.5);
  f.row("spark_plug.loose_in_head", "found", 0.75);
  f.row("pulse_coil.wide_gap", "found", 0.6);
  f.row("ignition_coil.secondary_leak", "found", 0.3);
  f.row("ignition_coil.wrong_part", "found", 0.5);
  f.row("control_module.wrong_part", "found", 0.5);

  blocks::add_plug_look(f);

  f.kind("timing_mark", "timing mark", "", "timing_light", "cranking", 10, 0.04, "pulse_coil",
         "timing light on the lead, mark against the case, 2 degrees either way", "S01 S02 S03 S04 S12 S19", "on_mark",
         0.95);
  f.row("control_module.wrong_part", "off_mark", 0.7);

  blocks::add_charging_findings(f);

  f.kind("mist", "dark and mist test", "", "eyes", "idle", 5, 0.03, "ht_lead",
         "in the dark, water mist on coil, lead and cap: glow, sparks or stumbling", "S01 S02 S03 S04 S06 S12",
         "no_glow", 0.95);
  blocks::add_mist_rows(f);

  blocks::add_elsewhere_findings(f, "spark_plug", "S01 S02 S03 S04 S09 S12 S19");
}

void add_words(plugin::Tables& t) {
  blocks::add_cautions(t, {"S01", "S02", "S03", "S04", "S05", "S06", "S07", "S09", "S10", "S11", "S12", "S13", "S15",
                           "S16", "S17", "S19", "S21", "S24"});
  blocks::add_common_complaints(t, "dwell.supply_margin fire.trigger_margin fire.spark_margin");
  t.add(ls_complaint_v1{
      "battery_goes_flat", "battery goes flat, then no spark", "", "", "",
      "SRC=10 CON=6 INH=1 TRG=0.1 CTL=0.1 PRI=1 SEC=0.1 PLG=0.1 TIM=0.1 FUE=0.1 CMP=0.1 AIR=0.1 OTH=4"});
  // Computed from the switch itself: the table by group would accuse a switch that is open of not stopping the engine.
  t.add(ls_complaint_v1{
      "cannot_stop", "cannot be stopped", "stop.run_on_margin", "", "steady",
      "SRC=0.1 CON=6 INH=10 TRG=0.1 CTL=1 PRI=0.1 SEC=0.1 PLG=0.1 TIM=0.1 FUE=0.1 CMP=0.1 AIR=0.1 OTH=1"});
}

}  // namespace lostspark::transistor_inductive
