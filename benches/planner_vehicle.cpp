#include "planner_vehicle.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <ctime>
#include <stdexcept>

#include "planning/considered.hpp"
#include "planning/flat.hpp"
#include "planning/outcome_groups.hpp"
#include "sources/load.hpp"

namespace lostspark::benches {
namespace {

using model::Index;
using planning::ActionKind;

/// Milliseconds of processor time: the quickest of `runs`, since other work disturbs it upwards only.
template <class F>
double milliseconds(int runs, F&& work) {
  double best = 1e300;
  for (int r = 0; r < runs; ++r) {
    const std::clock_t begun = std::clock();
    work();
    best = std::min(best, 1e3 * static_cast<double>(std::clock() - begun) / CLOCKS_PER_SEC);
  }
  return best;
}

/// What the test will likeliest show.
model::Reading likeliest(const inference::Posterior& posterior, Index test) {
  const auto seen = posterior.predict(test);
  model::Reading reading;
  reading.test = test;
  if (inference::vehicle_of(posterior.compiled()).tests[static_cast<std::size_t>(test)].is_word()) {
    reading.value.kind = model::ValueKind::word;
    reading.value.word =
        static_cast<std::size_t>(std::max_element(seen.word.begin(), seen.word.end()) - seen.word.begin());
  } else if (seen.below_floor > 0.5) {
    reading.value.kind = model::ValueKind::below_floor;
  } else if (seen.over_range > 0.5) {
    reading.value.kind = model::ValueKind::over_range;
  } else {
    reading.value.number = seen.median;
  }
  return reading;
}

/// Mutual information of a test's groups and what must be repaired.
double bits(const inference::OutcomeTable& t) {
  std::vector<double> by_outcome(t.outcomes, 0.0);
  for (std::size_t x = 0; x < t.probability.size(); ++x) by_outcome[x % t.outcomes] += t.probability[x];
  double sum = 0;
  for (std::size_t c = 0; c < t.repairs.size(); ++c) {
    double mass = 0;
    for (std::size_t o = 0; o < t.outcomes; ++o) mass += t.probability[c * t.outcomes + o];
    for (std::size_t o = 0; o < t.outcomes; ++o)
      if (const double p = t.probability[c * t.outcomes + o]; p > 0) sum += p * std::log2(p / (mass * by_outcome[o]));
  }
  return sum;
}

void cutting(const inference::Posterior& posterior, const planning::Considered& considered) {
  constexpr std::size_t k_fine = 40;
  const auto& tests = considered.job.tests;
  const auto fine = posterior.outcome_tables(tests, k_fine);
  const auto costs = [&](std::size_t groups, int depth, std::size_t nodes, double& best) {
    const auto job = planning::job_problem(posterior, {}, tests, groups);
    auto options = considered.options;
    options.depth = depth;
    options.nodes = nodes;
    const auto d = decide(job.problem, job.state, options);
    std::vector<double> by_test(tests.size(), 0.0);
    for (const auto& o : d.options)
      if (o.action.kind == ActionKind::test) by_test[static_cast<std::size_t>(o.action.index)] = o.cost;
    best = d.cost;
    return by_test;
  };
  double fine_one = 0, fine_two = 0;
  constexpr std::size_t k_nodes = 400000;
  const auto fine_costs = costs(k_fine, 1, k_nodes, fine_one);
  (void)costs(k_fine, 2, k_nodes, fine_two);
  for (std::size_t groups : {4U, 6U, 8U, 12U}) {
    auto coarse = fine;
    for (auto& table : coarse) planning::merge_outcomes(table, groups);
    double all = 0, lost = 0, worst = 0;
    int numbers = 0;
    for (std::size_t t = 0; t < tests.size(); ++t) {
      if (fine[t].ranges.empty()) continue;
      const double whole = bits(fine[t]), part = bits(coarse[t]);
      ++numbers;
      all += whole;
      lost += whole - part;
      if (whole > 0.05) worst = std::max(worst, (whole - part) / whole);
    }
    double one = 0, two = 0, dearer = 0;
    const auto some = costs(groups, 1, k_nodes, one);
    for (std::size_t t = 0; t < tests.size(); ++t)
      if (some[t] > 0 && fine_costs[t] > 0) dearer = std::max(dearer, some[t] / fine_costs[t] - 1);
    (void)costs(groups, 2, k_nodes, two);
    std::printf(
        "|   %zu groups | %d | %.2f of %.2f bit lost (%.1f %%) | worst test %.1f %% | one step, worst test +%.2f %% | "
        "best +%.2f %% | depth two +%.2f %% |\n",
        groups, numbers, lost, all, 100 * lost / std::max(all, 1e-9), 100 * worst, 100 * dearer,
        100 * (one / fine_one - 1), 100 * (two / fine_two - 1));
  }
}

}  // namespace

void vehicle(const std::string& id, const std::string& complaint, int steps, bool groups) {
  const auto folders = sources::default_folders();
  const auto v = sources::load_vehicle(folders, id);
  const auto compiled = inference::compile(v, sources::default_workshop(folders));
  model::Evidence evidence;
  for (std::size_t k = 0; k < v->complaints.size(); ++k)
    if (v->complaints[k].id == complaint) evidence.emplace_back(model::Complained{static_cast<Index>(k)});
  if (evidence.empty())
    throw std::runtime_error(id + " has no complaint " + complaint + "; `lostspark vehicle show` lists them");
  std::printf("%s: %zu modes, %zu tests, pairs, complaint %s\n", v->id.c_str(), v->modes.size(), v->tests.size(),
              complaint.c_str());
  std::printf(
      "| readings | fault sets | of these looked at | tests | update, ms | tables, ms | first answer, ms | depth two, "
      "ms | "
      "advice, ms | depth of it | memory, kB | next |\n|--:|--:|--:|--:|--:|--:|--:|--:|--:|--:|--:|--:|---|\n");
  planning::BenchState bench;
  for (int step = 0; step <= steps; ++step) {
    auto posterior = inference::update(compiled, evidence);
    const double update_ms = milliseconds(2, [&] { posterior = inference::update(compiled, evidence); });
    auto considered = consider(posterior, bench);
    const auto& job = considered.job;
    const double tables_ms =
        milliseconds(2, [&] { (void)planning::job_problem(posterior, bench, considered.job.tests); });
    auto first = considered.options, two = considered.options;
    first.depth = 1;
    two.depth = 2;
    two.nodes = 1000000;  // no budget cuts it short: the whole of depth two
    planning::Decision d, at_two;
    const double first_ms = milliseconds(5, [&] { (void)decide(job.problem, job.state, first); });
    const double two_ms = milliseconds(2, [&] { at_two = decide(job.problem, job.state, two); });
    const double advice_ms = milliseconds(3, [&] { d = decide(job.problem, job.state, considered.options); });
    const planning::Flat flat(job.problem, job.state, considered.options.fault_sets);
    std::size_t problem_bytes = 0;
    for (const auto& t : job.problem.tests) problem_bytes += t.p.size() * sizeof(double);
    for (const auto& r : job.problem.repairs) problem_bytes += r.after.size() * sizeof(int);
    // Flat rows, 42 beliefs, the table of places (docs/planning.md).
    const std::size_t bytes = problem_bytes + flat.rows.size() * sizeof(double) +
                              42 * static_cast<std::size_t>(flat.n) * sizeof(double) + (std::size_t{1} << 20);
    const bool tests = d.action.kind == ActionKind::test;
    const Index test = tests ? job.tests[static_cast<std::size_t>(d.action.index)] : model::k_none;
    std::printf("| %d | %zu | %d | %zu | %.0f | %.0f | %.2f | %.1f | %zu | %.1f | %d | %zu | %s |\n", step,
                job.problem.prior.size(), flat.n, job.tests.size(), update_ms, tables_ms, first_ms, two_ms,
                at_two.nodes, advice_ms, d.depth, bytes / 1024,
                tests ? v->tests[static_cast<std::size_t>(test)].id.c_str() : "no test");
    if (groups) cutting(posterior, considered);
    std::fflush(stdout);
    if (!tests) break;
    evidence.emplace_back(likeliest(posterior, test));
    bench.not_available.push_back(test);
  }
}

}  // namespace lostspark::benches
