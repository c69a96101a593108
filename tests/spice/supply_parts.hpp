// Battery, starter, charging and the line behind the fuse as values, and their lines in a deck.
#pragma once

#include "spice/deck.hpp"

namespace lostspark::spice {

struct SupplyParts {
  double battery_volt = 12.6, battery_ohm = 0.022;
  double starter_ohm = 0.125, starter_switch_ohm = 1e9;
  double charge_volt = 14.3, charge_ohm = 1e9;
  double fuse_ohm = 0.01, key_ohm = 0.02, key_position_ohm = 1e-3, lighting_ohm = 14;
  double stop_ohm = 0.02, stop_position_ohm = 1e-3, stop_weld_ohm = 1e9, stop_lead_ohm = 1e9;
};

/// Battery and charging as sources.
void add_battery(Deck&, const SupplyParts&);
/// The same as an ohmmeter finds them.
void add_battery_resistances(Deck&, const SupplyParts&);
/// Starter, fuse, key, lighting, run/stop switch: the same in both kinds of deck.
void add_supply_line(Deck&, const SupplyParts&);

}  // namespace lostspark::spice
