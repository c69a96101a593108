// Fault modes of unit, coils and loom; those of supply, interlock, pulse coil and high tension come with their blocks.
// Shares per 1000 ignition complaints of the family, those of a coil divided by the number of coils, those of a
// cylinder by that of cylinders; labour, success, severities: judgement.
#include "blocks/high_tension.hpp"
#include "blocks/relay_feed.hpp"
#include "family.hpp"

namespace lostspark::wasted_spark {
namespace {

using blocks::k_constant;
using blocks::k_hot;
using blocks::k_loaded;
using blocks::k_shaken;
using blocks::k_wet;
using blocks::scale;

void unit(blocks::ModeWriter& w, const Options& options) {
  w.of("ignition_unit");
  w.repair("replace", options.engine_unit ? "replace the engine control unit" : "replace the ignition unit", "replace",
           20, 0.95, 5);
  if (options.pairs == 1) {
    // With one coil a dead unit and a dead output are the same thing: 14 and 14.
    w.mode("no_output", "no output", "replace", 28, k_constant, {{"output_ohm_1", 1e6, 1e6}},
           "the transistor or its driver is dead: the coil's current is never switched on");
  } else {
    w.mode("dead", "dead", "replace", 14, k_constant, {scale("gate_threshold_volt", 1e6, 1e6)},
           "it answers to nothing: no coil is ever switched");
    for (int pair = 1; pair <= options.pairs; ++pair) {
      const auto id = of("output", pair) + "_dead", title = "output to coil" + coil_number(options, pair) + " dead";
      w.mode(id.c_str(), title.c_str(), "replace", 14.0 / options.pairs, k_constant,
             {{of("output_ohm", pair), 1e6, 1e6}},
             "one transistor is burnt: its pair never sparks; look for the shorted coil that did it");
    }
  }
  w.mode("fails_hot", "fails when hot or shaken", "replace", 16, blocks::intermittent(k_hot | k_shaken),
         {scale("gate_threshold_volt", 3, 50)}, "a cracked joint inside stops the trigger");
  w.mode("wrong_part", "wrong part fitted", "replace", 5, k_constant,
         {{"timing_shift_degree", 3, 15}, scale("gate_threshold_volt", 1.2, 3), scale("dwell_second", 0.8, 0.4)},
         "a unit for another engine: other dwell, advance or trigger");
}

void coil(blocks::ModeWriter& w, const Options& options, int pair) {
  const double each = 1.0 / options.pairs;
  const auto id = [pair](const char* stem) { return of(stem, pair); };
  w.of(id("ignition_coil"));
  w.repair("replace", ("replace the dual-output coil" + coil_number(options, pair)).c_str(), "replace", 15, 0.95, 3);
  w.repair("clean", ("clean the towers of coil" + coil_number(options, pair) + ", refit the leads with grease").c_str(),
           "clean", 12, 0.85, 1);
  w.mode("open_primary", "open primary", "replace", 12 * each, blocks::mostly(k_hot), {{id("primary_ohm"), 1e11, 1e11}},
         "no current at all: both plugs are dead; terminal 1 has no volts with the key on");
  w.mode("shorted_primary", "shorted turns in the primary", "replace", 14 * each, blocks::mostly(k_hot),
         {scale(id("primary_ohm"), 0.97, 0.6),
          scale(id("primary_henry"), 0.8, 0.12),
          {id("secondary_leak_ohm"), 1e6, 1e5}},
         "a closed turn takes the energy: current up, reserve of both plugs down; check the unit's output");
  w.mode("open_secondary", "open secondary, burnt winding", "replace", 25 * each, k_constant,
         {{id("secondary_meter_ohm"), 1e5, 5e7}, {id("secondary_break_volt"), 3e3, 25e3}},
         "the spark of both plugs jumps a gap inside the winding first", "SEC");
  w.mode("wrong_part", "wrong part fitted", "replace", 6 * each, k_constant,
         {scale(id("primary_ohm"), 1.8, 5), scale(id("primary_henry"), 1.3, 2)},
         "a coil of other primary ohms, often one for contact breakers: too little current");
  const auto cylinders = options.of_pair(pair);
  for (std::size_t side = 0; side < 2; ++side) {
    const int cylinder = cylinders[side];
    const std::string letter = side == 0 ? "a" : "b", of_cylinder = " of cylinder " + std::to_string(cylinder);
    w.mode(("tower_" + letter + "_leaks").c_str(), ("tower" + of_cylinder + " leaks to the core").c_str(), "replace",
           43 * each / 2, blocks::wavering(k_hot | k_wet | k_loaded), {{of("tower_leak_ohm", cylinder), 1e6, 2e4}},
           "high tension creeps through cracked or wet insulation to the core: this side loses its volts, the partner "
           "keeps its own",
           "SEC");
    w.mode(("tower_" + letter + "_corroded").c_str(), ("tower" + of_cylinder + " corroded").c_str(), "clean",
           18 * each / 2, blocks::seen(0.8, 0.95, k_wet),
           {{of("tower_ohm", cylinder), 1e3, 2e6}, {of("tower_break_volt", cylinder), 300, 12e3}},
           "green or burnt contact in the tower: the spark of both plugs jumps it first", "SEC");
  }
}

}  // namespace

void add_modes(plugin::Tables& t, const Options& options) {
  blocks::ModeWriter w(t);
  if (options.engine_unit) {
    blocks::add_relay_feed_modes(w, {.fuse = 8, .contact = 16, .coil = 10, .splice = 4});
    blocks::add_immobiliser_modes(w, 24);
  }
  unit(w, options);
  for (int pair = 1; pair <= options.pairs; ++pair) coil(w, options, pair);
  const double each = 1.0 / options.cylinders();
  for (int c = 1; c <= options.cylinders(); ++c)
    blocks::add_high_tension_modes(t,
                                   {.fouled_dry = 74 * each,
                                    .fouled_wet = 69 * each,
                                    .gap_wide = 56 * each,
                                    .gap_narrow = 23 * each,
                                    .cracked = 23 * each,
                                    .loose = 10 * each,
                                    .wrong_plug = 8 * each,
                                    .cap_open = 25 * each,
                                    .cap_cracked = 25 * each,
                                    .lead_open = 15 * each,
                                    .lead_leak = 20 * each,
                                    .joint_loose = 24 * each},
                                   "_" + std::to_string(c));
  w.of("wiring_loom");
  w.repair("mend", "repair the loom, undo or re-make splices", "replace", 40, 0.9, 2);
  w.mode("damaged", "chewed, spliced or tapped", "mend", 18, blocks::intermittent(k_wet | k_shaken),
         {{"loom_leak_ohm", 300, 0.5}}, "rodents or an add-on: bare copper touches metal when wet or shaken");
}

}  // namespace lostspark::wasted_spark
