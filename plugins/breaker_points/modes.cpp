// Fault modes of points, condenser, coil, distributor, loom and of what is not ignition; those of supply and high
// tension come with their blocks. Shares per 1000 ignition complaints of the family, labour, success, severities:
// judgement. What every cylinder or circuit has is split over them.
#include "blocks/high_tension.hpp"
#include "family.hpp"

namespace lostspark::breaker_points {
namespace {

using blocks::scale;

void points(blocks::ModeWriter& w, const std::string& s, double n) {
  const auto id = [&](const char* stem) { return stem + s; };
  w.of(id("breaker_points"));
  w.repair("clean", "clean the points, or replace them", "clean", 25, 0.93, 2);
  w.repair("adjust", "set the points' gap and the timing", "adjust", 20, 0.95, 0);
  w.repair("insulate", "put the insulating washers right, free the pivot", "adjust", 20, 0.93, 1);
  w.repair("replace", "replace the points", "replace", 25, 0.95, 2);
  w.mode("burnt", "burnt or oily faces", "clean", 81 / n, blocks::k_constant, {{id("points_ohm"), 0.3, 100}},
         "the closed points keep volts for themselves: less current, a weak spark or none");
  w.mode("gap_closed_up", "gap closed up", "adjust", 46 / n, blocks::k_constant,
         {scale(id("points_gap_one"), 0.75, 0.12),
          scale(id("dwell_degree"), 1.05, 1.35),
          {id("timing_shift_degree"), 3, 15}},
         "the heel has worn: late timing, and the points open so slowly that they arc");
  w.mode(
      "gap_wide", "gap too wide", "adjust", 16 / n, blocks::k_constant,
      {scale(id("points_gap_one"), 1.3, 2), scale(id("dwell_degree"), 0.85, 0.4), {id("timing_shift_degree"), 3, 12}},
      "short dwell and early timing: the current is low at speed");
  w.mode("never_open", "never open, or insulating washer shorted", "insulate", 20 / n, blocks::k_constant,
         {{id("points_insulation_ohm"), 2, 0.02}}, "the current is never interrupted: no spark, a hot coil");
  w.mode("spring_weak", "spring weak or pivot stiff", "replace", 8 / n, blocks::intermittent(blocks::k_loaded),
         {scale(id("dwell_degree"), 0.08, 0.02)}, "they bounce or stay open at speed");
  w.of(id("condenser"));
  w.repair("replace", "replace the condenser", "replace", 15, 0.95, 1);
  w.mode("shorted", "shorted", "replace", 14 / n, blocks::mostly(blocks::k_hot), {{id("condenser_leak_ohm"), 20, 0.3}},
         "it bridges the points: the current is not interrupted");
  w.mode("open", "open or its lead loose", "replace", 26 / n, blocks::mostly(blocks::k_shaken),
         {scale(id("condenser_farad"), 0.05, 0.002)},
         "the points arc: blue fire at the points, hardly a spark at the plug");
  w.mode("weak", "lost capacity", "replace", 13 / n, blocks::mostly(blocks::k_hot),
         {scale(id("condenser_farad"), 0.7, 0.15)}, "the points begin to arc and burn");
  w.mode("leaking", "leaks", "replace", 13 / n, blocks::mostly(blocks::k_hot), {{id("condenser_leak_ohm"), 1500, 50}},
         "it takes part of the swing: the reserve falls, more when hot");
}

void coil(blocks::ModeWriter& w, const std::string& s, double n, bool ballast) {
  const auto id = [&](const char* stem) { return stem + s; };
  w.of(id("ignition_coil"));
  w.repair("replace", "replace the ignition coil", "replace", 12, 0.95, 3);
  w.repair("swap_leads", "put the leads of 15 and 1 right", "adjust", 8, 0.97, 0);
  w.mode("open_primary", "open primary", "replace", 10 / n, blocks::mostly(blocks::k_hot),
         {{id("primary_ohm"), 1e11, 1e11}}, "no current at all; terminal 1 has no volts with the key on");
  w.mode(
      "shorted_primary", "shorted turns in the primary", "replace", 11 / n, blocks::mostly(blocks::k_hot),
      {scale(id("primary_ohm"), 0.96, 0.6), scale(id("primary_henry"), 0.8, 0.2), {id("secondary_leak_ohm"), 5e5, 5e4}},
      "a closed turn takes the energy: current up, reserve down");
  w.mode("secondary_leak", "secondary leak, fails hot", "replace", 50 / n, blocks::wavering(blocks::k_hot),
         {{id("secondary_leak_ohm"), 1e6, 4e4}}, "high tension creeps away through cracked or hot insulation", "SEC");
  w.mode("open_secondary", "open secondary, burnt winding", "replace", 10 / n, blocks::k_constant,
         {{id("secondary_meter_ohm"), 1e5, 5e7}, {id("secondary_break_volt"), 3e3, 18e3}},
         "the spark jumps a gap inside the winding first", "SEC");
  w.mode("wrong_part", "wrong part fitted", "replace", 10 / n, blocks::k_constant,
         {scale(id("primary_ohm"), ballast ? 1.6 : 0.55, ballast ? 2.2 : 0.35),
          scale(id("primary_henry"), ballast ? 1.4 : 0.6, ballast ? 1.8 : 0.4)},
         ballast ? "a coil for a system without ballast: too little current"
                 : "a ballast coil without its ballast: too much current, the points burn");
}

void distributor(blocks::ModeWriter& w) {
  w.of("king_lead");
  w.repair("replace", "replace the king lead", "replace", 8, 0.95, 1);
  w.mode("open", "conductor open or burnt", "replace", 9, blocks::k_constant,
         {{"king_ohm", 1e5, 5e7}, {"king_break_volt", 2e3, 30e3}}, "the spark jumps inside or stays away");
  w.mode("insulation_leak", "insulation leaks", "replace", 9, blocks::wavering(blocks::k_wet),
         {{"king_flash_volt", 12e3, 2e3}}, "the spark leaves the king lead for the engine");
  w.of("distributor_cap");
  w.repair("replace", "replace the distributor cap", "replace", 12, 0.95, 2);
  w.mode("tracking", "cracked, carbon track", "replace", 40, blocks::wavering(blocks::k_wet),
         {{"distributor_flash_volt", 12e3, 2e3}}, "the spark runs along the track, worst in the wet");
  w.mode("burnt", "segments burnt, brush missing", "replace", 20, blocks::k_constant,
         {{"distributor_break_volt", 1500, 12e3}}, "a further gap eats the reserve");
  w.of("rotor");
  w.repair("replace", "replace the rotor", "replace", 8, 0.95, 1);
  w.mode("leaks", "leaks to its shaft", "replace", 24, blocks::wavering(blocks::k_hot),
         {{"rotor_flash_volt", 12e3, 2e3}}, "the spark takes the shaft instead of the segment");
  w.of("lead_order");
  w.repair("correct", "put the plug leads in order", "adjust", 10, 0.98, 0);
  w.mode("crossed", "plug leads crossed after work", "correct", 11, blocks::k_constant, {},
         "good sparks in the wrong cylinder: bangs, no start");
}

// 25 of 100 complaints booked as ignition are not: 1000 x 25 / 75, half of it fuel (judgement).
void elsewhere(blocks::ModeWriter& w) {
  constexpr double k_all = 1000.0 * 25 / 75;
  const auto fault = [&](const char* part, const char* repair, const char* kind, double minutes, int price,
                         const char* title, double share, const char* how) {
    w.of(part);
    w.repair("mend", repair, kind, minutes, 0.9, price);
    w.mode("fault", title, "mend", k_all * share, blocks::k_constant, {}, how);
  };
  fault("fuel", "mend the fuel supply", "replace", 45, 2, "fuel supply at fault", 0.5,
        "empty, stale, blocked or flooded");
  fault("compression", "mend valves, rings or gasket", "replace", 180, 5, "no compression", 0.15,
        "valves, rings, gasket");
  fault("air", "mend the air path", "clean", 30, 2, "air path at fault", 0.15, "filter, leak, blocked exhaust");
  fault("other", "mend the starting gear or show the user", "adjust", 30, 2, "something else", 0.2,
        "starter, fuel tap, choke, gearbox");
}

}  // namespace

void add_modes(plugin::Tables& t, const Options& o) {
  blocks::ModeWriter w(t);
  for (int c = 1; c <= o.circuits(); ++c) {
    points(w, o.of_circuit(c), o.circuits());
    coil(w, o.of_circuit(c), o.circuits(), o.ballast);
  }
  for (int n = 1; n <= o.cylinders; ++n) {
    const double each = 1.0 / o.cylinders;
    blocks::add_high_tension_modes(t,
                                   {.fouled_dry = 50 * each,
                                    .fouled_wet = 45 * each,
                                    .gap_wide = 37 * each,
                                    .gap_narrow = 15 * each,
                                    .cracked = 15 * each,
                                    .loose = 7 * each,
                                    .wrong_plug = 7 * each,
                                    .cap_open = 16 * each,
                                    .cap_cracked = 16 * each,
                                    .lead_open = 10 * each,
                                    .lead_leak = 13 * each,
                                    .joint_loose = 16 * each},
                                   o.of_cylinder(n));
  }
  // A coil connected the wrong way round: the plug's centre is positive and needs more.
  for (int c = 1; c <= o.circuits(); ++c) {
    w.of("ignition_coil" + o.of_circuit(c));
    const auto reversed = "demand_volt" + (o.distributor ? o.of_cylinder(1) : o.of_cylinder(c));
    w.mode("reversed", "leads of 15 and 1 exchanged", "swap_leads", 10.0 / o.circuits(), blocks::k_constant,
           {scale(reversed, 1.12, 1.4)}, "the plug's centre is positive: it needs a tenth to four tenths more");
    if (o.distributor)
      for (int n = 2; n <= o.cylinders; ++n) {
        const auto demand = "demand_volt" + o.of_cylinder(n);
        t.add(ls_change_v1{"ignition_coil.reversed", demand.c_str(), LS_SCALE, 1.12, 1.4});
      }
  }
  if (o.distributor) distributor(w);
  if (o.ballast) {
    w.of("ballast");
    w.repair("replace", "replace the ballast resistor", "replace", 12, 0.95, 2);
    w.repair("mend_bypass", "mend the bypass of the ballast", "replace", 20, 0.95, 1);
    w.mode("open", "open", "replace", 14, blocks::mostly(blocks::k_hot), {{"ballast_ohm", 1e11, 1e11}},
           "starts while the starter bypasses it, dies as the key goes back");
    w.mode("bypass_missing", "bypass missing", "mend_bypass", 11, blocks::k_constant,
           {{"ballast_bypass_wire_ohm", 1e9, 1e9}}, "no boost while cranking: starts badly cold");
  }
  w.of("points_cam");
  w.repair("mend", "replace cam or bush", "replace", 60, 0.9, 3);
  w.mode("play", "play in its bush, dwell scatters", "mend", 14, blocks::wavering(blocks::k_loaded | blocks::k_shaken),
         {}, "gap and timing wander with every turn");
  w.of("advance_unit");
  w.repair("free", "free, oil or replace the advance unit", "adjust", 40, 0.92, 3);
  w.mode("stuck", "stuck", "free", 26, blocks::mostly(blocks::k_loaded), {}, "timing is right at one speed only");
  w.of("operator_state");
  w.repair("set_right", "set the switch right and show the user", "adjust", 1, 0.98, 0);
  w.mode("left_off", "left off", "set_right", 12, blocks::k_constant, {{"stop_position_ohm", 1e11, 1e11}},
         ("key or " + o.cut_off() + " stands in off").c_str());
  w.of("wiring_loom");
  w.repair("mend", "repair the loom, undo or re-make splices", "replace", 40, 0.9, 2);
  w.mode("damaged", "chewed, spliced or tapped", "mend", 12, blocks::intermittent(blocks::k_wet | blocks::k_shaken),
         {{"loom_leak_ohm", 300, 0.5}}, "rodents or an add-on: bare copper touches metal when wet or shaken");
  elsewhere(w);
}

}  // namespace lostspark::breaker_points
