// What eyes, hands and stored codes find: word tables over modes, engineering judgement; cautions and complaints.
// Numbers of trouble codes: SAE J2012 / ISO 15031-6 [from memory]. A code names a circuit or a cylinder, never the part.
#include "blocks/tables.hpp"
#include "blocks/words.hpp"
#include "family.hpp"

namespace lostspark::coil_on_plug {
namespace {

using blocks::FindingWriter;

/// Codes as the unit stores them. What keeps the unit from starting keeps it from answering as well.
void stored_codes(FindingWriter& f, const Options& options) {
  f.kind("stored_codes", "stored trouble codes", "", "eyes", "key_on", 3, 0.03, "diagnosis socket",
         "read the codes before anything is unplugged, clear them at the end; a code names a circuit or a cylinder, never the "
         "part; old codes count less",
         "S07", "none", 0.9);
  for (const char* mode : {"control_unit.dead", "main_fuse.blown", "link:unit_feed.open"}) f.row(mode, "no_answer", 0.95);
  f.row("key_switch.worn", "no_answer", 0.4);
  if (options.immobiliser) f.row("immobiliser.refuses", "p0513", 0.85);
  f.row("battery.discharged", "p0562", 0.45);
  for (const char* mode : {"regulator.no_charge", "regulator.shorted_diode", "stator.open_or_shorted"})
    f.row(mode, "p0562", 0.7);
  f.row("regulator.overcharges", "p0563", 0.7);
  f.row("link:unit_ground.corroded", "p0562", 0.5);
  f.row("link:unit_feed.corroded", "p0562", 0.5);
  f.row("link:battery_*", "p0562", 0.35);
  f.row("main_relay.does_not_pull", "p0685", 0.8);
  for (const char* mode : {"main_relay.contact_burnt", "coil_fuse.blown", "link:coil_feed.open"}) f.row(mode, "p0350", 0.7);
  for (const char* mode : {"coil_splice.corroded", "link:coil_feed.corroded", "link:relay_feed.corroded"})
    f.row(mode, "p0300", 0.4);
  f.row("crank_sensor.*", "p0335", 0.7);
  if (!options.hall_crank_sensor) {
    f.row("crank_sensor.open_winding", "p0335", 0.9);
    f.row("crank_sensor.weak", "p0335", 0.55);
    f.row("crank_sensor.wide_gap", "p0335", 0.55);
  }
  f.row("link:crank_*", "p0335", 0.75);
  if (options.cam_sensor) {
    f.row("cam_sensor.*", "p0340", 0.9);
    f.row("link:cam_*", "p0340", 0.85);
  }
  for (int n = 1; n <= options.cylinders; ++n) {
    const auto digit = std::to_string(n);
    const auto circuit = "p035" + digit, misfire = "p030" + digit, coil = of("ignition_coil", n);
    f.row("control_unit." + of("driver", n) + "_dead", circuit, 0.75);
    f.row("link:" + of("driver_wire", n) + ".*", circuit, 0.7);
    f.row("link:" + of("coil_supply", n) + ".*", circuit, 0.55);
    f.row(coil + ".open_primary", circuit, 0.85);
    f.row(coil + ".shorted_primary", circuit, 0.45);
    f.row(coil + ".wrong_part", circuit, 0.2);
    for (const auto& mode : {coil + ".open_secondary", coil + ".secondary_leak", coil + ".weak_hot", of("boot", n) + ".leaks",
                             of("boot", n) + ".spring_open", of("plug_well", n) + ".wet"})
      f.row(mode, misfire, 0.6);
    f.row(of("spark_plug", n) + ".*", misfire, 0.55);
    f.row(of("spark_plug", n) + ".wrong_part", misfire, 0.1);
  }
  f.row("wiring_loom.damaged", "p0300", 0.3);
  f.row("fuel.fault", "p0300", 0.15);
  f.row("compression.fault", "p0300", 0.15);
  f.row("air.fault", "p0300", 0.15);
}

void look_and_tug(FindingWriter& f, const Options& options) {
  f.kind("look_and_tug", "look and tug", "components", "eyes", "key_off", 2, 0.02, "",
         "green copper, chafe, rodents, spread pins, add-on splices, rust, cracks, oil, water; tug each wire", "S21",
         "nothing_found", 0.95);
  f.row("*.corroded", "found", 0.6);
  f.row("*.chafed", "found", 0.6);
  f.row("*.open", "found", 0.5);
  f.row("main_fuse.blown", "found", 0.9);
  f.row("coil_fuse.blown", "found", 0.9);
  f.row("main_fuse.holder_corroded", "found", 0.6);
  f.row("coil_splice.corroded", "found", 0.7);
  f.row("stop_switch.dirty", "found", 0.3);
  f.row("wiring_loom.damaged", "found", 0.75);
  if (options.stand_switch) f.row("stand_switch.open", "found", 0.4);
  f.row("crank_sensor.wide_gap", "found", 0.6);
  f.row("control_unit.wrong_part", "found", 0.5);
  for (int n = 1; n <= options.cylinders; ++n) {
    f.row(of("ignition_coil", n) + ".secondary_leak", "found", 0.35);
    f.row(of("ignition_coil", n) + ".wrong_part", "found", 0.5);
    f.row(of("boot", n) + ".leaks", "found", 0.7);
    f.row(of("plug_well", n) + ".wet", "found", 0.9);
    f.row(of("spark_plug", n) + ".loose_in_head", "found", 0.75);
  }
}

void plug_looks(FindingWriter& f, int n) {
  const auto plug = of("spark_plug", n);
  f.kind(of("plug_look", n), "look at plug " + std::to_string(n), plug, "eyes", "key_off", 6, 0.02, plug,
         "plug out: colour, wetness, gap, insulator, number; hand-tightness of the plug as it comes out; compare the cylinders",
         "S05 S09", "tan_and_dry", 0.93);
  f.row(plug + ".fouled_dry", "black_dry", 0.9);
  f.row(plug + ".fouled_wet", "wet", 0.9);
  f.row(plug + ".gap_wide", "gap_wide", 0.9);
  f.row(plug + ".gap_narrow", "gap_narrow", 0.9);
  f.row(plug + ".cracked", "cracked", 0.55);
  f.row(plug + ".loose_in_head", "loose", 0.85);
  f.row(plug + ".wrong_part", "wrong_type", 0.85);
}

void walks(FindingWriter& f, const Options& options) {
  f.kind("state_walk", "state walk", "", "eyes", "key_off", 1, 0.02, "operator_state",
         options.motorcycle() ? "key ON, run switch in RUN, stand up, neutral, clutch pulled, fuel, fuses"
                              : "key ON, inertia cut-off set, neutral or P, clutch down, fuel, fuses",
         "S12", "all_in_run", 0.98);
  f.row("operator_state.left_off", "left_off", 0.9);
  f.row("other.fault", "gearbox_or_starter", 0.35);
  f.kind("relay_click", "click of the main relay", "", "eyes", "key_on", 1, 0.02, "main_relay",
         options.motorcycle() ? "key ON, run switch from stop to RUN with a finger on the relay: it clicks"
                              : "key from off to ON with a finger on the relay: it clicks",
         "S12", "clicks", 0.97);
  for (const char* mode : {"main_relay.does_not_pull", "operator_state.left_off", "main_fuse.blown"})
    f.row(mode, "silent", 0.95);
  f.row("stop_switch.dirty", "silent", 0.5);
  f.row("key_switch.worn", "silent", 0.4);
  f.row("link:relay_hold.*", "silent", 0.7);
  if (options.immobiliser) {
    f.kind("key_lamp", "lamp of the immobiliser", "", "eyes", "key_on", 0.7, 0.02, "instrument panel",
           "key ON: the lamp goes out after two seconds", "", "goes_out", 0.98);
    f.row("immobiliser.refuses", "stays_on", 0.95);
  }
  f.kind("phase_volts", "phases of the charging winding", "", "eyes", "idle", 5, 0.03, "regulator",
         "engine stopped, regulator unplugged, ends insulated; start: alternating volts between each two phases, alike within a "
         "tenth",
         "S04 S05 S06 S24", "alike", 0.95);
  f.row("stator.open_or_shorted", "unequal", 0.9);
  f.kind("regulator_diodes", "diodes of the regulator", "", "eyes", "key_off", 4, 0.03, "regulator",
         "regulator unplugged, diode range from each phase to plus and to minus, both ways", "", "one_way_each", 0.95);
  f.row("regulator.shorted_diode", "shorted", 0.9);
  f.kind("timing_mark", "timing mark", "", "timing_light", "idle", 10, 0.04, "control_unit",
         "timing light on a driver wire or an inserted lead, mark against the case", "S01 S02 S04 S05 S06 S12", "on_mark",
         0.95);
  f.row("control_unit.wrong_part", "off_mark", 0.7);
  f.kind("fuel_at_plug", "fuel at the plugs", "", "eyes", "key_off", 3, 0.05, "spark_plug_1",
         "after cranking: damp is right, dry lacks fuel, wet is flooded or lacked a spark", "S03 S05", "damp", 0.8);
  f.row("fuel.fault", "dry", 0.55);
  f.row("other.fault", "dry", 0.2);
  f.kind("compression_gauge", "compression", "", "eyes", "cranking", 10, 0.03, "spark_plug_1",
         "gauge in the plug holes in turn, throttle open, coils on a grounded gap tester or unplugged",
         "S01 S02 S03 S04 S09 S12 S19", "good", 0.95);
  f.row("compression.fault", "low", 0.9);
  f.kind("air_path", "air path", "", "eyes", "key_off", 5, 0.05, "air", "filter, intake joints, throttle bodies, exhaust outlet",
         "", "free", 0.9);
  f.row("air.fault", "blocked_or_leaking", 0.7);
}

/// Each cylinder's `one_of` text, separated by '|'.
template <class Text>
std::string of_all(const Options& options, Text one_of) {
  std::string all;
  for (int n = 1; n <= options.cylinders; ++n) all += (n > 1 ? "|" : "") + one_of(n);
  return all;
}

}  // namespace

void add_findings(plugin::Tables& t, const Options& options) {
  FindingWriter f(t);
  stored_codes(f, options);
  look_and_tug(f, options);
  for (int n = 1; n <= options.cylinders; ++n) plug_looks(f, n);
  walks(f, options);
}

void add_words(plugin::Tables& t, const Options& options) {
  blocks::add_cautions(t, {"S01", "S02", "S03", "S04", "S05", "S06", "S07", "S09", "S10", "S11", "S12", "S13", "S16", "S17",
                           "S19", "S21", "S24"});
  const auto margins = of_all(options, ladder);
  blocks::add_common_complaints(t, margins.c_str());
  const auto add = [&](const char* id, const char* title, const char* table, const char* extent, const char* word) {
    t.add(ls_complaint_v1{id, title, extent[0] == '\0' ? "" : margins.c_str(), extent, word, table});
  };
  if (options.cylinders >= 2) {
    add("one_cylinder_dead", "one cylinder dead all the time",
        "SRC=1 CON=4 INH=0.1 TRG=3 CTL=6 PRI=9 SEC=8 PLG=10 TIM=0.1 FUE=5 CMP=9 AIR=2 OTH=0.1", "one", "none");
    add("one_cylinder_misfires", "one cylinder misfires now and then",
        "SRC=1 CON=9 INH=0.1 TRG=3 CTL=4 PRI=7 SEC=9 PLG=7 TIM=0.1 FUE=4 CMP=3 AIR=2 OTH=0.1", "", "");
  }
  // Not computed: no single fault of this family kills exactly two, so a computed word would only say that the customer
  // was mistaken, and nobody would look.
  if (options.cylinders >= 3)
    add("two_cylinders_dead", "two cylinders dead",
        "SRC=1 CON=5 INH=0.1 TRG=3 CTL=8 PRI=10 SEC=5 PLG=3 TIM=0.1 FUE=2 CMP=3 AIR=1 OTH=0.1", "", "");
  add("battery_flat", "battery goes flat, then no spark",
      "SRC=10 CON=6 INH=1 TRG=0.1 CTL=0.1 PRI=1 SEC=0.1 PLG=0.1 TIM=0.1 FUE=0.1 CMP=0.1 AIR=0.1 OTH=4", "", "");
  t.add(ls_complaint_v1{"cannot_stop", "cannot be stopped", "stop.run_on_margin", "", "steady",
                        "SRC=0.1 CON=6 INH=10 TRG=0.1 CTL=1 PRI=0.1 SEC=0.1 PLG=0.1 TIM=0.1 FUE=0.1 CMP=0.1 AIR=0.1 OTH=1"});
}

}  // namespace lostspark::coil_on_plug
