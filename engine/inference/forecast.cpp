#include "inference/forecast.hpp"

#include <algorithm>
#include <cmath>
#include <map>

#include "inference/normal.hpp"

namespace lostspark::inference {
namespace {

constexpr std::size_t k_small_model = 400;  // cells; below it everything is kept
constexpr std::size_t k_hash_places = 4096;  // of the hash of bumps, a power of two
constexpr double k_fine_mass = 0.01;       // fault sets below this share are forecast on medium cells ...
constexpr double k_medium_mass = 0.0005;    // ... and below this on coarse ones

}  // namespace

double OutcomeGrid::mistaken_share(std::size_t outcome) const {
  if (word) return 1.0 / static_cast<double>(outcomes);
  if (outcome == 0) return model::k_mistaken_floor;
  if (outcome + 1 == outcomes) return model::k_mistaken_over;
  return model::k_mistaken_inside / static_cast<double>(bins);
}

Forecaster::Forecaster(const Posterior::Impl& posterior, const ForecastOptions& options)
    : p_(posterior), likelihood_(*posterior.compiled, posterior.observations) {
  const auto& v = *p_.compiled->vehicle;
  for (const auto& o : p_.observations.list) visit_ = std::max(visit_, o.visit);
  exact_ = options.keep_all || p_.cells.size() < k_small_model;
  const auto group = [&](Index mode, bool now) {
    return mode < 0 || !now ? model::k_none : options.by_repair ? v.modes[mode].repair : v.modes[mode].component;
  };
  // Cells worth keeping: the heaviest until all but drop_mass is in.
  std::vector<std::pair<double, const WeightedCell*>> order;
  for (const auto& cell : p_.cells) {
    if (options.only_mode >= 0 && !(cell.a == options.only_mode && cell.a_now && (cell.b < 0 || !cell.b_now))) continue;
    order.emplace_back(p_.weight(cell), &cell);
  }
  double mass = 0, kept = 0;
  for (const auto& [w, cell] : order) mass += w;
  if (!exact_) {
    coarsen(order);
    std::stable_sort(order.begin(), order.end(), [](const auto& x, const auto& y) { return x.first > y.first; });
    std::size_t count = 0;
    while (count < order.size() && kept < mass * (1 - options.drop_mass)) kept += order[count++].first;
    order.resize(count);
  }
  std::map<std::pair<Index, Index>, std::uint32_t> classes;
  std::map<std::size_t, std::uint32_t> healthy_state;  // cells that showed nothing share the healthy vehicle's states
  std::map<std::tuple<Index, Index, std::uint32_t>, double> faults;
  for (const auto& [weight, cell] : order) {
    Index ca = group(cell->a, cell->a_now), cb = group(cell->b, cell->b_now);
    if (ca == cb) cb = model::k_none;
    if (cb >= 0 && (ca < 0 || cb < ca)) std::swap(ca, cb);
    if (options.only_mode >= 0) ca = cb = model::k_none;
    const auto cls = classes.emplace(std::pair{ca, cb}, static_cast<std::uint32_t>(classes.size())).first->second;
    if (cell->branch_count == 0) continue;  // too light to be predicted from; findings leave it out too
    faults[{cell->a_now ? cell->a : model::k_none, cell->b_now ? cell->b : model::k_none, cls}] += weight;
    double most = -1e300, sum = 0;
    for (std::size_t b = 0; b < cell->branch_count; ++b)
      most = std::max(most, p_.branches[cell->first_branch + b].log_weight);
    for (std::size_t b = 0; b < cell->branch_count; ++b)
      sum += std::exp(p_.branches[cell->first_branch + b].log_weight - most);
    for (std::size_t b = 0; b < cell->branch_count; ++b) {
      const auto& branch = p_.branches[cell->first_branch + b];
      const double share = std::exp(branch.log_weight - most) / sum;
      if (!exact_ && share < 0.002) continue;
      auto state = static_cast<std::uint32_t>(states_.size());
      const bool healthy = cell->activity.a == 0 && cell->activity.b == 0;
      if (healthy) state = healthy_state.emplace(b, state).first->second;
      if (state == states_.size()) {
        states_.emplace_back();
        likelihood_.state(cell->cell, cell->activity, branch, states_.back());
      }
      Item item{cell, weight * share, cls, state};
      items_.push_back(item);
    }
  }
  members_.resize(classes.size());
  for (const auto& [key, cls] : classes) members_[cls] = key;
  level_.assign(classes.size(), -1);
  double total = 0, fault_total = 0;
  for (const auto& item : items_) total += item.weight;
  for (auto& item : items_) item.weight /= std::max(total, 1e-300);
  for (const auto& [key, w] : faults) fault_total += w;
  for (const auto& [key, w] : faults)
    fault_groups_.push_back({std::get<0>(key), std::get<1>(key), std::get<2>(key), w / std::max(fault_total, 1e-300)});
  if (options.levels > 1) split(options);
  plane_.assign(p_.compiled->channel_count, -1);
  hash_.assign(k_hash_places, -1);
  has_row_.assign(v.modes.size(), 0);
  class_mass_.assign(members_.size(), 0.0);
  for (const auto& item : items_) class_mass_[item.cls] += item.weight;
  class_entropy_ = sum_plogp(class_mass_.data(), class_mass_.size());
  make_slots();
}

double Forecaster::shows(const WeightedCell& cell, bool second, model::Provocation provocation) const {
  const Index mode = second ? cell.b : cell.a;
  if (mode < 0 || !(second ? cell.b_now : cell.a_now) || !p_.compiled->modes[mode].electrical) return 0;
  const double visible = p_.compiled->vehicle->modes[mode].visible[static_cast<std::size_t>(provocation)];
  if (visible >= 0.999) return 1;
  using enum model::Provocation;
  if (provocation != none && provocation != hot && provocation != wet) return visible;
  const auto bits = second ? cell.activity.b : cell.activity.a;
  for (std::size_t o = p_.observations.list.size(); o-- > 0;) {
    const auto& seen = p_.observations.list[o];
    if (!(p_.observations.relevant[mode] >> o & 1) || seen.test < 0 || seen.provocation != provocation || seen.visit != visit_) continue;
    return bits >> o & 1 ? 1 : 0;  // it holds through the visit
  }
  return visible;
}

void Forecaster::coarsen(std::vector<std::pair<double, const WeightedCell*>>& order) {
  struct Heap {
    double mass = 0;
    std::vector<std::size_t> members;
  };
  const auto& modes = p_.compiled->modes;
  std::map<std::tuple<Index, Index, bool, bool, std::uint64_t, std::uint64_t>, Heap> groups;
  for (std::size_t k = 0; k < order.size(); ++k) {
    const auto& cell = *order[k].second;
    if (cell.a < 0 || cell.cell.level == k_coarse) continue;
    auto& group = groups[{cell.a, cell.b, cell.a_now, cell.b_now, cell.activity.a, cell.activity.b}];
    group.mass += order[k].first;
    group.members.push_back(k);
  }
  // Cell of the coarser level whose interval holds this cell's centre.
  const auto holder = [&](Index mode, int from, std::uint32_t cell, int to) -> std::uint32_t {
    if (mode < 0 || modes[mode].count(from) < 2) return 0;
    const auto& target = modes[mode].cells[to];
    const double centre = modes[mode].cells[from].centre[cell];
    std::uint32_t nearest = 0;
    for (std::uint32_t j = 1; j < target.centre.size(); ++j)
      if (std::abs(target.centre[j] - centre) < std::abs(target.centre[nearest] - centre)) nearest = j;
    return nearest;
  };
  std::vector<bool> gone(order.size(), false);
  std::vector<std::pair<double, const WeightedCell*>> added;
  for (const auto& [key, group] : groups) {
    const int level = group.mass < k_medium_mass ? k_coarse : group.mass < k_fine_mass ? k_medium : k_fine;
    struct Lead {
      double mass = 0, heaviest = -1;
      const WeightedCell* cell = nullptr;
    };
    std::map<std::pair<std::uint32_t, std::uint32_t>, Lead> leads;
    for (std::size_t k : group.members) {
      const auto& cell = *order[k].second;
      if (cell.cell.level <= level) continue;
      gone[k] = true;
      auto& lead = leads[{holder(cell.a, cell.cell.level, cell.cell.cell_a, level),
                          holder(cell.b, cell.cell.level, cell.cell.cell_b, level)}];
      lead.mass += order[k].first;
      if (order[k].first > lead.heaviest) {
        lead.heaviest = order[k].first;
        lead.cell = &cell;
      }
    }
    for (const auto& [at, lead] : leads) {
      coarse_.push_back(*lead.cell);
      auto& cell = coarse_.back().cell;
      cell.level = level;
      cell.cell_a = at.first;
      cell.cell_b = at.second;
      if (cell.correction) cell.correction = &p_.compiled->correction(cell.a, cell.b, level);
      added.emplace_back(lead.mass, &coarse_.back());
    }
  }
  std::size_t kept = 0;
  for (std::size_t k = 0; k < order.size(); ++k)
    if (!gone[k]) order[kept++] = order[k];
  order.resize(kept);
  order.insert(order.end(), added.begin(), added.end());
}

void Forecaster::make_slots() {
  std::map<std::pair<std::uint32_t, Shows>, std::uint32_t> known;
  rows_ = classes();
  for (const auto& item : items_) {
    Shows shown{};
    for (std::size_t k = 0; k < model::k_provocations; ++k)
      for (int second = 0; second < 2; ++second)
        shown[2 * k + second] = static_cast<float>(shows(*item.cell, second == 1, static_cast<model::Provocation>(k)));
    const auto [found, fresh] = known.emplace(std::pair{item.cls, shown}, static_cast<std::uint32_t>(groups_.size()));
    if (fresh) {
      Group group{item.cls, shown, true, {}};
      for (std::size_t k = 2; k < shown.size(); ++k) group.steady &= shown[k] == shown[k % 2];
      group.row.fill(k_no_row);
      groups_.push_back(group);
    }
    group_of_.push_back(found->second);
  }
  for (std::uint32_t i = 0; i < items_.size(); ++i) {
    auto& group = groups_[group_of_[i]];
    for (unsigned which = 0; which < 4; ++which) {
      const bool a = which & 1, b = which & 2;
      double most = 0;
      for (std::size_t k = 0; k < model::k_provocations; ++k)
        most = std::max(most, static_cast<double>((a ? group.shows[2 * k] : 1 - group.shows[2 * k]) *
                                                  (b ? group.shows[2 * k + 1] : 1 - group.shows[2 * k + 1])));
      if (items_[i].weight * most < 1e-9) continue;
      if (!group.steady && group.row[which] == k_no_row) group.row[which] = static_cast<std::uint32_t>(rows_++);
      // A steady group pours into its class at once; an unsteady one is weighted by provocation later.
      slots_.push_back({i, group.steady ? group.cls : group.row[which], items_[i].weight * (group.steady ? most : 1.0), a, b});
    }
  }
}

void Forecaster::prepare(std::span<const Index> tests) {
  std::vector<int> needed;
  const auto need = [&](int channel) {
    if (channel < 0 || plane_[channel] >= 0) return;
    plane_[channel] = static_cast<int>(needed.size());
    needed.push_back(channel);
  };
  std::fill(plane_.begin(), plane_.end(), -1);
  base_ = model::k_none;
  for (Index test : tests) {
    const auto& map = p_.compiled->tests[test];
    for (int channel : map.dead_below) need(channel);
    for (int channel : {map.primary, map.switched, map.switch_margin, map.word_margin}) need(channel);
  }
  // Channels in table order: neighbouring rows share cache lines.
  std::sort(needed.begin(), needed.end());
  for (std::size_t k = 0; k < needed.size(); ++k) plane_[needed[k]] = static_cast<int>(k);
  moments_.resize(needed.size() * slots_.size());
  margin_met_.resize(needed.size() * slots_.size());
  const auto put = [&](std::size_t k, std::size_t slot, const Moments& m) {
    moments_[k * slots_.size() + slot] = m;
    if (p_.compiled->channels[needed[k]].margin)
      margin_met_[k * slots_.size() + slot] = static_cast<float>(k_cdf.at(m.mean / std::sqrt(m.variance)));
  };
  std::array<Anchored, 4> anchored;
  std::uint32_t anchored_item = ~0U;
  Functional functional;
  // Items that share a state and show nothing predict the same.
  std::vector<std::int64_t> hidden(states_.size(), -1);
  for (std::size_t i = 0; i < slots_.size(); ++i) {
    const auto& slot = slots_[i];
    const auto& item = items_[slot.item];
    if (item.cut) {
      // The levels of an item differ by where the anchor lies: predicted once, then moved.
      if (anchored_item != item.whole) {
        for (auto& known : anchored) known.known = false;
        anchored_item = item.whole;
        likelihood_.functional(item.cell->cell, item.cell->a_now, item.cell->b_now, anchor_, states_[item.state], functional);
      }
      auto& whole = anchored[(slot.a ? 1 : 0) + (slot.b ? 2 : 0)];
      if (!whole.known) {
        likelihood_.predict(item.cell->cell, slot.a, slot.b, needed, states_[item.state], whole.moments);
        likelihood_.covariances(item.cell->cell, slot.a, slot.b, needed, states_[item.state], functional, whole.covariance);
        whole.known = true;
      }
      for (std::size_t k = 0; k < needed.size(); ++k) {
        const double c = whole.covariance[k], before = whole.moments[k].variance;
        put(k, i, {whole.moments[k].mean + c * item.shift, std::max(before + c * c * item.spread, 1e-3 * before)});
      }
      continue;
    }
    auto& first = hidden[item.state];
    if (!slot.a && !slot.b && first >= 0) {
      for (std::size_t k = 0; k < needed.size(); ++k) {
        moments_[k * slots_.size() + i] = moments_[k * slots_.size() + static_cast<std::size_t>(first)];
        margin_met_[k * slots_.size() + i] = margin_met_[k * slots_.size() + static_cast<std::size_t>(first)];
      }
      continue;
    }
    if (!slot.a && !slot.b) first = static_cast<std::int64_t>(i);
    likelihood_.predict(item.cell->cell, slot.a, slot.b, needed, states_[item.state], predicted_);
    for (std::size_t k = 0; k < needed.size(); ++k) put(k, i, {predicted_[k].mean, predicted_[k].variance});
  }
}

bool Forecaster::same_base(Index a, Index b) const {
  const auto &x = p_.compiled->tests[a], &y = p_.compiled->tests[b];
  return x.primary == y.primary && x.switched == y.switched && x.switch_margin == y.switch_margin &&
         x.word_margin == y.word_margin && x.dead_below == y.dead_below && x.noise_variance == y.noise_variance &&
         x.step == y.step && x.shown_from == y.shown_from && x.shown_to == y.shown_to;
}

std::vector<std::size_t> Forecaster::best_order(std::span<const Index> tests) const {
  std::vector<std::pair<std::size_t, std::size_t>> keyed;  // first test of the same base, position
  std::vector<std::size_t> firsts;
  for (std::size_t k = 0; k < tests.size(); ++k) {
    std::size_t first = k;
    if (p_.compiled->vehicle->tests[tests[k]].reads != model::Reads::finding) {
      const auto found = std::find_if(firsts.begin(), firsts.end(), [&](std::size_t f) { return same_base(tests[f], tests[k]); });
      if (found == firsts.end()) firsts.push_back(k);
      else first = *found;
    }
    keyed.emplace_back(first, k);
  }
  std::sort(keyed.begin(), keyed.end());
  std::vector<std::size_t> out;
  for (const auto& [first, k] : keyed) out.push_back(k);
  return out;
}

}  // namespace lostspark::inference
