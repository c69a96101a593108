// Fault modes of module, coil, loom and of what is not ignition; those of supply, interlock, pulse coil and high
// tension come with their blocks. Shares per 1000 ignition complaints of the family, labour, success, severities:
// judgement.
#include "blocks/high_tension.hpp"
#include "family.hpp"

namespace lostspark::transistor_inductive {
namespace {

using blocks::scale;

void module_and_coil(blocks::ModeWriter& w) {
  w.of("control_module");
  w.repair("replace", "replace the ignition control module", "replace", 12, 0.95, 5);
  // With one coil a dead unit and a dead output are the same thing: 25 and 15.
  w.mode("no_output", "no output", "replace", 40, blocks::k_constant, {{"module_output_ohm", 1e6, 1e6}},
         "the transistor or its driver is dead: the coil's current is never switched on");
  w.mode("short_dwell", "output leaky, short dwell", "replace", 8, blocks::mostly(blocks::k_hot),
         {scale("dwell_second", 0.5, 0.06)}, "the current is cut off before it has risen");
  w.mode("fails_hot", "fails when hot or shaken", "replace", 21, blocks::intermittent(blocks::k_hot | blocks::k_shaken),
         {scale("gate_threshold_volt", 3, 50)}, "a cracked joint inside stops the trigger");
  w.mode("wrong_part", "wrong part fitted", "replace", 6, blocks::k_constant,
         {{"timing_shift_degree", 3, 15}, scale("gate_threshold_volt", 1.2, 3), scale("dwell_second", 0.8, 0.4)},
         "a module for another machine: other dwell, advance or trigger");

  w.of("ignition_coil");
  w.repair("replace", "replace the ignition coil", "replace", 15, 0.95, 3);
  w.mode("open_primary", "open primary", "replace", 11, blocks::mostly(blocks::k_hot), {{"primary_ohm", 1e11, 1e11}},
         "no current at all; terminal 1 has no volts with the key on");
  w.mode("shorted_primary", "shorted turns in the primary", "replace", 13, blocks::mostly(blocks::k_hot),
         {scale("primary_ohm", 0.97, 0.6), scale("primary_henry", 0.8, 0.12), {"secondary_leak_ohm", 5e5, 5e4}},
         "a closed turn takes the energy: current up, reserve down");
  w.mode("open_secondary", "open secondary, burnt winding", "replace", 17, blocks::k_constant,
         {{"secondary_meter_ohm", 1e5, 5e7}, {"secondary_break_volt", 3e3, 20e3}},
         "the spark jumps a gap inside the winding first", "SEC");
  w.mode("secondary_leak", "secondary leak, tracking", "replace", 31, blocks::wavering(blocks::k_hot | blocks::k_wet),
         {{"secondary_leak_ohm", 1e6, 3e4}}, "high tension creeps away through cracked or wet insulation", "SEC");
  w.mode("wrong_part", "wrong part fitted", "replace", 6, blocks::k_constant,
         {scale("primary_ohm", 1.4, 2.6), scale("primary_henry", 1.2, 1.6)},
         "a coil for a ballast-less contact breaker: too little current");
}

// 20 of 100 complaints booked as ignition are not: 1000 x 20 / 80, half of it fuel (judgement).
void elsewhere(blocks::ModeWriter& w) {
  constexpr double k_all = 1000.0 * 20 / 80;
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

void add_modes(plugin::Tables& t) {
  blocks::ModeWriter w(t);
  module_and_coil(w);
  blocks::add_high_tension_modes(t, {.fouled_dry = 56,
                                     .fouled_wet = 51,
                                     .gap_wide = 41,
                                     .gap_narrow = 17,
                                     .cracked = 17,
                                     .loose = 8,
                                     .wrong_plug = 7,
                                     .cap_open = 19,
                                     .cap_cracked = 19,
                                     .lead_open = 11,
                                     .lead_leak = 15,
                                     .joint_loose = 19});
  w.of("wiring_loom");
  w.repair("mend", "repair the loom, undo or re-make splices", "replace", 40, 0.9, 2);
  w.mode("damaged", "chewed, spliced or tapped", "mend", 16, blocks::intermittent(blocks::k_wet | blocks::k_shaken),
         {{"loom_leak_ohm", 300, 0.5}}, "rodents or an add-on: bare copper touches metal when wet or shaken");
  elsewhere(w);
}

}  // namespace lostspark::transistor_inductive
