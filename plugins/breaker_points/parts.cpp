// Parameters, components, terminals, elements and links. Medians: engineering judgement, common practice, no source;
// coil and condenser near those of the simulation decks. Shares per 1000 ignition complaints: judgement.
#include "blocks/high_tension.hpp"
#include "family.hpp"

namespace lostspark::breaker_points {

blocks::SupplySettings supply_settings() {
  blocks::SupplySettings s;
  s.battery_share = 55;
  s.no_charge_share = 16;
  s.shorted_diode_share = 6;
  s.overcharge_share = 4;
  s.winding_share = 10;
  return s;
}

namespace {

using blocks::PartWriter;

/// Coil, points and condenser of one circuit.
void circuit(PartWriter& p, const Options& o, int c) {
  const auto s = o.of_circuit(c);
  const auto id = [&](const char* stem) { return stem + s; };
  p.parameter(id("primary_henry"), "henry", o.ballast ? 4e-3 : 7e-3, 0.04, "coil primary");
  p.parameter(id("primary_ohm"), "ohm", o.ballast ? 1.6 : 3.4, 0.04, "coil primary at 20 celsius");
  p.parameter(id("turns_ratio_one"), "one", 90, 0.06, "secondary over primary turns");
  p.parameter(id("secondary_ohm"), "ohm", 8000, 0, "coil secondary as the spark sees it");
  p.parameter(id("secondary_meter_ohm"), "ohm", 8000, 0.04, "coil secondary as an ohmmeter sees it, breaks included");
  p.parameter(id("secondary_leak_ohm"), "ohm", 1e10, 0, "leak across the secondary: insulation, tracking");
  p.parameter(id("secondary_break_volt"), "volt", 1, 0, "gap inside a burnt secondary, added to the demand");
  p.part(id("ignition_coil"), "ignition coil", "PRI", 3);
  p.terminal(id("ignition_coil"), "supply", "15", "coil supply");
  p.terminal(id("ignition_coil"), "primary", "1", "coil primary, points side");
  p.terminal(id("ignition_coil"), "ht", "4", "coil high tension");
  p.ohm(id("primary_winding"), id("ignition_coil") + ".supply", id("ignition_coil") + ".primary", id("primary_ohm"));
  p.ohm(id("secondary_winding"), id("ignition_coil") + ".ht", id("ignition_coil") + ".supply",
        id("secondary_meter_ohm"), LS_IN_OHM_TESTS);

  p.parameter(id("points_ohm"), "ohm", 0.04, 0.35, "closed points, over their faces");
  p.parameter(id("points_position_ohm"), "ohm", 1e9, 0, "points as the engine stands: open; closed by a state");
  p.parameter(id("points_insulation_ohm"), "ohm", 1e9, 0,
              "across the points whatever they do: insulating washer, no gap");
  p.parameter(id("points_gap_one"), "one", 1, 0.05, "greatest opening of the points against what is right");
  p.parameter(id("dwell_degree"), "degree",
              o.distributor ? (o.cylinders > 6   ? 33.0
                               : o.cylinders > 4 ? 40.0
                                                 : 55.0)
                            : 98,
              0.03, "dwell of the points, degrees of the cam");
  p.parameter(id("condenser_farad"), "farad", 0.25e-6, 0.06, "condenser");
  p.parameter(id("condenser_leak_ohm"), "ohm", 1e9, 0, "leak of the condenser");
  p.parameter(id("timing_shift_degree"), "degree", 1, 0,
              "ignition timing error, crank degrees; moves no electrical reading");
  p.part(id("breaker_points"), "breaker points", "TRG", 2);
  p.terminal(id("breaker_points"), "moving", "1", "moving point, its terminal");
  p.terminal(id("breaker_points"), "contact", "", "inside");
  p.part(id("condenser"), "condenser", "TRG", 1);
  p.ohm(id("points_contact"), id("breaker_points") + ".moving", id("breaker_points") + ".contact", id("points_ohm"));
  p.ohm(id("points_position"), id("breaker_points") + ".contact", "points_plate.plate", id("points_position_ohm"));
  p.ohm(id("points_insulation"), id("breaker_points") + ".moving", "points_plate.plate", id("points_insulation_ohm"));
  p.ohm(id("condenser_leak"), id("breaker_points") + ".moving", "points_plate.plate", id("condenser_leak_ohm"));

  // What set-ups bring along: off until then.
  p.parameter(id("load_lamp_ohm"), "ohm", 1e9, 0, "load lamp from the coil's supply to the engine");
  p.parameter(id("supply_lead_ohm"), "ohm", 1e9, 0, "fused lead from the battery to the coil's supply");
  p.ohm(id("load_lamp"), id("ignition_coil") + ".supply", "earth", id("load_lamp_ohm"));
  p.ohm(id("supply_lead"), "battery.plus", id("ignition_coil") + ".supply", id("supply_lead_ohm"));
  p.ohm(id("loom_leak"), id("ignition_coil") + ".primary", "earth", "loom_leak_ohm");
}

void distributor(PartWriter& p) {
  p.parameter("king_ohm", "ohm", 1, 0.05, "king lead");
  p.parameter("king_break_volt", "volt", 1, 0, "gap in a broken king lead, added to the demand");
  p.parameter("king_flash_volt", "volt", 60e3, 0, "where the king lead's insulation flashes over");
  p.parameter("distributor_break_volt", "volt", 1, 0, "burnt segments, missing brush: added to the demand");
  p.parameter("distributor_flash_volt", "volt", 60e3, 0, "where the distributor cap flashes over");
  p.parameter("rotor_gap_volt", "volt", 1200, 0.1, "gap between rotor and segment, added to the demand");
  p.parameter("rotor_flash_volt", "volt", 60e3, 0, "where the rotor flashes over to its shaft");
  p.part("king_lead", "king lead", "SEC", 1);
  p.terminal("king_lead", "coil_end", "4", "king lead, coil end");
  p.terminal("king_lead", "cap_end", "4", "king lead, distributor end");
  p.ohm("king_conductor", "king_lead.coil_end", "king_lead.cap_end", "king_ohm", LS_IN_OHM_TESTS);
  p.part("distributor_cap", "distributor cap", "SEC", 2);
  p.part("rotor", "rotor", "SEC", 1);
  p.part("lead_order", "order of the plug leads", "TIM", 1);
}

}  // namespace

void add_parts(plugin::Tables& t, const Options& o) {
  PartWriter p(t);
  p.parameter("cranking_speed_rpm", "rpm", 280, 0.10,
              "crank speed while cranking, the same at every reading of one crank", 0.05);
  blocks::add_supply(t, supply_settings(), "cranking_speed_rpm");
  blocks::add_supply_line(t, {.fuse_share = 6, .fuse_holder_share = 6, .key_share = 10, .stop_share = 10});
  if (o.ballast) {
    p.parameter("ballast_ohm", "ohm", 1.5, 0.05, "ballast resistor");
    p.parameter("ballast_bypass_ohm", "ohm", 1e9, 0, "bypass of the ballast: open until the starter turns");
    p.parameter("ballast_bypass_wire_ohm", "ohm", 0.02, 0, "its wire and contact");
    p.part("ballast", "ballast resistor", "CON", 2);
    p.terminal("ballast", "in", "15", "switch side");
    p.terminal("ballast", "bypass", "", "inside");
    p.terminal("ballast", "out", "15a", "coil side");
    p.ohm("ballast_resistor", "ballast.in", "ballast.out", "ballast_ohm");
    p.ohm("ballast_bypass", "ballast.in", "ballast.bypass", "ballast_bypass_ohm");
    p.ohm("ballast_bypass_wire", "ballast.bypass", "ballast.out", "ballast_bypass_wire_ohm");
  }
  p.parameter("coupling_one", "one", 0.97, 0, "coupling of the coil's windings");
  p.parameter("coil_celsius", "celsius", 20, 0.3, "temperature of the coils' copper when they are measured");
  p.parameter("meter_rise_second", "second", 1e-6, 0, "response of the peak meter, time constant of one pole");
  p.parameter("loom_leak_ohm", "ohm", 1e9, 0, "chewed or tapped loom: leak of the coils' wires to metal");
  p.part("points_plate", "base plate of the points", "CON", 1);
  p.terminal("points_plate", "plate", "31", "base plate");
  p.part("wiring_loom", "wiring loom, whole run", "CON", 2);
  for (int c = 1; c <= o.circuits(); ++c) circuit(p, o, c);
  for (int n = 1; n <= o.cylinders; ++n) blocks::add_high_tension(t, {.suffix = o.of_cylinder(n), .demand_volt = 6000});
  if (o.distributor) distributor(p);
  p.part("points_cam", o.distributor ? "distributor shaft and bush" : "points cam and its bush", "TIM", 3);
  p.part("advance_unit", "advance unit", "TIM", 3);
  p.part("operator_state", ("key or " + o.cut_off() + " left off").c_str(), "INH", 1, true, LS_COMPONENT_OPERATOR);

  const auto elsewhere = [&](const char* id, const char* title, const char* group, int price) {
    p.part(id, title, group, price, false, LS_COMPONENT_ELSEWHERE);
  };
  elsewhere("fuel", "fuel supply", "FUE", 2);
  elsewhere("compression", "compression and valves", "CMP", 5);
  elsewhere("air", "air filter, leaks, exhaust", "AIR", 2);
  elsewhere("other", "starter, fuel tap, choke, other", "OTH", 2);
}

// Battery terminals (33): half on each post's cable. Key switch or fuse box (26): four on their wires; kill switch
// (13): three on its wire. What hangs on one cylinder is split over the cylinders.
void add_links(plugin::Tables& t, const Options& o) {
  const auto link = [&](const std::string& id, const char* title, const std::string& from, const std::string& to,
                        const char* carries, double corroded, double open, double chafed, double mild, double severe,
                        bool stops = false) {
    t.add(ls_link_v1{id.c_str(), title, from.c_str(), to.c_str(), carries, "CON", corroded, open, chafed, mild, severe,
                     20, 0.2, stops ? 1 : 0});
  };
  link("battery_plus", "battery cable", "battery.plus", "starter.battery", "supply", 17, 0, 0, 0.01, 0.3);
  link("battery_minus", "battery earth cable", "battery.minus", "earth", "earth", 16, 0, 0, 0.01, 0.3);
  link("main_feed", "main supply wire", "starter.battery", "main_fuse.in", "supply", 0, 0, 0, 0.2, 10);
  link("key_feed", "supply wire to the key", "main_fuse.out", "key_switch.in", "supply", 4, 0, 0, 0.2, 10, true);
  link("stop_feed", ("wire from key to " + o.cut_off()).c_str(), "key_switch.out", "stop_switch.in", "supply", 3, 0, 0, 0.2, 10,
       true);
  if (o.ballast)
    link("ballast_feed", ("wire from " + o.cut_off() + " to ballast").c_str(), "stop_switch.out", "ballast.in", "supply", 0, 0, 0, 0.2, 10,
         true);
  const double n = o.circuits();
  for (int c = 1; c <= o.circuits(); ++c) {
    const auto s = o.of_circuit(c);
    link("coil_supply" + s, "coil supply wire", o.feed(), "ignition_coil" + s + ".supply", "supply", 15 / n, 5 / n, 0,
         0.3, 15);
    link("points_lead" + s, "points lead", "ignition_coil" + s + ".primary", "breaker_points" + s + ".moving", "energy",
         6 / n, 10 / n, 4 / n, 0.3, 30);
  }
  link("plate_earth", "earth of the points plate", "points_plate.plate", "earth", "earth", 12, 0, 0, 0.2, 20);
}

}  // namespace lostspark::breaker_points
