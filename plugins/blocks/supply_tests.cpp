#include "supply_tests.hpp"

#include <string>

namespace lostspark::blocks {
namespace {
constexpr const char* k_battery = "S07 S16";
constexpr const char* k_key_on = "S07 S16 S12";
constexpr const char* k_crank = "S01 S02 S03 S04 S07 S12 S19";
}  // namespace

ls_test_kind_v1 steady_volts(const char* id, const char* title, const char* link, const char* condition) {
  return {.id = id,
          .title = title,
          .reads = LS_READS_HARNESS_VOLTS,
          .unit = "volt",
          .subject = link,
          .condition = condition,
          .instrument = "multimeter",
          .log_sd = 0.01,
          .minutes = 1.5,
          .mistaken = 0.03};
}

ls_test_kind_v1 unplugged_ohms(const char* id, const char* title, const char* subject, const char* against,
                               double log_sd) {
  return {.id = id,
          .title = title,
          .reads = LS_READS_OHMS,
          .unit = "ohm",
          .subject = subject,
          .against = against,
          .condition = "key_off",
          .instrument = "ohmmeter",
          .log_sd = log_sd,
          .minutes = 3.5,
          .mistaken = 0.03,
          .cautions = "S10"};
}

void add_battery_tests(plugin::Tables& t) {
  auto rest = steady_volts("battery_rest", "battery at rest", "battery_plus", "key_off");
  rest.log_sd = 0.005;
  rest.minutes = 1;
  rest.hook_up = "multimeter on the battery posts themselves, key off for some minutes";
  rest.low_means = "discharged; 12.4 volt is three quarters, 12.0 a quarter, 10.5 one cell gone";
  rest.zero_means = "dead, or the meter is not on the posts";
  rest.cautions = k_battery;
  t.add(rest);
  auto crank = steady_volts("battery_cranking", "battery while cranking", "battery_plus", "cranking");
  crank.log_sd = 0.02;
  crank.minutes = 2;
  crank.hook_up = "multimeter holding its least reading, black lead on bare engine metal; crank 3 seconds";
  crank.low_means = "battery weak or starter drags (10 volt is the limit); behind the post: the post";
  crank.zero_means = "battery post or cable open";
  crank.cautions = k_crank;
  t.add(crank);
  auto earth = steady_volts("earth_cable_cranking", "drop of the battery's earth cable", "battery_minus", "cranking");
  earth.log_sd = 0.1;
  earth.minutes = 2;
  earth.hook_up = "multimeter holding its highest reading from the minus post to bare engine metal; crank 3 seconds";
  earth.high_means = "over 0.3 volt: corroded minus post or engine strap";
  earth.cautions = k_crank;
  t.add(earth);
  auto charge = steady_volts("charging", "charging", "battery_plus", "idle");
  charge.minutes = 3;
  charge.hook_up = "multimeter on the battery posts, engine at a raised idle";
  charge.low_means = "under 13.2 volt: regulator, winding, or their joints";
  charge.high_means = "over 15 volt: regulator";
  charge.cautions = "S04 S05 S06 S07";
  t.add(charge);
}

void add_supply_line_tests(plugin::Tables& t, const std::vector<SupplyPoint>& points, const char* idle_words,
                           const char* zero_means) {
  for (const auto& part : points) {
    const std::string id = std::string(part.id) + "_supply", loaded = std::string(part.id) + "_supply_loaded";
    auto idle = steady_volts(id.c_str(), part.title, part.link, "key_on");
    idle.hook_up = idle_words;
    idle.low_means = "flat battery, or a joint before it that the lamps load";
    idle.zero_means = zero_means;
    idle.cautions = k_key_on;
    t.add(idle);
    auto lamp = steady_volts(loaded.c_str(), part.title, part.link, "key_on");
    lamp.setups = "load_lamp";
    lamp.hook_up =
        "back-probe while the lamp burns, black lead on bare engine metal; compare the points one after the other";
    lamp.low_means = "the joint lies between this point and the last good one";
    lamp.zero_means = "open before this point";
    lamp.cautions = k_key_on;
    t.add(lamp);
  }
}

void add_pickup_tests(plugin::Tables& t, const char* cautions) {
  auto peak = steady_volts("pulse_peak", "pulse coil peak", "pulse_wire", "cranking");
  peak.instrument = "peak_voltmeter";
  peak.log_sd = 0.12;
  peak.minutes = 3;
  peak.hook_up = "back-probe the pulse wire, other lead on bare engine metal; note the speed beside it";
  peak.low_means = "air gap, debris, shorted turns, slow engine";
  peak.zero_means = "open winding or wire, meter set to the wrong polarity";
  peak.cautions = cautions;
  t.add(peak);
  auto back = steady_volts("pulse_return_peak", "peak on the pulse coil's return wire", "pulse_return", "cranking");
  back.instrument = "peak_voltmeter";
  back.log_sd = 0.12;
  back.minutes = 3;
  back.hook_up = "back-probe the return wire, other lead on bare engine metal: next to nothing is right";
  back.high_means = "the return is open or corroded between here and the coil's foot";
  back.cautions = cautions;
  t.add(back);
  auto ohm = unplugged_ohms("pulse_ohm", "pulse coil resistance", "pulse_coil.hot", "pulse_coil.foot", 0.03);
  ohm.hook_up = "pulse coil unplugged, ohmmeter across its two wires";
  ohm.low_means = "shorted turns";
  ohm.zero_means = "short";
  ohm.high_means = "open (repeat hot)";
  t.add(ohm);
}

void add_charging_findings(FindingWriter& f) {
  f.kind("regulator_diodes", "regulator's diodes", "", "eyes", "key_off", 4, 0.03, "regulator",
         "regulator unplugged, engine stopped; multimeter's diode range, each phase to plus and to minus, both ways",
         "S10 S24", "as_they_should", 0.95);
  f.row("regulator.shorted_diode", "shorted", 0.95);
  f.row("regulator.no_charge", "open", 0.5);
  f.kind("stator_phases", "phases of the charging winding", "", "eyes", "idle", 6, 0.03, "regulator",
         "stop, unplug the winding, insulate the ends, restart: alternating volts between the phases; then ohms and to "
         "earth",
         "S04 S05 S06 S24", "even", 0.95);
  f.row("stator.open_or_shorted", "uneven", 0.9);
}

}  // namespace lostspark::blocks
