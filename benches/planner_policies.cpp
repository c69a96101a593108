#include "planner_policies.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <numeric>

#include "planning/flat.hpp"
#include "planning/planner.hpp"
#include "planning/repair_order.hpp"

namespace lostspark::benches {
namespace {

using namespace planning;

/// What the simple rules need to know of one place of a job.
class Place {
 public:
  Place(const Problem& p, const JobState& s) : p_(p), s_(s), flat_(p, s, p.prior.size()), order_(flat_) {
    repaired_.assign(flat_.repairs.size(), 0);
  }
  double no_test(const double* belief, double mass, CoverMask off) {
    return order_.cost({belief, static_cast<std::size_t>(flat_.n)}, mass, off, repaired_, flat_.swapped);
  }
  Action parts() {
    (void)no_test(flat_.belief.data(), 1, flat_.off);
    if (order_.first() < 0) return {};
    return {order_.first_is_swap() ? ActionKind::swap : ActionKind::repair, flat_.repairs[order_.first()].origin};
  }
  /// Highest probability that one repair ends the job.
  double leader() {
    double best = 0;
    for (const auto& r : flat_.repairs) {
      double sum = 0;
      for (int x = r.begin; x < r.end; ++x) {
        const auto& t = flat_.touches[x];
        if (t.after == t.h) sum += flat_.belief[t.h];
      }
      best = std::max(best, sum);
    }
    return best;
  }
  struct Look {
    int test = -1, origin = -1;
    double minutes = 0, bits = 0, halves = 0, after = 0;  // after: minutes and the no-test cost behind
    bool certain = false;
  };
  std::vector<Look> looks(bool with_cost) {
    std::vector<Look> out;
    std::vector<double> child(flat_.n);
    for (std::size_t t = 0; t < flat_.tests.size(); ++t) {
      const auto& test = flat_.tests[t];
      Look look{static_cast<int>(t), test.origin};
      look.minutes = test.minutes + flat_.access(test.needs, flat_.off);
      if (test.setup != 0 && test.setup != flat_.setup) look.minutes += flat_.setup_minutes[test.setup];
      look.after = look.minutes;
      double most = 0;
      for (int o = 0; o < test.outcomes; ++o) {
        const double* row = &flat_.rows[static_cast<std::size_t>(test.row + o) * flat_.n];
        double mass = 0;
        for (int h = 0; h < flat_.n; ++h) mass += child[h] = flat_.belief[h] * row[h];
        if (mass <= 0) continue;
        most = std::max(most, mass);
        for (int h = 0; h < flat_.n; ++h)
          if (child[h] > 0) look.bits += child[h] * std::log2(row[h] / mass);
        if (with_cost) look.after += no_test(child.data(), mass, flat_.off | test.needs);
      }
      look.certain = most > 1 - 1e-9;
      look.halves = 1 - most;
      if (!look.certain) out.push_back(look);
    }
    return out;
  }
  double now() { return no_test(flat_.belief.data(), 1, flat_.off); }

 private:
  const Problem& p_;
  const JobState& s_;
  Flat flat_;
  RepairOrder order_;
  std::vector<char> repaired_;
};

template <class Score>
const Place::Look* best_of(const std::vector<Place::Look>& looks, Score score) {
  const Place::Look* best = nullptr;
  for (const auto& l : looks)
    if (!best || score(l) > score(*best)) best = &l;
  return best;
}

template <class Score>
planner::Policy until(double stop, double least_bits, Score score) {
  return [=](const Problem& p, const JobState& s) {
    Place place(p, s);
    if (place.leader() < stop) {
      auto looks = place.looks(false);
      std::erase_if(looks, [&](const auto& l) { return l.bits < least_bits; });
      if (const auto* l = best_of(looks, score)) return Action{ActionKind::test, l->origin};
    }
    return place.parts();
  };
}

double rate(const Place::Look& l) { return l.bits / std::max(l.minutes, 0.1); }

Action by_cost(const Problem& p, const JobState& s, int kind) {
  Place place(p, s);
  const double now = place.now();
  auto looks = place.looks(true);
  std::erase_if(looks, [&](const auto& l) { return l.after >= now; });
  const Place::Look* best = nullptr;
  if (kind == 0) best = best_of(looks, rate);
  if (kind == 1) best = best_of(looks, [](const auto& l) { return -l.after; });
  if (kind == 2) best = best_of(looks, [&](const auto& l) { return (now - l.after) / std::max(l.minutes, 0.1); });
  return best ? Action{ActionKind::test, best->origin} : place.parts();
}

planner::Policy look_ahead(int depth) {
  return [depth](const Problem& p, const JobState& s) {
    PlannerOptions options;
    options.exact = false;
    options.depth = depth;
    options.nodes = 100000000;
    return decide(p, s, options).action;
  };
}

}  // namespace

std::vector<NamedPolicy> all_policies() {
  return {
      {"parts by p/c", [](const Problem& p, const JobState& s) { return Place(p, s).parts(); }},
      {"front to back, stop .8", until(0.8, 1e-3, [](const Place::Look& l) { return -l.test; })},
      {"half-split, stop .5", until(0.5, 1e-3, [](const Place::Look& l) { return l.halves; })},
      {"bits/min, stop .5", until(0.5, 1e-3, rate)},
      {"bits/min, stop .8", until(0.8, 1e-3, rate)},
      {"bits/min, stop by cost", [](const Problem& p, const JobState& s) { return by_cost(p, s, 0); }},
      {"one step, lowest total", [](const Problem& p, const JobState& s) { return by_cost(p, s, 1); }},
      {"one step, saved/spent", [](const Problem& p, const JobState& s) { return by_cost(p, s, 2); }},
      {"look-ahead 2", look_ahead(2)},
      {"shipped", [](const Problem& p, const JobState& s) {
         PlannerOptions options;
         options.exact = false;
         return decide(p, s, options).action;
       }},
  };
}

}  // namespace lostspark::benches
