#include "spice/supply_parts.hpp"

#include <fmt/format.h>

namespace lostspark::spice {

void add_battery(Deck& deck, const SupplyParts& p) {
  deck.line(fmt::format("Vcells cells {} {}", Deck::node("battery.minus"), Deck::number(p.battery_volt)));
  deck.line(fmt::format("Rcells cells {} {}", Deck::node("battery.plus"), Deck::number(p.battery_ohm)));
  deck.line(fmt::format("Vcharge charge 0 {}", Deck::number(p.charge_volt)));
  deck.line(fmt::format("Rcharge charge {} {}", Deck::node("starter.battery"), Deck::number(p.charge_ohm)));
}

void add_battery_resistances(Deck& deck, const SupplyParts& p) {
  deck.resistor("cells", "battery.plus", "battery.minus", p.battery_ohm);
  deck.resistor("charge", "starter.battery", "earth", p.charge_ohm);
}

void add_supply_line(Deck& deck, const SupplyParts& p) {
  deck.resistor("starter_switch", "starter.battery", "starter.motor", p.starter_switch_ohm);
  deck.resistor("starter_motor", "starter.motor", "earth", p.starter_ohm);
  deck.resistor("fuse", "main_fuse.in", "main_fuse.out", p.fuse_ohm);
  deck.resistor("key", "key_switch.in", "key_switch.out", p.key_ohm + p.key_position_ohm);
  deck.resistor("lighting", "key_switch.out", "earth", p.lighting_ohm);
  deck.resistor("stop", "stop_switch.in", "stop_switch.out", p.stop_ohm + p.stop_position_ohm);
  deck.resistor("stop_weld", "stop_switch.in", "stop_switch.out", p.stop_weld_ohm);
  deck.resistor("stop_lead", "stop_switch.in", "stop_switch.out", p.stop_lead_ohm);
}

}  // namespace lostspark::spice
