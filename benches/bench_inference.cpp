// How long until the program is ready, and from one reading to the new posterior and the full ranking: singles and
// pairs.
#include <benchmark/benchmark.h>

#include <algorithm>
#include <ctime>

#include "workload.hpp"

namespace {

using namespace lostspark;
/// CPU seconds of this thread: the work is single-threaded, and a busy machine disturbs this less than a wall clock.
double cpu_seconds() {
  timespec now{};
  clock_gettime(CLOCK_THREAD_CPUTIME_ID, &now);
  return static_cast<double>(now.tv_sec) + 1e-9 * static_cast<double>(now.tv_nsec);
}

inference::Options options(bool pairs) {
  inference::Options chosen;
  chosen.pairs = pairs;
  return chosen;
}

/// Plugin loaded, network read, tables built; nothing kept from the run before.
void ready(benchmark::State& state, bool pairs) {
  for (auto _ : state) {
    const auto vehicle = benches::load_demo_vehicle();
    const auto compiled = inference::compile(vehicle, benches::demo_workshop(), options(pairs));
    benchmark::DoNotOptimize(compiled);
  }
  state.counters["peak_mb"] = benches::peak_memory_mb();
}

/// Every iteration takes all recorded jobs once and reports the median job: posterior of the whole log, then the gain
/// of every offered test.
void step(benchmark::State& state, bool pairs) {
  constexpr int k_jobs = 20;
  const auto vehicle = benches::load_demo_vehicle();
  const auto workshop = benches::demo_workshop();
  const auto compiled = inference::compile(vehicle, workshop, options(pairs));
  const auto jobs = benches::recorded_jobs(vehicle, workshop, k_jobs);
  const auto tests = benches::offered_tests(*vehicle, workshop);

  std::vector<double> worst(jobs.size(), 0);
  std::vector<double> cells, pair_count, refined, pair_cells, left_out;
  double update_ms = 0, rank_ms = 0;
  for (auto _ : state) {
    std::vector<double> seconds, updates, ranks;
    cells.clear(), pair_count.clear(), refined.clear(), pair_cells.clear(), left_out.clear();
    for (std::size_t job = 0; job < jobs.size(); ++job) {
      const auto begin = cpu_seconds();
      const auto posterior = inference::update(compiled, jobs[job]);
      const auto middle = cpu_seconds();
      const auto gains = posterior.gains(tests);
      const auto end = cpu_seconds();
      benchmark::DoNotOptimize(gains.data());
      seconds.push_back(end - begin);
      updates.push_back(middle - begin);
      ranks.push_back(end - middle);
      worst[job] = std::max(worst[job], seconds.back());
      const auto& work = posterior.work();
      cells.push_back(static_cast<double>(work.singles_cells));
      pair_count.push_back(static_cast<double>(work.pairs));
      refined.push_back(static_cast<double>(work.refined_pairs));
      pair_cells.push_back(static_cast<double>(work.pair_cells));
      left_out.push_back(posterior.unexplored_mass());
    }
    state.SetIterationTime(benches::median(seconds));
    update_ms = benches::median(updates) * 1e3;
    rank_ms = benches::median(ranks) * 1e3;
  }
  state.counters["update_ms"] = update_ms;
  state.counters["rank_ms"] = rank_ms;
  state.counters["worst_job_ms"] = *std::max_element(worst.begin(), worst.end()) * 1e3;
  state.counters["tests"] = static_cast<double>(tests.size());
  state.counters["modes"] = static_cast<double>(vehicle->modes.size());
  state.counters["single_cells"] = benches::median(cells);
  state.counters["pairs"] = benches::median(pair_count);
  state.counters["refined_pairs"] = benches::median(refined);
  state.counters["pair_cells"] = benches::median(pair_cells);
  state.counters["left_out"] = benches::median(left_out);
  state.counters["peak_mb"] = benches::peak_memory_mb();
}

BENCHMARK_CAPTURE(ready, singles, false)->Unit(benchmark::kMillisecond);
BENCHMARK_CAPTURE(step, singles, false)->UseManualTime()->Unit(benchmark::kMillisecond);
BENCHMARK_CAPTURE(ready, with_pairs, true)->Unit(benchmark::kMillisecond);
BENCHMARK_CAPTURE(step, with_pairs, true)->UseManualTime()->Unit(benchmark::kMillisecond);

}  // namespace

int main(int argc, char** argv) {
  return lostspark::benches::run(
      argc, argv,
      "trail bike; ready = plugin + network + tables; step = 20 recorded jobs (no_spark, 1 to 6 "
      "readings), the median job's posterior and ranking of all offered tests");
}
