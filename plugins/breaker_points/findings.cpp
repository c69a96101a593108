// What eyes, hands, lamp and feeler find: words by a table over modes. Probabilities: engineering judgement.
#include "blocks/tables.hpp"
#include "family.hpp"

namespace lostspark::breaker_points {
namespace {

using blocks::FindingWriter;

std::string words(const char* title, const std::string& suffix) {
  return suffix.empty() ? title : std::string(title) + ", cylinder " + suffix.substr(1);
}

void circuit(FindingWriter& f, const std::string& s) {
  const auto points = "breaker_points" + s, condenser = "condenser" + s, coil = "ignition_coil" + s;
  f.kind("points_look" + s, words("look at the points, feeler in their gap", s), points, "eyes", "key_off", 4, 0.02,
         points, "points at their widest: gap by feeler, faces, oil, spring, insulating washers", "S04",
         "right_and_clean", 0.93);
  f.row(points + ".burnt", "burnt_or_oily", 0.85);
  f.row(points + ".gap_closed_up", "gap_small", 0.93);
  f.row(points + ".gap_wide", "gap_wide", 0.93);
  f.row(points + ".never_open", "washer_or_no_gap", 0.75);
  f.row(points + ".spring_weak", "spring_weak", 0.6);
  f.row(condenser + ".open", "burnt_or_oily", 0.5);
  f.row(condenser + ".weak", "burnt_or_oily", 0.4);
  f.row(coil + ".wrong_part", "burnt_or_oily", 0.3);
  f.row("points_cam.play", "play", 0.5);

  f.kind("points_fire" + s, words("blue fire at the points while cranking", s), points, "eyes", "cranking", 2, 0.03,
         points,
         "points cover off, in the shade: a tiny spark now and then is right, a blue flash at every opening is not",
         "S01 S02 S03 S04 S12 S19", "little", 0.95);
  f.row(condenser + ".open", "blue_flash", 0.9);
  f.row(condenser + ".weak", "blue_flash", 0.6);
  f.row(condenser + ".shorted", "none", 0.85);
  f.row(points + ".never_open", "none", 0.85);
  f.row(coil + ".open_primary", "none", 0.9);
  f.row(points + ".gap_closed_up", "blue_flash", 0.35);

  f.kind("condenser_check" + s, words("condenser check", s), condenser, "eyes", "key_off", 5, 0.03, condenser,
         "condenser's lead off; meter's capacity range (0.2 to 0.3 microfarad) and its highest ohm range", "S10",
         "right", 0.96);
  f.row(condenser + ".shorted", "shorted", 0.9);
  f.row(condenser + ".open", "open", 0.85);
  f.row(condenser + ".weak", "low", 0.85);
  f.row(condenser + ".leaking", "leaks", 0.8);

  f.kind("timing_mark" + s, words("timing mark", s), points, "timing_light", "cranking", 8, 0.04, "points_cam",
         "timing light on the lead, mark against the case, 2 degrees either way; then at speed",
         "S01 S02 S03 S04 S12 S19", "on_mark", 0.95);
  f.row(points + ".gap_closed_up", "late", 0.85);
  f.row(points + ".gap_wide", "early", 0.85);
  f.row("points_cam.play", "wanders", 0.8);
  f.row("advance_unit.stuck", "wrong_advance", 0.8);

  f.kind("coil_polarity" + s, words("leads at the coil", s), coil, "eyes", "key_off", 1.5, 0.02, coil,
         "supply on 15, points on 1; a pencil point held in the spark shows the flare on the plug's side", "", "right",
         0.98);
  f.row(coil + ".reversed", "exchanged", 0.92);
  f.row(coil + ".wrong_part", "wrong_coil", 0.6);
}

void cylinder(FindingWriter& f, const std::string& s) {
  const auto plug = "spark_plug" + s;
  f.kind("plug_look" + s, words("look at the plug", s), plug, "eyes", "key_off", 6, 0.02, plug,
         "plug out: colour, wetness, gap, insulator, number; hand-tightness of the plug as it comes out", "S05 S09",
         "tan_and_dry", 0.93);
  f.row(plug + ".fouled_dry", "black_dry", 0.9);
  f.row(plug + ".fouled_wet", "wet", 0.9);
  f.row(plug + ".gap_wide", "gap_wide", 0.9);
  f.row(plug + ".gap_narrow", "gap_narrow", 0.9);
  f.row(plug + ".cracked", "cracked", 0.55);
  f.row(plug + ".loose_in_head", "loose", 0.85);
  f.row(plug + ".wrong_part", "wrong_type", 0.85);
  f.kind("mist" + s, words("dark and mist test", s), "", "eyes", "idle", 5, 0.03, "ht_lead" + s,
         "in the dark, water mist on coil, lead and cap: glow, sparks or stumbling", "S01 S02 S03 S04 S06 S12",
         "no_glow", 0.95);
  f.row("plug_cap" + s + ".cracked", "sparks_at_cap", 0.75);
  f.row("ht_lead" + s + ".insulation_leak", "sparks_at_lead", 0.75);
  f.row(plug + ".cracked", "sparks_at_plug", 0.4);
}

}  // namespace

void add_findings(plugin::Tables& t, const Options& o) {
  FindingWriter f(t);
  f.kind("state_walk", "state walk", "", "eyes", "key_off", 1, 0.02, "operator_state",
         o.switched_on() + ", neutral, " + (o.distributor ? "choke" : "fuel tap, choke") + ", fuse, plug caps on", "S12",
         "all_in_run", 0.98);
  f.row("operator_state.left_off", "left_off", 0.9);
  f.row("main_fuse.blown", "fuse_blown", 0.85);
  f.row("other.fault", "tap_or_choke", 0.35);
  f.kind("look_and_tug", "look and tug", "components", "eyes", "key_off", 2, 0.02, "",
         "green copper, chafe, rodents, spread pins, add-on splices, rust, cracks; tug each wire", "S21",
         "nothing_found", 0.95);
  for (const char* pattern : {"*.corroded", "*.chafed"}) f.row(pattern, "found", 0.6);
  f.row("*.open", "found", 0.5);
  f.row("wiring_loom.damaged", "found", 0.75);
  f.row("main_fuse.holder_corroded", "found", 0.6);
  f.row("main_fuse.blown", "found", 0.9);
  for (int n = 1; n <= o.cylinders; ++n) {
    const auto s = o.of_cylinder(n);
    f.row("ht_joint" + s + ".loose", "found", 0.75);
    f.row("plug_cap" + s + ".cracked", "found", 0.5);
    f.row("ht_lead" + s + ".insulation_leak", "found", 0.5);
    f.row("spark_plug" + s + ".loose_in_head", "found", 0.75);
  }
  for (int c = 1; c <= o.circuits(); ++c) {
    // What looks like a harness item's fault by its name and is none that eyes find.
    f.row("condenser" + o.of_circuit(c) + ".open", "found", 0.35);
    f.row("ignition_coil" + o.of_circuit(c) + ".secondary_leak", "found", 0.25);
    circuit(f, o.of_circuit(c));
  }
  for (int n = 1; n <= o.cylinders; ++n) cylinder(f, o.of_cylinder(n));
  if (o.distributor) {
    f.kind("distributor_look", "look into the distributor", "distributor_cap", "eyes", "key_off", 5, 0.02,
           "distributor_cap",
           "cap off, clean and dry: carbon tracks, cracks, brush, segments, rotor; order of the leads", "", "clean",
           0.93);
    f.row("distributor_cap.tracking", "track", 0.75);
    f.row("distributor_cap.burnt", "burnt", 0.85);
    f.row("rotor.leaks", "rotor_burnt", 0.6);
    f.row("lead_order.crossed", "crossed", 0.9);
    f.row("points_cam.play", "play", 0.6);
  }
  f.kind("regulator_diodes", "regulator's diodes", "", "eyes", "key_off", 4, 0.03, "regulator",
         "regulator unplugged, engine stopped; multimeter's diode range, each phase to plus and to minus, both ways",
         "S10 S24", "as_they_should", 0.95);
  f.row("regulator.shorted_diode", "shorted", 0.95);
  f.row("regulator.no_charge", "open", 0.5);
  f.kind("stator_phases", "phases of the charging winding", "", "eyes", "idle", 6, 0.03, "regulator",
         "stop, unplug the winding, insulate the ends, restart: alternating volts between the phases; then ohms and to "
         "earth",
         "S04 S05 S06 S24", "even", 0.95);
  f.row("stator.open_or_shorted", "uneven", 0.9);
  f.kind("fuel_at_plug", "fuel at the plug", "", "eyes", "key_off", 3, 0.05, "spark_plug" + o.of_cylinder(1),
         "after cranking: damp is right, dry lacks fuel, wet is flooded or lacked a spark", "S03 S05", "damp", 0.8);
  f.row("fuel.fault", "dry", 0.5);
  for (int n = 1; n <= o.cylinders; ++n) f.row("spark_plug" + o.of_cylinder(n) + ".fouled_wet", "wet", 0.85);
  f.row("other.fault", "dry", 0.3);
  f.kind("compression_gauge", "compression", "", "eyes", "cranking", 10, 0.03, "spark_plug" + o.of_cylinder(1),
         "gauge in the plug hole, throttle open, lead on a grounded gap tester; compare the cylinders",
         "S01 S02 S03 S04 S09 S12 S19", "good", 0.95);
  f.row("compression.fault", "low", 0.9);
  f.kind("air_path", "air path", "", "eyes", "key_off", 5, 0.05, "air", "filter, intake joints, choke, exhaust outlet",
         "", "free", 0.9);
  f.row("air.fault", "blocked_or_leaking", 0.7);
}

}  // namespace lostspark::breaker_points
