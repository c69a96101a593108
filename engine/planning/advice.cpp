#include "planning/advice.hpp"

#include <algorithm>
#include <cmath>

#include "planning/considered.hpp"
#include "planning/held_back.hpp"

namespace lostspark::planning {
namespace {

constexpr double k_least_gain_bits = 0.01;  // below this a test tells nothing worth a walk to the bench
constexpr std::size_t k_costed_tests =
    40;                                 // tests whose expected cost is looked up, half by bits, half by bits per minute
constexpr double k_least_cures = 0.02;  // repairs less likely to end the job are not listed
constexpr std::size_t k_nodes = 4000;      // node evaluations an advice
constexpr std::size_t k_nodes_to_two = 16000;  // where 4000 do not see two steps ahead: the largest vehicles
constexpr std::size_t k_fault_sets = 150;  // sets of needed repairs looked at

bool contains(const std::vector<Index>& list, Index value) {
  return std::find(list.begin(), list.end(), value) != list.end();
}

}  // namespace

bool mends_elsewhere(const model::Vehicle& v, Index repair) {
  const Index c = v.repairs[repair].component;
  return c >= 0 && v.components[c].kind == model::ComponentKind::elsewhere;
}

double elsewhere(const inference::Posterior& posterior) {
  const auto& v = inference::vehicle_of(posterior.compiled());
  double sum = posterior.nothing_wrong();
  const auto& p = posterior.component_probability();
  for (std::size_t c = 0; c < p.size(); ++c)
    if (v.components[c].kind == model::ComponentKind::elsewhere) sum += p[c];
  return sum;
}

Considered consider(const inference::Posterior& posterior, const BenchState& bench) {
  const auto& v = inference::vehicle_of(posterior.compiled());
  const auto& workshop = inference::workshop_of(posterior.compiled());
  Considered out;
  std::vector<Index> offered;
  for (std::size_t t = 0; t < v.tests.size(); ++t) {
    const auto& test = v.tests[t];
    if (contains(bench.not_available, static_cast<Index>(t))) continue;
    if (!workshop.find(test.instrument, test.is_word() ? "" : test.unit)) {
      out.refused.push_back(test.id + ": the workshop has no " + test.instrument);
      continue;
    }
    bool tools = true;
    for (Index setup : v.scenes[test.scene].setups)
      if (!v.setups[setup].tool.empty() && !workshop.find(v.setups[setup].tool, "")) {
        out.refused.push_back(test.id + ": the workshop has no " + v.setups[setup].tool);
        tools = false;
      }
    if (!tools) continue;
    bool helper = false;
    for (Index condition : {v.scenes[test.scene].condition, test.condition_extra})
      if (condition >= 0) helper |= v.conditions[condition].needs_helper;
    if (helper && !bench.helper) {
      out.refused.push_back(test.id + ": needs a second person");
      continue;
    }
    offered.push_back(static_cast<Index>(t));
  }
  auto& tests = out.tests;
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
  std::erase_if(tests, [](const Advice& a) { return a.gain_bits < k_least_gain_bits; });
  const auto by_rate = [](const Advice& a, const Advice& b) { return a.gain_bits_per_min > b.gain_bits_per_min; };
  const auto by_gain = [](const Advice& a, const Advice& b) { return a.gain_bits > b.gain_bits; };
  const std::size_t half = std::min(tests.size(), k_costed_tests / 2);
  std::vector<Index> costed;
  std::stable_sort(tests.begin(), tests.end(), by_gain);
  for (std::size_t k = 0; k < half; ++k) costed.push_back(tests[k].test);
  std::stable_sort(tests.begin(), tests.end(), by_rate);
  for (const auto& a : tests)
    if (costed.size() < k_costed_tests && !contains(costed, a.test)) costed.push_back(a.test);

  out.job = job_problem(posterior, bench, costed);
  out.options.exact = false;
  out.options.nodes = k_nodes;
  out.options.nodes_to_two = k_nodes_to_two;
  out.options.fault_sets = k_fault_sets;
  return out;
}

Plan advise(const inference::Posterior& posterior, const BenchState& bench) {
  const auto& v = inference::vehicle_of(posterior.compiled());
  Plan plan;
  auto considered = consider(posterior, bench);
  auto& tests = considered.tests;
  plan.refused = std::move(considered.refused);
  const auto& job = considered.job;
  auto decision = decide(job.problem, job.state, considered.options);
  hold_parts_back(v, job, job.state, decision);
  plan.no_test_cost_min = decision.no_test_cost;
  plan.nothing_separates = tests.empty() && posterior.nothing_wrong() < 0.5;
  for (auto& a : tests) a.expected_cost_min = a.access_min + decision.no_test_cost;
  for (const auto& option : decision.options) {
    if (option.action.kind == ActionKind::test) {
      const auto found = std::find_if(tests.begin(), tests.end(),
                                      [&](const Advice& a) { return a.test == job.tests[option.action.index]; });
      found->expected_cost_min = option.cost;
      plan.steps.push_back(*found);
      tests.erase(found);
      continue;
    }
    Advice advice;
    advice.expected_cost_min = option.cost;
    if (option.action.kind == ActionKind::refer) {
      if (!(option.action == decision.action)) continue;  // listed only where it is the best
      advice.kind = StepKind::refer;
      advice.access_min = 0.5;
      plan.steps.push_back(std::move(advice));
      continue;
    }
    const Index r = job.repairs[option.action.index];
    advice.kind = StepKind::repair;
    advice.repair = r;
    advice.cures = posterior.cures(r);
    if (advice.cures < k_least_cures && !(option.action == decision.action)) continue;
    advice.price = v.repairs[r].price;
    advice.covers_to_open = covers_to_open(v, v.repairs[r].covers, bench.covers_off);
    advice.access_min = v.repairs[r].labour_min;
    for (Index cover : advice.covers_to_open)
      advice.access_min += v.covers[cover].remove_min + v.covers[cover].refit_min;
    advice.access_min = std::max(advice.access_min, 0.5);
    plan.steps.push_back(std::move(advice));
  }
  // Tests that were not costed stay listed, by bits per minute.
  plan.steps.insert(plan.steps.end(), tests.begin(), tests.end());
  return plan;
}

}  // namespace lostspark::planning
