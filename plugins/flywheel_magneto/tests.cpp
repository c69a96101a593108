// Conditions, set-ups and test kinds. Ranges, scatter and minutes: common practice and judgement, no source.
#include "blocks/spark_plug.hpp"
#include "blocks/spark_tests.hpp"
#include "blocks/supply_tests.hpp"
#include "family.hpp"

namespace lostspark::flywheel_magneto {
namespace {

constexpr const char* k_cranking = "S01 S02 S03 S04 S11 S12 S19 S22";  // every measurement while the engine turns
constexpr const char* k_sparking = "S01 S02 S03 S04 S09 S12 S19 S22";
constexpr double k_gap_volt = 8e3;

void set(plugin::Tables& t, const char* owner, const std::string& parameter, double value) {
  blocks::effect(t, owner, LS_SET_PARAMETER, parameter.c_str(), value);
}
void open(plugin::Tables& t, const char* owner, const std::string& terminal) {
  blocks::effect(t, owner, LS_OPEN_TERMINAL, terminal.c_str(), 1);
}

}  // namespace

void add_conditions(plugin::Tables& t, const Options& o) {
  t.add(ls_condition_v1{"key_off", "state", "engine off", "",
                        "engine stopped, key off where there is one, plug lead off the plug", 0, LS_NEEDS_ENGINE_OFF});
  if (o.points)
    t.add(ls_condition_v1{"points_closed", "state", "engine off, points closed", "",
                          "plug lead off the plug; turn the engine by hand until the points are closed", 1,
                          LS_NEEDS_ENGINE_OFF});
  if (o.interlock)
    t.add(ls_condition_v1{"key_run", "state", "key in RUN, engine still", "",
                          "plug lead off the plug; key in RUN, seat loaded, blade off, brake set; do not crank", 1,
                          LS_NEEDS_ENGINE_OFF});
  t.add(ls_condition_v1{"cranking", "state", "cranking", "",
                        o.starter()
                            ? "blade off, brake set, fuel off, seat loaded or its switch held closed; instrument "
                              "connected with the engine still; crank 3 to 5 seconds"
                            : "blade clear of everything, fuel off, stop lever held; instrument connected with the "
                              "engine still; three brisk pulls",
                        1, LS_NEEDS_CRANK});
  t.add(ls_condition_v1{"idle", "state", "running", "",
                        o.starter() ? "start the engine, blade off, brake set; hold it at half speed"
                                    : "start the engine and let it run at half speed",
                        3, LS_NEEDS_RUNNING});
  blocks::add_provocations(t, blocks::Steering::none, "read again after working with it under load");
  if (o.points) set(t, "condition:points_closed", "points_position_ohm", 1e-3);
  if (o.interlock) set(t, "condition:key_off", "key_position_ohm", 1e9);
  if (o.starter()) {
    set(t, "condition:cranking", "starter_switch_ohm", 1e-3);
    set(t, "condition:idle", "charge_ohm", supply_settings().charge_ohm);
  }
  // Running: the starting gear counts no more.
  set(t, "condition:idle", "running_speed_rpm", 1800);
  blocks::effect(t, "condition:idle", LS_SCALE_PARAMETER, "cranking_speed_rpm", 1e-3);
  blocks::effect(t, "condition:idle", LS_SCALE_PARAMETER, "demand_volt", 1.2);

  t.add(ls_setup_v1{"kill_unplugged", "kill wire off the coil",
                    o.points
                        ? "unplug the kill wire where it leaves the engine; nothing but the fuel or the choke stops "
                          "the engine now"
                        : "pull the kill wire off the module's terminal, bend it clear; nothing but the fuel or "
                          "the choke stops the engine now",
                    "", 1, 1});
  open(t, "setup:kill_unplugged", o.coil() + ".kill");
  if (o.interlock) {
    t.add(ls_setup_v1{"relay_unplugged", "interlock relay unplugged",
                      "pull the interlock relay out of its socket; blade off: nothing guards the operator now", "", 1,
                      1});
    open(t, "setup:relay_unplugged", "interlock_relay.kill");
    t.add(ls_setup_v1{"chain_bridged", "switch circuit of the relay bridged to earth",
                      "lead from the switch side of the relay's coil to bare engine metal; blade off: nothing guards "
                      "the operator now",
                      "", 1.5, 0});
    set(t, "setup:chain_bridged", "chain_lead_ohm", 0.05);
    for (const char* owner : {"setup:kill_unplugged", "setup:relay_unplugged"})
      set(t, owner, "relay_hold_ampere", 1e-15);  // whatever it does, it earths nothing now
  }
  t.add(ls_setup_v1{"stop_pressed",
                    o.stop == "lever" ? "stop lever let go"
                    : o.stop == "key" ? "key turned off"
                                      : "kill switch held in stop",
                    o.stop == "lever" ? "let the stop lever go"
                    : o.stop == "key" ? "turn the key off"
                                      : "hold the kill switch in stop",
                    "", 0.3, 0});
  set(t, "setup:stop_pressed", o.stopper() + "_ohm", 1e-3);
  t.add(ls_setup_v1{
      "gap_tester", "gap tester at the plug's end",
      "cap or boot off the plug and onto the gap tester, tester earthed to the engine, away from the plug hole; "
      "set to 8 kilovolt (about 7 mm between points in air)",
      "gap_tester", 1.5, 0});
  blocks::add_gap_tester_effects(t, "setup:gap_tester", k_gap_volt);
  if (!o.points) return;
  t.add(
      ls_setup_v1{"condenser_substituted", "known good condenser clipped on",
                  "lead of the fitted condenser off; a known good one clipped from the points' terminal to the engine, "
                  "its leads out past the flywheel; refit the old one afterwards",
                  "", 6, 0});
  set(t, "setup:condenser_substituted", "switch_farad", 0.2e-6);
  set(t, "setup:condenser_substituted", "condenser_leak_ohm", 1e9);
}

namespace {

void kill_tests(plugin::Tables& t, const Options& o) {
  auto peak =
      blocks::steady_volts("kill_peak", o.points ? "peak on the primary and its kill wire" : "peak on the kill wire",
                           "kill_wire", "cranking");
  const auto live = o.live();
  peak.source = "peak";
  peak.dead_below = live.c_str();
  peak.setups = "|kill_unplugged";
  peak.instrument = "peak_voltmeter";
  peak.log_sd = 0.10;
  peak.minutes = 3;
  peak.hook_up = o.starter()
                     ? "peak meter from the kill wire to bare engine metal, positive peaks; clear the hold, crank "
                       "3 seconds"
                     : "peak meter from the kill wire to bare engine metal, positive peaks; clear the hold, keep "
                       "the highest of three pulls; note the speed beside it";
  peak.low_means = o.points ? "condenser, weak magnets, air gap, dirty points, a leak on the kill wire"
                            : "a leak on the kill wire; a sound module shows its full volts even with a weak magnet";
  peak.zero_means = o.points ? "kill wire earthed, points never open, condenser shorted, no current"
                             : "kill wire earthed, engine too slow, air gap, module";
  peak.high_means = o.points ? "open lead or wide gap; with an open condenser a spike of microseconds, and no spark"
                             : "no fault of the ignition";
  peak.cautions = k_cranking;
  t.add(peak);

  const auto wire = o.stopper() + ".lead";
  const std::string guard = o.interlock ? " relay_unplugged" : "";
  const auto run = "kill_unplugged" + guard, stopped = "kill_unplugged" + guard + " stop_pressed";
  const std::string volts =
      "kill wire off the coil; FIRST a voltmeter, key in RUN: 0 volt, or the switch is wrong and no "
      "coil or module may be connected; then ohms to bare engine metal, ";
  const auto in_run =
      volts + (o.interlock ? "interlock relay out of its socket, key in RUN" : "everything in run position");
  const auto in_stop = volts + "set to stop";
  auto lead =
      blocks::unplugged_ohms("kill_lead_ohm", "kill wire to earth, in run position", wire.c_str(), "earth", 0.05);
  lead.setups = run.c_str();
  lead.minutes = 3;
  lead.hook_up = in_run.c_str();
  lead.low_means = "damp switch, chafed wire";
  lead.zero_means = "switch or wire earthed";
  lead.cautions = "S10 S13 S23";
  t.add(lead);
  auto off =
      blocks::unplugged_ohms("kill_lead_off_ohm", "kill wire to earth, set to stop", wire.c_str(), "earth", 0.10);
  off.setups = stopped.c_str();
  off.minutes = 2;
  off.hook_up = in_stop.c_str();
  off.high_means = "nothing earths the wire: UNSAFE, the engine cannot be stopped";
  off.cautions = "S10 S13 S23";
  t.add(off);
}

void coil_tests(plugin::Tables& t, const Options& o) {
  const auto c = o.coil();
  const auto high = c + ".ht", core = c + ".core";
  auto secondary = blocks::unplugged_ohms("secondary_ohm", "secondary resistance", high.c_str(), core.c_str(), 0.05);
  secondary.hook_up =
      "boot or lead off, ohmmeter from the lead's end to the core's screws; take the boot's resistor off";
  secondary.low_means = "shorted turns";
  secondary.high_means = "open winding or lead";
  t.add(secondary);
  const auto live = o.live();
  auto lift = blocks::steady_volts("core_lift", "earth of the core while cranking", "core_earth", "cranking");
  lift.source = "passage";
  lift.instrument = "peak_voltmeter";
  lift.log_sd = 0.15;
  lift.minutes = 3;
  lift.hook_up = "peak meter set to negative peaks, from the core's own tag to bare engine metal";
  lift.high_means = "over 0.5 volt: rust under the core or its screws";
  lift.cautions = k_cranking;
  if (!o.points) return;  // a module's core is its screws
  t.add(lift);
  auto primary =
      blocks::unplugged_ohms("primary_ohm", "primary resistance", "ignition_coil.primary", "ignition_coil.core", 0.05);
  primary.hook_up =
      "points wire and kill wire off the coil; short the leads first and take them off: the value is below "
      "an ohm";
  primary.low_means = "shorted turns (seldom seen this way)";
  primary.high_means = "open, or the wrong coil";
  t.add(primary);
  auto closed = blocks::unplugged_ohms("points_ohm_closed", "points, closed", "breaker_points.moving",
                                       "points_plate.plate", 0.05);
  closed.condition = "points_closed";
  closed.hook_up = "points wire off, points closed: ohmmeter over them, leads shorted first and taken off";
  closed.high_means = "dirty, oily or burnt faces; no reading: they do not close";
  t.add(closed);
  auto opened =
      blocks::unplugged_ohms("points_ohm_open", "points, open", "breaker_points.moving", "points_plate.plate", 0.05);
  opened.hook_up = "points wire off, points open: ohmmeter from their terminal to the base plate";
  opened.low_means = "leaking condenser: take its lead off and read again";
  opened.zero_means = "condenser shorted, insulating washer or wire to earth, points never open";
  t.add(opened);
}

void interlock_tests(plugin::Tables& t) {
  constexpr const char* k_key_on = "S12 S13 S16";
  struct Point {
    const char *id, *title, *link;
  };
  for (const auto& part : {Point{"key_supply", "supply before the key", "key_feed"},
                           Point{"relay_supply", "supply of the interlock relay", "relay_feed"}}) {
    auto k = blocks::steady_volts(part.id, part.title, part.link, "key_run");
    k.hook_up = "back-probe, black lead on bare engine metal, relay in its socket";
    k.low_means = "a joint before it, or a flat battery";
    k.zero_means = "open before this point: key, wire";
    k.cautions = k_key_on;
    t.add(k);
  }
  for (const auto& part : {Point{"chain_relay", "switch circuit between relay and seat", "seat_wire"},
                           Point{"chain_blade", "switch circuit between seat and blade", "blade_wire"},
                           Point{"chain_brake", "switch circuit between blade and brake", "brake_wire"},
                           Point{"chain_earth_volts", "switch circuit behind the brake", "chain_earth"}}) {
    auto k = blocks::steady_volts(part.id, part.title, part.link, "key_run");
    k.log_sd = 0.02;
    k.hook_up =
        "back-probe, black lead on bare engine metal: next to nothing is right, battery volts lie before what is "
        "open";
    k.high_means = "open or corroded between here and earth";
    k.cautions = k_key_on;
    t.add(k);
  }
  const auto ohms = [&](const char* id, const char* title, const char* part, const char* how) {
    const auto in = std::string(part) + ".in", out = std::string(part) + ".out";
    auto k = blocks::unplugged_ohms(id, title, in.c_str(), out.c_str(), 0.10);
    k.minutes = 3;
    k.hook_up = how;
    k.high_means = "open, wet or out of adjustment: operate it and see that it changes fully";
    t.add(k);
  };
  ohms("seat_switch_ohm", "seat switch, seat loaded", "seat_switch", "its plug off, sit down, rise, sit down again");
  ohms("blade_switch_ohm", "blade switch, blade off", "blade_switch", "its plug off, blade off, on, off again");
  ohms("brake_switch_ohm", "brake switch, brake set", "brake_switch", "its plug off, brake set, free, set again");
}

void spark_tests(plugin::Tables& t, const Options& o) {
  blocks::SparkTestSettings s;
  s.live = o.live();
  s.setups = "gap_tester|gap_tester kill_unplugged";
  if (o.interlock) s.setups += "|gap_tester relay_unplugged|gap_tester chain_bridged";
  if (o.points) s.setups += "|gap_tester condenser_substituted";
  s.returns = o.interlock
                  ? "; a spark that comes back with the kill wire off accuses what earths it, with the relay out or "
                    "its circuit bridged the interlock"
              : o.points ? "; a spark that comes back with the kill wire off accuses the wire and its switch, with "
                           "another condenser the condenser"
                         : "; a spark that comes back with the kill wire off accuses the wire and what earths it";
  s.cranking = k_cranking;
  s.sparking = k_sparking;
  s.cap_resistor = o.points;  // a module's boot is moulded to its lead
  blocks::add_spark_tests(t, s);
  auto speed = blocks::steady_volts("cranking_speed", "cranking speed", "", "cranking");
  speed.reads = LS_READS_OUTPUT;
  speed.unit = "rpm";
  speed.subject = "speed.rpm";
  speed.instrument = "timing_light";
  speed.log_sd = 0.05;
  speed.minutes = 2;
  speed.place = "flywheel";
  speed.hook_up = "tachometer on the flywheel, or the period of the peak meter's pulses";
  speed.low_means =
      o.starter() ? "battery, cables, starter, valve lash" : "a weak pull, valve lash, something that drags";
  speed.cautions = k_cranking;
  t.add(speed);
}

}  // namespace

void add_tests(plugin::Tables& t, const Options& o) {
  if (o.starter()) blocks::add_battery_tests(t);
  spark_tests(t, o);
  kill_tests(t, o);
  coil_tests(t, o);
  if (o.interlock) interlock_tests(t);
}

}  // namespace lostspark::flywheel_magneto
