#include "supply.hpp"

#include <string>

namespace lostspark::blocks {

double battery_rest_volt(double state_of_charge) { return 11.75 + 0.95 * state_of_charge; }
double battery_ohm(double state_of_charge, double fresh_ohm, double wear) {
  return fresh_ohm * wear * (1 + 1.5 * (1 - state_of_charge) * (1 - state_of_charge));
}

void add_supply(plugin::Tables& t, const SupplySettings& s, const char* speed) {
  PartWriter p(t);
  const double emf = battery_rest_volt(s.state_of_charge), ohm = battery_ohm(s.state_of_charge, s.fresh_ohm);
  p.parameter("battery_emf_volt", "volt", emf, 0.008, "battery at rest: state of charge");
  p.parameter("battery_ohm", "ohm", ohm, 0.2, "battery's internal resistance");
  p.parameter("starter_ohm", "ohm", s.starter_ohm, 0.15, "starter while it turns the engine");
  p.parameter("starter_switch_ohm", "ohm", 1e9, 0, "starter relay's contact, open; closed while cranking");
  p.parameter("charge_emf_volt", "volt", s.charge_volt, 0.01, "what the regulator holds");
  p.parameter("charge_ohm", "ohm", 1e9, 0, "regulator into the battery: open until the engine runs");

  p.part("battery", "battery", "SRC", 3);
  p.terminal("battery", "plus", "30", "plus post");
  p.terminal("battery", "minus", "31", "minus post");
  p.source("battery_cells", "battery.plus", "battery.minus", "battery_emf_volt", "battery_ohm");
  p.part("starter", "starter relay and starter", "OTH", 3);
  p.terminal("starter", "battery", "30", "stud of the battery cable");
  p.terminal("starter", "motor", "", "cable to the motor");
  p.ohm("starter_switch", "starter.battery", "starter.motor", "starter_switch_ohm");
  p.ohm("starter_motor", "starter.motor", "earth", "starter_ohm");
  p.part("regulator", "regulator/rectifier", "SRC", 3);
  p.part("stator", "charging winding", "SRC", 4);
  p.source("charging", "starter.battery", "earth", "charge_emf_volt", "charge_ohm");

  // A discharged battery from 60 % to 3 % of its charge, the lower the more worn.
  const double low = battery_rest_volt(0.03) / emf, high = battery_rest_volt(0.6) / emf;
  const double more = battery_ohm(0.6, s.fresh_ohm, 1.1) / ohm, most = battery_ohm(0.03, s.fresh_ohm, 4) / ohm;
  const std::string rpm = speed;
  ModeWriter w(t);
  w.of("battery");
  w.repair("renew", "charge and load-test the battery, replace it where it fails", "replace", 20, 0.93, 3);
  if (rpm.empty())
    w.mode("discharged", "discharged or worn", "renew", s.battery_share, k_constant,
           {scale("battery_emf_volt", high, low), scale("battery_ohm", more, most)},
           "too little charge or too much resistance: volts collapse under the starter's current");
  else
    w.mode("discharged", "discharged or worn", "renew", s.battery_share, k_constant,
           {scale("battery_emf_volt", high, low), scale("battery_ohm", more, most), scale(rpm, 0.97, 0.45)},
           "too little charge or too much resistance: volts collapse under the starter's current");

  // What does not charge leaves a battery that is run down: one cause, two changes.
  w.of("regulator");
  w.repair("replace", "replace the regulator/rectifier, charge the battery", "replace", 12, 0.95, 3);
  w.mode("no_charge", "charges too little or not at all", "replace", s.no_charge_share, mostly(k_hot),
         {{"charge_ohm", 2, 1e9}, scale("battery_emf_volt", high, low), scale("battery_ohm", 1.05, 2)},
         "the battery is never refilled and runs down");
  w.mode("shorted_diode", "a diode shorted", "replace", s.shorted_diode_share, k_constant,
         {{"charge_ohm", 0.6, 5},
          scale("charge_emf_volt", 0.93, 0.86),
          scale("battery_emf_volt", high, low),
          scale("battery_ohm", 1.05, 2)},
         "one phase is shorted: little charge, and the battery runs down");
  w.mode("overcharges", "overcharges", "replace", s.overcharge_share, seen(0.8, 1, k_loaded),
         {scale("charge_emf_volt", 1.06, 1.3), scale("battery_ohm", 1.05, 1.5)},
         "nothing holds the volts down: the battery boils, lamps burn out");
  w.of("stator");
  w.repair("replace", "replace or rewind the charging winding, charge the battery", "replace", 60, 0.95, 4);
  w.mode("open_or_shorted", "a phase open or shorted", "replace", s.winding_share, mostly(k_hot),
         {{"charge_ohm", 0.5, 1e9}, scale("battery_emf_volt", high, low), scale("battery_ohm", 1.05, 2)},
         "a phase is missing: little or no charge, and the battery runs down");
}

void add_supply_states(plugin::Tables& t, const SupplySettings& s) {
  effect(t, "condition:key_off", LS_SET_PARAMETER, "key_position_ohm", 1e9);
  effect(t, "condition:cranking", LS_SET_PARAMETER, "starter_switch_ohm", 1e-3);
  effect(t, "condition:idle", LS_SET_PARAMETER, "charge_ohm", s.charge_ohm);
}

namespace {

void add_run_switch(PartWriter& p, ModeWriter& w, double share) {
  p.part("stop_switch", "run/stop switch", "INH", 2, true);
  p.terminal("stop_switch", "in", "15", "key side");
  p.terminal("stop_switch", "contact", "", "inside");
  p.terminal("stop_switch", "out", "15", "load side");
  p.parameter("stop_switch_ohm", "ohm", 0.02, 0.3, "contact of the run/stop switch in RUN");
  p.parameter("stop_position_ohm", "ohm", 1e-3, 0, "RUN; open when set to stop");
  p.parameter("stop_weld_ohm", "ohm", 1e9, 0, "past the contact when set to stop");
  p.ohm("stop_contact", "stop_switch.in", "stop_switch.contact", "stop_switch_ohm");
  p.ohm("stop_position", "stop_switch.contact", "stop_switch.out", "stop_position_ohm");
  p.ohm("stop_weld", "stop_switch.in", "stop_switch.out", "stop_weld_ohm");
  w.of("stop_switch");
  w.repair("clean", "dry, clean and seal the run/stop switch", "clean", 12, 0.85, 1);
  w.repair("replace", "replace the run/stop switch", "replace", 12, 0.95, 2);
  w.mode("dirty", "open or dirty", "clean", share, mostly(k_wet), {{"stop_switch_ohm", 0.3, 3e4}},
         "green contact in RUN: the ignition gets too little or nothing");
  // Not among the complaints of the share table (they are about missing sparks): a switch that no longer stops.
  w.mode("never_opens", "never opens, cannot stop the engine", "replace", 2, k_constant, {{"stop_weld_ohm", 5, 0.05}},
         "the contact is welded or bridged: STOP does nothing");
}

}  // namespace

void add_supply_line(plugin::Tables& t, const SupplyLineSettings& s) {
  PartWriter p(t);
  ModeWriter w(t);
  p.contact("main_fuse", "main fuse and holder", "CON", 1, false, "30", "30", "fuse_ohm", 0.01);
  w.of("main_fuse");
  w.repair("replace", "find the short, replace the fuse", "replace", 10, 0.9, 1);
  w.repair("clean", "clean the fuse holder", "clean", 10, 0.92, 1);
  w.mode("blown", "blown", "replace", s.fuse_share, k_constant, {{"fuse_ohm", 1e11, 1e11}},
         "a short or age has opened it: nothing behind it has volts");
  w.mode("holder_corroded", "holder corroded", "clean", s.fuse_holder_share, mostly(k_shaken), {{"fuse_ohm", 0.1, 10}},
         "green or loose clips: volts are there until current flows");

  p.part("key_switch", "key switch", "INH", 2, true);
  p.terminal("key_switch", "in", "30", "battery side");
  p.terminal("key_switch", "contact", "", "inside");
  p.terminal("key_switch", "out", "15", "ignition side");
  p.parameter("key_switch_ohm", "ohm", 0.02, 0.3, "contact of the key switch");
  p.parameter("key_position_ohm", "ohm", 1e-3, 0, "key ON; open with the key off");
  p.parameter("lighting_ohm", "ohm", s.lighting_ohm, 0.1, "tail lamp and instruments");
  p.ohm("key_contact", "key_switch.in", "key_switch.contact", "key_switch_ohm");
  p.ohm("key_position", "key_switch.contact", "key_switch.out", "key_position_ohm");
  p.ohm("lighting", "key_switch.out", "earth", "lighting_ohm");
  w.of("key_switch");
  w.repair("replace", "clean or replace the key switch", "replace", 20, 0.95, 2);
  w.mode("worn", "contact worn, high resistance", "replace", s.key_share, seen(0.6, 0.9, k_shaken | k_steering),
         {{"key_switch_ohm", 0.2, 50}}, "burnt or loose contact: volts fall as soon as current flows");

  if (s.run_switch) add_run_switch(p, w, s.stop_share);
  if (!s.alarm) return;
  p.contact("alarm_splice", "alarm splice", "CON", 2, true, "15", "15", "alarm_ohm", 0.02);
  w.of("alarm_splice");
  w.repair("mend", "take the alarm out by its procedure, repair the splice", "adjust", 30, 0.93, 2);
  w.mode("cuts_supply", "cuts the supply", "mend", s.alarm_share, seen(0.5, 0.9, k_shaken), {{"alarm_ohm", 1, 1e7}},
         "a crimp or the alarm's relay interrupts what it was spliced into");
}

}  // namespace lostspark::blocks
