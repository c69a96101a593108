#include "planning/no_test_cost.hpp"

#include <algorithm>

namespace lostspark::planning {

double repair_minutes(const model::Vehicle& vehicle, const model::Workshop& workshop, Index repair) {
  const auto& r = vehicle.repairs[repair];
  return r.labour_min + r.price / std::max(workshop.labour_rate_per_hour, 1e-6) * 60 + workshop.check_min;
}

NoTest no_test_cost(const model::Vehicle& vehicle, const model::Workshop& workshop, const BenchState& bench,
                    const std::vector<std::vector<Index>>& classes, std::span<const double> probability,
                    std::size_t stride) {
  struct Left {
    Index a = model::k_none, b = model::k_none;  // repairs still needed
    double p = 0;
  };
  std::vector<Left> left;
  double total = 0;
  for (std::size_t c = 0; c < classes.size(); ++c) {
    const double p = probability[c * stride];
    if (p <= 0) continue;
    total += p;
    left.push_back({classes[c].empty() ? model::k_none : classes[c][0],
                    classes[c].size() > 1 ? classes[c][1] : model::k_none, p});
  }
  NoTest out;
  if (total <= 0) return out;
  // Every class that needs nothing ends at the next functional check.
  std::vector<double> step_cost, step_fail;
  std::vector<Index> covers_off = bench.covers_off;
  double mass = total;
  std::vector<double> ends(vehicle.repairs.size());
  std::vector<bool> tried(vehicle.repairs.size(), false);
  for (int round = 0; round < 64 && mass > 1e-9 * total; ++round) {
    std::fill(ends.begin(), ends.end(), 0.0);
    double nothing = 0;
    for (const auto& h : left) {
      if (h.a < 0 && h.b < 0) nothing += h.p;
      else if (h.a >= 0 && h.b < 0) ends[h.a] += h.p;
      else if (h.a < 0 && h.b >= 0) ends[h.b] += h.p;
    }
    Index best = model::k_none;
    double best_ratio = 0, best_cost = 0;
    for (std::size_t k = 0; k < ends.size(); ++k) {
      if (tried[k] || ends[k] <= 0) continue;
      double cost = repair_minutes(vehicle, workshop, static_cast<Index>(k));
      for (Index cover : covers_to_open(vehicle, vehicle.repairs[k].covers, covers_off))
        cost += vehicle.covers[cover].remove_min + vehicle.covers[cover].refit_min;
      const double ratio = ends[k] * vehicle.repairs[k].success / cost;
      if (ratio > best_ratio) {
        best_ratio = ratio;
        best = static_cast<Index>(k);
        best_cost = cost;
      }
    }
    if (best < 0) {
      // Only pairs are left: begin with the repair most of them need.
      for (const auto& h : left)
        for (Index k : {h.a, h.b})
          if (k >= 0 && !tried[k]) ends[k] += h.p;
      for (std::size_t k = 0; k < ends.size(); ++k)
        if (!tried[k] && ends[k] > 0 && (best < 0 || ends[k] > ends[best])) best = static_cast<Index>(k);
      if (best < 0) break;
      best_cost = repair_minutes(vehicle, workshop, best);
    } else if (best_ratio / mass < 1 / workshop.refer_min) {
      break;  // referring out is cheaper than going on
    }
    if (round == 0) out.first = best;
    tried[best] = true;
    for (Index cover : covers_to_open(vehicle, vehicle.repairs[best].covers, covers_off)) covers_off.push_back(cover);
    const double success = vehicle.repairs[best].success;
    double remaining = 0;
    for (auto& h : left) {
      if (h.a == best) h.a = model::k_none;
      if (h.b == best) h.b = model::k_none;
      if (h.a < 0 && h.b < 0) h.p *= 1 - success;  // cured with that probability, else it stays unexplained
      remaining += h.p;
    }
    (void)nothing;
    step_cost.push_back(best_cost);
    step_fail.push_back(mass > 0 ? remaining / mass : 0);
    mass = remaining;
  }
  double cost = mass > 1e-9 * total ? workshop.refer_min : 0;
  for (std::size_t k = step_cost.size(); k-- > 0;) {
    const double here = step_cost[k] + step_fail[k] * cost;
    if (here > workshop.refer_min) {
      cost = workshop.refer_min;
      if (k == 0) out.first = model::k_none;
    } else {
      cost = here;
    }
  }
  out.cost_min = cost;
  return out;
}

}  // namespace lostspark::planning
