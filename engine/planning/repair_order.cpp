#include "planning/repair_order.hpp"

#include <algorithm>

namespace lostspark::planning {
namespace {

constexpr double k_spent = 1e-13;  // weight, relative to the whole, below which the job counts as ended

}  // namespace

RepairOrder::RepairOrder(const Flat& flat)
    : flat_(flat), weight_(flat.n), more_ends_(flat.repairs.size()), touched_(flat.repairs.size()),
      minutes_(flat.repairs.size()), swap_minutes_(flat.repairs.size()), swapped_(flat.repairs.size()) {
  step_cost_.reserve(2 * flat.repairs.size() + 1);
  step_wrong_.reserve(2 * flat.repairs.size() + 1);
  step_mass_.reserve(2 * flat.repairs.size() + 1);
  alive_.reserve(flat.repairs.size());
  ranked_.reserve(2 * flat.repairs.size());
}

void RepairOrder::gather(std::span<const double> belief, std::span<const char> repaired) {
  std::copy(belief.begin(), belief.end(), weight_.begin());
  base_ = 0;
  for (int h : flat_.hiding) base_ += weight_[h] * flat_.ends[h];
  idle_ = 0;
  for (int h : flat_.idle) idle_ += weight_[h];
  alive_.clear();
  for (std::size_t k = 0; k < flat_.repairs.size(); ++k) {
    if (repaired[k]) continue;
    double more = 0, all = 0;
    for (int x = flat_.repairs[k].begin; x < flat_.repairs[k].end; ++x) {
      const auto& t = flat_.touches[x];
      more += weight_[t.h] * t.more_ends;
      all += weight_[t.h];
    }
    more_ends_[k] = more;
    touched_[k] = all;
    if (all > 0) alive_.push_back(static_cast<int>(k));
  }
}

void RepairOrder::change(int h, double weight) {
  const double d = weight - weight_[h];
  if (d == 0) return;
  weight_[h] = weight;
  base_ += d * flat_.ends[h];
  for (int i = flat_.by_set_begin[h]; i < flat_.by_set_begin[h + 1]; ++i) {
    const int k = flat_.by_set_repair[i];
    more_ends_[k] += d * flat_.touches[flat_.by_set_touch[i]].more_ends;
    touched_[k] += d;
  }
}

double RepairOrder::cost(std::span<const double> belief, double mass, CoverMask off, std::span<const char> repaired,
                         std::span<const char> swapped) {
  gather(belief, repaired);
  for (int k : alive_) swapped_[k] = swapped[k];
  step_cost_.clear();
  step_wrong_.clear();
  step_mass_.clear();
  first_ = -1;
  const double least_mass = k_spent * mass;
  const double give_up_now = flat_.give_up(mass, idle_);
  double left = mass;
  CoverMask priced = ~off;  // the covers minutes_ holds for: none yet
  while (left > least_mass && !alive_.empty()) {
    if (priced != off) {
      for (int k : alive_) {
        const auto& r = flat_.repairs[k];
        const double access = flat_.access(r.needs, off) + flat_.check;
        minutes_[k] = r.minutes + r.price + access;
        swap_minutes_[k] = r.swap_minutes + access;
      }
      priced = off;
    }
    // p/c; where no single repair is worth it, the one that gets most of the pairs nearer.
    double best_p = 0, best_c = 1, near_p = 0, near_c = 1;
    int best = -1, near = -1;
    bool best_swap = false;
    for (int k : alive_) {
      const double p = base_ - idle_ + more_ends_[k];
      if (p * best_c > best_p * minutes_[k]) best = k, best_p = p, best_c = minutes_[k], best_swap = false;
      if (!swapped_[k]) {
        const double c = swap_minutes_[k] + (p + idle_) / left * flat_.repairs[k].price;
        if (p * best_c > best_p * c) best = k, best_p = p, best_c = c, best_swap = true;
      }
      if (flat_.pairs && touched_[k] * near_c > near_p * minutes_[k]) near = k, near_p = touched_[k], near_c = minutes_[k];
    }
    if (best < 0 || best_p * flat_.refer + idle_ * flat_.check < left * best_c) {
      if (near < 0 || near_p * flat_.refer < left * near_c) break;
      best = near;
      best_swap = false;
      best_c = near_c;
    }
    if (step_cost_.empty()) first_ = best, first_swap_ = best_swap;
    const auto& r = flat_.repairs[best];
    double wrong = 0;
    for (int h : flat_.hiding) wrong += weight_[h] * flat_.wrong[h];
    step_mass_.push_back(left);
    double ended = base_ + more_ends_[best];
    for (int x = r.begin; x < r.end; ++x) {
      const auto& t = flat_.touches[x];
      wrong += weight_[t.h] * (t.wrong - flat_.wrong[t.h]);
    }
    if (best_swap) {
      step_cost_.push_back(swap_minutes_[best] * left + ended * r.price);
      for (int x = r.begin; x < r.end; ++x) {
        const auto& t = flat_.touches[x];
        const double w = weight_[t.h];
        const double scale = 1 - flat_.ends[t.h];
        if (w > 0) change(t.h, scale > 0 ? w * (1 - t.more_ends - flat_.ends[t.h]) / scale : 0);
      }
    } else {
      step_cost_.push_back(minutes_[best] * left);
      for (int x = r.begin; x < r.end; ++x) {
        const auto& t = flat_.touches[x];
        const double w = weight_[t.h];
        if (w <= 0) continue;
        const double scale = 1 - flat_.ends[t.h];
        change(t.h, scale > 0 ? w * t.stays / scale : 0);
        if (t.moves > 0) {
          // Both are multiplied by 1 - ends below, as everything that saw this check.
          const double scale_after = 1 - flat_.ends[t.after];
          change(t.after, weight_[t.after] + w * t.moves / scale_after);
        }
      }
    }
    for (int h : flat_.hiding) change(h, weight_[h] * (1 - flat_.ends[h]));
    step_wrong_.push_back(wrong);
    left -= ended;
    idle_ = 0;  // every check ends it
    off |= r.needs;
    if (best_swap) swapped_[best] = 1;
    std::erase_if(alive_, [&](int k) {
      return (k == best && !best_swap) || touched_[k] <= least_mass;
    });
  }
  double value = step_cost_.empty() ? give_up_now : left > least_mass ? flat_.refer * left : 0;
  for (std::size_t i = step_cost_.size(); i-- > 0;) {
    const double here = step_cost_[i] + flat_.comeback * step_wrong_[i] + value;
    const double give_up = i == 0 ? give_up_now : flat_.refer * step_mass_[i];
    if (here > give_up && i == 0) first_ = -1;
    value = std::min(here, give_up);
  }
  return value;
}

std::span<const RepairOrder::Ranked> RepairOrder::ranked(std::span<const double> belief, double mass, CoverMask off,
                                                         std::span<const char> repaired,
                                                         std::span<const char> swapped) {
  gather(belief, repaired);
  ranked_.clear();
  for (int k : alive_) {
    const auto& r = flat_.repairs[k];
    const double p = (base_ - idle_ + more_ends_[k]) / mass, access = flat_.access(r.needs, off) + flat_.check;
    // Where pairs are about, half of getting nearer counts as well, or no first repair of a pair would be looked at.
    const double near = flat_.pairs ? 0.25 * touched_[k] / mass : 0;
    ranked_.push_back({std::max(p, near) / (r.minutes + r.price + access), k, false});
    if (!swapped[k]) ranked_.push_back({p / (r.swap_minutes + access + (p + idle_ / mass) * r.price), k, true});
  }
  std::sort(ranked_.begin(), ranked_.end(), [](const Ranked& a, const Ranked& b) {
    return a.ratio != b.ratio ? a.ratio > b.ratio : a.repair != b.repair ? a.repair < b.repair : a.swap < b.swap;
  });
  return ranked_;
}

}  // namespace lostspark::planning
