#include "planner/score.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <numeric>

namespace lostspark::planner {
namespace {

using namespace planning;

// Beliefs of the same place reached in another order differ by rounding: nine digits tell places apart.
using Key = std::vector<std::int64_t>;
Key key_of(const JobState& s) {
  Key key{static_cast<std::int64_t>(s.off), s.setup};
  const double mass = std::accumulate(s.belief.begin(), s.belief.end(), 0.0);
  for (double b : s.belief) key.push_back(std::llround(b / mass * 1e9));
  for (const auto* done : {&s.tested, &s.repaired, &s.swapped})
    for (char c : *done) key.push_back(c);
  return key;
}

struct Models {
  const Problem &world, &believed;
};

double walk(const Models& m, const JobState& is, const JobState& thought, const Policy& policy, std::map<Key, double>& seen) {
  Key key = key_of(is);
  const Key other = key_of(thought);
  key.insert(key.end(), other.begin(), other.end());
  if (const auto it = seen.find(key); it != seen.end()) return it->second;
  const Action action = policy(m.believed, thought);
  const auto expected = branches(m.believed, thought, action);
  double cost = 0;
  for (const auto& b : branches(m.world, is, action)) {
    double behind = 0;
    if (!b.ends) {
      const auto same = std::find_if(expected.begin(), expected.end(),
                                     [&](const Branch& e) { return !e.ends && e.outcome == b.outcome; });
      behind = same == expected.end() ? branches(m.world, b.state, {}).front().cost
                                      : walk(m, b.state, same->state, policy, seen);
    }
    cost += b.probability * (b.cost + behind);
  }
  return seen[key] = cost;
}

// A number in [0, 1) from a seed and a name, so that the same test shows the same in every policy's job.
double uniform(std::uint64_t seed, std::uint64_t what) {
  std::uint64_t x = seed * 0x9e3779b97f4a7c15ULL + what * 0xd1b54a32d192ed03ULL;
  for (int i = 0; i < 2; ++i) {
    x = (x ^ (x >> 30)) * 0xbf58476d1ce4e5b9ULL;
    x = (x ^ (x >> 27)) * 0x94d049bb133111ebULL;
    x ^= x >> 31;
  }
  return static_cast<double>(x >> 11) * 0x1p-53;
}

}  // namespace

double exact_cost(const Problem& p, const Policy& policy) { return exact_cost(p, p, policy); }

double exact_cost(const Problem& world, const Problem& believed, const Policy& policy) {
  std::map<Key, double> seen;
  return walk({world, believed}, start_of(world), start_of(believed), policy, seen);
}

Job play(const Problem& p, const Policy& policy, std::uint64_t seed) {
  Job job;
  JobState s = start_of(p);
  const double total = std::accumulate(p.prior.begin(), p.prior.end(), 0.0);
  double u = uniform(seed, 1) * total;
  int truth = 0;
  while (truth + 1 < static_cast<int>(p.prior.size()) && (u -= p.prior[truth]) >= 0) ++truth;
  while (true) {
    const Action action = policy(p, s);
    ++job.decisions;
    // The believed branches say what each result does to the job; the drawn one is picked by the truth.
    auto all = branches(p, s, action);
    if (action.kind == ActionKind::refer) {
      job.minutes += p.nothing[truth] ? std::min(p.check, p.refer) : p.refer;
      job.referred = 1;
      return job;
    }
    if (action.kind == ActionKind::test) {
      ++job.tests;
      const auto& t = p.tests[action.index];
      double v = uniform(seed, 1000 + static_cast<std::uint64_t>(action.index) * 8192 + truth);
      int outcome = 0;
      while (outcome + 1 < t.outcomes && (v -= t.p[static_cast<std::size_t>(truth) * t.outcomes + outcome]) >= 0) ++outcome;
      const auto found = std::find_if(all.begin(), all.end(), [&](const Branch& b) { return b.outcome == outcome; });
      job.minutes += found->cost;
      s = std::move(found->state);
      continue;
    }
    const auto& r = p.repairs[action.index];
    const bool swap = action.kind == ActionKind::swap;
    const double cost = (swap ? r.swap_minutes : r.minutes + r.price) + p.access(r.needs, s.off) + p.check;
    const bool touches = r.after[truth] != truth;
    const bool works = touches && uniform(seed, 11 + static_cast<std::uint64_t>(action.index) * 8192) < r.success;
    const int left = works ? r.after[truth] : truth;
    const bool clean = left == k_mended || p.nothing[left];
    const bool passes = clean || uniform(seed, 77 + static_cast<std::uint64_t>(action.index) * 8192 + left + (swap ? 4096 : 0)) <
                                     p.passes[left];
    if (!works && !swap) ++job.wrong_parts, job.parts += r.price;
    if (passes) {
      job.minutes += cost + (swap ? r.price : 0) + (clean ? 0 : p.comeback);
      job.comebacks = !clean;
      return job;
    }
    job.minutes += cost;
    if (!swap) truth = left;
    s = std::move(all.back().state);
  }
}

}  // namespace lostspark::planner
