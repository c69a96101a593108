// Microseconds per physics evaluation: one scene solved (harness and stages) at a drawn fault, severity and unknowns.
#include <benchmark/benchmark.h>

#include <map>
#include <random>

#include "circuit/circuit.hpp"
#include "workload.hpp"

namespace {

using namespace lostspark;

/// Draws of unknowns and single faults, made before the clock runs; never two alike, so that no result is reused.
struct Draws {
  std::vector<std::vector<double>> shift;
  std::vector<circuit::ActiveMode> fault;
};

Draws draw(const model::Vehicle& vehicle, std::size_t count) {
  std::mt19937_64 random(benches::k_seed);
  std::normal_distribution<double> normal;
  std::uniform_int_distribution<std::size_t> mode(0, vehicle.modes.size() - 1);
  std::uniform_real_distribution<double> severity(0, 1);
  Draws draws;
  for (std::size_t i = 0; i < count; ++i) {
    std::vector<double> shift;
    for (const auto& parameter : vehicle.parameters)
      shift.push_back(normal(random) * std::hypot(parameter.log_sd, parameter.event_log_sd));
    draws.shift.push_back(std::move(shift));
    draws.fault.push_back({static_cast<model::Index>(mode(random)), severity(random)});
  }
  return draws;
}

/// The scene that most tests are read in.
model::Index busiest_scene(const model::Vehicle& vehicle) {
  std::map<model::Index, int> count;
  for (const auto& test : vehicle.tests)
    if (test.scene != model::k_none && test.reads != model::Reads::ohms) ++count[test.scene];
  model::Index best = 0;
  for (const auto& [scene, tests] : count)
    if (tests > count[best]) best = scene;
  return best;
}

void one_fault(benchmark::State& state) {
  const auto vehicle = benches::load_demo_vehicle();
  circuit::Circuit circuit(vehicle);
  const auto draws = draw(*vehicle, 1024);
  const auto scene = busiest_scene(*vehicle);
  std::size_t i = 0;
  for (auto _ : state) {
    const auto& solution = circuit.solve(scene, {&draws.fault[i], 1}, draws.shift[i]);
    benchmark::DoNotOptimize(solution.outputs.data());
    i = (i + 1) % draws.fault.size();
  }
  state.counters["nodes"] = static_cast<double>(vehicle->nodes.size());
  state.counters["elements"] = static_cast<double>(vehicle->elements.size());
}

void ohms(benchmark::State& state) {
  const auto vehicle = benches::load_demo_vehicle();
  circuit::Circuit circuit(vehicle);
  const auto draws = draw(*vehicle, 1024);
  std::vector<model::Index> tests;
  for (std::size_t t = 0; t < vehicle->tests.size(); ++t)
    if (vehicle->tests[t].reads == model::Reads::ohms) tests.push_back(static_cast<model::Index>(t));
  if (tests.empty()) {
    state.SkipWithError("the vehicle has no ohm test");
    return;
  }
  std::size_t i = 0;
  for (auto _ : state) {
    benchmark::DoNotOptimize(circuit.resistance(tests[i % tests.size()], {&draws.fault[i], 1}, draws.shift[i]));
    i = (i + 1) % draws.fault.size();
  }
}

BENCHMARK(one_fault)->Unit(benchmark::kMicrosecond);
BENCHMARK(ohms)->Unit(benchmark::kMicrosecond);

}  // namespace

int main(int argc, char** argv) {
  return lostspark::benches::run(
      argc, argv,
      "trail bike; one_fault = the scene most tests are read in, harness and stages, a new fault, "
      "severity and unknowns each time; ohms = one ohmmeter reading");
}
