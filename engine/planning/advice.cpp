#include "planning/advice.hpp"

#include <algorithm>
#include <cmath>

#include "planning/no_test_cost.hpp"

namespace lostspark::planning {
namespace {

constexpr double k_least_gain_bits = 0.01;   // below this a test tells nothing worth a walk to the bench
constexpr std::size_t k_costed_tests = 16;   // tests whose expected cost is looked up, best by bits per minute

bool contains(const std::vector<Index>& list, Index value) {
  return std::find(list.begin(), list.end(), value) != list.end();
}

}  // namespace

Plan advise(const inference::Posterior& posterior, const BenchState& bench) {
  const auto& v = inference::vehicle_of(posterior.compiled());
  const auto& workshop = inference::workshop_of(posterior.compiled());
  Plan plan;
  std::vector<Index> offered;
  for (std::size_t t = 0; t < v.tests.size(); ++t) {
    const auto& test = v.tests[t];
    if (contains(bench.not_available, static_cast<Index>(t))) continue;
    if (!workshop.find(test.instrument, test.is_word() ? "" : test.unit)) {
      plan.refused.push_back(test.id + ": the workshop has no " + test.instrument);
      continue;
    }
    bool tools = true;
    for (Index setup : v.scenes[test.scene].setups)
      if (!v.setups[setup].tool.empty() && !workshop.find(v.setups[setup].tool, "")) {
        plan.refused.push_back(test.id + ": the workshop has no " + v.setups[setup].tool);
        tools = false;
      }
    if (!tools) continue;
    bool helper = false;
    for (Index condition : {v.scenes[test.scene].condition, test.condition_extra})
      if (condition >= 0) helper |= v.conditions[condition].needs_helper;
    if (helper && !bench.helper) {
      plan.refused.push_back(test.id + ": needs a second person");
      continue;
    }
    offered.push_back(static_cast<Index>(t));
  }
  std::vector<Advice> tests;
  for (const auto& gain : posterior.gains(offered)) {
    Advice advice;
    advice.kind = StepKind::test;
    advice.test = gain.test;
    advice.gain_bits = gain.gain_bits;
    advice.access_min = access_minutes(v, v.tests[gain.test], bench);
    advice.gain_bits_per_min = gain.gain_bits / advice.access_min;
    advice.covers_to_open = covers_to_open(v, v.tests[gain.test].covers, bench.covers_off);
    tests.push_back(std::move(advice));
  }
  std::stable_sort(tests.begin(), tests.end(), [](const Advice& a, const Advice& b) {
    return a.gain_bits_per_min > b.gain_bits_per_min;
  });
  std::erase_if(tests, [](const Advice& a) { return a.gain_bits < k_least_gain_bits; });

  // Expected cost of mending now, and after the result of each promising test.
  std::vector<Index> costed;
  for (std::size_t k = 0; k < std::min(tests.size(), k_costed_tests); ++k) costed.push_back(tests[k].test);
  const auto tables = posterior.outcome_tables(costed);
  const auto sets = posterior.fault_sets(1e-7);
  std::vector<std::vector<Index>> classes;
  std::vector<double> probability;
  for (const auto& set : sets) {
    std::vector<Index> repairs;
    for (Index mode : set.modes)
      if (!contains(repairs, v.modes[mode].repair)) repairs.push_back(v.modes[mode].repair);
    classes.push_back(std::move(repairs));
    probability.push_back(set.probability);
  }
  const auto now = no_test_cost(v, workshop, bench, classes, probability);
  plan.no_test_cost_min = now.cost_min;
  double best_test_cost = std::numeric_limits<double>::infinity();
  for (std::size_t k = 0; k < tests.size(); ++k) {
    if (k >= tables.size()) {
      tests[k].expected_cost_min = tests[k].access_min + now.cost_min;
      continue;
    }
    BenchState after = bench;
    for (Index cover : tests[k].covers_to_open) after.covers_off.push_back(cover);
    double cost = tests[k].access_min;
    for (std::size_t o = 0; o < tables[k].outcomes; ++o) {
      double p = 0;
      for (std::size_t c = 0; c < tables[k].repairs.size(); ++c) p += tables[k].probability[c * tables[k].outcomes + o];
      if (p < 1e-9) continue;
      cost += p * no_test_cost(v, workshop, after, tables[k].repairs,
                               {tables[k].probability.data() + o, tables[k].probability.size() - o},
                               tables[k].outcomes).cost_min;
    }
    tests[k].expected_cost_min = cost;
    best_test_cost = std::min(best_test_cost, cost);
  }

  // Repairs: the one to begin with, and the others that could end the job, by probability per cost.
  std::vector<Advice> repairs;
  for (std::size_t r = 0; r < v.repairs.size(); ++r) {
    const double cures = posterior.cures(static_cast<Index>(r));
    if (cures < 0.02) continue;
    Advice advice;
    advice.kind = StepKind::repair;
    advice.repair = static_cast<Index>(r);
    advice.cures = cures;
    advice.price = v.repairs[r].price;
    advice.covers_to_open = covers_to_open(v, v.repairs[r].covers, bench.covers_off);
    advice.access_min = v.repairs[r].labour_min;
    for (Index cover : advice.covers_to_open)
      advice.access_min += v.covers[cover].remove_min + v.covers[cover].refit_min;
    advice.access_min = std::max(advice.access_min, 0.5);
    // Cost of beginning here: this repair, then the p/c order for what is left.
    auto rest = classes;
    auto mass = probability;
    double left = 0;
    for (std::size_t c = 0; c < rest.size(); ++c) {
      const bool helped = contains(rest[c], static_cast<Index>(r));
      std::erase(rest[c], static_cast<Index>(r));
      if (helped && rest[c].empty()) mass[c] *= 1 - v.repairs[r].success;
      if (!helped && rest[c].empty()) mass[c] = 0;
      left += mass[c];
    }
    BenchState after = bench;
    for (Index cover : advice.covers_to_open) after.covers_off.push_back(cover);
    double cost = repair_minutes(v, workshop, static_cast<Index>(r));
    for (Index cover : advice.covers_to_open) cost += v.covers[cover].remove_min + v.covers[cover].refit_min;
    if (left > 0) cost += left * no_test_cost(v, workshop, after, rest, mass).cost_min;
    advice.expected_cost_min = cost;
    repairs.push_back(std::move(advice));
  }
  std::stable_sort(repairs.begin(), repairs.end(), [](const Advice& a, const Advice& b) {
    return a.expected_cost_min < b.expected_cost_min;
  });
  plan.nothing_separates = tests.empty() && posterior.nothing_wrong() < 0.5;

  Advice refer;
  refer.kind = StepKind::refer;
  refer.access_min = 0.5;
  refer.expected_cost_min = workshop.refer_min;

  const double repair_cost = repairs.empty() ? std::numeric_limits<double>::infinity() : repairs.front().expected_cost_min;
  const bool stop = std::min(repair_cost, workshop.refer_min) <= best_test_cost;
  if (stop && repair_cost <= workshop.refer_min && !repairs.empty()) {
    plan.steps.push_back(repairs.front());
    repairs.erase(repairs.begin());
  } else if (stop && workshop.refer_min < repair_cost && posterior.nothing_wrong() < 0.5) {
    plan.steps.push_back(refer);
  }
  plan.steps.insert(plan.steps.end(), tests.begin(), tests.end());
  plan.steps.insert(plan.steps.end(), repairs.begin(), repairs.end());
  return plan;
}

}  // namespace lostspark::planning
