// What eyes, hands and a lamp find: word tables over modes, engineering judgement; and the family's words.
#include "blocks/spark_tests.hpp"
#include "blocks/words.hpp"
#include "family.hpp"

namespace lostspark::outboard_cdi {
namespace {

using blocks::FindingWriter;

void look_and_tug(FindingWriter& f, const Options& options) {
  f.kind("look_and_tug", "look and tug", "components", "eyes", "key_off", 2, 0.02, "",
         "green copper, salt, chafe, spread pins, add-on splices, rust, cracks; tug each wire", "S21", "nothing_found",
         0.95);
  f.row("*.corroded", "found", 0.6);
  f.row("*.chafed", "found", 0.6);
  f.row("*.open", "found", 0.5);
  f.row("wiring_loom.damaged", "found", 0.75);
  f.row("remote_plug.leaks", "found", 0.6);
  f.row("lanyard_switch.earthed", "found", 0.3);
  f.row("trigger_plate.worn", "found", 0.6);
  f.row("flywheel.ring_loose", "found", 0.3);
  if (options.charging) f.row("rectifier.shorted", "found", 0.3);
  f.row("switch_box.wrong_part", "found", 0.5);
  for (int n = 1; n <= options.cylinders; ++n) {
    f.row(of("ht_joint", n) + ".loose", "found", 0.75);
    f.row(of("plug_cap", n) + ".cracked", "found", 0.5);
    f.row(of("ht_lead", n) + ".insulation_leak", "found", 0.5);
    f.row(of("spark_plug", n) + ".loose_in_head", "found", 0.75);
    f.row(of("ignition_coil", n) + ".secondary_leak", "found", 0.3);
    f.row(of("ignition_coil", n) + ".wrong_part", "found", 0.5);
  }
}

}  // namespace

void add_findings(plugin::Tables& t, const Options& options) {
  FindingWriter f(t);
  f.kind("state_walk", "state walk", "", "eyes", "key_off", 1, 0.02, "operator_state",
         "key ON, lanyard clip on, neutral, fuel hose and vent open, choke or primer, plug caps on", "", "all_in_run",
         0.98);
  f.row("operator_state.left_in_stop", "in_stop", 0.9);
  f.row("other.fault", "fuel_or_choke", 0.35);
  look_and_tug(f, options);
  for (int n = 1; n <= options.cylinders; ++n)
    blocks::add_plug_look(f, "_" + std::to_string(n), " " + std::to_string(n));
  f.kind("timing_mark", "timing mark", "", "timing_light", "cranking", 10, 0.04, "flywheel",
         "timing light on each lead in turn, mark against the pointer, 2 degrees either way",
         "S01 S02 S03 S04 S12 S17 S19 S22", "on_mark", 0.95);
  f.row("flywheel_key.sheared", "off_mark", 0.92);
  f.row("trigger_plate.worn", "wanders", 0.75);
  f.row("switch_box.wrong_part", "off_mark", 0.5);
  if (options.charging) {
    f.kind(
        "rectifier_diodes", "rectifier's diodes", "", "eyes", "key_off", 4, 0.03, "rectifier",
        "rectifier unplugged, engine stopped; multimeter's diode range, each lead to plus and to its case, both ways",
        "S10 S24", "as_they_should", 0.95);
    f.row("rectifier.shorted", "shorted", 0.95);
  }
  f.kind("mist", "dark and mist test", "", "eyes", "idle", 5, 0.03, "ht_lead_1",
         "in the dark, water mist on coils, leads and caps: glow, sparks or stumbling", "S01 S02 S03 S04 S06 S12 S17",
         "no_glow", 0.95);
  for (int n = 1; n <= options.cylinders; ++n) blocks::add_mist_rows(f, "_" + std::to_string(n));
  blocks::add_elsewhere_findings(f, "spark_plug_1", "S01 S02 S03 S04 S09 S12 S17 S19 S22");
}

void add_words(plugin::Tables& t, const Options& options) {
  blocks::add_cautions(t, {"S01", "S02", "S03", "S04", "S05", "S06", "S09", "S10", "S11", "S12",
                           "S13", "S15", "S17", "S18", "S19", "S20", "S21", "S22", "S23", "S24"});
  std::string margins;
  for (int n = 1; n <= options.cylinders; ++n)
    margins += (n > 1 ? "|" : "") + of("fire", n) + ".trigger_margin " + of("fire", n) + ".spark_margin";
  blocks::add_common_complaints(t, margins.c_str());
  t.add(ls_complaint_v1{"one_cylinder_dead", "one cylinder dead all the time", margins.c_str(), "one", "none",
                        "SRC=1 CON=4 INH=0.1 TRG=6 CTL=8 PRI=9 SEC=8 PLG=10 TIM=0.1 FUE=5 CMP=9 AIR=2 OTH=0.1"});
  t.add(ls_complaint_v1{"one_cylinder_misfires", "one cylinder misfires now and then", "", "", "",
                        "SRC=1 CON=9 INH=0.1 TRG=5 CTL=4 PRI=7 SEC=9 PLG=7 TIM=0.1 FUE=4 CMP=3 AIR=2 OTH=0.1"});
  // Computed from the key itself: the table by group would accuse a switch stuck to earth of not stopping the engine.
  t.add(ls_complaint_v1{
      "cannot_stop", "cannot be stopped", "stop.run_on_margin", "", "steady",
      "SRC=0.1 CON=6 INH=10 TRG=0.1 CTL=1 PRI=0.1 SEC=0.1 PLG=0.1 TIM=0.1 FUE=0.1 CMP=0.1 AIR=0.1 OTH=1"});
}

}  // namespace lostspark::outboard_cdi
