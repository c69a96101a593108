// What eyes, hands, feeler and lamp find: words by a table over modes; cautions and complaints. Probabilities and
// likelihoods: engineering judgement, docs/complaints.md.
#include "blocks/spark_tests.hpp"
#include "blocks/supply_tests.hpp"
#include "blocks/words.hpp"
#include "family.hpp"

namespace lostspark::flywheel_magneto {
namespace {

using blocks::FindingWriter;

void under_the_flywheel(FindingWriter& f) {
  f.kind("points_look", "look at the points, feeler in their gap", "breaker_points", "eyes", "key_off", 5, 0.02,
         "breaker_points", "points at their widest: gap by feeler, faces, oil, spring, insulating washers", "S04",
         "right_and_clean", 0.93);
  f.row("breaker_points.oxidised", "dirty_or_oily", 0.7);
  f.row("crank_seal.oil_on_points", "dirty_or_oily", 0.85);
  f.row("breaker_points.burnt", "pitted", 0.9);
  f.row("condenser.open", "pitted", 0.4);
  f.row("condenser.weak", "pitted", 0.4);
  f.row("breaker_points.gap_closed_up", "gap_small", 0.93);
  f.row("cam_follower.worn", "gap_small", 0.7);
  f.row("breaker_points.gap_wide", "gap_wide", 0.93);
  f.row("breaker_points.grounded", "washer_or_wire", 0.75);
  f.row("breaker_points.sticking", "stiff", 0.7);
  f.row("crank_bearing.play", "gap_wanders", 0.6);

  f.kind("follower_look", "cam follower and felt", "cam_follower", "eyes", "key_off", 2, 0.03, "cam_follower",
         "length of the follower against a new one, felt oiled, play of the shaft by hand", "S04", "sound", 0.95);
  f.row("cam_follower.worn", "worn", 0.8);
  f.row("crank_bearing.play", "shaft_has_play", 0.8);
  f.row("crank_seal.oil_on_points", "oil_behind_it", 0.75);

  f.kind("condenser_check", "condenser with a capacity meter", "condenser", "eyes", "key_off", 5, 0.03, "condenser",
         "its lead off, discharged; capacity, then leak at some hundred volts where the meter can", "S10 S15",
         "right_and_tight", 0.95);
  f.row("condenser.shorted", "shorted", 0.95);
  f.row("condenser.open", "open", 0.9);
  f.row("condenser.weak", "low", 0.9);
  f.row("condenser.leaking", "leaks", 0.7);
}

void stops(FindingWriter& f, const Options& o) {
  f.kind("state_walk", "state walk", "", "eyes", "key_off", 1, 0.02, "operator_state",
         o.interlock         ? "key in RUN, seat loaded, blade off, brake set; fuel tap, choke, plug boot on"
         : o.stop == "lever" ? "stop lever held to the handle, fuel tap, choke, plug boot on"
                             : "key or kill switch in run, fuel tap, choke, plug boot on",
         "", "all_in_run", 0.98);
  f.row("operator_state.left_in_stop", "in_stop", 0.9);
  f.row("other.fault", "tap_or_choke", 0.35);
  if (!o.points && o.stop == "key") {
    f.kind("kill_wire_volts", "voltmeter on the kill wire, key in RUN", "", "eyes", "key_off", 2, 0.02, "key_switch",
           "kill wire OFF the module first; voltmeter from the wire to bare engine metal, key in RUN: nothing, ever",
           "S13 S23", "no_volts", 0.99);
    f.row("key_switch.feeds_kill_wire", "battery_volts", 0.97);
  }
  if (!o.interlock) return;
  f.kind("relay_click", "click of the interlock relay", "", "eyes", "key_run", 1.5, 0.03, "interlock_relay",
         "key in RUN, brake set, blade off: the relay clicks as the seat is loaded and left", "S12 S13", "clicks",
         0.97);
  for (const char* mode : {"interlock_relay.open_coil", "seat_switch.open", "blade_switch.open", "brake_switch.open",
                           "operator_state.left_in_stop", "link:seat_wire.open", "link:blade_wire.open",
                           "link:brake_wire.open", "link:relay_feed.open", "link:key_feed.open"})
    f.row(mode, "silent", 0.93);
  for (const char* link : {"relay_feed", "seat_wire", "blade_wire", "brake_wire", "chain_earth"})
    f.row(std::string("link:") + link + ".corroded", "silent", 0.5);
}

}  // namespace

void add_findings(plugin::Tables& t, const Options& o) {
  FindingWriter f(t);
  const auto coil = o.coil();
  stops(f, o);
  f.kind("look_and_tug", "look and tug", "components", "eyes", "key_off", 2, 0.02, "",
         "green copper, chafe, rodents, loose terminals, add-on splices, rust, cracks; tug each wire", "S21",
         "nothing_found", 0.95);
  f.row("*.corroded", "found", 0.6);
  f.row("*.chafed", "found", 0.6);
  f.row("*.open", "found", 0.5);
  f.row("wiring_loom.damaged", "found", 0.75);
  f.row("ht_joint.loose", "found", 0.75);
  f.row("plug_cap.cracked", "found", 0.5);
  f.row("ht_lead.insulation_leak", "found", 0.5);
  f.row("spark_plug.loose_in_head", "found", 0.75);
  f.row(o.stopper() + ".leaks_damp", "found", 0.4);
  f.row(coil + ".secondary_leak", "found", 0.3);
  f.row(coil + ".wrong_part", "found", 0.5);
  if (!o.points) f.row("kill_tab.touches", "found", 0.7);

  f.kind("air_gap_feeler", "air gap with a feeler, screws", "air_gap", "eyes", "key_off", 4, 0.02, "air_gap",
         "a card of the listed thickness between magnet and each leg; rust on the poles; screws tight", "S04", "right",
         0.94);
  f.row("air_gap.wide", "wide_or_loose", 0.93);
  f.row("air_gap.rusty", "rusty_or_rubbing", 0.9);
  f.kind("magnet_pull", "pull of the magnets", "flywheel", "eyes", "key_off", 2, 0.04, "flywheel",
         "a screwdriver held loosely a thumb's width from the magnet must be drawn to it; cracks, rust", "S04",
         "strong", 0.95);
  f.row("flywheel.weak_magnets", "weak", 0.7);
  f.kind("key_look", "flywheel key", "flywheel_key", "eyes", "key_off", 3, 0.02, "flywheel_key",
         "nut off: does the key stand in line, are keyway and taper whole", "S04", "in_line", 0.97);
  f.row("flywheel_key.sheared", "sheared", 0.95);
  f.kind("timing_mark", "timing mark", "", "timing_light", "cranking", 8, 0.04, "flywheel",
         "timing light on the lead, magnet against the core's leg or mark against the case",
         "S01 S02 S03 S04 S12 S19 S22", "on_mark", 0.93);
  f.row("flywheel_key.sheared", "off_mark", 0.88);
  if (o.points) {
    for (const char* mode : {"breaker_points.gap_closed_up", "breaker_points.gap_wide", "cam_follower.worn"})
      f.row(mode, "off_mark", 0.4);
    under_the_flywheel(f);
  } else {
    f.row(coil + ".wrong_part", "off_mark", 0.6);
    f.kind("module_number", "number of the module against the list", coil, "eyes", "key_off", 3, 0.02, coil,
           "number on the block, poles of the flywheel, plug reach", "", "as_listed", 0.97);
    f.row(coil + ".wrong_part", "another", 0.85);
  }
  blocks::add_plug_look(f);
  if (o.low_oil) {
    f.kind("oil_level", "oil level and its switch", "low_oil_switch", "eyes", "key_off", 2, 0.02, "low_oil_switch",
           "dipstick on level ground; the switch's wire off: does the spark come back", "S05", "oil_right", 0.96);
    f.row("low_oil_switch.grounds", "low_or_grounds", 0.9);
  }
  if (!o.points) {
    f.kind("starting_look", "valve lash, decompressor, starter", "", "eyes", "key_off", 12, 0.04, "starting_gear",
           "valve lash cold, decompressor, what drags when the plug is out", "S04 S05", "right", 0.95);
    f.row("starting_gear.slow", "lash_or_drag", 0.85);
  }
  if (o.starter()) blocks::add_charging_findings(f);
  f.kind("mist", "dark and mist test", "", "eyes", "idle", 5, 0.03, "ht_lead",
         "in the dark, water mist on coil, lead and boot: glow, sparks or stumbling", "S01 S02 S03 S04 S06 S12",
         "no_glow", 0.95);
  f.row("plug_cap.cracked", "sparks_at_cap", 0.75);
  f.row("ht_lead.insulation_leak", "sparks_at_lead", 0.75);
  f.row(coil + ".secondary_leak", "sparks_at_coil", 0.6);
  f.row("spark_plug.cracked", "sparks_at_plug", 0.4);
  blocks::add_elsewhere_findings(f, "spark_plug", "S01 S02 S03 S04 S09 S12 S19 S22");
}

void add_words(plugin::Tables& t, const Options& o) {
  std::vector<std::string> cautions{"S01", "S02", "S03", "S04", "S05", "S06", "S09", "S10", "S11", "S12",
                                    "S13", "S15", "S17", "S19", "S20", "S21", "S22", "S23", "S24"};
  if (o.starter()) cautions.insert(cautions.end(), {"S07", "S16"});
  blocks::add_cautions(t, cautions);
  blocks::add_common_complaints(t, o.ladder().c_str());
  const auto add = [&](const char* id, const char* title, const char* table, const char* margins = "",
                       const char* word = "") {
    t.add(ls_complaint_v1{id, title, margins, "", word, table});
  };
  add("after_storage", "will not start after a season in the shed",
      "SRC=7 CON=5 INH=3 TRG=8 CTL=2 PRI=2 SEC=2 PLG=5 TIM=0.1 FUE=10 CMP=2 AIR=2 OTH=1");
  add("after_a_knock", "will not start after the blade struck something",
      "SRC=1 CON=3 INH=3 TRG=0.1 CTL=1 PRI=0.1 SEC=0.1 PLG=0.1 TIM=10 FUE=1 CMP=1 AIR=0.1 OTH=2");
  if (o.interlock)
    add("stops_at_work", "stops as the blade is engaged, the brake let go or the seat left for a moment",
        "SRC=1 CON=6 INH=10 TRG=0.1 CTL=1 PRI=0.1 SEC=1 PLG=1 TIM=0.1 FUE=3 CMP=0.1 AIR=1 OTH=1");
  // Computed from the switch itself: the table by group would accuse a switch stuck to earth of not stopping it.
  add("cannot_stop", "cannot be stopped",
      "SRC=0.1 CON=6 INH=10 TRG=0.1 CTL=1 PRI=0.1 SEC=0.1 PLG=0.1 TIM=0.1 FUE=0.1 CMP=0.1 AIR=0.1 OTH=1",
      "stop.run_on_margin", "steady");
}

}  // namespace lostspark::flywheel_magneto
