#include "planning/held_back.hpp"

#include <algorithm>
#include <cmath>
#include <map>

namespace lostspark::planning {
namespace {

constexpr double k_may_be_sound = 0.3;   // probability that nothing here is at fault, above which no part is fitted on a hunch
constexpr double k_clearing_bits = 0.1;  // that a test has to tell to come before a part
constexpr double k_near_tie = 1.03;      // how much dearer than a part a test may be that comes before it all the same

/// Mutual information (bits) between a test's result and the side that each fault set is on: 0 .. sides - 1.
double bits_about(const Problem& p, const JobState& state, int test, const std::vector<int>& side, int sides) {
  const auto& row = p.tests[test];
  std::vector<double> joint(static_cast<std::size_t>(sides) * row.outcomes), weight(sides), outcome(row.outcomes);
  double sum = 0;
  for (std::size_t h = 0; h < side.size(); ++h) {
    sum += state.belief[h];
    weight[side[h]] += state.belief[h];
    for (int o = 0; o < row.outcomes; ++o) {
      const double mass = state.belief[h] * row.p[h * row.outcomes + o];
      joint[side[h] * row.outcomes + o] += mass;
      outcome[o] += mass;
    }
  }
  double bits = 0;
  for (int s = 0; s < sides; ++s)
    for (int o = 0; o < row.outcomes; ++o)
      if (const double mass = joint[s * row.outcomes + o]; mass > 0)
        bits += mass / sum * std::log2(mass * sum / (weight[s] * outcome[o]));
  return bits;
}

double minutes_of(const Problem& p, const JobState& state, int test) {
  const auto& row = p.tests[test];
  const double setup = row.setup == state.setup ? 0 : p.setup_minutes[row.setup];
  return std::max(row.minutes + p.access(row.needs, state.off) + setup, 0.5);
}

}  // namespace

void hold_parts_back(const model::Vehicle& v, const JobProblem& job, const JobState& state, Decision& decision) {
  const auto& p = job.problem;
  auto& options = decision.options;
  const auto elsewhere = [&](int repair) { return mends_elsewhere(v, job.repairs[repair]); };
  const auto part_here = [&](const Action& a) {
    return a.kind == ActionKind::repair && model::fits_part(v.repairs[job.repairs[a.index]]) && !elsewhere(a.index);
  };
  if (!part_here(decision.action)) return;
  std::vector<int> needed(state.belief.size(), 0), here(needed), own(needed);
  std::map<std::vector<int>, int> kinds;  // by what mends it: fault sets that differ by a level only are one
  double mass = 0, sound = 0;
  for (std::size_t h = 0; h < needed.size(); ++h) {
    std::vector<int> mended_by;
    for (std::size_t r = 0; r < p.repairs.size(); ++r)
      if (p.repairs[r].after[h] != static_cast<int>(h)) mended_by.push_back(static_cast<int>(r));
    needed[h] = std::count(mended_by.begin(), mended_by.end(), decision.action.index) > 0 ? 1 : 0;
    here[h] = std::all_of(mended_by.begin(), mended_by.end(), elsewhere) ? 0 : 1;
    own[h] = kinds.emplace(mended_by, static_cast<int>(kinds.size())).first->second;
    mass += state.belief[h];
    if (!here[h]) sound += state.belief[h];
  }
  sound /= mass;
  auto first = options.end();
  double best = 0, refer_cost = p.refer;
  for (auto at = options.begin(); at != options.end(); ++at) {
    if (at->action.kind == ActionKind::refer) refer_cost = at->cost;
    if (at->action.kind != ActionKind::test) continue;
    if (sound <= k_may_be_sound && at->cost > k_near_tie * decision.cost) continue;
    const double bits = bits_about(p, state, at->action.index, needed, 2), minutes = minutes_of(p, state, at->action.index);
    if (bits < k_clearing_bits || bits <= best * minutes) continue;
    best = bits / minutes;
    first = at;
  }
  if (first == options.end()) {
    if (sound <= 0.5) return;
    const auto sides = static_cast<int>(kinds.size());
    first = std::find_if(options.begin(), options.end(), [&](const Option& o) {
      if (o.cost >= refer_cost || part_here(o.action)) return false;
      return o.action.kind == ActionKind::repair ||
             (o.action.kind == ActionKind::test && bits_about(p, state, o.action.index, own, sides) >= k_clearing_bits);
    });
    if (first == options.end())
      first = std::find_if(options.begin(), options.end(), [](const Option& o) { return o.action.kind == ActionKind::refer; });
    if (first == options.end()) first = options.insert(options.end(), {Action{}, refer_cost, 0});
  }
  std::rotate(options.begin(), first, first + 1);
  decision.action = options.front().action;
  decision.cost = options.front().cost;
}

}  // namespace lostspark::planning
