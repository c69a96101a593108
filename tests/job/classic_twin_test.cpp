// Whole jobs on the classic twin: cylinders told apart, parts exchanged, two faults at once.
#include <algorithm>
#include <string>

#include "catch_all.hpp"
#include "job/job.hpp"
#include "simulation/bench.hpp"
#include "sources/load.hpp"

using namespace lostspark;
using namespace lostspark::job;

namespace {

constexpr const char* k_vehicle = "quillmarsh_classic_twin";

/// A twin with these faults, its other values healthy medians; readings without mistakes.
struct Twin {
  std::unique_ptr<history::Store> store = history::open_memory();
  Desk desk{vehicle_source(sources::default_folders()), *store, sources::default_workshop(sources::default_folders())};
  std::shared_ptr<const model::Vehicle> vehicle = desk.vehicle(k_vehicle);
  simulation::Bench bench{vehicle, sources::default_workshop(sources::default_folders()), 9, {false, false}};

  explicit Twin(const std::vector<std::pair<std::string, double>>& faults) {
    std::vector<Index> modes;
    for (const auto& fault : faults) modes.push_back(vehicle->find_mode(fault.first).value());
    auto truth = bench.draw_with(modes);
    for (auto& present : truth.faults)
      for (std::size_t k = 0; k < modes.size(); ++k)
        if (present.mode == modes[k]) present.severity = faults[k].second;
    std::fill(truth.log_shift.begin(), truth.log_shift.end(), 0.0);
    std::fill(truth.calibration.begin(), truth.calibration.end(), 0.0);
    bench.put(truth);
  }

  Job open(const std::string& complaint) {
    Intake intake;
    intake.complaints = {complaint};
    return desk.open(k_vehicle, intake);
  }
  void take(Job& job, const std::string& id) {
    const auto test = job.test(id);
    const auto value = bench.read(test);
    const auto& words = vehicle->tests[static_cast<std::size_t>(test)].words;
    seen += id + ": " + (words.empty() ? std::to_string(value.number) : words[value.word]) + "\n";
    (void)job.record(test, value);
  }
  std::string seen;
};

double probability(const Job& job, const std::string& component) {
  return job.posterior().component_probability().at(job.vehicle().find_component(component).value());
}

}  // namespace

TEST_CASE("a leaking condenser and a wide plug gap are found as the two faults they are", "[job][oracle]") {
  // 80 ohm across the points leave half the reserve; twice the demand and the plug stays dead. Either alone would
  // spark.
  Twin twin({{"condenser_1.leaking", 0.85}, {"spark_plug_1.gap_wide", 0.8}});
  auto job = twin.open("one_cylinder_dead");
  twin.take(job, "spark_2");
  twin.take(job, "spark_current_1");
  twin.take(job, "points_drop_1");
  twin.take(job, "reserve_1");
  CHECK(probability(job, "condenser_2") < 0.05);
  CHECK(probability(job, "battery") < 0.2);
  const auto ohm_test = [&] {
    for (const auto& t : job.vehicle().tests)
      if (t.kind == "points_ohm_open_1" && t.provocation == model::Provocation::none) return t.id;
    return std::string("no such test");
  }();
  twin.take(job, ohm_test);
  twin.take(job, "condenser_check_1@condenser_1");
  CHECK(probability(job, "condenser_1") > 0.9);
  // The plug moved to the sound cylinder makes its coil work: twelve kilovolts there instead of six.
  twin.take(job, "plug_kilovolt_2+plugs_exchanged");
  twin.take(job, "plug_look_1@spark_plug_1");
  INFO(twin.seen << "condenser " << probability(job, "condenser_1") << ", plug " << probability(job, "spark_plug_1"));
  CHECK(probability(job, "condenser_1") > 0.9);
  CHECK(probability(job, "spark_plug_1") > 0.85);
  for (const char* innocent : {"condenser_2", "breaker_points_2", "ignition_coil_2", "battery", "key_switch"})
    CHECK(probability(job, innocent) < 0.05);
}

TEST_CASE("coils exchanged take the fault along and tell coil from cylinder", "[job][oracle]") {
  for (const auto& [mode, coil_is_it] :
       {std::pair<const char*, bool>{"ignition_coil_1.secondary_leak", true}, {"breaker_points_1.burnt", false}}) {
    INFO(mode);
    Twin twin({{mode, 0.95}});
    auto job = twin.open("one_cylinder_dead");
    twin.take(job, "spark_1");
    twin.take(job, "spark_2");
    const double before = probability(job, "ignition_coil_1");
    twin.take(job, "spark_1+coils_exchanged+gap_tester_1");
    const double after = probability(job, "ignition_coil_1");
    if (coil_is_it)
      CHECK(after > before);
    else
      CHECK(after < before);
  }
}
