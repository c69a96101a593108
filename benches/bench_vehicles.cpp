// Whole jobs on the simulated bench, followed to the end by different policies: what a fixed vehicle costs, vehicle by
// vehicle. Every policy meets the same vehicles (faults, severities, unknowns, complaints: common random numbers).
// Faults are drawn from the network's own fault shares, so the table tells what the advice is worth if those are right.
#include <CLI/CLI.hpp>
#include <algorithm>
#include <array>
#include <atomic>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <future>
#include <map>
#include <mutex>

#include "base/error.hpp"
#include "job/auto_run.hpp"
#include "job/job.hpp"
#include "sources/load.hpp"

using namespace lostspark;
using model::Index;
using planning::Plan;
using planning::StepKind;

namespace {

constexpr double k_dear = 40;  // units of money: above it a part is of class 3 or more, docs/costs.md

struct Policy {
  const char* name;
  /// Threshold of the leading repair's chance to end the job above which it is done; 0: repairs only, no tests.
  double threshold;
  enum class Order { shipped, bits_per_minute, front_to_back, parts } order;
};
constexpr Policy k_policies[] = {{"shipped", 0, Policy::Order::shipped},
                                 {"bits a minute, repair at 0.5", 0.5, Policy::Order::bits_per_minute},
                                 {"bits a minute, repair at 0.8", 0.8, Policy::Order::bits_per_minute},
                                 {"front to back, repair at 0.8", 0.8, Policy::Order::front_to_back},
                                 {"parts by p/c", 0, Policy::Order::parts}};
constexpr std::size_t k_count = std::size(k_policies);

/// Where a test stands on the way from the source to the plug: by its component in the network's list, which runs so; a
/// test that names no place (the spark at the plug) comes last.
std::size_t place_of(const model::Vehicle& v, Index test) {
  const auto& id = v.tests[static_cast<std::size_t>(test)].id;
  const auto at = id.find('@');
  if (at == std::string::npos) return v.components.size();
  const auto component = id.substr(at + 1, id.find_first_of(".+/", at + 1) - at - 1);
  for (std::size_t c = 0; c < v.components.size(); ++c)
    if (v.components[c].id == component) return c;
  return v.components.size();
}

std::size_t choose(const Policy& policy, const model::Vehicle& v, const Plan& plan) {
  if (policy.order == Policy::Order::shipped) return 0;
  std::size_t repair = plan.steps.size(), test = plan.steps.size();
  const auto per_cost = [](const planning::Advice& a) { return a.cures / (a.access_min + a.price); };
  for (std::size_t k = 0; k < plan.steps.size(); ++k) {
    const auto& a = plan.steps[k];
    if (a.kind == StepKind::repair) {
      const bool better = repair == plan.steps.size() ||
                          (policy.order == Policy::Order::parts ? per_cost(a) > per_cost(plan.steps[repair])
                                                                : a.cures > plan.steps[repair].cures);
      if (better) repair = k;
    } else if (a.kind == StepKind::test) {
      const bool better = test == plan.steps.size() || (policy.order == Policy::Order::front_to_back
                                                            ? place_of(v, a.test) < place_of(v, plan.steps[test].test)
                                                            : a.gain_bits_per_min > plan.steps[test].gain_bits_per_min);
      if (better) test = k;
    }
  }
  const bool repair_now = repair < plan.steps.size() &&
                          (policy.order == Policy::Order::parts || plan.steps[repair].cures >= policy.threshold);
  if (repair_now || test == plan.steps.size()) return repair < plan.steps.size() ? repair : 0;
  return test;
}

struct Outcome {
  double cost = 0, minutes = 0, decision_ms = 0;
  int steps = 0, tests = 0, wrong_parts = 0, dear = 0;
  bool fixed = false, comeback = false, referred = false;
};

Outcome run(const std::shared_ptr<const model::Vehicle>& vehicle, const model::Workshop& workshop,
            const inference::CompiledPtr& tables, const Policy& policy, const simulation::Truth& truth, const std::string& complaint, std::uint64_t seed) {
  const auto& v = *vehicle;
  simulation::Bench bench(vehicle, workshop, seed);
  bench.put(truth);
  Outcome out;
  const auto store = history::open_memory();
  job::Desk desk(
      {[&](const std::string&) { return vehicle; }, [&](const std::string&, const std::string&) { return vehicle; }},
      *store, workshop, {.now = [] { return std::string("2026-01-01T00:00:00Z"); }, .tables = tables});
  job::Intake intake;
  intake.complaints = {complaint};
  intake.spark = job::spark_on_arrival(v, bench);
  auto job = desk.open(v.id, intake);
  const double rate = workshop.labour_rate_per_hour / 60;
  const auto begin = std::chrono::steady_clock::now();
  job::AutoOptions options;
  options.choose = [&](const Plan& plan) { return choose(policy, v, plan); };
  options.after = [&](const job::AutoStep& step) {
    if (step.advice.kind == StepKind::test) ++out.tests;
    if (step.advice.kind != StepKind::repair) return;
    const auto& repair = v.repairs[static_cast<std::size_t>(step.advice.repair)];
    out.cost += repair.price / rate;
    if (repair.kind != model::RepairKind::replace || repair.price <= 0) return;
    for (const auto& fault : truth.faults)
      if (model::mends(v, step.advice.repair, fault.mode)) return;
    ++out.wrong_parts;
    if (repair.price > k_dear) ++out.dear;
  };
  job::AutoResult result;
  try {
    result = job::run_simulated(job, bench, options);
  } catch (const CapacityError&) {  // more readings than a job can hold: given up
    result.steps = out.tests;
  }
  out.decision_ms = std::chrono::duration<double, std::milli>(std::chrono::steady_clock::now() - begin).count() /
                    std::max(1, result.steps);
  using End = job::AutoResult::End;
  bool elsewhere = true;
  for (const auto& fault : truth.faults)
    elsewhere &= v.components[static_cast<std::size_t>(v.modes[static_cast<std::size_t>(fault.mode)].component)].kind ==
                 model::ComponentKind::elsewhere;
  out.steps = result.steps;
  out.minutes = job.state().minutes;
  out.cost += out.minutes;
  out.fixed = elsewhere ? result.end == End::not_ignition : result.end == End::fixed && result.cured;
  out.comeback = !out.fixed && (result.end == End::fixed || result.end == End::not_ignition);
  out.referred = !out.fixed && !out.comeback;
  if (out.comeback) out.cost += workshop.comeback_min;
  // Whoever gives up, or goes round in circles, hands the job on.
  if (out.referred || out.comeback) out.cost += workshop.refer_min;
  return out;
}

}  // namespace

