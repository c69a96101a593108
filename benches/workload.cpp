#include "workload.hpp"

#include <benchmark/benchmark.h>
#include <sys/resource.h>

#include <algorithm>
#include <cstdlib>
#include <fstream>
#include <random>
#include <thread>

#include "base/error.hpp"
#include "simulation/bench.hpp"
#include "sources/load.hpp"

namespace lostspark::benches {
namespace {

sources::Folders folders() {
  point_to_this_build();
  return sources::default_folders();
}

std::string processor() {
  std::ifstream info("/proc/cpuinfo");
  for (std::string line; std::getline(info, line);)
    if (line.rfind("model name", 0) == 0) return line.substr(line.find(':') + 2);
  return "unknown processor";
}

}  // namespace

void point_to_this_build() {
  ::setenv("LOSTSPARK_PLUGINS", LOSTSPARK_PLUGIN_DIR, 0);
  ::setenv("LOSTSPARK_NETWORKS", LOSTSPARK_SOURCE_DIR "/networks", 0);
}

std::shared_ptr<const model::Vehicle> load_demo_vehicle() { return sources::load_vehicle(folders(), k_demo_vehicle); }

model::Workshop demo_workshop() { return sources::default_workshop(folders()); }

std::vector<model::Index> offered_tests(const model::Vehicle& vehicle, const model::Workshop& workshop) {
  std::vector<model::Index> tests;
  for (std::size_t i = 0; i < vehicle.tests.size(); ++i)
    if (workshop.find(vehicle.tests[i].instrument, vehicle.tests[i].unit))
      tests.push_back(static_cast<model::Index>(i));
  return tests;
}

std::vector<model::Evidence> recorded_jobs(const std::shared_ptr<const model::Vehicle>& vehicle,
                                           const model::Workshop& workshop, int count, std::uint64_t seed) {
  const auto complaint = vehicle->find_complaint("no_spark");
  if (!complaint) throw InternalError("the demo vehicle knows no complaint no_spark");
  const auto offered = offered_tests(*vehicle, workshop);
  std::mt19937_64 random(seed);
  std::vector<model::Evidence> jobs;
  for (int job = 0; job < count; ++job) {
    simulation::Bench bench(vehicle, workshop, random());
    bench.put(bench.draw(*complaint));
    model::Evidence evidence{model::Complained{*complaint}};
    auto left = offered;
    const int readings = std::min<int>(1 + job % 6, static_cast<int>(left.size()));
    for (int n = 0; n < readings; ++n) {
      const auto pick = std::uniform_int_distribution<std::size_t>(0, left.size() - 1)(random);
      model::Reading reading;
      reading.test = left[pick];
      reading.value = bench.read(reading.test);
      reading.hookup = n;
      evidence.push_back(reading);
      left.erase(left.begin() + static_cast<std::ptrdiff_t>(pick));
    }
    jobs.push_back(std::move(evidence));
  }
  return jobs;
}

double median(std::vector<double> values) {
  if (values.empty()) return 0;
  std::sort(values.begin(), values.end());
  const auto middle = values.size() / 2;
  return values.size() % 2 ? values[middle] : 0.5 * (values[middle - 1] + values[middle]);
}

double peak_memory_mb() {
  rusage usage{};
  getrusage(RUSAGE_SELF, &usage);
  return static_cast<double>(usage.ru_maxrss) * 1024e-6;  // Linux counts in KiB
}

int run(int argc, char** argv, const std::string& workload) {
  benchmark::Initialize(&argc, argv);
  if (benchmark::ReportUnrecognizedArguments(argc, argv)) return 2;
  benchmark::AddCustomContext("workload", workload);
  benchmark::AddCustomContext("machine", std::to_string(std::thread::hardware_concurrency()) + " x " + processor());
  benchmark::AddCustomContext("compiler", LOSTSPARK_COMPILER);
  benchmark::AddCustomContext("build", LOSTSPARK_BUILD_TYPE);
  benchmark::AddCustomContext("seed", std::to_string(k_seed));
  try {
    benchmark::RunSpecifiedBenchmarks();
  } catch (const Error& error) {
    std::fprintf(stderr, "%s\n", error.what());
    return error.exit_code();
  }
  benchmark::Shutdown();
  return 0;
}

}  // namespace lostspark::benches
