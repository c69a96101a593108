// Test kinds. Ranges, scatter and minutes: common practice and judgement, no source.
#include "blocks/interlock.hpp"
#include "blocks/relay_feed.hpp"
#include "blocks/spark_tests.hpp"
#include "blocks/supply_tests.hpp"
#include "family.hpp"

namespace lostspark::wasted_spark {
namespace {

constexpr const char* k_key_on = "S07 S16 S12";
constexpr const char* k_cranking = "S01 S02 S03 S04 S11 S12 S19";  // every measurement while the engine turns
constexpr const char* k_sparking = "S01 S02 S03 S04 S09 S12 S19";
constexpr const char* k_running = "S01 S02 S04 S05 S06 S12";

/// A number along a link, with its texts kept.
ls_test_kind_v1 along(plugin::Tables& t, const std::string& id, const std::string& title, const std::string& link,
                      const char* condition) {
  return blocks::steady_volts(t.keep(id), t.keep(title), t.keep(link), condition);
}
/// The same while the current flows, with a peak meter.
ls_test_kind_v1 pulsed(plugin::Tables& t, const std::string& id, const std::string& title, const std::string& link,
                       const std::string& source, double log_sd) {
  auto kind = along(t, id, title, link, "cranking");
  kind.source = t.keep(source);
  kind.instrument = "peak_voltmeter";
  kind.log_sd = log_sd;
  kind.minutes = 3;
  kind.cautions = k_cranking;
  return kind;
}

/// The line through run switch and stand relay, link by link: with nothing drawn, and with a lamp that draws 4 ampere.
void run_switch_tests(plugin::Tables& t) {
  const std::vector<blocks::SupplyPoint> points{{"fuse", "supply before the fuse", "main_feed"},
                                                {"key", "supply before the key", "key_feed"},
                                                {"stop", "supply between key and run switch", "stop_feed"},
                                                {"relay", "supply before the stand relay", "relay_feed"},
                                                {"coil", "supply of the coil", "coil_supply_1"}};
  blocks::add_supply_line_tests(
      t, points,
      "back-probe, black lead on bare engine metal; the coil draws nothing now, so this proves no open but never a low "
      "resistance",
      "open before this point: fuse, key, run switch, relay, wire");
  auto unit = along(t, "unit_supply_volts", "supply of the unit", "unit_supply", "key_on");
  unit.hook_up = "back-probe the unit's supply pin, black lead on bare engine metal";
  unit.low_means = "a joint in the unit's own branch";
  unit.zero_means = "open, or the common supply is missing";
  unit.cautions = k_key_on;
  t.add(unit);
  auto stopped = along(t, "coil_supply_stopped", "supply of the coil", "coil_supply_1", "key_on");
  stopped.setups = "stop_pressed";
  stopped.hook_up = "back-probe the coil's supply, run/stop switch set to stop: nothing may be left";
  stopped.high_means = "the switch does not open: UNSAFE, the engine cannot be stopped";
  stopped.cautions = "S07 S12 S13";
  t.add(stopped);
}

/// Behind a main relay, where it holds.
void relay_tests(plugin::Tables& t, const Options& options) {
  blocks::add_relay_feed_tests(t, held(options), "key, main fuse, or open before this point", "unit_supply",
                               "main fuse, key, or open before this point");
  auto coil = along(t, "coil_supply_loaded", "supply of the coil", "coil_supply_1", "key_on");
  coil.dead_below = held(options);
  coil.setups = "load_lamp";
  coil.hook_up = "back-probe beside the lamp while it burns, black lead on bare engine metal";
  coil.low_means = "splice, relay, fuse, or this coil's own wire and contact";
  coil.zero_means = "open before this point";
  coil.cautions = k_key_on;
  t.add(coil);
}

void supply_tests(plugin::Tables& t, const Options& options) {
  if (options.engine_unit)
    relay_tests(t, options);
  else
    run_switch_tests(t);
  std::string dwells;
  for (int pair = 1; pair <= options.pairs; ++pair) dwells += (pair > 1 ? " " : "") + of("dwell", pair);
  auto earth = pulsed(t, "unit_earth_cranking", "lift of the unit's earth", "unit_ground", dwells, 0.15);
  earth.hook_up = "peak meter from the unit's earth pin to bare engine metal while cranking";
  earth.high_means = "over 0.3 volt: corroded earth";
  t.add(earth);
  auto lamp = along(t, "unit_earth_loaded", "lift of the unit's earth", "unit_ground", "key_on");
  lamp.setups = "load_lamp";
  lamp.log_sd = 0.05;
  lamp.hook_up = "multimeter from the unit's earth pin to bare engine metal while the lamp burns";
  lamp.high_means = "over 0.1 volt: corroded earth";
  lamp.cautions = k_key_on;
  lamp.dead_below = held(options);
  t.add(lamp);
}

void trigger_tests(plugin::Tables& t) {
  blocks::add_pickup_tests(t, k_cranking);
  t.add(ls_test_kind_v1{
      .id = "cranking_speed",
      .title = "cranking speed",
      .reads = LS_READS_OUTPUT,
      .unit = "rpm",
      .subject = "trigger.speed_rpm",
      .condition = "cranking",
      .instrument = "timing_light",
      .log_sd = 0.05,
      .minutes = 2,
      .mistaken = 0.03,
      .place = "ignition_coil_1",
      .hook_up = "tachometer, or the period of the peak meter's pulses",
      .low_means = "weak battery, its posts, or a dragging starter; the pulse coil's peak is low by as much",
      .cautions = k_cranking});
}

void coil_tests(plugin::Tables& t, const Options& options, int pair) {
  const auto number = coil_number(options, pair), coil = of("ignition_coil", pair), dead = live(options, pair);
  const auto cylinders = options.of_pair(pair);
  const auto both = std::to_string(cylinders[0]) + " and " + std::to_string(cylinders[1]);
  auto supply = pulsed(t, of("coil_supply_cranking", pair), "least supply of coil" + number, of("coil_supply", pair),
                       of("dwell", pair), 0.03);
  supply.hook_up =
      "peak meter holding the LEAST volts at the coil's supply, black lead on bare engine metal; an ordinary "
      "meter averages and sees nothing of a bad joint";
  supply.low_means =
      "within a volt and a half of the battery: sound, at that current; lower: joints, fuse, key, relay, switches";
  supply.zero_means = "open supply";
  supply.dead_below = held(options);
  t.add(supply);
  auto wire = along(t, of("coil_wire_volts", pair), "terminal 1 of coil" + number + " with the key on",
                    of("coil_wire", pair), "key_on");
  wire.hook_up = "back-probe terminal 1, black lead on bare engine metal: the supply must come through the coil";
  wire.low_means = "the wire to the unit is chafed: current flows all the time, the coil gets hot";
  wire.zero_means = "primary open, wire open, or no supply";
  wire.cautions = k_key_on;
  wire.dead_below = held(options);
  t.add(wire);
  auto peak = pulsed(t, of("primary_peak", pair), "primary peak of coil" + number, of("coil_wire", pair),
                     of("peak", pair), 0.08);
  peak.dead_below = t.keep(dead);
  peak.minutes = 4;
  peak.hook_up =
      "back-probe terminal 1, other lead on bare engine metal, POSITIVE peaks; the clamp holds it near 400 volt "
      "whatever the supply and whatever the plugs do: it says that the unit switches, no more";
  peak.low_means = "very little current, shorted turns, a chafed wire";
  peak.zero_means = "the unit does not switch: supply, trigger, earth, unit; or open coil circuit";
  t.add(peak);
  t.add(ls_test_kind_v1{
      .id = of("primary_current", pair).c_str(),
      .title = ("primary current of coil" + number).c_str(),
      .reads = LS_READS_OUTPUT,
      .unit = "ampere",
      .subject = (of("dwell", pair) + ".current").c_str(),
      .dead_below = dead.c_str(),
      .condition = "cranking",
      .instrument = "current_pickup",
      .log_sd = 0.05,
      .minutes = 3,
      .mistaken = 0.03,
      .place = coil.c_str(),
      .hook_up = "clamp round the coil's supply wire, peak hold",
      .low_means = "resistance in supply, coil wire or earth, weak battery, short dwell, the wrong coil",
      .zero_means = "open coil circuit, the unit does not switch",
      .high_means = "shorted turns in the primary",
      .cautions = k_cranking});
  const auto ohms = [&](const std::string& id, const std::string& title, const std::string& a, const std::string& b,
                        const std::string& how, const char* low, const char* high) {
    auto row = blocks::unplugged_ohms(t.keep(id), t.keep(title), t.keep(a), t.keep(b), 0.05);
    row.hook_up = t.keep(how);
    row.low_means = low;
    row.high_means = high;
    t.add(row);
  };
  ohms(of("primary_ohm_of", pair), "primary resistance of coil" + number, coil + ".supply", coil + ".primary",
       "coil unplugged; short the leads first and take them off; copper gains 4 % for 10 kelvin",
       "shorted turns (often inside the tolerance)", "open, or the wrong coil");
  ohms(of("secondary_ohm_of", pair), "secondary resistance of coil" + number + ", tower to tower", coil + ".tower_a",
       coil + ".tower_b",
       "both leads off the coil, ohmmeter from one tower to the other; neither has a path to terminal 15 or to metal",
       "shorted turns", "open winding");
  ohms(of("loop_ohm", pair), "coil" + number + " with both leads, cap to cap",
       of("plug_cap", cylinders[0]) + ".plug_end", of("plug_cap", cylinders[1]) + ".plug_end",
       "caps " + both + " off their plugs, ohmmeter from cap to cap: secondary, towers, leads and caps in one reading",
       "a cap or plug lead without resistor, shorted turns", "open winding, lead, cap or tower: then part it");
}

void cylinder_tests(plugin::Tables& t, const Options& options, int cylinder) {
  const auto number = std::to_string(cylinder), partner = std::to_string(options.partner_of(cylinder));
  const auto tester = of("gap_tester", cylinder), earthed = of("partner_earthed", cylinder);
  blocks::SparkTestSettings s;
  s.suffix = "_" + number;
  s.number = " " + number;
  s.live = live(options, options.pair_of(cylinder));
  s.tester = tester;
  s.strikes = "strike_margin";
  s.setups = tester + "|" + tester + " " + earthed + "|" + tester + " supply_bypassed";
  if (!options.engine_unit) s.setups += "|" + tester + " stop_bypassed";
  s.returns =
      "; a thin flash is no spark: it only charges the other tower, the loop is open; a spark that comes back with "
      "tower " +
      partner + " earthed accuses lead, cap or plug " + partner +
      ", with a lead in the supply the span that the lead passes by";
  s.cranking = k_cranking;
  s.sparking = k_sparking;
  blocks::add_spark_tests(t, s);
  std::string exchanged = "|plugs_exchanged";
  if (options.pairs > 1 && options.pair_of(cylinder) <= 2) exchanged += "|coils_exchanged";
  t.add(ls_test_kind_v1{.id = of("firing", cylinder).c_str(),
                        .title = ("cylinder " + number + " firing").c_str(),
                        .reads = LS_READS_MARGIN_WORD,
                        .unit = "word",
                        .subject = (of("fire", cylinder) + ".spark_margin").c_str(),
                        .dead_below = s.live.c_str(),
                        .condition = "idle",
                        .setups = exchanged.c_str(),
                        .instrument = "eyes",
                        .log_sd = 0.15,
                        .minutes = 1,
                        .mistaken = 0.02,
                        .place = "exhaust header",
                        .hook_up = "from a cold start, a minute at idle: a dead cylinder's header stays cold (drops of "
                                   "water, infrared thermometer)",
                        .low_means = "irregular: warm, it misses now and then",
                        .zero_means = "cold: this cylinder does not fire; both of a pair cold: what they share, or one "
                                      "open lead",
                        .cautions = k_running});
}

}  // namespace

void add_tests(plugin::Tables& t, const Options& options) {
  blocks::add_battery_tests(t);
  supply_tests(t, options);
  trigger_tests(t);
  for (int pair = 1; pair <= options.pairs; ++pair) coil_tests(t, options, pair);
  for (int c = 1; c <= options.cylinders(); ++c) cylinder_tests(t, options, c);
  if (!options.engine_unit) blocks::add_interlock_tests(t);
}

}  // namespace lostspark::wasted_spark
