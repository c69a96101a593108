// Test kinds. Ranges, scatter and minutes: common practice and judgement, no source.
#include "blocks/relay_feed.hpp"
#include "family.hpp"

namespace lostspark::coil_on_plug {
namespace {

constexpr const char* k_battery = "S07 S16";
constexpr const char* k_key_on = "S07 S12 S16";
constexpr const char* k_cranking = "S01 S02 S03 S04 S11 S12 S19";  // every measurement while the engine turns
constexpr const char* k_sparking = "S01 S02 S03 S04 S09 S12 S19";
constexpr const char* k_running = "S01 S02 S04 S05 S06 S12";

/// A number read along a link with a multimeter.
ls_test_kind_v1 steady(plugin::Tables& t, const std::string& id, const std::string& title, const std::string& link,
                       const char* condition) {
  return {.id = t.keep(id),
          .title = t.keep(title),
          .reads = LS_READS_HARNESS_VOLTS,
          .unit = "volt",
          .subject = t.keep(link),
          .condition = condition,
          .instrument = "multimeter",
          .log_sd = 0.01,
          .minutes = 1.5,
          .mistaken = 0.03};
}

/// A stage's output while cranking.
ls_test_kind_v1 output(plugin::Tables& t, const std::string& id, const std::string& title, const char* unit,
                       const std::string& subject, const char* instrument, double log_sd, double minutes) {
  return {.id = t.keep(id),
          .title = t.keep(title),
          .reads = LS_READS_OUTPUT,
          .unit = unit,
          .subject = t.keep(subject),
          .condition = "cranking",
          .instrument = instrument,
          .log_sd = log_sd,
          .minutes = minutes,
          .mistaken = 0.03,
          .cautions = k_cranking};
}

ls_test_kind_v1 ohms(plugin::Tables& t, const std::string& id, const std::string& title, const std::string& subject,
                     const std::string& against, double log_sd) {
  return {.id = t.keep(id),
          .title = t.keep(title),
          .reads = LS_READS_OHMS,
          .unit = "ohm",
          .subject = t.keep(subject),
          .against = t.keep(against),
          .condition = "key_off",
          .instrument = "ohmmeter",
          .log_sd = log_sd,
          .minutes = 3,
          .mistaken = 0.03,
          .cautions = "S10"};
}

void battery_tests(plugin::Tables& t) {
  auto rest = steady(t, "battery_rest", "battery at rest", "battery_plus", "key_off");
  rest.log_sd = 0.005;
  rest.minutes = 1;
  rest.hook_up = "multimeter on the battery posts themselves, key off for some minutes";
  rest.low_means = "discharged; 12.4 volt is three quarters, 12.0 a quarter, 10.5 one cell gone";
  rest.zero_means = "dead, or the meter is not on the posts";
  rest.cautions = k_battery;
  t.add(rest);
  auto crank = steady(t, "battery_cranking", "battery while cranking", "battery_plus", "cranking");
  crank.log_sd = 0.02;
  crank.minutes = 2;
  crank.hook_up = "multimeter holding its least reading, black lead on bare engine metal; crank 3 seconds";
  crank.low_means = "battery weak or starter drags (10 volt is the limit); behind the post: the post";
  crank.zero_means = "battery post or cable open";
  crank.cautions = "S01 S02 S03 S04 S07 S12 S19";
  t.add(crank);
  auto earth = steady(t, "earth_cable_cranking", "drop of the battery's earth cable", "battery_minus", "cranking");
  earth.log_sd = 0.1;
  earth.minutes = 2;
  earth.hook_up = "multimeter holding its highest reading from the minus post to bare engine metal; crank 3 seconds";
  earth.high_means = "over 0.3 volt: corroded minus post or engine strap";
  earth.cautions = "S01 S02 S03 S04 S07 S12 S19";
  t.add(earth);
  auto charge = steady(t, "charging", "charging", "battery_plus", "idle");
  charge.minutes = 3;
  charge.dead_below = "start.permit_margin start.trigger_margin";
  charge.hook_up = "multimeter on the battery posts, engine at a raised idle";
  charge.low_means = "under 13.2 volt: regulator, winding, or their joints";
  charge.zero_means = "the engine does not run";
  charge.high_means = "over 15 volt: regulator";
  charge.cautions = "S04 S05 S06 S07";
  t.add(charge);
}

/// The feed with nothing drawn, and with a lamp that draws 4.6 ampere. Behind the relay only where the relay holds.
void feed_tests(plugin::Tables& t, const Options& options) {
  const std::string before = "key, " + options.cut_off() + ", main fuse, or open before this point";
  blocks::add_relay_feed_tests(t, "start.relay_margin", before.c_str(),
                               "unit_feed", "main fuse, key, or open before this point");
  for (int n = 1; n <= options.cylinders; ++n) {
    const auto id = of("coil_loaded", n), link = of("coil_supply", n), setup = of("load_lamp", n);
    auto coil = steady(t, id, ("supply of coil " + std::to_string(n)), link, "key_on");
    coil.dead_below = "start.relay_margin";
    coil.setups = setup.c_str();
    coil.hook_up = "back-probe beside the lamp while it burns, black lead on bare engine metal; compare with the other coils";
    coil.low_means = "low at all coils: splice, relay, fuse; at this one: its own wire and contact";
    coil.zero_means = "open before this point";
    coil.cautions = k_key_on;
    t.add(coil);
  }
  auto stopped = steady(t, "feed_stopped", "supply of the relay's coil", "relay_hold", "key_on");
  stopped.setups = "stop_pressed";
  stopped.hook_up = options.motorcycle() ? "back-probe the relay's coil, run/stop switch set to stop: nothing may be left"
                                         : "back-probe the relay's coil, inertia cut-off tripped: nothing may be left";
  stopped.high_means = "the switch does not open: UNSAFE, the engine cannot be stopped";
  stopped.cautions = "S07 S12 S13";
  t.add(stopped);
}

void unit_tests(plugin::Tables& t) {
  auto lift = output(t, "unit_earth_lift", "lift of the control unit's earth", "volt", "lift.unit_lift_volt", "peak_voltmeter", 0.15,
                     3);
  lift.place = "control_unit";
  lift.hook_up = "peak meter from the unit's earth pin to bare engine metal while cranking";
  lift.high_means = "over 0.3 volt: corroded earth of the unit";
  t.add(lift);
  auto supply = steady(t, "unit_supply_cranking", "supply of the control unit", "unit_feed", "cranking");
  supply.log_sd = 0.02;
  supply.minutes = 2;
  supply.hook_up = "multimeter holding its least reading at the unit's supply pin; crank 3 seconds";
  supply.low_means = "within a volt of the battery: sound; under 6.5 the unit resets";
  supply.zero_means = "main fuse, key, or open before this point";
  supply.cautions = k_cranking;
  t.add(supply);
  auto speed = output(t, "cranking_speed", "cranking speed", "rpm", "start.speed_rpm", "timing_light", 0.05, 2);
  speed.place = "control_unit";
  speed.hook_up = "tachometer, or the period of the peak meter's pulses";
  speed.low_means = "weak battery, its posts, or a dragging starter; an inductive crank sensor is low by as much";
  t.add(speed);
}

void three_wire_tests(plugin::Tables& t, const char* part, const char* title, const char* swing) {
  const std::string id = part, words = title;
  const auto link = [&](const char* what) { return id.substr(0, id.find('_')) + what; };
  const auto supply_link = link("_supply"), ground_link = link("_ground");
  auto supply = steady(t, (id + "_supply"), ("supply of the " + words), supply_link, "key_on");
  supply.dead_below = "start.power_margin";
  supply.hook_up = "back-probe the sensor's supply, black lead on bare engine metal";
  supply.low_means = "a joint in the sensor's supply";
  supply.zero_means = "open, or the unit has no supply";
  supply.cautions = k_key_on;
  t.add(supply);
  auto ground = steady(t, (id + "_ground"), ("earth of the " + words), ground_link, "key_on");
  ground.log_sd = 0.1;
  ground.dead_below = "start.power_margin";
  ground.hook_up = "back-probe the sensor's earth, black lead on bare engine metal: next to nothing is right";
  ground.high_means = "its earth is open or corroded";
  ground.cautions = k_key_on;
  t.add(ground);
  auto signal = output(t, (id + "_swing"), ("swing of the " + words), "volt", swing, "peak_voltmeter", 0.03, 3);
  signal.dead_below = "start.power_margin";
  signal.place = "control_unit";
  signal.hook_up = "back-probe the signal at the unit, peak meter less its least reading; crank slowly";
  signal.low_means = "resistance in signal or earth, wide gap";
  signal.zero_means = "sensor dead, supply or signal wire open";
  t.add(signal);
}

void trigger_tests(plugin::Tables& t, const Options& options) {
  if (options.hall_crank_sensor) {
    three_wire_tests(t, "crank_sensor", "crank sensor", "start.crank_swing_volt");
  } else {
    auto peak = steady(t, "crank_peak", "crank sensor peak", "crank_signal", "cranking");
    peak.instrument = "peak_voltmeter";
    peak.log_sd = 0.12;
    peak.minutes = 3;
    peak.hook_up = "back-probe the signal wire, other lead on bare engine metal; note the speed beside it";
    peak.low_means = "air gap, metal on its tip, shorted turns, slow engine";
    peak.zero_means = "open winding or wire, meter set to the wrong polarity";
    peak.cautions = k_cranking;
    t.add(peak);
    auto ohm = ohms(t, "crank_ohm", "crank sensor resistance", "crank_sensor.hot", "crank_sensor.foot", 0.03);
    ohm.hook_up = "sensor unplugged, ohmmeter across its two wires";
    ohm.low_means = "shorted turns";
    ohm.zero_means = "short";
    ohm.high_means = "open (repeat hot)";
    t.add(ohm);
  }
  if (options.cam_sensor) three_wire_tests(t, "cam_sensor", "cam sensor", "start.cam_swing_volt");
  const auto contact = [&](const char* id, const char* title, const char* part) {
    const std::string hot = std::string(part) + ".hot", foot = std::string(part) + ".foot";
    auto ohm = ohms(t, id, title, hot, foot, 0.1);
    ohm.hook_up = "its connector unplugged; operate it and see that it changes fully both ways";
    ohm.high_means = "open, wet or out of adjustment";
    t.add(ohm);
  };
  if (options.stand_switch) contact("stand_switch_ohm", "side-stand switch, stand up", "stand_switch");
  if (options.tip_sensor) contact("tip_sensor_ohm", "tip-over sensor, upright", "tip_sensor");
}

void primary_tests(plugin::Tables& t, int n) {
  const auto number = " " + std::to_string(n);
  const auto coil = of("ignition_coil", n), dead = live(n);
  const auto peak_id = of("primary_peak", n), peak_of = of("fire", n) + ".unit_peak_volt";
  auto peak = output(t, peak_id, ("primary peak of coil" + number), "volt", peak_of, "peak_voltmeter", 0.08, 3);
  peak.dead_below = "start.permit_margin start.trigger_margin";
  peak.place = "control_unit";
  const auto peak_words = "back-probe driver pin" + number +
                          " at the unit's connector, other lead on bare engine metal, POSITIVE peaks; the clamp holds it near "
                          "400 volt whatever the supply, so it says nothing of the supply";
  peak.hook_up = peak_words.c_str();
  peak.low_means = "battery volts: the driver does not switch; some ten volts more: hardly any current, shorted turns";
  peak.zero_means = "coil or wire open, or no cylinder fires: trigger, permission";
  t.add(peak);
  const auto current_of = of("dwell", n) + ".current";
  auto current = output(t, of("primary_current", n), ("primary current of coil" + number), "ampere",
                        current_of, "current_pickup", 0.05, 3);
  current.dead_below = dead.c_str();
  current.place = "control_unit";
  const auto current_words = "clamp round driver wire" + number + " at the unit's connector, peak hold; compare the cylinders";
  current.hook_up = current_words.c_str();
  current.low_means = "low on all: supply, earth, short dwell; on this one: its contacts, wire, or the wrong coil";
  current.zero_means = "open coil circuit or dead driver; on all: no permission, no trigger";
  current.high_means = "shorted turns in the primary";
  t.add(current);
  const auto supply_of = of("dwell", n) + ".coil_supply_volt";
  auto supply = output(t, of("coil_supply_cranking", n), ("least supply of coil" + number), "volt",
                       supply_of, "peak_voltmeter", 0.03, 3);
  supply.dead_below = "start.relay_margin";
  supply.place = coil.c_str();
  supply.hook_up = "peak meter holding the LEAST volts at the coil's supply, black lead on bare engine metal; an ordinary meter "
                   "averages and sees nothing of a bad joint";
  supply.low_means = "within half a volt of the battery: sound; lower: joints, fuse, relay, splice";
  supply.zero_means = "open supply";
  t.add(supply);
  const auto primary = coil + ".primary", feed = coil + ".supply";
  auto circuit = ohms(t, of("coil_circuit_ohm", n), ("circuit of coil" + number + " from the unit's connector"),
                      primary, "main_relay.out", 0.05);
  circuit.setups = "unit_unplugged";
  const auto circuit_words = "control unit unplugged; from the harness at driver pin" + number +
                             " to the relay's load terminal: wire, coil and feed in one reading; short the leads first and take "
                             "them off";
  circuit.hook_up = circuit_words.c_str();
  circuit.low_means = "shorted turns (often inside the tolerance)";
  circuit.high_means = "a joint, the wrong coil; open: coil, wire, or contact; high on all: the common feed";
  t.add(circuit);
  auto ohm = ohms(t, of("primary_ohm_of", n), ("primary resistance of coil" + number), feed,
                  primary, 0.05);
  ohm.hook_up = "coil unplugged; short the leads first and take them off; copper gains 4 % for 10 kelvin";
  ohm.low_means = "shorted turns (often inside the tolerance)";
  ohm.high_means = "open, or the wrong coil";
  t.add(ohm);
  const auto boot = of("boot", n) + ".plug_end";
  auto secondary = ohms(t, of("secondary_ohm_of", n), ("secondary resistance of coil and boot" + number), boot,
                        feed, 0.05);
  secondary.hook_up = "coil out of its well; ohmmeter from the boot's spring to the coil's supply terminal (not for coils with "
                      "a diode inside)";
  secondary.low_means = "shorted turns";
  secondary.high_means = "open winding, burnt spring or resistor";
  t.add(secondary);
}

void spark_tests(plugin::Tables& t, int n, int cylinders) {
  const auto number = " " + std::to_string(n);
  const auto fire = of("fire", n), dead = live(n), place = of("spark_plug", n);
  const auto margin = fire + ".spark_margin", reserve_of = fire + ".reserve_volt", fired = fire + ".plug_volt_spark",
             held = fire + ".coil_reserve_volt";
  auto kv = output(t, of("plug_kilovolt", n), ("plug kilovolts" + number + " as fired"), "kilovolt", fired,
                   "kv_pickup", 0.3, 3);
  kv.dead_below = dead.c_str();
  kv.switch_margin = margin.c_str();
  kv.switch_output = held.c_str();
  kv.place = place.c_str();
  kv.hook_up = "flat pickup on the head of the stick coil, plug fitted: compare the cylinders, the number itself is rough";
  kv.low_means = "fouled or narrow plug, leak, low compression";
  kv.zero_means = "no ignition";
  kv.high_means = "wide gap, open spring or secondary";
  kv.cautions = k_sparking;
  t.add(kv);
  auto reserve = output(t, of("reserve", n), ("reserve of coil" + number + " at an adjustable gap"), "kilovolt",
                        reserve_of, "gap_tester", 0.15, 3);
  reserve.dead_below = dead.c_str();
  reserve.setups = "gap_tester";
  reserve.place = place.c_str();
  reserve.hook_up = "widen the gap until the spark stays away now and then; state the electrodes, convert by table; no further "
                    "than the coil's rating";
  reserve.low_means = "little current, leak, coil";
  reserve.zero_means = "no spark";
  reserve.cautions = k_sparking;
  t.add(reserve);
  t.add(ls_test_kind_v1{.id = of("spark", n).c_str(),
                        .title = ("spark of coil" + number + " at the gap tester").c_str(),
                        .reads = LS_READS_MARGIN_WORD,
                        .unit = "word",
                        .subject = margin.c_str(),
                        .dead_below = dead.c_str(),
                        .condition = "cranking",
                        .setups = "gap_tester",
                        .instrument = "gap_tester",
                        .log_sd = 0.10,
                        .minutes = 2,
                        .mistaken = 0.03,
                        .place = place.c_str(),
                        .hook_up = "boot on the tester, fuel off; compare the cylinders",
                        .low_means = "irregular: the reserve hardly covers the gap",
                        .zero_means = "no spark",
                        .cautions = k_sparking});
  const char* exchanged = cylinders >= 4   ? "|coils_exchanged|plugs_exchanged|coils_and_plugs_exchanged"
                          : cylinders >= 2 ? "|coils_exchanged|plugs_exchanged"
                                           : "";
  t.add(ls_test_kind_v1{.id = of("firing", n).c_str(),
                        .title = ("cylinder" + number + " firing").c_str(),
                        .reads = LS_READS_MARGIN_WORD,
                        .unit = "word",
                        .subject = margin.c_str(),
                        .dead_below = dead.c_str(),
                        .condition = "idle",
                        .setups = exchanged,
                        .instrument = "eyes",
                        .log_sd = 0.15,
                        .minutes = 1,
                        .mistaken = 0.02,
                        .place = "exhaust header",
                        .hook_up = "from a cold start, a minute at idle: a dead cylinder's header stays cold (drops of water, "
                                   "infrared thermometer); or the misfire counter of the live data",
                        .low_means = "irregular: warm, or misfires counted now and then",
                        .zero_means = "cold: this cylinder does not fire; all cold: the engine does not start",
                        .cautions = k_running});
}

}  // namespace

void add_tests(plugin::Tables& t, const Options& options) {
  battery_tests(t);
  feed_tests(t, options);
  unit_tests(t);
  trigger_tests(t, options);
  for (int n = 1; n <= options.cylinders; ++n) {
    primary_tests(t, n);
    spark_tests(t, n, options.cylinders);
  }
}

}  // namespace lostspark::coil_on_plug
