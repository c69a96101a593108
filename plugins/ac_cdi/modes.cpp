// Fault modes, what they change, and what cures them. Shares per 1000 ignition complaints of the family, labour without
// access, success: engineering judgement. Severities from mild to severe; readings outside them are possible (the host
// gives every severity wide tails).
#include "blocks/discharge_tables.hpp"
#include "blocks/high_tension.hpp"
#include "family.hpp"

namespace lostspark::ac_cdi {
namespace {

using namespace blocks;  // visibilities, scale()
using Writer = ModeWriter;

void source_and_trigger(Writer& w) {
  w.of("flywheel");
  w.repair("replace", "replace the flywheel", "replace", 30, 0.95, 4);
  w.mode("weak_magnets", "magnets weak or cracked", "replace", 8, k_constant,
         {scale("exciter_emf_volt", 0.8, 0.3), scale("pulse_emf_volt", 0.8, 0.3)},
         "heat, knocks or a fall weaken the magnets: exciter and pulse coil fall together at the right speed");
  w.of("flywheel_key");
  w.repair("replace", "replace the key, lap the taper, torque the nut", "replace", 30, 0.95, 2);
  w.mode("sheared", "sheared, timing off", "replace", 13, k_constant, {{"timing_shift_degree", 8, 60}},
         "the flywheel has turned on its taper: every volt is right and comes at the wrong moment");
  w.of("stator_plate");
  w.repair("adjust", "set the timing, tighten the stator plate", "adjust", 30, 0.95, 1);
  w.mode("loose", "loose or turned", "adjust", 5, intermittent(k_shaken),
         {{"timing_shift_degree", 4, 20}, scale("pulse_emf_volt", 0.85, 0.4)},
         "the plate shifts with vibration: timing wanders and the pulse coil's air gap with it");

  w.of("exciter");
  w.repair("replace", "replace or rewind the exciter coil", "replace", 40, 0.95, 4);
  w.mode("open_winding", "open winding", "replace", 39, k_constant, {{"exciter_ohm", 1e11, 1e11}},
         "the wire is broken inside the winding or at its solder joint");
  w.mode("shorted_turns", "shorted turns", "replace", 29, k_constant,
         {scale("exciter_emf_volt", 0.8, 0.3), scale("exciter_ohm", 0.84, 0.44), scale("exciter_henry", 0.64, 0.09)},
         "burnt insulation shorts part of the winding: volts fall more than ohms");
  w.mode("short_to_core", "short to its core", "replace", 16, k_constant, {{"exciter_core_leak_ohm", 100, 0.5}},
         "the winding touches the core and loses its volts to earth");
  w.mode("opens_hot", "opens when hot", "replace", 22, intermittent(k_hot), {{"exciter_ohm", 1e5, 2e7}},
         "a cracked wire parts as the winding warms");

  w.of("pulse_coil");
  w.repair("replace", "replace the pulse coil", "replace", 30, 0.95, 3);
  w.repair("adjust", "clean the pulse coil and set its air gap", "adjust", 20, 0.93, 1);
  w.repair("swap_leads", "swap the pulse coil's two leads", "adjust", 10, 0.97, 1);
  w.mode("open_winding", "open winding", "replace", 27, k_constant, {{"pulse_ohm", 1e11, 1e11}},
         "the wire is broken inside the winding");
  w.mode("weak", "shorted turns, weak", "replace", 13, k_constant,
         {scale("pulse_emf_volt", 0.6, 0.06), scale("pulse_ohm", 0.9, 0.4), scale("pulse_henry", 0.7, 0.1)},
         "shorted turns: ohms and volts are low at every speed");
  w.mode("wide_gap", "air gap too wide or debris in it", "adjust", 16, k_constant, {scale("pulse_emf_volt", 0.6, 0.05)},
         "ohms are right, volts are low: the lug passes too far away");
  w.mode("opens_hot", "fails when hot", "replace", 18, intermittent(k_hot), {{"pulse_ohm", 1e4, 2e7}},
         "a cracked wire parts as the coil warms");
  w.mode("leads_reversed", "leads reversed after a repair", "swap_leads", 4, k_constant,
         {{"timing_shift_degree", 12, 35}}, "the module fires on the other half-wave: volts are right, timing is off",
         "TIM");
}

void module(Writer& w) {
  w.of("control_module");
  w.repair("replace", "replace the ignition control module", "replace", 10, 0.95, 4);
  w.mode("no_output", "no output", "replace", 51, k_constant, {{"module_output_ohm", 1e6, 1e6}},
         "the thyristor or its gate circuit is dead: the capacitor stays charged");
  w.mode("capacitor_leaky", "storage capacitor leaky or weak", "replace", 16, mostly(k_hot),
         {{"capacitor_leak_ohm", 1e5, 1e3}, scale("capacitor_farad", 0.9, 0.5)}, "the charge drains before the spark");
  w.mode("input_shorted", "input shorted", "replace", 9, k_constant, {{"module_input_ohm", 80, 0.3}},
         "a diode inside shorts the exciter's wire to earth");
  w.mode("fails_hot", "fails when hot or shaken", "replace", 22, intermittent(k_hot | k_shaken),
         {scale("gate_threshold_volt", 3, 50)}, "a cracked joint inside stops the trigger");
  w.mode("advance_wrong", "advance or limiter wrong", "replace", 8, mostly(k_loaded), {{"timing_shift_degree", 5, 18}},
         "the module's advance or limiter has gone: it shows with speed", "TIM");
  w.mode("wrong_part", "wrong part fitted", "replace", 6, k_constant,
         {{"timing_shift_degree", 3, 15}, scale("gate_threshold_volt", 1.3, 4)},
         "a module for another machine: other advance, limiter or trigger");
}

void inhibits(Writer& w, const Options& options) {
  w.of("kill_switch");
  w.repair("clean", "dry, clean and seal the kill switch", "clean", 15, 0.85, 1);
  w.repair("replace", "clean or replace the kill switch", "replace", 15, 0.95, 2);
  w.mode("stuck_to_ground", "stuck to earth", "replace", 33, k_constant, {{"kill_switch_ohm", 8, 0.1}},
         "the contact stays closed: the exciter is earthed for good");
  w.mode("leaks_damp", "leaks when damp", "clean", 20, mostly(k_wet), {{"kill_switch_ohm", 5000, 60}},
         "water and dirt across the contact load the exciter");
  // Not among the complaints of the share table (they are about missing sparks): a switch that no longer stops.
  w.mode("never_closes", "never closes, cannot stop the engine", "replace", 3, k_constant,
         {{"kill_switch_closed_ohm", 1e3, 1e9}}, "the contact or its earth is burnt away");
  if (options.key_switch) {
    w.of("key_switch");
    w.repair("replace", "clean or replace the key switch", "replace", 20, 0.95, 2);
    w.mode("grounds_while_on", "earths the kill lead while ON", "replace", 13, mostly(k_shaken),
           {{"key_switch_ohm", 50, 0.1}}, "the OFF contact does not open");
  }
  if (options.tether_switch) {
    w.of("tether_switch");
    w.repair("adjust", "adjust or replace the tether or stand switch", "adjust", 15, 0.92, 2);
    w.mode("grounds_released", "earths the kill lead in run position", "adjust", 11, k_constant,
           {{"tether_switch_ohm", 20, 0.1}}, "bent, dirty or out of adjustment");
  }
  w.of("operator_state");
  w.repair("set_right", "set the switch right and show the user", "adjust", 1, 0.98, 0);
  w.mode("left_in_stop", "left in stop", "set_right", 20, k_constant, {{"operator_stop_ohm", 0.4, 0.05}},
         "kill switch, tether, stand or key stands in its stop position");
  w.of("wiring_loom");
  w.repair("mend", "repair the loom, undo or re-make splices", "replace", 40, 0.9, 2);
  w.mode("damaged", "chewed, spliced or tapped", "mend", 14, intermittent(k_wet | k_shaken),
         {{"loom_leak_ohm", 2e4, 0.5}}, "rodents or an add-on: bare copper touches metal when wet or shaken");
}

// 18 of 100 complaints booked as ignition are not: 1000 x 18 / 82, half of it fuel (judgement).
void elsewhere(Writer& w) {
  constexpr double k_all = 1000.0 * 18 / 82;
  w.of("fuel");
  w.repair("mend", "mend the fuel supply", "replace", 45, 0.9, 2);
  w.mode("fault", "fuel supply at fault", "mend", k_all * 0.5, k_constant, {}, "empty, stale, blocked or flooded");
  w.of("compression");
  w.repair("mend", "mend valves, rings or gasket", "replace", 180, 0.9, 5);
  w.mode("fault", "no compression", "mend", k_all * 0.15, k_constant, {}, "valves, rings, gasket");
  w.of("air");
  w.repair("mend", "mend the air path", "clean", 30, 0.9, 2);
  w.mode("fault", "air path at fault", "mend", k_all * 0.15, k_constant, {}, "filter, leak, blocked exhaust");
  w.of("other");
  w.repair("mend", "mend the starting gear or show the user", "adjust", 30, 0.9, 2);
  w.mode("fault", "something else", "mend", k_all * 0.2, k_constant, {},
         "starting gear, fuel tap, choke, gearbox switch");
}

}  // namespace

void add_modes(plugin::Tables& t, const Options& options) {
  Writer w(t);
  source_and_trigger(w);
  module(w);
  add_discharge_coil_modes(
      t, {.open_primary = 9, .shorted_primary = 9, .open_secondary = 15, .secondary_leak = 26, .wrong_part = 5});
  add_high_tension_modes(t, {.fouled_dry = 59,
                             .fouled_wet = 54,
                             .gap_wide = 44,
                             .gap_narrow = 18,
                             .cracked = 18,
                             .loose = 8,
                             .wrong_plug = 8,
                             .cap_open = 20,
                             .cap_cracked = 20,
                             .lead_open = 11,
                             .lead_leak = 15,
                             .joint_loose = 20});
  inhibits(w, options);
  elsewhere(w);
}

}  // namespace lostspark::ac_cdi
