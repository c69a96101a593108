// Parameters, components, terminals, elements and links. Medians: engineering judgement, common practice, no source;
// coil, magnets and condenser those of the simulation decks. Shares per 1000 ignition complaints: judgement.
#include "blocks/high_tension.hpp"
#include "family.hpp"

namespace lostspark::flywheel_magneto {

blocks::SupplySettings supply_settings() {
  blocks::SupplySettings s;
  s.starter_ohm = 0.14;
  s.battery_share = 30;
  s.no_charge_share = 6;
  s.shorted_diode_share = 2;
  s.overcharge_share = 1;
  s.winding_share = 2;
  return s;
}

namespace {

using blocks::PartWriter;

void source(PartWriter& p, const Options& o) {
  p.parameter("cranking_speed_rpm", "rpm",
              o.starter()           ? 420
              : o.start == "recoil" ? 600
                                    : 500,
              o.starter() ? 0.08 : 0.15, "crank speed while cranking, the same at every reading of one pull",
              o.starter() ? 0.03 : 0.12);
  p.parameter("running_speed_rpm", "rpm", 1e-3, 0, "crank speed while the engine runs by itself; next to nothing else");
  p.parameter("passage_emf_volt", "volt", 4.4, 0.10, "EMF peak of the primary at 500 rpm: magnets, air gap, turns");
  p.parameter("passage_degree", "degree", 15, 0, "of the crank while the magnet passes the core");
  p.parameter("opening_one", "one", 0.72, 0.02, "part of the magnet's passage gone as the primary is interrupted");
  p.parameter("timing_shift_degree", "degree", 1, 0,
              "ignition timing error, crank degrees; moves no electrical reading");
  p.part("flywheel", "flywheel magnets", "SRC", 4);
  p.part("flywheel_key", "flywheel key", "TIM", 1);
  p.part("air_gap", "air gap between flywheel and core", "SRC", 1);
  if (!o.points)
    p.part("starting_gear", o.starter() ? "starter, its cables and the engine's drag" : "starting gear and engine drag",
           "SRC", 3);
}

void coil(PartWriter& p, const Options& o) {
  const auto c = o.coil();
  p.parameter("primary_henry", "henry", 3e-3, 0.03, "coil primary on its core");
  p.parameter("primary_ohm", "ohm", 0.8, 0.04, "coil primary");
  p.parameter("turns_ratio_one", "one", 75, 0.06, "secondary over primary turns");
  p.parameter("coupling_one", "one", 0.95, 0, "coupling of the coil's windings");
  p.parameter("secondary_ohm", "ohm", 5000, 0, "coil secondary as the spark sees it");
  p.parameter("secondary_meter_ohm", "ohm", 5000, 0.05, "coil secondary as an ohmmeter sees it, breaks included");
  p.parameter("secondary_leak_ohm", "ohm", 1e10, 0, "leak across the secondary: insulation, tracking");
  p.parameter("secondary_break_volt", "volt", 1, 0, "gap inside a burnt secondary, added to the demand");
  p.parameter("switch_ohm", "ohm", o.points ? 0.05 : 0.25, o.points ? 0.3 : 0.05,
              o.points ? "closed points, over their faces" : "module's transistor, closed");
  p.parameter("switch_farad", "farad", o.points ? 0.2e-6 : 1e-9, o.points ? 0.06 : 0,
              o.points ? "condenser" : "module's transistor and its snubber");
  p.parameter("kill_bridge_ohm", "ohm", 1e-3, 0, "from the primary to the kill terminal on the coil");
  p.parameter("kill_tab_leak_ohm", "ohm", 1e9, 0, "kill terminal to the shroud it sits beside");
  p.parameter("meter_rise_second", "second", 1e-6, 0, "response of the peak meter, time constant of one pole");
  p.part(c, o.points ? "ignition coil" : "ignition module", o.points ? "PRI" : "CTL", 3);
  p.terminal(c, "core", "31", o.points ? "core and foot of the windings" : "core, its screws");
  p.terminal(c, "primary", "1", "end of the primary");
  p.terminal(c, "kill", "2", "kill terminal");
  p.terminal(c, "ht", "4", "high tension");
  p.ohm("primary_winding", c + ".primary", c + ".core", "primary_ohm", LS_IN_OHM_TESTS);
  p.ohm("secondary_winding", c + ".ht", c + ".core", "secondary_meter_ohm", LS_IN_OHM_TESTS);
  p.ohm("kill_bridge", c + ".kill", c + ".primary", "kill_bridge_ohm");
  p.ohm("kill_tab_leak", c + ".primary", "earth", "kill_tab_leak_ohm");
  p.parameter("points_insulation_ohm", "ohm", 1e9, 0,
              o.points ? "across the points whatever they do: insulating washer, wire, no gap"
                       : "across the module's transistor");
  if (!o.points) {
    p.parameter("module_clamp_volt", "volt", 320, 0.05, "where the module's transistor holds the primary");
    p.parameter("trigger_volt", "volt", 2.2, 0.10, "EMF peak of the primary that the module answers to");
    p.part("kill_tab", "kill terminal on the module", "CON", 1, true);
    p.parameter("module_wire_ohm", "ohm", 1e-3, 0, "inside the block: windings to switch");
    p.terminal(c, "switch", "", "inside, switch");
    p.terminal(c, "foot", "", "inside, foot of the switch");
    p.ohm("module_switch_wire", c + ".primary", c + ".switch", "module_wire_ohm");
    p.ohm("module_foot_wire", c + ".foot", c + ".core", "module_wire_ohm");
    p.ohm("module_leak", c + ".switch", c + ".foot", "points_insulation_ohm");
    return;
  }
  p.parameter("points_position_ohm", "ohm", 1e9, 0, "points as the engine stands: open; closed by a state");
  p.parameter("points_gap_one", "one", 1, 0.05, "greatest opening of the points against what is right");
  p.parameter("condenser_leak_ohm", "ohm", 1e9, 0, "leak of the condenser");
  p.part("breaker_points", "breaker points", "TRG", 2);
  p.terminal("breaker_points", "moving", "1", "moving point, its terminal");
  p.terminal("breaker_points", "contact", "", "inside");
  p.part("condenser", "condenser", "TRG", 2);
  p.part("points_plate", "base plate of the points", "CON", 1);
  p.terminal("points_plate", "plate", "31", "base plate");
  p.part("cam_follower", "cam follower and felt", "TRG", 1);
  p.part("crank_seal", "crankshaft seal behind the points", "TRG", 2);
  p.part("crank_bearing", "crankshaft bearing", "TRG", 4);
  p.ohm("points_contact", "breaker_points.moving", "breaker_points.contact", "switch_ohm", LS_IN_OHM_TESTS);
  p.ohm("points_position", "breaker_points.contact", "points_plate.plate", "points_position_ohm", LS_IN_OHM_TESTS);
  p.ohm("points_insulation", "breaker_points.moving", "points_plate.plate", "points_insulation_ohm");
  p.ohm("condenser_leak", "breaker_points.moving", "points_plate.plate", "condenser_leak_ohm");
}

/// One more contact that earths the kill wire.
void grounding(PartWriter& p, const std::string& id, const char* title, double closed_ohm) {
  const auto contact = id + "_ohm", closed = id + "_closed_ohm";
  p.part(id, title, "INH", 2, true);
  p.terminal(id, "lead", "2", "kill lead");
  p.parameter(contact, "ohm", 1e9, 0, "its contact while the engine may run");
  p.ohm(id + "_contact", id + ".lead", closed_ohm > 0 ? id + ".contact" : std::string("earth"), contact);
  if (closed_ohm <= 0) return;
  p.terminal(id, "contact", "31", "earth side");
  p.parameter(closed, "ohm", closed_ohm, 0.2, "its contact and earth once it is set to stop");
  p.ohm(id + "_earth", id + ".contact", "earth", closed);
}

void stops(PartWriter& p, const Options& o) {
  grounding(p, o.stopper(),
            o.stop == "switch"  ? "kill switch"
            : o.stop == "lever" ? "switch of the stop lever"
                                : "key switch, kill contact",
            0.1);
  p.parameter("operator_stop_ohm", "ohm", 1e9, 0, "whatever was left in its stop position");
  p.parameter("loom_leak_ohm", "ohm", 1e9, 0, "chewed or tapped loom: leak of the kill wire to metal");
  p.ohm("operator_stop", o.stopper() + ".lead", "earth", "operator_stop_ohm");
  p.ohm("loom_leak", o.stopper() + ".lead", "earth", "loom_leak_ohm");
  p.part("wiring_loom", "wiring loom, whole run", "CON", 2);
  if (o.low_oil) grounding(p, "low_oil_switch", "low-oil switch", 0);
  p.part("operator_state",
         o.interlock         ? "seat, blade, brake or key as the operator left them"
         : o.stop == "lever" ? "stop lever as the operator holds it"
         : o.stop == "key"   ? "key as the operator left it"
                             : "kill switch as the operator left it",
         "INH", 1, true, LS_COMPONENT_OPERATOR);
  if (!o.interlock) return;
  p.terminal("key_switch", "in", "30", "supply side");
  p.terminal("key_switch", "out", "15", "relay side");
  p.parameter("key_feed_ohm", "ohm", 0.02, 0.3, "supply contact of the key switch");
  p.parameter("key_position_ohm", "ohm", 1e-3, 0, "key in RUN; open with the key off");
  p.terminal("key_switch", "feed", "", "inside");
  p.ohm("key_feed", "key_switch.in", "key_switch.feed", "key_feed_ohm");
  p.ohm("key_position", "key_switch.feed", "key_switch.out", "key_position_ohm");
  p.part("interlock_relay", "interlock relay", "INH", 2, true);
  p.terminal("interlock_relay", "hot", "86", "coil, supply side");
  p.terminal("interlock_relay", "chain", "85", "coil, switch side");
  p.terminal("interlock_relay", "kill", "87a", "contact on the kill wire");
  p.parameter("relay_coil_ohm", "ohm", 90, 0.05, "coil of the interlock relay");
  p.parameter("relay_hold_ampere", "ampere", 0.05, 0.1, "current that keeps it pulled");
  p.parameter("relay_contact_ohm", "ohm", 1e9, 0, "its contact while it is pulled");
  p.ohm("relay_coil", "interlock_relay.hot", "interlock_relay.chain", "relay_coil_ohm");
  p.ohm("relay_contact", "interlock_relay.kill", "earth", "relay_contact_ohm");
  const auto chain = [&](const char* id, const char* title) {
    const std::string name = id;
    p.part(name, title, "INH", 2, true);
    p.terminal(name, "in", "", "relay side");
    p.terminal(name, "out", "", "earth side");
    p.parameter(name + "_ohm", "ohm", 0.2, 0.3, (std::string(title) + ", in its run position").c_str());
    p.ohm(name + "_contact", name + ".in", name + ".out", name + "_ohm");
  };
  chain("seat_switch", "seat switch");
  chain("blade_switch", "blade switch");
  chain("brake_switch", "brake switch");
  p.parameter("operator_chain_ohm", "ohm", 1e-3, 0, "seat empty, blade on or brake free: opens the relay's circuit");
  p.parameter("chain_lead_ohm", "ohm", 1e9, 0, "bypass lead from the relay to the engine");
  p.terminal("brake_switch", "contact", "", "inside");
  p.ohm("operator_chain", "brake_switch.out", "brake_switch.contact", "operator_chain_ohm");
  p.ohm("chain_lead", "interlock_relay.chain", "earth", "chain_lead_ohm");
}

}  // namespace

void add_parts(plugin::Tables& t, const Options& o) {
  PartWriter p(t);
  source(p, o);
  coil(p, o);
  blocks::add_high_tension(t, {.suffix = "", .cap_ohm = 1000, .demand_volt = 5000});
  if (!o.points)  // lead and boot of a module are moulded on
    for (auto& c : t.components) {
      if (c.id == std::string("ht_lead")) c.title = "plug lead, moulded into the module";
      if (c.id == std::string("ht_joint")) c.title = "clip of the plug boot";
      if (c.id == std::string("plug_cap")) c.title = "plug boot";
    }
  if (o.starter()) blocks::add_supply(t, supply_settings(), "");
  stops(p, o);
}

// Chafed kill wire: 41 with points, 57 with a module, shared with the wires beside it; earth of the core 20.
void add_links(plugin::Tables& t, const Options& o) {
  const auto c = o.coil();
  const auto link = [&](const char* id, const char* title, const std::string& from, const std::string& to,
                        const char* carries, double corroded, double open, double chafed, double mild, double severe,
                        bool stops = false) {
    t.add(ls_link_v1{id, title, from.c_str(), to.c_str(), carries, "CON", corroded, open, chafed, mild, severe, 60, 0.2,
                     stops ? 1 : 0});
  };
  link("core_earth", "earth of the core", c + ".core", "earth", "earth", o.points ? 14 : 0, 0, 0, 0.2, 20);
  if (o.points) {
    link("points_lead", "points wire", c + ".primary", "breaker_points.moving", "energy", 0, 0, 8, 0.2, 20);
    link("plate_earth", "earth of the points plate", "points_plate.plate", "earth", "earth", 6, 0, 0, 0.2, 20);
  }
  const double beside = (o.interlock ? 14 : 0) + (o.low_oil ? 6 : 0);
  link("kill_wire", "kill wire", c + ".kill", o.stopper() + ".lead", "inhibit", 0, 0, (o.points ? 41 : 57) - beside, 1,
       100, true);
  if (o.low_oil)
    link("oil_wire", "kill wire to the low-oil switch", c + ".kill", "low_oil_switch.lead", "inhibit", 0, 0, 6, 1, 100,
         true);
  if (o.starter()) {
    link("battery_plus", "battery cable", "battery.plus", "starter.battery", "supply", 8, 0, 0, 0.01, 0.3);
    link("battery_minus", "battery earth cable", "battery.minus", "earth", "earth", 19, 0, 0, 0.01, 0.3);
  }
  if (!o.interlock) return;
  link("relay_kill_wire", "kill wire to the interlock relay", c + ".kill", "interlock_relay.kill", "inhibit", 0, 0, 14,
       1, 100, true);
  link("key_feed", "supply wire to the key", "starter.battery", "key_switch.in", "supply", 0, 2, 0, 20, 2000, true);
  link("relay_feed", "supply wire to the interlock relay", "key_switch.out", "interlock_relay.hot", "supply", 3, 1, 0,
       20, 2000, true);
  link("seat_wire", "wire from relay to seat switch", "interlock_relay.chain", "seat_switch.in", "sense", 6, 2, 0, 20,
       2000, true);
  link("blade_wire", "wire from seat to blade switch", "seat_switch.out", "blade_switch.in", "sense", 5, 1, 0, 20, 2000,
       true);
  link("brake_wire", "wire from blade to brake switch", "blade_switch.out", "brake_switch.in", "sense", 4, 1, 0, 20,
       2000, true);
  link("chain_earth", "earth of the brake switch", "brake_switch.contact", "earth", "earth", 3, 0, 0, 20, 2000, true);
}

}  // namespace lostspark::flywheel_magneto
