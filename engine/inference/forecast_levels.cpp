// Classes split by ranges of what readings share (a weak source, a slow kick, severity): docs/planning.md says why.
#include <algorithm>
#include <cmath>
#include <map>

#include "inference/forecast.hpp"
#include "inference/normal.hpp"

namespace lostspark::inference {
namespace {

constexpr double k_worth_levels = 0.25;   // of the other readings' variance, all together in readings: less is not carried along
constexpr double k_lightest = 1e-7;       // levels of an item below this weight are left out
constexpr int k_halvings = 50;

}  // namespace

int Forecaster::anchor_of(std::span<const Index> tests) {
  const auto& compiled = *p_.compiled;
  std::vector<int> channels;
  std::vector<double> noise;
  for (Index test : tests) {
    const auto& map = compiled.tests[test];
    if (compiled.vehicle->tests[test].is_word() || map.primary < 0) continue;
    channels.push_back(map.primary);
    noise.push_back(map.noise_variance);
  }
  const auto heaviest = std::max_element(items_.begin(), items_.end(),
                                         [](const Item& x, const Item& y) { return x.weight < y.weight; });
  if (channels.size() < 2 || heaviest == items_.end()) return -1;
  const auto& cell = *heaviest->cell;
  const auto& state = states_[heaviest->state];
  std::vector<ChannelMoments> moments;
  likelihood_.predict(cell.cell, cell.a_now, cell.b_now, channels, state, moments);
  Functional functional;
  std::vector<double> covariance;
  double most = k_worth_levels;
  int anchor = -1;
  for (std::size_t a = 0; a < channels.size(); ++a) {
    likelihood_.functional(cell.cell, cell.a_now, cell.b_now, channels[a], state, functional);
    if (functional.variance <= 0) continue;
    likelihood_.covariances(cell.cell, cell.a_now, cell.b_now, channels, state, functional, covariance);
    double explained = 0;
    for (std::size_t c = 0; c < channels.size(); ++c)
      if (c != a) explained += covariance[c] * covariance[c] / (functional.variance * (moments[c].variance + noise[c]));
    if (explained > most) {
      most = explained;
      anchor = channels[a];
    }
  }
  return anchor;
}

void Forecaster::split(const ForecastOptions& options) {
  anchor_ = anchor_of(options.shared_by);
  if (anchor_ < 0) return;
  std::vector<double> mass(classes(), 0.0);
  for (const auto& item : items_) mass[item.cls] += item.weight;
  // The anchor in every item of a heavy class: mean and sd, the faults present showing.
  struct Spread {
    std::size_t item = 0;
    double weight = 0, mean = 0, sd = 0;
  };
  std::vector<Spread> spreads;
  Functional functional;
  for (std::size_t i = 0; i < items_.size(); ++i) {
    const auto& item = items_[i];
    if (mass[item.cls] < options.split_above) continue;
    likelihood_.functional(item.cell->cell, item.cell->a_now, item.cell->b_now, anchor_, states_[item.state], functional);
    spreads.push_back({i, item.weight, functional.mean, std::sqrt(functional.variance)});
  }
  if (spreads.empty()) return;
  const auto below = [&](const Spread& s, double x) { return s.sd > 1e-9 ? k_cdf.at((x - s.mean) / s.sd) : x > s.mean ? 1.0 : 0.0; };
  double heavy = 0, lowest = k_infinity, highest = -k_infinity;
  for (const auto& s : spreads) {
    heavy += s.weight;
    lowest = std::min(lowest, s.mean - 8 * s.sd);
    highest = std::max(highest, s.mean + 8 * s.sd);
  }
  std::vector<double> border{-k_infinity};
  for (std::size_t k = 1; k < options.levels; ++k) {
    double low = lowest, high = highest;
    for (int step = 0; step < k_halvings; ++step) {
      const double x = (low + high) / 2;
      double sum = 0;
      for (const auto& s : spreads) sum += s.weight * below(s, x);
      (sum < heavy * static_cast<double>(k) / static_cast<double>(options.levels) ? low : high) = x;
    }
    border.push_back(low);
  }
  border.push_back(k_infinity);
  std::vector<Item> items;
  std::map<std::pair<std::uint32_t, std::size_t>, std::uint32_t> split_class;
  std::size_t next = 0;
  for (std::size_t i = 0; i < items_.size(); ++i) {
    Item item = items_[i];
    item.whole = static_cast<std::uint32_t>(i);
    if (next == spreads.size() || spreads[next].item != i) {
      items.push_back(item);
      continue;
    }
    const auto& s = spreads[next++];
    for (std::size_t k = 0; k < options.levels; ++k) {
      Truncation part;
      if (s.sd > 1e-9) {
        part = truncate(s.mean, s.sd * s.sd, border[k], border[k + 1]);
      } else {
        part.probability = s.mean > border[k] && s.mean <= border[k + 1] ? 1 : 0;
      }
      if (s.weight * part.probability < k_lightest) continue;
      Item level = item;
      level.weight = s.weight * part.probability;
      // A channel's mean moves by covariance times gain, its variance by covariance squared times shrink: as a bound does.
      level.shift = part.gain;
      level.spread = -part.shrink;
      level.cut = true;
      const auto [found, fresh] =
          split_class.emplace(std::pair{item.cls, k}, static_cast<std::uint32_t>(members_.size() + split_class.size()));
      level.cls = found->second;
      items.push_back(level);
    }
  }
  // Classes that were split stand for their levels only; numbers close up.
  std::vector<std::uint32_t> renumbered(members_.size() + split_class.size(), 0);
  std::vector<std::pair<Index, Index>> members;
  std::vector<int> levels;
  const auto keep = [&](std::uint32_t old, std::pair<Index, Index> who, int level) {
    renumbered[old] = static_cast<std::uint32_t>(members.size());
    members.push_back(who);
    levels.push_back(level);
  };
  for (std::uint32_t c = 0; c < members_.size(); ++c)
    if (mass[c] < options.split_above) keep(c, members_[c], -1);
  for (const auto& [key, cls] : split_class) keep(cls, members_[key.first], static_cast<int>(key.second));
  // Findings know faults, not levels: what a set of faults weighs is shared out as its items are.
  std::vector<FaultGroup> groups;
  for (const auto& group : fault_groups_) {
    if (mass[group.cls] < options.split_above) {
      groups.push_back(group);
      groups.back().cls = renumbered[group.cls];
      continue;
    }
    std::map<std::uint32_t, double> share;
    double sum = 0;
    for (const auto& item : items) {
      if (items_[item.whole].cls != group.cls) continue;
      const Index a = item.cell->a_now ? item.cell->a : model::k_none, b = item.cell->b_now ? item.cell->b : model::k_none;
      if (a != group.a || b != group.b) continue;
      share[item.cls] += item.weight;
      sum += item.weight;
    }
    for (const auto& [cls, weight] : share) groups.push_back({group.a, group.b, renumbered[cls], group.weight * weight / sum});
  }
  for (auto& item : items) item.cls = renumbered[item.cls];
  items_ = std::move(items);
  fault_groups_ = std::move(groups);
  members_ = std::move(members);
  level_ = std::move(levels);
}

}  // namespace lostspark::inference