int main(int argc, char** argv) try {
  CLI::App app{"Policies on the vehicles of networks/, the same simulated jobs for each: one table a vehicle"};
  std::vector<std::string> ids;
  int jobs = 100, threads = 2;
  std::uint64_t seed = 1;
  app.add_option("--vehicle", ids, "networks (default: all)");
  app.add_option("--jobs", jobs, "jobs a vehicle")->check(CLI::Range(2, 1000000));
  app.add_option("--seed", seed);
  app.add_option("--threads", threads)->check(CLI::Range(1, 64));
  CLI11_PARSE(app, argc, argv);
  ::setenv("LOSTSPARK_PLUGINS", LOSTSPARK_PLUGIN_DIR, 0);
  ::setenv("LOSTSPARK_NETWORKS", LOSTSPARK_SOURCE_DIR "/networks", 0);
  const auto folders = sources::default_folders();
  const auto workshop = sources::default_workshop(folders);
  std::vector<std::string> problems;
  if (ids.empty())
    for (const auto& network : sources::list_vehicles(folders, problems)) ids.push_back(network.id);
  for (const auto& id : ids) {
    std::vector<std::array<Outcome, k_count>> all(static_cast<std::size_t>(jobs));
    std::atomic<int> next{0};
    std::mutex told;
    const auto work = [&] {
      // Its own vehicle: an instance of a family serves one thread at a time.
      const std::shared_ptr<const model::Vehicle> vehicle = sources::load_vehicle(folders, id);
      const auto tables = inference::compile(vehicle, workshop);
      for (int j = next++; j < jobs; j = next++) {
        const std::uint64_t job_seed = seed * 1000003 + static_cast<std::uint64_t>(j);
        simulation::Bench bench(vehicle, workshop, job_seed);
        std::mt19937_64 random(job_seed + 7);
        auto truth = bench.draw();
        while (truth.faults.empty()) truth = bench.draw();
        const auto complaint = job::complaint_as_told(vehicle, truth, random);
        for (std::size_t p = 0; p < k_count; ++p)
          all[static_cast<std::size_t>(j)][p] = run(vehicle, workshop, tables, k_policies[p], truth, complaint, job_seed);
        const std::lock_guard lock(told);
        std::fprintf(stderr, "\r%s: %d of %d jobs", id.c_str(), j + 1, jobs);
      }
    };
    std::vector<std::future<void>> pool;
    for (int t = 0; t < threads; ++t) pool.push_back(std::async(std::launch::async, work));
    for (auto& t : pool) t.get();
    std::fprintf(stderr, "\n");

    std::printf("\n%s, %d jobs, seed %llu\n\n", id.c_str(), jobs, static_cast<unsigned long long>(seed));
    std::printf(
        "| policy | cost, min | over shipped | s.e. | fixed %% | comebacks %% | given up %% | wrong parts | dear ones "
        "| "
        "minutes | steps | ms a step |\n|---|--:|--:|--:|--:|--:|--:|--:|--:|--:|--:|--:|\n");
    double shipped = 0;
    for (std::size_t p = 0; p < k_count; ++p) {
      Outcome sum;
      double fixed = 0, comebacks = 0, referred = 0, difference = 0, square = 0;
      for (const auto& job : all) {
        const auto& o = job[p];
        sum.cost += o.cost, sum.minutes += o.minutes, sum.decision_ms += o.decision_ms, sum.steps += o.steps;
        sum.wrong_parts += o.wrong_parts, sum.dear += o.dear;
        fixed += o.fixed, comebacks += o.comeback, referred += o.referred;
        const double d = o.cost - job[0].cost;
        difference += d, square += d * d;
      }
      const double n = jobs;
      if (p == 0) shipped = sum.cost / n;
      const double sd = std::sqrt(std::max(0.0, square / n - difference / n * difference / n) / (n - 1));
      std::printf("| %s | %.1f | %.3f | %.3f | %.1f | %.1f | %.1f | %.2f | %.2f | %.1f | %.1f | %.0f |\n",
                  k_policies[p].name, sum.cost / n, 1 + difference / n / shipped, sd / shipped, 100 * fixed / n,
                  100 * comebacks / n, 100 * referred / n, sum.wrong_parts / n, sum.dear / n, sum.minutes / n,
                  sum.steps / n, sum.decision_ms / n);
    }
    std::fflush(stdout);
  }
  return 0;
} catch (const std::exception& error) {
  std::fprintf(stderr, "bench_vehicles: %s\n", error.what());
  return 1;
}
