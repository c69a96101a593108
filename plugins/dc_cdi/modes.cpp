// Fault modes of module, inhibit, charging connector, loom; those of supply, pulse coil, coil and high tension come
// with their blocks. Shares per 1000 ignition complaints of the family, labour, success, severities: judgement.
#include "blocks/high_tension.hpp"
#include "blocks/spark_tests.hpp"
#include "family.hpp"

namespace lostspark::dc_cdi {
namespace {

using namespace blocks;  // visibilities, scale()

void module(ModeWriter& w) {
  w.of("control_module");
  w.repair("replace", "replace the ignition control module", "replace", 10, 0.95, 4);
  // A dead converter (37) and a dead output (26): nothing outside the module tells them apart.
  w.mode("no_output", "no output", "replace", 63, k_constant, {{"converter_ohm", 1e11, 1e11}},
         "converter or output stage is dead: supply and trigger are right and nothing comes out");
  w.mode("converter_weak", "converter weak", "replace", 16, mostly(k_hot), {scale("converter_end_volt", 0.75, 0.1)},
         "it charges the capacitor to a part of its volts only");
  w.mode("fails_hot", "fails when hot or shaken", "replace", 20, intermittent(k_hot | k_shaken),
         {scale("gate_threshold_volt", 3, 50)}, "a cracked joint inside stops the trigger");
  w.mode("wrong_part", "wrong part fitted", "replace", 7, k_constant,
         {{"timing_shift_degree", 3, 15}, scale("gate_threshold_volt", 1.3, 4)},
         "a module for another machine: other advance, limiter or trigger");
}

void inhibits(ModeWriter& w, const Options& options) {
  if (options.inhibit) {
    w.of("inhibit_switch");
    w.repair("clean", "clean, adjust or replace the stand, neutral or brake switch", "adjust", 15, 0.93, 2);
    w.mode("stuck", "stuck in inhibit", "clean", 16, seen(0.7, 0.95, k_wet | k_shaken),
           {{"inhibit_switch_ohm", 500, 0.2}}, "water, dirt or a bent tongue keeps its contact closed to earth");
  }
  w.of("operator_state");
  w.repair("set_right", "set the switch right and show the user", "adjust", 1, 0.98, 0);
  w.mode("left_off", "left off", "set_right", 22, k_constant, {{"stop_position_ohm", 1e11, 1e11}},
         "run switch in stop, key off, or the brake or stand left in its stop position");
}

}  // namespace

void add_modes(plugin::Tables& t, const Options& options) {
  ModeWriter w(t);
  // What does not charge runs the battery down: figures of blocks::add_supply, from a fifth charged on.
  w.of("stator_connector");
  w.repair("renew", "cut out the burnt terminals and crimp new ones, charge the battery", "replace", 15, 0.95, 1);
  w.mode("burnt", "burnt", "renew", 20, mostly(k_hot),
         {{"charge_ohm", 0.3, 1e9}, scale("battery_emf_volt", 0.985, 0.935), scale("battery_ohm", 1.05, 2)},
         "a hot terminal melts its plug: little or no charge, and the battery runs down");
  module(w);
  add_discharge_coil_modes(
      t, {.open_primary = 9, .shorted_primary = 8, .open_secondary = 13, .secondary_leak = 24, .wrong_part = 5});
  w.of("flywheel_key");
  w.repair("replace", "replace the key, lap the taper, torque the nut", "replace", 40, 0.95, 2);
  w.mode("sheared", "sheared, timing off", "replace", 6, k_constant, {{"timing_shift_degree", 8, 60}},
         "the flywheel has turned on its taper: every volt is right and comes at the wrong moment");
  add_high_tension_modes(t, {.fouled_dry = 49,
                             .fouled_wet = 45,
                             .gap_wide = 37,
                             .gap_narrow = 15,
                             .cracked = 15,
                             .loose = 7,
                             .wrong_plug = 7,
                             .cap_open = 16,
                             .cap_cracked = 16,
                             .lead_open = 9,
                             .lead_leak = 13,
                             .joint_loose = 16});
  inhibits(w, options);
  w.of("wiring_loom");
  w.repair("mend", "repair the loom, undo or re-make splices", "replace", 40, 0.9, 2);
  w.mode("damaged", "chewed, spliced or tapped", "mend", 14, intermittent(k_wet | k_shaken),
         {{"loom_leak_ohm", 300, 0.5}}, "rodents or an add-on: bare copper touches metal when wet or shaken");
  add_elsewhere(t, 0.20, "starter, fuel tap, choke, other", "starter, fuel tap, choke, gearbox");
}

}  // namespace lostspark::dc_cdi
