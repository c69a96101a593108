// Policies on synthetic jobs, common random numbers: cost, wrong parts, comebacks, tests and decision time, with standard
// errors of the cost over the best policy's (paired by job, clustered by instance). --robustness: wrong models;
// --vehicle: decisions on a vehicle.
#include <CLI/CLI.hpp>
#include <algorithm>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <ctime>

#include "planner/random_instance.hpp"
#include "planner_policies.hpp"
#include "planner_robustness.hpp"
#include "planner_vehicle.hpp"

using namespace lostspark;

namespace {

/// Processor time of this process: other work on the machine does not count.
double processor_seconds() { return static_cast<double>(std::clock()) / CLOCKS_PER_SEC; }

}  // namespace

int main(int argc, char** argv) {
  CLI::App app{"Next-step policies on synthetic jobs."};
  std::string size = "medium";
  int instances = 12, jobs = 100;
  std::uint64_t seed = 1;
  double refer = 1, most_seconds = 1e9;
  bool robustness = false, groups = false;
  std::string vehicle, complaint = "no_spark";
  int steps = 4;
  std::vector<std::string> only;
  app.add_option("--size", size)->check(CLI::IsMember({"small", "medium", "medium-pairs", "large"}));
  app.add_option("--instances", instances);
  app.add_option("--jobs", jobs, "jobs an instance");
  app.add_option("--seed", seed);
  app.add_option("--refer", refer, "factor on the cost of referring out");
  app.add_option("--only", only, "names of policies (all)");
  app.add_option("--seconds", most_seconds, "no further instance after this much processor time");
  app.add_flag("--robustness", robustness, "cost with wrong priors and noise, small instances, exact");
  app.add_option("--vehicle", vehicle, "time and memory of decisions on a vehicle instead, from the complaint on");
  app.add_option("--complaint", complaint);
  app.add_option("--steps", steps, "readings the vehicle's job is followed");
  app.add_flag("--groups", groups, "with --vehicle: what cutting readings into few groups loses");
  CLI11_PARSE(app, argc, argv);
  if (!vehicle.empty()) {
    ::setenv("LOSTSPARK_PLUGINS", LOSTSPARK_PLUGIN_DIR, 0);
    ::setenv("LOSTSPARK_NETWORKS", LOSTSPARK_SOURCE_DIR "/networks", 0);
    benches::vehicle(vehicle, complaint, steps, groups);
    return 0;
  }
  if (robustness) {
    benches::robustness(instances, seed, only);
    return 0;
  }
  planner::RandomOptions shape{7, 7, 3, false, 0.5};
  if (size == "medium") shape = {25, 25, 6, false, 0.5};
  if (size == "medium-pairs") shape = {24, 25, 6, true, 0.5};
  if (size == "large") shape = {120, 100, 12, false, 0.5};

  struct Row {
    benches::NamedPolicy policy;
    std::vector<double> by_instance;
    double parts = 0, wrong = 0, comebacks = 0, tests = 0, referred = 0, decisions = 0, seconds = 0, slowest = 0;
  };
  std::vector<Row> rows;
  for (auto& policy : benches::all_policies()) {
    if (!only.empty() && std::find(only.begin(), only.end(), policy.name) == only.end()) continue;
    rows.push_back({std::move(policy), {}});
  }
  int done = 0;
  for (; done < instances && processor_seconds() < most_seconds; ++done) {
    auto problem = planner::random_instance(shape, seed * 1000 + static_cast<std::uint64_t>(done));
    problem.refer *= refer;
    for (auto& row : rows) {
      double sum = 0;
      for (int j = 0; j < jobs; ++j) {
        const auto timed = [&](const planning::Problem& p, const planning::JobState& s) {
          const double begun = processor_seconds();
          const auto action = row.policy.choose(p, s);
          const double took = processor_seconds() - begun;
          row.seconds += took;
          row.slowest = std::max(row.slowest, took);
          return action;
        };
        const auto job = planner::play(problem, timed, static_cast<std::uint64_t>(done) * 100000 + j);
        sum += job.minutes;
        row.parts += job.parts, row.wrong += job.wrong_parts, row.comebacks += job.comebacks;
        row.tests += job.tests, row.referred += job.referred, row.decisions += job.decisions;
      }
      row.by_instance.push_back(sum / jobs);
    }
  }
  instances = done;
  const auto mean = [](const std::vector<double>& x) {
    double s = 0;
    for (double v : x) s += v;
    return s / static_cast<double>(x.size());
  };
  const auto best = std::min_element(rows.begin(), rows.end(), [&](const Row& a, const Row& b) {
    return mean(a.by_instance) < mean(b.by_instance);
  });
  const double n = static_cast<double>(instances) * jobs, base = mean(best->by_instance);
  std::printf("%s: %d instances x %d jobs, seed %llu, refer x %g; ratio to the best, error paired by instance\n", size.c_str(), instances,
              jobs, static_cast<unsigned long long>(seed), refer);
  std::printf("| policy | minutes | ratio | s.e. | tests | wrong parts | their price | comebacks | referred | ms/decision | max |\n"
              "|---|--:|--:|--:|--:|--:|--:|--:|--:|--:|--:|\n");
  for (const auto& r : rows) {
    const double ratio = mean(r.by_instance) / base;
    double squares = 0;
    for (int i = 0; i < instances; ++i) {
      const double d = r.by_instance[i] - ratio * best->by_instance[i];
      squares += d * d;
    }
    const double error = std::sqrt(squares / instances / std::max(1, instances - 1)) / base;
    std::printf("| %s | %.1f | %.3f | %.3f | %.2f | %.3f | %.1f | %.3f | %.3f | %.2f | %.0f |\n", r.policy.name.c_str(),
                mean(r.by_instance), ratio, error, r.tests / n, r.wrong / n, r.parts / n, r.comebacks / n, r.referred / n,
                1e3 * r.seconds / r.decisions, 1e3 * r.slowest);
  }
}
