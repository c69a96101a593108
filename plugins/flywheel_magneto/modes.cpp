// Fault modes, what they change, and what cures them. Shares per 1000 ignition complaints of a magneto with points or
// of one with a module, labour without access, success, severities: engineering judgement.
#include "blocks/high_tension.hpp"
#include "blocks/spark_tests.hpp"
#include "family.hpp"

namespace lostspark::flywheel_magneto {
namespace {

using blocks::scale;

void source(blocks::ModeWriter& w, const Options& o) {
  w.of("flywheel");
  w.repair("replace", "replace the flywheel, or have its magnets charged", "replace", 35, 0.95, 4);
  w.mode("weak_magnets", "magnets weak or cracked", "replace", o.points ? 22 : 8, blocks::k_constant,
         {scale("passage_emf_volt", 0.8, 0.25)}, "heat, rust or a knock has weakened the magnets: too little current");
  w.of("flywheel_key");
  w.repair("replace", "replace the key, lap the taper, torque the nut", "replace", 30, 0.95, 1);
  if (o.points)
    // The magnets turn on the shaft, the cam does not: the points then open before the current is there.
    w.mode(
        "sheared", "sheared: magnets and cam out of step", "replace", 31, blocks::k_constant,
        {{"timing_shift_degree", 2, 30}, scale("opening_one", 0.9, 0.2)},
        "the flywheel has turned on its taper: the points open early in the magnet's passage, and at the wrong moment");
  else
    w.mode("sheared", "sheared, timing off", "replace", 49, blocks::k_constant, {{"timing_shift_degree", 5, 40}},
           "a blade or a rod has struck: the spark is right and comes at the wrong moment");
  w.of("air_gap");
  w.repair("set", "set the air gap, tighten the screws", "adjust", 15, 0.95, 1);
  w.repair("clean", "clean the poles, set the air gap", "clean", 18, 0.95, 1);
  w.mode("wide", o.points ? "too wide" : "too wide, screws loose", "set", o.points ? 26 : 36,
         o.points ? blocks::k_constant : blocks::mostly(blocks::k_shaken), {scale("passage_emf_volt", 0.75, 0.28)},
         "less of the magnet's field goes through the core: current and reserve fall, it starts badly cold");
  w.mode("rusty", "rust, debris or rubbing poles", "clean", o.points ? 16 : 25, blocks::k_constant,
         {scale("passage_emf_volt", 0.88, 0.45)}, "rust keeps magnet and core apart, or the flywheel rubs them");
  if (o.points) return;
  w.of("starting_gear");
  w.repair(
      "mend",
      o.starter() ? "overhaul the starter, set the valve lash" : "mend recoil and decompressor, set the valve lash",
      "adjust", 30, 0.9, 3);
  w.mode("slow", "turns the engine too slowly", "mend", 32, blocks::k_constant,
         {scale("cranking_speed_rpm", 0.75, 0.3)}, "below some 250 turns a minute the module does not fire at all");
}

void coil(blocks::ModeWriter& w) {
  w.of("ignition_coil");
  w.repair("replace", "replace the ignition coil, set its air gap", "replace", 25, 0.95, 3);
  w.mode("open_primary", "open primary", "replace", 15, blocks::mostly(blocks::k_hot), {{"primary_ohm", 1e11, 1e11}},
         "no current at all");
  w.mode("shorted_primary", "shorted turns in the primary", "replace", 15, blocks::mostly(blocks::k_hot),
         {scale("primary_ohm", 0.95, 0.6),
          scale("primary_henry", 0.8, 0.25),
          scale("passage_emf_volt", 0.9, 0.5),
          {"secondary_leak_ohm", 4e5, 3e4}},
         "a closed turn takes the energy of every passage");
  w.mode("secondary_leak", "secondary leak, fails hot", "replace", 61, blocks::wavering(blocks::k_hot),
         {{"secondary_leak_ohm", 1e6, 4e4}}, "high tension creeps away through cracked or hot insulation", "SEC");
  w.mode("open_secondary", "open secondary, burnt winding", "replace", 18, blocks::k_constant,
         {{"secondary_meter_ohm", 1e5, 5e7}, {"secondary_break_volt", 2e3, 14e3}},
         "the spark jumps a gap inside the winding first", "SEC");
  w.mode("wrong_part", "wrong part fitted", "replace", 5, blocks::k_constant,
         {scale("primary_ohm", 1.5, 2.5), scale("primary_henry", 1.5, 2.5)},
         "a coil for another core: more turns, less current");
}

void points(blocks::ModeWriter& w) {
  w.of("breaker_points");
  w.repair("clean", "clean the points, or replace them", "clean", 25, 0.93, 2);
  w.repair("adjust", "set the points' gap", "adjust", 20, 0.95, 0);
  w.repair("insulate", "put the insulating washers and the points wire right", "adjust", 20, 0.93, 1);
  w.repair("replace", "replace points and condenser", "replace", 30, 0.95, 2);
  w.mode("oxidised", "oxidised or oily faces", "clean", 122, blocks::k_constant, {{"switch_ohm", 0.5, 200}},
         "a season in the shed is enough: the current never comes up");
  w.mode("burnt", "burnt or pitted", "replace", 41, blocks::k_constant,
         {{"switch_ohm", 0.3, 3}, scale("points_gap_one", 0.8, 0.3)},
         "pits and a peak, usually from a condenser: less current, and they arc");
  w.mode("gap_closed_up", "gap too small", "adjust", 41, blocks::k_constant,
         {scale("points_gap_one", 0.75, 0.1), scale("opening_one", 1.03, 1.3), {"timing_shift_degree", 2, 12}},
         "they open late and slowly, or not at all");
  w.mode("gap_wide", "gap too wide", "adjust", 22, blocks::k_constant,
         {scale("points_gap_one", 1.3, 2), scale("opening_one", 0.92, 0.5), {"timing_shift_degree", 2, 12}},
         "they open before the current has come up");
  w.mode("grounded", "wire or insulating washer to earth", "insulate", 18, blocks::mostly(blocks::k_shaken),
         {{"points_insulation_ohm", 5, 0.02}}, "the primary stays shorted: it is never interrupted");
  w.mode("sticking", "pivot stiff, spring weak", "replace", 16, blocks::intermittent(blocks::k_loaded),
         {scale("opening_one", 0.3, 0.05)}, "they stay open at speed: no current comes up");
  w.of("cam_follower");
  w.repair("replace", "replace the follower, set the gap", "replace", 25, 0.95, 1);
  w.mode("worn", "worn, felt dry", "replace", 13, blocks::k_constant,
         {scale("points_gap_one", 0.85, 0.3), scale("opening_one", 1.02, 1.15)}, "the gap has closed up with the wear");
  w.of("condenser");
  w.repair("replace", "replace the condenser", "replace", 25, 0.95, 2);
  w.mode("shorted", "shorted", "replace", 20, blocks::mostly(blocks::k_hot), {{"condenser_leak_ohm", 10, 0.3}},
         "it bridges the points: the current is not interrupted");
  w.mode("open", "open or its lead broken", "replace", 24, blocks::mostly(blocks::k_shaken),
         {scale("switch_farad", 0.05, 0.002)}, "the points arc: blue fire at the points, hardly a spark at the plug");
  w.mode("weak", "lost capacity", "replace", 13, blocks::mostly(blocks::k_hot), {scale("switch_farad", 0.7, 0.12)},
         "the points begin to arc and burn");
  w.mode("leaking", "leaks", "replace", 13, blocks::mostly(blocks::k_hot), {{"condenser_leak_ohm", 600, 20}},
         "it takes part of the swing: the reserve falls, more when hot");
  w.of("crank_seal");
  w.repair("replace", "replace the seal, clean the points", "replace", 60, 0.93, 2);
  w.mode("oil_on_points", "lets oil on the points", "replace", 26, blocks::mostly(blocks::k_hot),
         {{"switch_ohm", 1, 500}}, "a film of oil on the faces: cleaned points fail again after an hour");
  w.of("crank_bearing");
  w.repair("replace", "replace the bearing", "replace", 240, 0.93, 4);
  w.mode("play", "play moves the points' gap", "replace", 13, blocks::intermittent(blocks::k_hot | blocks::k_loaded),
         {scale("points_gap_one", 0.7, 0.2), scale("opening_one", 1.1, 0.6)},
         "the shaft wanders: gap and moment of opening wander with it");
}

void module(blocks::ModeWriter& w, const Options& o) {
  w.of("ignition_module");
  w.repair("replace", "replace the ignition module, set its air gap", "replace", 20, 0.95, 3);
  w.mode("dead", "dead", "replace", 90, blocks::k_constant, {scale("trigger_volt", 50, 50)},
         "its switch no longer opens or no longer closes");
  w.mode("fails_hot", "fails when hot", "replace", 74, blocks::intermittent(blocks::k_hot),
         {scale("trigger_volt", 2, 30)}, "a cracked joint inside: comes back after an hour's rest");
  w.mode("secondary_leak", "weak, secondary leak", "replace", 29, blocks::wavering(blocks::k_hot),
         {{"secondary_leak_ohm", 1e6, 4e4}}, "high tension creeps away through cracked insulation", "SEC");
  w.mode("wrong_part", "wrong part fitted", "replace", 7, blocks::k_constant,
         {{"timing_shift_degree", 4, 20}, scale("trigger_volt", 1.1, 2)},
         "a module for another flywheel: other poles, other advance");
  w.of("kill_tab");
  w.repair("refit", "bend the terminal clear, insulate it", "adjust", 8, 0.95, 1);
  w.mode("touches", "touches the shroud", "refit", 18, blocks::mostly(blocks::k_shaken),
         {{"kill_tab_leak_ohm", 60, 0.3}}, "the module's terminal is earthed where it stands, wire on or off");
  w.of("ht_lead");
  w.repair("replace", "replace the module with its lead", "replace", 20, 0.95, 3);
  w.mode("open_conductor", "conductor broken", "replace", 12, blocks::mostly(blocks::k_shaken),
         {{"lead_ohm", 1e5, 5e7}, {"lead_break_volt", 2e3, 40e3}}, "the conductor is broken where it leaves the block");
  w.mode("insulation_leak", "insulation leaks or is chafed", "replace", 11, blocks::wavering(blocks::k_wet),
         {{"lead_flash_volt", 11e3, 2e3}}, "the spark leaves the lead for the shroud");
  w.of("ht_joint");
  w.repair("clean", "crimp the clip, clean it", "clean", 8, 0.92, 1);
  w.mode("loose", "loose or corroded", "clean", 11, blocks::wavering(blocks::k_shaken),
         {{"ht_joint_ohm", 500, 1e6}, {"joint_break_volt", 300, 8e3}}, "the clip no longer grips the plug");
  w.of("plug_cap");
  w.repair("replace", "replace the plug boot", "replace", 8, 0.95, 1);
  w.mode("cracked", "cracked, tracking to earth", "replace", 10, blocks::wavering(blocks::k_wet | blocks::k_loaded),
         {{"cap_flash_volt", 11e3, 2e3}}, "the spark runs down the boot, worst in the wet");
  if (o.stop != "key") return;
  w.of("key_switch");
  w.repair("fit_listed", "fit the listed key switch first, then the module", "replace", 35, 0.95, 4);
  w.mode("feeds_kill_wire", "puts battery volts on the kill wire: wrong switch", "fit_listed", 5, blocks::k_constant,
         {scale("trigger_volt", 40, 60)}, "a key switch for battery ignition kills every module that is fitted");
}

void inhibits(blocks::ModeWriter& w, const Options& o) {
  const auto stopper = o.stopper(), contact = stopper + "_ohm", closed = stopper + "_closed_ohm";
  w.of(stopper);
  const bool lever = o.stop == "lever", key = o.stop == "key";
  w.repair("clean",
           lever ? "dry, clean and set the lever's switch"
           : key ? "dry and clean the key switch"
                 : "dry, clean and seal the kill switch",
           "clean", 12, 0.85, 1);
  w.repair("replace",
           lever ? "adjust or replace the lever's switch"
           : key ? "replace the key switch"
                 : "replace the kill switch",
           "replace", 15, 0.95, 2);
  const double stuck = o.points ? 18 : lever ? 17 : key ? 22 : 22, damp = o.points ? 12 : lever ? 8 : 10;
  w.mode("stuck_to_ground", "earths the kill wire in run position", "replace", stuck, blocks::mostly(blocks::k_shaken),
         {{contact, 8, 0.1}}, "the contact does not open: the primary stays earthed");
  w.mode("leaks_damp", "leaks when damp", "clean", damp, blocks::mostly(blocks::k_wet), {{contact, 300, 8}},
         "water and dirt across the contact take the primary's swing");
  // Not among the complaints of the share table (they are about missing sparks): a switch that no longer stops.
  w.mode("never_closes", "never closes, cannot stop the engine", "replace", 3, blocks::k_constant, {{closed, 100, 1e9}},
         "the contact or its earth is burnt away");
  if (o.low_oil) {
    w.of("low_oil_switch");
    w.repair("top_up", "top up the oil, or replace the switch", "adjust", 20, 0.95, 2);
    w.mode("grounds", "earths the kill wire", "top_up", 11, blocks::k_constant, {{"low_oil_switch_ohm", 15, 0.2}},
           "the oil is low, or the float is stuck");
  }
  w.of("operator_state");
  w.repair("set_right", "set the switch right and show the user", "adjust", 1, 0.98, 0);
  const double left = o.points ? 16 : o.interlock ? 40 : 30;
  if (o.interlock)
    w.mode("left_in_stop", "left in stop", "set_right", left, blocks::k_constant, {{"operator_chain_ohm", 1e11, 1e11}},
           "seat empty, blade engaged or brake free: the interlock stops the engine as it should");
  else
    w.mode("left_in_stop", "left in stop", "set_right", left, blocks::k_constant, {{"operator_stop_ohm", 0.4, 0.05}},
           lever ? "the lever was not held to the handle" : "switch or key stands in its stop position");
  w.of("wiring_loom");
  w.repair("mend", "repair the loom, undo or re-make splices", "replace", 40, 0.9, 2);
  w.mode("damaged", "chewed, spliced or tapped", "mend", o.points ? 6 : 14,
         blocks::intermittent(blocks::k_wet | blocks::k_shaken), {{"loom_leak_ohm", 200, 0.5}},
         "rodents or an add-on: bare copper touches metal when wet or shaken");
  if (!o.interlock) return;
  w.of("interlock_relay");
  w.repair("replace", "replace the interlock relay", "replace", 12, 0.95, 2);
  w.mode("stuck", "contact stuck to earth", "replace", 11, blocks::mostly(blocks::k_shaken),
         {{"relay_contact_ohm", 10, 0.1}}, "it clicks, and its contact stays on earth");
  w.mode("open_coil", "coil open", "replace", 7, blocks::mostly(blocks::k_hot), {{"relay_coil_ohm", 1e11, 1e11}},
         "it never pulls: the kill wire stays earthed");
  const auto chain = [&](const char* id, const char* repair, const char* title, double share, ls_visibility_v1 visible,
                         const char* how) {
    w.of(id);
    w.repair("adjust", repair, "adjust", 13, 0.93, 2);
    w.mode("open", title, "adjust", share, visible, {{std::string(id) + "_ohm", 300, 1e8}}, how);
  };
  chain("seat_switch", "adjust, dry or replace the seat switch", "open with the seat loaded", 49,
        blocks::mostly(blocks::k_wet | blocks::k_shaken), "wet plug, bent bracket or a soft seat spring");
  chain("blade_switch", "adjust or replace the blade switch", "open with the blade off", 30, blocks::k_constant,
        "out of adjustment or burnt");
  chain("brake_switch", "adjust or replace the brake switch", "open with the brake set", 25, blocks::k_constant,
        "out of adjustment or burnt");
}

}  // namespace

void add_modes(plugin::Tables& t, const Options& o) {
  blocks::ModeWriter w(t);
  source(w, o);
  if (o.points) {
    coil(w);
    points(w);
    blocks::add_high_tension_modes(t, {.fouled_dry = 58,
                                       .fouled_wet = 53,
                                       .gap_wide = 44,
                                       .gap_narrow = 17,
                                       .cracked = 17,
                                       .loose = 8,
                                       .wrong_plug = 7,
                                       .cap_open = 19,
                                       .cap_cracked = 19,
                                       .lead_open = 12,
                                       .lead_leak = 15,
                                       .joint_loose = 19});
  } else {
    module(w, o);
    blocks::add_spark_plug_modes(t,
                                 {.fouled_dry = 57,
                                  .fouled_wet = 52,
                                  .gap_wide = 43,
                                  .gap_narrow = 17,
                                  .cracked = 17,
                                  .loose = 7,
                                  .wrong_plug = 8},
                                 "", "");
  }
  inhibits(w, o);
  blocks::add_elsewhere(t, o.points ? 0.18 : 0.32, "starting gear, fuel tap, choke, blade hub, other",
                        "fuel tap, choke, governor, something that drags");
}

}  // namespace lostspark::flywheel_magneto
