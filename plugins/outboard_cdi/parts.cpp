// Parameters, components, terminals, elements and links. Medians: engineering judgement, common practice, no source.
// Shares per 1000 ignition complaints: judgement, the table of the family (docs/families/outboard_cdi.md); those of a
// cylinder divided by the number of cylinders.
#include "blocks/high_tension.hpp"
#include "family.hpp"

namespace lostspark::outboard_cdi {
namespace {

/// The winding that charges at cranking speed (its pulse life is in the stage), and the one that takes over with revs.
void windings(blocks::PartWriter& p, const Options& options) {
  p.part("flywheel", "flywheel magnets", "SRC", 5);
  p.part("flywheel_key", "flywheel key", "TIM", 2);
  p.parameter("exciter_emf_volt", "volt", 210, 0.12, "low-speed winding, EMF peak at 400 rpm: magnets, turns, air gap");
  p.parameter("exciter_ohm", "ohm", 280, 0.04, "low-speed winding");
  p.parameter("exciter_henry", "henry", 0.3, 0, "low-speed winding");
  p.parameter("exciter_core_leak_ohm", "ohm", 1e9, 0, "low-speed winding to its core");
  p.parameter("exciter_foot_ohm", "ohm", 0.02, 0, "core of the low-speed winding to the engine");
  p.part("charge_low", "charge coil, low-speed winding", "SRC", 5);
  p.terminal("charge_low", "hot", "", "output");
  p.terminal("charge_low", "foot", "31", "foot at the core");
  p.ohm("low_winding", "charge_low.hot", "charge_low.foot", "exciter_ohm", LS_IN_OHM_TESTS);
  p.ohm("low_core_leak", "charge_low.hot", "earth", "exciter_core_leak_ohm");
  p.ohm("low_foot", "charge_low.foot", "earth", "exciter_foot_ohm");

  p.parameter("high_emf_volt", "volt", 32, 0.15, "high-speed winding, EMF peak at the usual cranking speed");
  p.parameter("high_hertz", "hertz", 40, 0, "of that EMF, at that speed");
  p.parameter("high_ohm", "ohm", 60, 0.05, "high-speed winding");
  p.parameter("high_henry", "henry", 0.02, 0, "high-speed winding");
  p.parameter("high_foot_ohm", "ohm", 0.02, 0, "core of the high-speed winding to the engine");
  p.parameter("high_input_ohm", "ohm", 1e5, 0, "switch box's high-speed input while cranking: its diode blocks");
  p.part("charge_high", "charge coil, high-speed winding", "SRC", 5);
  p.terminal("charge_high", "hot", "", "output");
  p.terminal("charge_high", "foot", "31", "foot at the core");
  p.tables().add(ls_element_v1{"high_winding", "charge_high.hot", "charge_high.foot", "high_ohm", "high_henry",
                               "high_emf_volt", "high_hertz", "cranking_speed_rpm", blocks::k_always});
  p.ohm("high_foot", "charge_high.foot", "earth", "high_foot_ohm");
  p.terminal("switch_box", "high", "", "high-speed input");
  p.ohm("high_input", "switch_box.high", "earth", "high_input_ohm");
  // What the battery winding draws weakens its neighbours: a factor on what charges the capacitor.
  p.parameter("stator_load_one", "one", 1, 0, "what the battery winding's load leaves of the charge winding's EMF");
  if (options.charging) p.part("rectifier", "rectifier/regulator", "SRC", 3);
}

void switch_box(blocks::PartWriter& p, const Options& options) {
  p.part("switch_box", "switch box", "CTL", 5);
  p.terminal("switch_box", "source", "", "low-speed input");
  p.terminal("switch_box", "stop", "2", "stop line");
  p.terminal("switch_box", "ground", "31", "box earth");
  p.parameter("capacitor_leak_ohm", "ohm", 8.3e6, 0, "leak of capacitor and thyristors");
  p.parameter("box_input_ohm", "ohm", 1e9, 0, "leak from the box's low-speed input to its earth");
  p.parameter("stop_bridge_ohm", "ohm", 0.02, 0, "bridge from the low-speed input to the stop line inside the box");
  p.parameter("gate_threshold_volt", "volt", 0.7, 0.10, "trigger volts at the box that fire a thyristor");
  p.parameter("gate_input_ohm", "ohm", 1000, 0, "box's inputs at the trigger leads");
  p.ohm("stop_bridge", "switch_box.source", "switch_box.stop", "stop_bridge_ohm");
  p.ohm("box_input_leak", "switch_box.source", "switch_box.ground", "box_input_ohm");
  blocks::add_discharge_parameters(p.tables(), 1e-6);
  if (!options.limiter) return;
  p.part("limiter_sensor", "overheat or low-oil sensor", "INH", 2);
  p.terminal("limiter_sensor", "lead", "", "sensor lead");
  p.terminal("switch_box", "limiter", "", "limiter input");
  p.parameter("limiter_sensor_ohm", "ohm", 1e9, 0, "sensor contact to earth: open");
  p.ohm("limiter_contact", "limiter_sensor.lead", "earth", "limiter_sensor_ohm");
}

void stop_line(blocks::PartWriter& p) {
  p.part("key_switch", "key switch, stop contact", "INH", 2, true);
  p.terminal("key_switch", "lead", "2", "key switch lead");
  p.terminal("key_switch", "contact", "31", "key switch earth side");
  p.parameter("key_switch_ohm", "ohm", 1e9, 0, "stop contact of the key switch, key ON");
  p.parameter("key_switch_closed_ohm", "ohm", 0.1, 0, "that contact and its earth once the key is off");
  p.parameter("operator_stop_ohm", "ohm", 1e9, 0, "whatever was left in its stop position");
  p.parameter("remote_leak_ohm", "ohm", 1e9, 0, "salt water between the pins of the remote harness plug");
  p.ohm("key_contact", "key_switch.lead", "key_switch.contact", "key_switch_ohm");
  p.ohm("key_closed", "key_switch.contact", "earth", "key_switch_closed_ohm");
  p.ohm("operator_stop", "key_switch.lead", "earth", "operator_stop_ohm");
  p.part("remote_plug", "remote harness plug", "INH", 2, true);
  p.ohm("remote_leak", "key_switch.lead", "earth", "remote_leak_ohm");
  p.part("lanyard_switch", "lanyard switch", "INH", 2, true);
  p.terminal("lanyard_switch", "lead", "2", "lanyard switch lead");
  p.parameter("lanyard_switch_ohm", "ohm", 1e9, 0, "lanyard switch contact, clip on");
  p.ohm("lanyard_contact", "lanyard_switch.lead", "earth", "lanyard_switch_ohm");
  p.part("operator_state", "lanyard clip off or key in stop", "INH", 1, true, LS_COMPONENT_OPERATOR);
}

/// Trigger coils are networks of their own, taken against engine metal: they draw a milliampere through the box's
/// earth.
void cylinder(plugin::Tables& t, blocks::PartWriter& p, int n) {
  const auto id = [n](const char* stem) { return of(stem, n); };
  const auto number = " " + std::to_string(n);
  const auto trigger = id("trigger_coil"), gate = "switch_box." + id("gate");
  p.part(trigger, ("trigger coil" + number).c_str(), "TRG", 4);
  p.terminal(trigger, "hot", "", "trigger output");
  p.terminal(trigger, "foot", "31", "foot on the trigger plate");
  p.terminal("switch_box", id("gate").c_str(), "", ("trigger input" + number).c_str());
  p.terminal("switch_box", id("output").c_str(), "", ("output" + number + " to its coil").c_str());
  p.parameter(id("trigger_emf_volt"), "volt", 4, 0.2,
              "trigger coil EMF peak at the usual cranking speed: magnets, gap, turns");
  p.parameter(id("trigger_ohm"), "ohm", 45, 0.05, "trigger winding");
  p.tables().add(ls_element_v1{id("trigger_winding").c_str(), (trigger + ".hot").c_str(), (trigger + ".foot").c_str(),
                               id("trigger_ohm").c_str(), "trigger_henry", id("trigger_emf_volt").c_str(),
                               "trigger_hertz", "cranking_speed_rpm", blocks::k_always});
  p.ohm(id("trigger_foot"), trigger + ".foot", "earth", "trigger_foot_ohm");
  p.ohm(id("gate_input"), gate, "earth", "gate_input_ohm");
  const auto suffix = "_" + std::to_string(n);
  blocks::add_discharge_coil(t, {.suffix = suffix, .title = "ignition coil" + number});
  blocks::add_high_tension(t, {.suffix = suffix, .demand_volt = 6000});
}

}  // namespace

void add_parts(plugin::Tables& t, const Options& options) {
  blocks::PartWriter p(t);
  p.parameter("cranking_speed_rpm", "rpm", options.recoil ? 500 : 400, options.recoil ? 0.18 : 0.10,
              "crank speed while cranking, the same at every reading of one crank", options.recoil ? 0.12 : 0.05);
  switch_box(p, options);
  windings(p, options);
  p.part("trigger_plate", "trigger plate and its advance", "TIM", 3);
  p.parameter("trigger_hertz", "hertz", 100, 0, "of the half-wave that a trigger gives, at the usual cranking speed");
  p.parameter("trigger_henry", "henry", 0.02, 0, "trigger winding");
  p.parameter("trigger_foot_ohm", "ohm", 0.02, 0, "trigger plate to the engine");
  stop_line(p);
  for (int n = 1; n <= options.cylinders; ++n) cylinder(t, p, n);
  p.parameter("timing_shift_degree", "degree", 1, 0,
              "ignition timing error, crank degrees; moves no electrical reading");
  p.parameter("loom_leak_ohm", "ohm", 1e9, 0, "chewed or tapped loom: leak of charge and first coil wire to metal");
  p.part("wiring_loom", "wiring loom, whole run", "CON", 2);
  p.ohm("loom_leak_source", "switch_box.source", "earth", "loom_leak_ohm");
  p.ohm("loom_leak_coil", "ignition_coil_1.primary", "earth", "loom_leak_ohm");
}

// Of the charge coil connector (31) a third is the high-speed winding's. A chafed stop line (24) lies on both its
// leads.
void add_links(plugin::Tables& t, const Options& options) {
  const auto link = [&](const std::string& id, const std::string& title, const std::string& from, const std::string& to,
                        const char* carries, double corroded, double open, double chafed, double mild, double severe,
                        double chafed_mild = 50, bool stops = false) {
    t.add(ls_link_v1{id.c_str(), title.c_str(), from.c_str(), to.c_str(), carries, "CON", corroded, open, chafed, mild,
                     severe, chafed_mild, 0.2, stops ? 1 : 0});
  };
  link("low_wire", "wire of the low-speed winding", "charge_low.hot", "switch_box.source", "energy", 20, 0, 0, 100,
       3e5);
  link("high_wire", "wire of the high-speed winding", "charge_high.hot", "switch_box.high", "energy", 11, 0, 0, 2e3,
       1e7);
  link("box_ground", "earth of the switch box", "switch_box.ground", "earth", "earth", 29, 0, 0, 0.5, 300);
  link("stop_wire", "stop line to the key", "switch_box.stop", "key_switch.lead", "inhibit", 0, 0, 16, 1, 100, 50,
       true);
  link("lanyard_wire", "stop line to the lanyard switch", "switch_box.stop", "lanyard_switch.lead", "inhibit", 0, 0, 8,
       1, 100, 50, true);
  if (options.limiter)
    link("limiter_wire", "wire of the overheat or low-oil sensor", "switch_box.limiter", "limiter_sensor.lead", "sense",
         0, 0, 6, 1, 100);
  const double each = 1.0 / options.cylinders;
  for (int n = 1; n <= options.cylinders; ++n) {
    const auto number = " " + std::to_string(n), coil = of("ignition_coil", n);
    link(of("trigger_wire", n), "trigger wire" + number, of("trigger_coil", n) + ".hot", "switch_box." + of("gate", n),
         "trigger", 15 * each, 9 * each, 0, 1000, 1e6);
    link(of("coil_wire", n), "wire from switch box to coil" + number, "switch_box." + of("output", n),
         coil + ".primary", "energy", 14 * each, 10 * each, 0, 3, 300);
    link(of("coil_ground", n), "earth of coil" + number, coil + ".ground", "earth", "earth", 22 * each, 0, 0, 0.5, 300);
  }
}

}  // namespace lostspark::outboard_cdi
