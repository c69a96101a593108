// Two faults at once, found as such: the readings say that one fault does not explain all of them.
#include <string>
#include <vector>

#include "bench_job.hpp"
#include "catch_all.hpp"
#include "job/auto_run.hpp"

using namespace lostspark;
using namespace lostspark::job;

namespace {

struct TwoFaults {
  const char* title;
  const char* vehicle;
  const char* complaint;
  std::vector<std::pair<std::string, double>> faults;
  std::vector<std::string> readings;
};

const TwoFaults k_cases[] = {
    // A weak battery alone still sparks, and so does a joint of this size alone.
    {"weak battery and corroded coil connector",
     "quillmarsh_road_250",
     "no_spark",
     {{"battery.discharged", 0.6}, {"coil_connector.pin_1_corroded", 0.6}},
     {"spark", "battery_rest@battery.plus", "battery_cranking@battery.plus", "coil_supply_loaded@ignition_coil.supply",
      "coil_supply_loaded@coil_connector.alarm_splice_side", "look_and_tug@coil_connector"}},
    {"fouled plug and leaking kill wiring",
     "quillmarsh_trail_125",
     "no_spark",
     {{"spark_plug.fouled_wet", 0.8}, {"kill_switch.leaks_damp", 0.8}},
     {"spark", "exciter_peak@control_module.source", "exciter_peak@control_module.source+kill_unplugged",
      "kill_lead_ohm@kill_connector.kill_switch_side", "plug_kilovolt", "plug_look@spark_plug",
      "look_and_tug@kill_switch"}},
};

}  // namespace

TEST_CASE("two faults at once both lead all others when both have been measured", "[job][oracle]") {
  for (const auto& c : k_cases) {
    BenchJob bench(c.vehicle, c.faults);
    auto job = bench.open(c.complaint);
    for (const auto& reading : c.readings) bench.take(job, reading);
    std::string suspects;
    for (const auto& s : job.suspects()) suspects += s.mode_id + " " + std::to_string(s.probability) + "\n";
    INFO(c.title << "\n" << bench.seen << suspects);
    for (const auto& [mode, severity] : c.faults) {
      const auto component = mode.substr(0, mode.find('.'));
      CHECK(probability(job, component) > 0.6);
      for (const auto& other : job.vehicle().components) {
        bool present = false;
        for (const auto& fault : c.faults) present |= fault.first.substr(0, fault.first.find('.')) == other.id;
        if (present) continue;
        INFO(other.id);
        CHECK(probability(job, component) > probability(job, other.id));
      }
    }
  }
}

TEST_CASE("a shorted diode and a dead charging coil are mended one after the other", "[job][oracle]") {
  // Each has one test of its own, and one odd finding may be a mistake: the second fault is found when the first repair
  // has not brought the charge back.
  // A winding fault that does not show at the moment (one time in ten) is missed by the check as well: four vehicles.
  int mended = 0;
  std::string told;
  for (std::uint64_t seed = 1; seed <= 4; ++seed) {
    BenchJob bench("quillmarsh_utility_quad", {{"regulator.shorted_diode", 0.5}, {"stator.open_or_shorted", 0.7}},
                   seed);
    auto job = bench.open("battery_goes_flat");
    for (const char* test : {"battery_rest@battery.plus", "charging@battery.plus", "regulator_diodes", "stator_phases"})
      bench.take(job, test);
    told += "seed " + std::to_string(seed) + "\n" + bench.seen;
    const auto result = run_simulated(job, bench.bench,
                                      {.after = [&](const AutoStep& s) { told += s.title + ": " + s.answer + "\n"; }});
    std::vector<std::string> repairs;
    for (const auto& repair : job.state().repairs)
      repairs.push_back(job.vehicle().repairs[static_cast<std::size_t>(repair.repair)].id);
    const auto done = [&](const char* id) { return std::find(repairs.begin(), repairs.end(), id) != repairs.end(); };
    const bool both = done("regulator.replace") && done("stator.replace");
    mended += result.cured && result.end == AutoResult::End::fixed && both && repairs.size() <= 4 ? 1 : 0;
  }
  INFO(told);
  CHECK(mended >= 3);
}
