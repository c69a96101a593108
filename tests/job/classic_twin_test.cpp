// Whole jobs on the classic twin: cylinders told apart, parts exchanged, two faults at once.
#include <string>

#include "bench_job.hpp"
#include "catch_all.hpp"

using namespace lostspark;
using namespace lostspark::job;

namespace {

constexpr const char* k_vehicle = "quillmarsh_classic_twin";

}  // namespace

TEST_CASE("a leaking condenser and a wide plug gap are found as the two faults they are", "[job][oracle]") {
  // 80 ohm across the points leave half the reserve; twice the demand and the plug stays dead. Either alone would
  // spark.
  BenchJob twin(k_vehicle, {{"condenser_1.leaking", 0.85}, {"spark_plug_1.gap_wide", 0.8}});
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
    BenchJob twin(k_vehicle, {{mode, 0.95}});
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
