// Battery, cranking load, charging and the line that feeds the ignition: only parts and linear elements. The host's one
// network makes volts of them, so a weak battery, a corroded post and a bad engine strap need no rule of their own.
#pragma once

#include "tables.hpp"

namespace lostspark::blocks {

/// Volts of a resting 12 V lead-acid battery (six cells) at a state of charge 0..1: 11.75 + 0.95 x, so 12.7 full, 12.46
/// at 75 %, 11.99 at 25 %. Common practice, no source.
double battery_rest_volt(double state_of_charge);
/// Its resistance: `fresh_ohm` when full and new; a third of the charge left doubles it, a worn one multiplies it.
double battery_ohm(double state_of_charge, double fresh_ohm, double wear = 1);

struct SupplySettings {
  double state_of_charge = 0.9;
  double fresh_ohm = 0.022;    ///< battery and its own lugs
  double starter_ohm = 0.125;  ///< the starter turning a sound engine: 80 A at 10.3 V
  double charge_volt = 14.3;   ///< regulator's
  double charge_ohm = 2e-3;    ///< stiff: it holds its volts against what the battery takes
  // Shares per 1000 ignition complaints of the family.
  double battery_share = 0, no_charge_share = 0, shorted_diode_share = 0, overcharge_share = 0, winding_share = 0;
};

/// Components battery (plus, minus), starter (battery: the stud on the battery side), regulator, stator. Parameters
/// battery_emf_volt, battery_ohm, starter_ohm, starter_switch_ohm, charge_emf_volt, charge_ohm ... and the modes of
/// all. `speed`: parameter of the cranking speed, which a weak battery lowers ("" : none).
void add_supply(plugin::Tables& t, const SupplySettings& settings, const char* speed);

/// What the states do to it: key off opens `key_position_ohm`, cranking closes the starter, running charges.
void add_supply_states(plugin::Tables& t, const SupplySettings& settings);

struct SupplyLineSettings {
  double fuse_share = 0, fuse_holder_share = 0, key_share = 0, stop_share = 0, alarm_share = 0;
  bool alarm = false;
  bool run_switch = true;
  double lighting_ohm = 14;  ///< what burns with the key on: tail lamp, instruments (10 W)
};
/// Main fuse, key switch, run/stop switch, alarm splice (those that are there): contacts in series, each with in
/// (supply) and out (load). Terminal key_switch.contact lies between its contact and its position (opened by key off);
/// lighting hangs on its out.
void add_supply_line(plugin::Tables& t, const SupplyLineSettings& settings);

}  // namespace lostspark::blocks
