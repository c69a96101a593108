#include "inference/forecast.hpp"

#include <algorithm>
#include <cmath>
#include <cstring>
#include <map>

#include "inference/normal.hpp"

namespace lostspark::inference {
namespace {

constexpr std::size_t k_small_model = 400;  // cells; below it everything is kept
constexpr double k_reach = 4.5;             // sd over which a bump is spread
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
      Item item{cell, weight * share, cls, state, {}};
      for (std::size_t k = 0; k < model::k_provocations; ++k)
        for (int second = 0; second < 2; ++second)
          item.shows[2 * k + second] = static_cast<float>(shows(*cell, second == 1, static_cast<model::Provocation>(k)));
      for (std::size_t k = 2; k < item.shows.size(); ++k) item.steady &= item.shows[k] == item.shows[k % 2];
      items_.push_back(item);
    }
  }
  members_.resize(classes.size());
  for (const auto& [key, cls] : classes) members_[cls] = key;
  double total = 0, fault_total = 0;
  for (const auto& item : items_) total += item.weight;
  for (auto& item : items_) item.weight /= std::max(total, 1e-300);
  for (const auto& [key, w] : faults) fault_total += w;
  for (const auto& [key, w] : faults)
    fault_groups_.push_back({std::get<0>(key), std::get<1>(key), std::get<2>(key), w / std::max(fault_total, 1e-300)});
  plane_.assign(p_.compiled->channel_count, -1);
  slots_.assign(4096, -1);
}

