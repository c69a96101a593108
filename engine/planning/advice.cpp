#include "planning/advice.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "planning/considered.hpp"

namespace lostspark::planning {
namespace {

constexpr double k_least_gain_bits = 0.01;  // below this a test tells nothing worth a walk to the bench
constexpr std::size_t k_costed_tests =
    40;                                 // tests whose expected cost is looked up, half by bits, half by bits per minute
constexpr double k_least_cures = 0.02;  // repairs less likely to end the job are not listed
constexpr double k_may_be_sound = 0.3;     // probability that nothing here is at fault, above which no part is fitted on a hunch
constexpr double k_clearing_bits = 0.1;    // about the need of a repair, that a test has to tell to come before it
constexpr double k_near_tie = 1.03;        // how much dearer than a part a test may be that comes before it all the same
constexpr std::size_t k_nodes = 4000;      // node evaluations an advice
constexpr std::size_t k_nodes_to_two = 16000;  // where 4000 do not see two steps ahead: the largest vehicles
constexpr std::size_t k_fault_sets = 150;  // sets of needed repairs looked at

bool contains(const std::vector<Index>& list, Index value) {
  return std::find(list.begin(), list.end(), value) != list.end();
}

/// Mutual information (bits) between a test's result and whether a repair is needed at all; indices into the problem.
double bits_about_repair(const JobProblem& job, std::size_t test, std::size_t repair) {
  const auto& p = job.problem;
  const auto& row = p.tests[test];
  const auto outcomes = static_cast<std::size_t>(row.outcomes);
  std::array<double, 2> weight{};
  std::array<std::vector<double>, 2> joint{std::vector<double>(outcomes), std::vector<double>(outcomes)};
  for (std::size_t h = 0; h < job.state.belief.size(); ++h) {
    const std::size_t needed = p.repairs[repair].after[h] != static_cast<int>(h);
    weight[needed] += job.state.belief[h];
    for (std::size_t o = 0; o < outcomes; ++o) joint[needed][o] += job.state.belief[h] * row.p[h * outcomes + o];
  }
  const double sum = weight[0] + weight[1];
  double bits = 0;
  for (std::size_t o = 0; o < outcomes; ++o)
    for (std::size_t needed : {0, 1})
      if (joint[needed][o] > 0)
        bits += joint[needed][o] / sum * std::log2(joint[needed][o] * sum / (weight[needed] * (joint[0][o] + joint[1][o])));
  return bits;
}

/// A part is not fitted just to see the check pass. Where a test that tells something about the need of that part costs hardly
/// more, or while nothing here may well be at fault, the one that tells most per minute comes before it; without one, and with
/// nothing here likelier than not, the cheapest step that fits no part comes next, referring the job among them. Expected
/// cost alone would fit cheap parts to sound vehicles (docs/spice-in-the-loop.md), and money spent is not got back.
void nothing_vain_first(const inference::Posterior& posterior, const model::Vehicle& v, const JobProblem& job,
                        double refer_cost, std::vector<Advice>& steps) {
  if (steps.empty() || steps.front().kind != StepKind::repair) return;
  const auto part_here = [&](const Advice& a) {
    return a.kind == StepKind::repair && model::fits_part(v.repairs[a.repair]) && !mends_elsewhere(v, a.repair);
  };
  const double away_from_here = elsewhere(posterior);
  if (!part_here(steps.front())) return;
  const bool may_be_sound = away_from_here > k_may_be_sound;
  const double near = k_near_tie * steps.front().expected_cost_min;
  const auto repair = static_cast<std::size_t>(
      std::find(job.repairs.begin(), job.repairs.end(), steps.front().repair) - job.repairs.begin());
  auto first = steps.end();
  double best = 0;
  for (auto at = steps.begin(); at != steps.end(); ++at) {
    if (at->kind != StepKind::test || (!may_be_sound && at->expected_cost_min > near)) continue;
    const auto test = std::find(job.tests.begin(), job.tests.end(), at->test) - job.tests.begin();
    if (test == static_cast<std::ptrdiff_t>(job.tests.size())) continue;  // not among those looked up
    const double bits = bits_about_repair(job, static_cast<std::size_t>(test), repair);
    if (bits >= k_clearing_bits && bits > best * at->access_min) {
      best = bits / at->access_min;
      first = at;
    }
  }
  if (first == steps.end() && away_from_here > 0.5)
    first = std::find_if(steps.begin(), steps.end(), [&](const Advice& a) {
      const bool tells = a.kind == StepKind::test && a.gain_bits >= k_clearing_bits;
      return (tells || (a.kind == StepKind::repair && !part_here(a))) && a.expected_cost_min < refer_cost;
    });
  if (first != steps.end()) {
    std::rotate(steps.begin(), first, first + 1);
    return;
  }
  if (away_from_here <= 0.5) return;
  std::erase_if(steps, [](const Advice& a) { return a.kind == StepKind::refer; });
  Advice away;
  away.kind = StepKind::refer;
  away.access_min = 0.5;
  away.expected_cost_min = refer_cost;
  steps.insert(steps.begin(), away);
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
  const auto decision = decide(job.problem, job.state, considered.options);
  plan.no_test_cost_min = decision.no_test_cost;
  plan.nothing_separates = tests.empty() && posterior.nothing_wrong() < 0.5;
  for (auto& a : tests) a.expected_cost_min = a.access_min + decision.no_test_cost;
  double refer_cost = inference::workshop_of(posterior.compiled()).refer_min;
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
      refer_cost = option.cost;
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
  nothing_vain_first(posterior, v, job, refer_cost, plan.steps);
  return plan;
}

}  // namespace lostspark::planning
