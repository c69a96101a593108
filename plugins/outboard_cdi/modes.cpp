// Fault modes of windings, triggers, box, stop line; those of coils and high tension come with their blocks. Shares per
// 1000 ignition complaints of the family, those of a cylinder divided by the number of cylinders; labour, success,
// severities: judgement.
#include "blocks/high_tension.hpp"
#include "blocks/spark_tests.hpp"
#include "family.hpp"

namespace lostspark::outboard_cdi {
namespace {

using namespace blocks;  // visibilities, scale()

/// The same change of every cylinder's parameter, after those given.
std::vector<Change> and_all(const Options& options, std::vector<Change> changes, const char* stem, double mild,
                            double severe, std::int32_t operation) {
  for (int n = 1; n <= options.cylinders; ++n) changes.push_back({of(stem, n), mild, severe, operation});
  return changes;
}

void source(ModeWriter& w, const Options& options) {
  w.of("flywheel");
  w.repair("replace", "replace the flywheel", "replace", 40, 0.95, 5);
  w.mode("ring_loose", "magnet ring loose or cracked", "replace", 13, mostly(k_loaded | k_shaken),
         and_all(options, {scale("exciter_emf_volt", 0.8, 0.3), scale("high_emf_volt", 0.8, 0.3)}, "trigger_emf_volt",
                 0.8, 0.3, LS_SCALE),
         "windings and triggers fall together at the right speed");
  w.of("flywheel_key");
  w.repair("replace", "replace the key, lap the taper, torque the nut", "replace", 40, 0.95, 2);
  w.mode("sheared", "sheared, timing off", "replace", 9, k_constant, {{"timing_shift_degree", 8, 60}},
         "the flywheel has turned on its taper: every volt is right and comes at the wrong moment");
  w.of("charge_low");
  w.repair("replace", "replace the stator", "replace", 60, 0.95, 5);
  w.mode("open_winding", "open winding", "replace", 27, k_constant, {{"exciter_ohm", 1e11, 1e11}},
         "the wire is broken inside the winding or at its solder joint");
  w.mode("shorted_turns", "shorted turns", "replace", 17, mostly(k_hot),
         {scale("exciter_emf_volt", 0.7, 0.15), scale("exciter_ohm", 0.75, 0.3), scale("exciter_henry", 0.5, 0.04)},
         "burnt insulation shorts part of the winding: volts fall more than ohms");
  w.mode("short_to_core", "short to its core", "replace", 10, mostly(k_hot), {{"exciter_core_leak_ohm", 100, 0.5}},
         "the winding touches the core and loses its volts to earth");
  w.mode("opens_hot", "fails when hot", "replace", 24, intermittent(k_hot), {{"exciter_ohm", 1e5, 2e7}},
         "a cracked wire parts as the winding warms");
  w.of("charge_high");
  w.repair("replace", "replace the stator", "replace", 60, 0.95, 5);
  w.mode("open_winding", "open winding", "replace", 18, k_constant, {{"high_ohm", 1e11, 1e11}},
         "it starts and idles, and misfires or stops pulling as the revs rise");
  w.mode("shorted_turns", "shorted turns", "replace", 13, k_constant,
         {scale("high_emf_volt", 0.7, 0.1), scale("high_ohm", 0.8, 0.2)},
         "it starts and idles, and has no revs: volts and ohms of this winding are low");
  if (!options.charging) return;
  w.of("rectifier");
  w.repair("replace", "replace the rectifier/regulator", "replace", 15, 0.95, 3);
  w.mode("shorted", "shorted, loads the stator", "replace", 21, k_constant, {{"stator_load_one", 0.85, 0.3}},
         "the battery winding works into a short and weakens the charge winding beside it");
}

void triggers_and_box(ModeWriter& w, const Options& options) {
  const double each = 1.0 / options.cylinders;
  w.of("trigger_plate");
  w.repair("clean", "clean or replace the trigger plate's bush", "clean", 60, 0.92, 3);
  w.mode("worn", "worn bush, sticky advance", "clean", 13, wavering(k_shaken | k_loaded),
         and_all(options, {{"timing_shift_degree", 4, 20}}, "trigger_emf_volt", 0.9, 0.4, LS_SCALE),
         "the plate wobbles: timing wanders and the air gaps with it", "TIM");
  for (int n = 1; n <= options.cylinders; ++n) {
    const auto number = " " + std::to_string(n);
    w.of(of("trigger_coil", n));
    w.repair("replace", ("replace trigger coil" + number).c_str(), "replace", 50, 0.95, 4);
    w.mode("open_winding", "open winding", "replace", 27 * each, k_constant, {{of("trigger_ohm", n), 1e11, 1e11}},
           "the wire is broken inside the winding: this cylinder is never fired");
    w.mode("weak", "weak, shorted turns", "replace", 19 * each, mostly(k_hot),
           {scale(of("trigger_emf_volt", n), 0.6, 0.06), scale(of("trigger_ohm", n), 0.9, 0.4)},
           "shorted turns: ohms and volts of this trigger are low at every speed");
  }
  w.of("switch_box");
  w.repair("replace", "replace the switch box", "replace", 20, 0.95, 5);
  w.mode("dead", "all outputs dead", "replace", 31, k_constant,
         and_all(options, {}, "module_output_ohm", 1e6, 1e6, LS_SET),
         "charge and triggers are right, nothing comes out");
  for (int n = 1; n <= options.cylinders; ++n)
    w.mode(of("output_dead", n).c_str(), ("output " + std::to_string(n) + " dead").c_str(), "replace", 43 * each,
           k_constant, {{of("module_output_ohm", n), 1e6, 1e6}}, "one thyristor is dead: its coil gets nothing");
  w.mode("input_shorted", "input diode or capacitor shorted", "replace", 13, k_constant, {{"box_input_ohm", 80, 0.3}},
         "the winding's wire is shorted to earth inside");
  w.mode("fails_hot", "fails when hot", "replace", 22, intermittent(k_hot), {scale("gate_threshold_volt", 3, 50)},
         "a cracked joint inside stops the triggers");
  w.mode("wrong_part", "wrong part fitted", "replace", 6, k_constant,
         {{"timing_shift_degree", 3, 15}, scale("gate_threshold_volt", 1.3, 4)},
         "a box for another engine: other trigger or limiter");
}

void stop_line(ModeWriter& w, const Options& options) {
  w.of("key_switch");
  w.repair("replace", "clean or replace the key switch", "replace", 20, 0.95, 2);
  w.mode("earthed", "earthed or leaky", "replace", 22, mostly(k_wet), {{"key_switch_ohm", 2000, 0.2}},
         "water or wear: the stop contact earths the line with the key ON");
  // Not among the complaints of the share table (they are about missing sparks): a key that no longer stops.
  w.mode("never_closes", "never closes, cannot stop the engine", "replace", 3, k_constant,
         {{"key_switch_closed_ohm", 1e3, 1e9}}, "the stop contact or its earth is burnt away");
  w.of("lanyard_switch");
  w.repair("dry", "dry, seal or replace the lanyard switch", "clean", 10, 0.92, 2);
  w.mode("earthed", "earthed or wet inside", "dry", 21, mostly(k_wet), {{"lanyard_switch_ohm", 1000, 0.3}},
         "salt water inside: it stops the engine with the clip on");
  w.of("remote_plug");
  w.repair("clean", "clean and seal the remote harness plug", "clean", 20, 0.93, 2);
  w.mode("leaks", "corroded, leaks between its pins", "clean", 22, mostly(k_wet), {{"remote_leak_ohm", 5000, 60}},
         "salt bridges its pins: the stop line leaks to earth");
  w.of("operator_state");
  w.repair("set_right", "set the switch right and show the user", "adjust", 1, 0.98, 0);
  w.mode("left_in_stop", "left in stop", "set_right", 32, k_constant, {{"operator_stop_ohm", 0.4, 0.05}},
         "the lanyard's clip is off or the key stands in stop");
  if (!options.limiter) return;
  w.of("limiter_sensor");
  w.repair("cure", "cure cooling or oil supply, replace the sensor", "replace", 30, 0.9, 2);
  w.mode("active", "active, rightly or falsely", "cure", 20, mostly(k_hot), {{"limiter_sensor_ohm", 300, 0.2}},
         "too hot, too little oil, or the sensor only says so: the box drops cylinders in turn as the revs rise");
}

}  // namespace

void add_modes(plugin::Tables& t, const Options& options) {
  ModeWriter w(t);
  source(w, options);
  triggers_and_box(w, options);
  stop_line(w, options);
  const double each = 1.0 / options.cylinders;
  for (int n = 1; n <= options.cylinders; ++n) {
    const auto suffix = "_" + std::to_string(n), number = " " + std::to_string(n);
    add_discharge_coil_modes(t,
                             {.open_primary = 9 * each,
                              .shorted_primary = 8 * each,
                              .open_secondary = 13 * each,
                              .secondary_leak = 31 * each,
                              .wrong_part = 5 * each},
                             suffix, number);
    add_high_tension_modes(t,
                           {.fouled_dry = 64 * each,
                            .fouled_wet = 59 * each,
                            .gap_wide = 47 * each,
                            .gap_narrow = 19 * each,
                            .cracked = 19 * each,
                            .loose = 9 * each,
                            .wrong_plug = 8 * each,
                            .cap_open = 22 * each,
                            .cap_cracked = 21 * each,
                            .lead_open = 13 * each,
                            .lead_leak = 17 * each,
                            .joint_loose = 21 * each},
                           suffix);
  }
  w.of("wiring_loom");
  w.repair("mend", "repair the loom, undo or re-make splices", "replace", 40, 0.9, 2);
  w.mode("damaged", "chewed, spliced or tapped", "mend", 12, intermittent(k_wet | k_shaken),
         {{"loom_leak_ohm", 2e4, 0.5}}, "rodents or an add-on: bare copper touches metal when wet or shaken");
  add_elsewhere(t, 0.22, "starter, fuel tap, choke, propeller, other",
                "starter, primer, fuel tap, choke, gear, propeller");
}

}  // namespace lostspark::outboard_cdi