OutcomeGrid Forecaster::grid(Index test, double bin_sd) const {
  const auto& t = p_.compiled->vehicle->tests[test];
  const auto& map = p_.compiled->tests[test];
  OutcomeGrid out;
  out.word = t.is_word();
  if (out.word) {
    out.outcomes = std::max<std::size_t>(t.words.size(), 2);
    return out;
  }
  out.low = std::log(map.shown_from > 0 ? map.shown_from : map.range * 1e-4);
  out.width = std::sqrt(map.noise_variance) * bin_sd;
  out.bins = static_cast<std::size_t>(std::ceil((std::log(map.shown_to) - out.low) / out.width));
  out.outcomes = out.bins + 2;
  return out;
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
  struct Group {
    double mass = 0;
    std::vector<std::size_t> members;
  };
  const auto& modes = p_.compiled->modes;
  std::map<std::tuple<Index, Index, bool, bool, std::uint64_t, std::uint64_t>, Group> groups;
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

void Forecaster::prepare(std::span<const Index> tests) {
  std::vector<int> needed;
  const auto need = [&](int channel) {
    if (channel < 0 || plane_[channel] >= 0) return;
    plane_[channel] = static_cast<int>(needed.size());
    needed.push_back(channel);
  };
  std::fill(plane_.begin(), plane_.end(), -1);
  for (Index test : tests) {
    const auto& map = p_.compiled->tests[test];
    for (int channel : map.dead_below) need(channel);
    for (int channel : {map.primary, map.switched, map.switch_margin, map.word_margin}) need(channel);
  }
  // Channels in table order: neighbouring rows share cache lines.
  std::sort(needed.begin(), needed.end());
  for (std::size_t k = 0; k < needed.size(); ++k) plane_[needed[k]] = static_cast<int>(k);
  moments_.resize(needed.size() * items_.size());
  margin_met_.resize(needed.size() * items_.size());
  hidden_moments_.assign(needed.size() * items_.size(), {0, -1});
  bases_.clear();
  for (std::size_t i = 0; i < items_.size(); ++i) {
    const auto& item = items_[i];
    const bool a = item.cell->a >= 0 && item.cell->a_now && p_.compiled->modes[item.cell->a].electrical;
    const bool b = item.cell->b >= 0 && item.cell->b_now && p_.compiled->modes[item.cell->b].electrical;
    for (std::size_t k = 0; k < needed.size(); ++k) {
      const auto m = likelihood_.predict(item.cell->cell, a, b, needed[k], states_[item.state]);
      moments_[k * items_.size() + i] = {static_cast<float>(m.mean), static_cast<float>(m.variance)};
      if (p_.compiled->channels[needed[k]].margin)
        margin_met_[k * items_.size() + i] = static_cast<float>(k_cdf.at(m.mean / std::sqrt(m.variance)));
    }
  }
}

ChannelMoments Forecaster::moments(int channel, std::size_t i, bool a, bool b) {
  const auto& item = items_[i];
  const bool full_a = item.cell->a >= 0 && item.cell->a_now && p_.compiled->modes[item.cell->a].electrical;
  const bool full_b = item.cell->b >= 0 && item.cell->b_now && p_.compiled->modes[item.cell->b].electrical;
  if (!exact_ && a == full_a && b == full_b) {
    const auto& m = moments_[static_cast<std::size_t>(plane_[channel]) * items_.size() + i];
    return {m.mean, m.variance};
  }
  if (!exact_ && !a && !b) {
    auto& m = hidden_moments_[static_cast<std::size_t>(plane_[channel]) * items_.size() + i];
    if (m.variance < 0) {
      const auto fresh = likelihood_.predict(item.cell->cell, a, b, channel, states_[item.state]);
      m = {static_cast<float>(fresh.mean), static_cast<float>(fresh.variance)};
    }
    return {m.mean, m.variance};
  }
  return likelihood_.predict(item.cell->cell, a, b, channel, states_[item.state]);
}

double Forecaster::margin_met(int channel, std::size_t i, bool a, bool b) {
  const auto& item = items_[i];
  const bool full_a = item.cell->a >= 0 && item.cell->a_now && p_.compiled->modes[item.cell->a].electrical;
  const bool full_b = item.cell->b >= 0 && item.cell->b_now && p_.compiled->modes[item.cell->b].electrical;
  if (!exact_ && a == full_a && b == full_b)
    return margin_met_[static_cast<std::size_t>(plane_[channel]) * items_.size() + i];
  const auto m = moments(channel, i, a, b);
  return k_cdf.at(m.mean / std::sqrt(m.variance));
}

double Forecaster::met(const std::vector<int>& margins, std::size_t item, bool a, bool b) {
  double probability = 1;
  for (int channel : margins) probability *= margin_met(channel, item, a, b);
  return probability;
}

void Forecaster::add_bump(std::uint32_t cls, double weight, double mean, double variance) {
  // Bumps of one class whose means differ by less than a seventh of their width and whose variances share their leading
  // bits are one bump: their moments are kept.
  std::int64_t place = 0, size = 0;
  if (exact_) {
    std::memcpy(&place, &mean, sizeof place);
    std::memcpy(&size, &variance, sizeof size);
  } else {
    std::memcpy(&size, &variance, sizeof size);
    size >>= 49;  // exponent and three bits
    std::int64_t rounded = size << 49;
    double grain = 0;
    std::memcpy(&grain, &rounded, sizeof grain);
    place = static_cast<std::int64_t>(std::floor(mean * 7 / std::sqrt(grain)));
  }
  const std::uint64_t key = (static_cast<std::uint64_t>(place) * 0x9E3779B97F4A7C15ULL) ^
                            (static_cast<std::uint64_t>(size) * 0xC2B2AE3D27D4EB4FULL) ^ (std::uint64_t{cls} * 0x165667B19E3779F9ULL);
  std::size_t slot = (key >> 20) % slots_.size();
  for (int probe = 0; probe < 16; ++probe, slot = (slot + 1) % slots_.size()) {
    if (slots_[slot] < 0) {
      slots_[slot] = static_cast<std::int32_t>(bumps_.size());
      bumps_.push_back({key, cls, weight, weight * mean, weight * (variance + mean * mean)});
      return;
    }
    auto& bump = bumps_[static_cast<std::size_t>(slots_[slot])];
    if (bump.key == key && bump.cls == cls) {
      bump.weight += weight;
      bump.mean += weight * mean;
      bump.variance += weight * (variance + mean * mean);
      return;
    }
  }
  bumps_.push_back({key, cls, weight, weight * mean, weight * (variance + mean * mean)});
}

void Forecaster::number(Index test, std::size_t item, bool a, bool b, double weight, double* out) {
  const auto& map = p_.compiled->tests[test];
  const auto& it = items_[item];
  const double alive = met(map.dead_below, item, a, b);
  out[0] += weight * (1 - alive);
  const auto bump = [&](int channel, double w) {
    if (w < 1e-12) return;
    const auto m = moments(channel, item, a, b);
    double variance = m.variance + map.noise_variance;
    if (map.step > 0) {
      const double relative = map.step / std::exp(m.mean);
      variance += std::min(relative * relative / 12, 0.25);
    }
    add_bump(it.cls, w, m.mean, variance);
  };
  if (map.switched < 0) {
    bump(map.primary, weight * alive);
  } else {
    const double above = margin_met(map.switch_margin, item, a, b);
    bump(map.primary, weight * alive * above);
    bump(map.switched, weight * alive * (1 - above));
  }
}

void Forecaster::spread(const OutcomeGrid& grid, const Bump& bump, double* out) const {
  const double mean = bump.mean / bump.weight;
  const double variance = std::max(bump.variance / bump.weight - mean * mean, 1e-12);
  const double inverse = 1 / std::sqrt(variance);
  const double first = (mean - k_reach / inverse - grid.low) / grid.width, last = (mean + k_reach / inverse - grid.low) / grid.width;
  const auto bins = static_cast<double>(grid.bins);
  std::size_t k = static_cast<std::size_t>(std::clamp(first, 0.0, bins));
  const std::size_t end = static_cast<std::size_t>(std::clamp(std::ceil(last), 0.0, bins));
  double border = (grid.low + static_cast<double>(k) * grid.width - mean) * inverse;
  double below = k == 0 ? k_cdf.at(border) : 0;
  out[0] += bump.weight * below;
  const double step = grid.width * inverse;
  for (; k < end; ++k) {
    border += step;
    const double next = k + 1 == end && end < grid.bins ? 1.0 : k_cdf.at(border);
    out[1 + k] += bump.weight * (next - below);
    below = next;
  }
  if (end == grid.bins) out[grid.outcomes - 1] += bump.weight * (1 - below);
  else if (end == 0) out[0] += bump.weight * (1 - below);
}

void Forecaster::words(Index test, std::size_t item, bool a, bool b, double weight, double* out) {
  const auto& map = p_.compiled->tests[test];
  const double alive = met(map.dead_below, item, a, b);
  const auto m = moments(map.word_margin, item, a, b);
  const double sd = std::sqrt(m.variance + k_word_sd * k_word_sd);
  const double none = k_cdf.at((-k_word_half_width - m.mean) / sd), upto = k_cdf.at((k_word_half_width - m.mean) / sd);
  out[0] += weight * (1 - alive + alive * none);
  out[1] += weight * alive * (upto - none);
  out[2] += weight * alive * (1 - upto);
}

void Forecaster::findings(const model::Test& test, const OutcomeGrid& grid, std::vector<double>& table) const {
  for (const auto& faults : fault_groups_) {
    std::array<Index, 2> present{};
    std::size_t count = 0;
    for (Index mode : {faults.a, faults.b})
      if (mode >= 0)
        for (const auto& row : test.findings)
          if (row.mode == mode) {
            present[count++] = mode;
            break;
          }
    for (std::size_t w = 0; w < test.words.size(); ++w)
      table[faults.cls * grid.outcomes + w] += faults.weight * finding_probability(test, w, {present.data(), count});
  }
}

void Forecaster::add_items(Index test, const OutcomeGrid& grid, bool steady, std::vector<double>& table) {
  const auto& t = p_.compiled->vehicle->tests[test];
  const auto provocation = static_cast<std::size_t>(t.provocation);
  bumps_.clear();
  std::fill(slots_.begin(), slots_.end(), -1);
  for (std::size_t k = 0; k < items_.size(); ++k) {
    const auto& item = items_[k];
    if (item.steady != steady) continue;
    double* out = &table[item.cls * grid.outcomes];
    const double pa = item.shows[2 * provocation], pb = item.shows[2 * provocation + 1];
    for (int a = 0; a < 2; ++a)
      for (int b = 0; b < 2; ++b) {
        const double w = item.weight * (a ? pa : 1 - pa) * (b ? pb : 1 - pb);
        if (w < 1e-9) continue;
        if (t.reads == model::Reads::margin_word) words(test, k, a, b, w, out);
        else number(test, k, a, b, w, out);
      }
  }
  for (const auto& bump : bumps_) spread(grid, bump, &table[bump.cls * grid.outcomes]);
}

void Forecaster::gather(Index test, const OutcomeGrid& grid, std::vector<double>& table) {
  const auto& t = p_.compiled->vehicle->tests[test];
  if (t.reads == model::Reads::finding) {
    table.assign(classes() * grid.outcomes, 0.0);
    findings(t, grid, table);
  } else {
    // Tests that differ by their provocation only share what the steady items give.
    const auto& map = p_.compiled->tests[test];
    const std::size_t size = classes() * grid.outcomes;
    const Base* base = nullptr;
    for (const auto& b : bases_) {
      const auto& other = p_.compiled->tests[b.test];
      if (other.primary == map.primary && other.switched == map.switched && other.word_margin == map.word_margin &&
          other.dead_below == map.dead_below && other.noise_variance == map.noise_variance && b.table.size() == size)
        base = &b;
    }
    if (!base) {
      Base fresh{test, std::vector<double>(size, 0.0)};
      add_items(test, grid, true, fresh.table);
      bases_.push_back(std::move(fresh));
      base = &bases_.back();
    }
    table = base->table;
    add_items(test, grid, false, table);
  }
  // Mistakes spread every class over the instrument's range, floor included.
  for (std::size_t c = 0; c < classes(); ++c) {
    double* out = &table[c * grid.outcomes];
    double sum = 0;
    for (std::size_t k = 0; k < grid.outcomes; ++k) sum += out[k];
    for (std::size_t k = 0; k < grid.outcomes; ++k)
      out[k] = out[k] * (1 - t.mistaken) + sum * t.mistaken * grid.mistaken_share(k);
  }
}

}  // namespace lostspark::inference
