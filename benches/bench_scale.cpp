// How the time of a step grows with the number of components: 100, 1,000, 10,000 contacts, 200 test points, single
// faults.
#include <benchmark/benchmark.h>

#include <chrono>

#include "simulation/bench.hpp"
#include "synthetic_harness.hpp"
#include "workload.hpp"

namespace {

using namespace lostspark;
using Clock = std::chrono::steady_clock;

/// One harness with a corroded contact in the middle and three readings, a quarter, half and three quarters along its
/// branch; the step is posterior plus ranking of all tests.
void step(benchmark::State& state) {
  benches::HarnessSize size;
  size.components = static_cast<int>(state.range(0));
  const auto vehicle = benches::synthetic_harness(size);
  const auto workshop = benches::synthetic_workshop();
  inference::Options options;
  options.pairs = false;
  const auto begin = Clock::now();
  const auto compiled = inference::compile(vehicle, workshop, options);
  state.counters["compile_s"] = std::chrono::duration<double>(Clock::now() - begin).count();

  simulation::BenchOptions exact;
  exact.mistakes = false;
  simulation::Bench bench(vehicle, workshop, benches::k_seed, exact);
  bench.put(bench.draw_with({static_cast<model::Index>(size.components / size.branches / 2)}));
  model::Evidence evidence{model::Complained{0}};
  const int points = size.tests / size.branches;
  for (int quarter = 1; quarter <= 3; ++quarter) {
    model::Reading reading;
    reading.test = points * quarter / 4;
    reading.value = bench.read(reading.test);
    reading.hookup = quarter;
    evidence.push_back(reading);
  }
  const auto tests = benches::offered_tests(*vehicle, workshop);
  for (auto _ : state) {
    const auto posterior = inference::update(compiled, evidence);
    const auto gains = posterior.gains(tests);
    benchmark::DoNotOptimize(gains.data());
    state.counters["cells"] = static_cast<double>(posterior.work().singles_cells);
  }
  state.counters["tests"] = static_cast<double>(tests.size());
  state.counters["peak_mb"] = benches::peak_memory_mb();
  state.SetComplexityN(state.range(0));
}

BENCHMARK(step)->Arg(100)->Arg(1000)->Arg(10000)->Unit(benchmark::kMillisecond)->Complexity();

}  // namespace

int main(int argc, char** argv) {
  return lostspark::benches::run(
      argc, argv,
      "synthetic harness of 20 branches, 200 test points, single faults; step = posterior of three "
      "readings and ranking of all tests; compile_s = tables, once");
}
