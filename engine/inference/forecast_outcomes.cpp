// Distribution of one test's reading by class: Gaussian bumps collected from the items, poured into bins; its gain.
#include <algorithm>
#include <cmath>
#include <cstring>

#include "inference/forecast.hpp"
#include "inference/normal.hpp"

namespace lostspark::inference {
namespace {

constexpr double k_reach = 4.5;          // sd over which a bump is spread
constexpr double k_step_share = 1e-3;    // of the variance of a reading; what less comes from the display's step is left out
constexpr double k_narrow_mass = 0.004;  // of the mass may be narrower than the bins are made for

}  // namespace

double Forecaster::met(const std::vector<int>& margins, std::size_t slot) const {
  double probability = 1;
  for (int channel : margins) probability *= margin_met(channel, slot);
  return probability;
}

void Forecaster::add_bump(std::uint32_t row, double weight, double mean, double variance) {
  // Bumps of one row whose means differ by less than a seventh of their width and whose variances share their leading
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
                            (static_cast<std::uint64_t>(size) * 0xC2B2AE3D27D4EB4FULL) ^ (std::uint64_t{row} * 0x165667B19E3779F9ULL);
  const std::size_t mask = hash_.size() - 1;
  std::size_t slot = (key >> 20) & mask;
  for (int probe = 0; probe < 16; ++probe, slot = (slot + 1) & mask) {
    if (hash_[slot] < 0) {
      hash_[slot] = static_cast<std::int32_t>(bumps_.size());
      bumps_.push_back({key, row, weight, weight * mean, weight * (variance + mean * mean)});
      return;
    }
    auto& bump = bumps_[static_cast<std::size_t>(hash_[slot])];
    if (bump.key == key && bump.row == row) {
      bump.weight += weight;
      bump.mean += weight * mean;
      bump.variance += weight * (variance + mean * mean);
      return;
    }
  }
  bumps_.push_back({key, row, weight, weight * mean, weight * (variance + mean * mean)});
}

void Forecaster::Table::clear(std::size_t rows) {
  floor.assign(rows, 0.0);
  over.assign(rows, 0.0);
  span.assign(rows, {});
  at.resize(rows);
  value.clear();
}

void Forecaster::Table::lay_out() {
  std::uint32_t size = 0;
  for (std::size_t row = 0; row < span.size(); ++row) {
    at[row] = size;
    size += span[row].size();
  }
  value.assign(size + 1, 0.0);  // one more, so that an empty last row has a place too
}

void Forecaster::number(Index test, std::size_t at) {
  const auto& map = p_.compiled->tests[test];
  const auto& slot = slots_[at];
  const double alive = met(map.dead_below, at);
  base_table_.floor[slot.row] += slot.weight * (1 - alive);
  const auto bump = [&](int channel, double w) {
    if (w < 1e-12) return;
    const auto& m = moments(channel, at);
    double variance = m.variance + map.noise_variance;
    if (m.mean < step_matters_below_) {
      const double relative = map.step / std::exp(m.mean);
      variance += std::min(relative * relative / 12, 0.25);
    }
    add_bump(slot.row, w, m.mean, variance);
  };
  if (map.switched < 0) {
    bump(map.primary, slot.weight * alive);
  } else {
    const double above = margin_met(map.switch_margin, at);
    bump(map.primary, slot.weight * alive * above);
    bump(map.switched, slot.weight * alive * (1 - above));
  }
}

void Forecaster::words(Index test, std::size_t at) {
  const auto& map = p_.compiled->tests[test];
  const auto& slot = slots_[at];
  double* out = base_table_.bin(slot.row, 0);
  const double alive = met(map.dead_below, at);
  const auto& m = moments(map.word_margin, at);
  const double sd = std::sqrt(m.variance + k_word_sd * k_word_sd);
  const double none = k_cdf.at((-k_word_half_width - m.mean) / sd), upto = k_cdf.at((k_word_half_width - m.mean) / sd);
  out[0] += slot.weight * (1 - alive + alive * none);
  out[1] += slot.weight * alive * (upto - none);
  out[2] += slot.weight * alive * (1 - upto);
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
  // The narrowest bump that matters: narrower ones hold too little for their bins to count.
  double variance = map.noise_variance;
  if (!exact_ && !bumps_.empty()) {
    narrow_.clear();
    double left = 0;
    for (const auto& bump : bumps_) {
      narrow_.emplace_back(bump.variance, bump.weight);
      left += bump.weight;
    }
    left *= k_narrow_mass;
    // Weighted quantile by halving: the first, counted from the narrowest, with which the mass exceeds what may be narrower.
    auto begin = narrow_.begin(), end = narrow_.end();
    while (end - begin > 1) {
      const auto middle = begin + (end - begin) / 2;
      std::nth_element(begin, middle, end);
      double below = 0;
      for (auto at = begin; at != middle; ++at) below += at->second;
      if (below > left) end = middle;
      else left -= below, begin = middle;
    }
    variance = std::max(variance, begin->first);
  }
  out.width = std::sqrt(variance) * bin_sd;
  out.bins = static_cast<std::size_t>(std::clamp(std::ceil((std::log(map.shown_to) - out.low) / out.width), 1.0, 4000.0));
  out.outcomes = out.bins + 2;
  return out;
}

Forecaster::Reach Forecaster::reach(const Bump& bump) const {
  const auto& grid = base_grid_;
  const double sd = std::sqrt(bump.variance), bins = static_cast<double>(grid.bins);
  const double first = (bump.mean - k_reach * sd - grid.low) / grid.width;
  const double last = (bump.mean + k_reach * sd - grid.low) / grid.width;
  return {static_cast<std::size_t>(std::clamp(first, 0.0, bins)),
          static_cast<std::size_t>(std::clamp(std::ceil(last), 0.0, bins)), 1 / sd};
}

void Forecaster::spread(const Bump& bump) {
  const auto& grid = base_grid_;
  const auto [first, last, inverse] = reach(bump);
  double border = (grid.low + static_cast<double>(first) * grid.width - bump.mean) * inverse;
  double below = first == 0 ? k_cdf.at(border) : 0;
  base_table_.floor[bump.row] += bump.weight * below;
  const double step = grid.width * inverse;
  double* out = first < last ? base_table_.bin(bump.row, first) : nullptr;
  for (std::size_t k = first; k < last; ++k) {
    border += step;
    const double next = k + 1 == last && last < grid.bins ? 1.0 : k_cdf.at(border);
    *out++ += bump.weight * (next - below);
    below = next;
  }
  if (last == grid.bins) base_table_.over[bump.row] += bump.weight * (1 - below);
  else if (last == 0) base_table_.floor[bump.row] += bump.weight * (1 - below);
}

void Forecaster::findings(const model::Test& test) {
  const std::size_t n = grid_.outcomes;
  own_table_.clear(classes());
  std::fill(own_table_.span.begin(), own_table_.span.end(), Span{0, static_cast<std::uint32_t>(n)});
  own_table_.lay_out();
  std::fill(has_row_.begin(), has_row_.end(), std::int8_t{0});
  for (const auto& row : test.findings) has_row_[row.mode] = 1;
  std::array<double, k_most_words> nothing{};
  for (std::size_t w = 0; w < test.words.size(); ++w) nothing[w] = finding_probability(test, w, {});
  for (const auto& faults : fault_groups_) {
    std::array<Index, 2> present{};
    std::size_t count = 0;
    for (Index mode : {faults.a, faults.b})
      if (mode >= 0 && has_row_[mode]) present[count++] = mode;
    double* out = own_table_.bin(faults.cls, 0);
    for (std::size_t w = 0; w < test.words.size(); ++w)
      out[w] += faults.weight * (count ? finding_probability(test, w, {present.data(), count}) : nothing[w]);
  }
}

void Forecaster::build_base(Index test, double bin_sd) {
  base_ = test;
  base_bin_sd_ = bin_sd;
  base_table_.clear(rows_);
  if (p_.compiled->vehicle->tests[test].reads == model::Reads::margin_word) {
    base_grid_ = grid(test, bin_sd);
    std::fill(base_table_.span.begin(), base_table_.span.end(),
              Span{0, static_cast<std::uint32_t>(base_grid_.outcomes)});
    base_table_.lay_out();
    for (std::size_t k = 0; k < slots_.size(); ++k) words(test, k);
    return;
  }
  bumps_.clear();
  std::fill(hash_.begin(), hash_.end(), -1);
  // A step of the display below a thousandth of the variance is not looked at: the exponential would be.
  const auto& map = p_.compiled->tests[test];
  step_matters_below_ = map.step > 0 ? std::log(map.step) - 0.5 * std::log(12 * k_step_share * map.noise_variance) : -1e300;
  if (exact_ && map.step > 0) step_matters_below_ = 1e300;
  for (std::size_t k = 0; k < slots_.size(); ++k) number(test, k);
  for (auto& bump : bumps_) {
    bump.mean /= bump.weight;
    bump.variance = std::max(bump.variance / bump.weight - bump.mean * bump.mean, 1e-12);
  }
  base_grid_ = grid(test, bin_sd);
  for (const auto& bump : bumps_) {
    const auto there = reach(bump);
    if (there.first < there.last)
      base_table_.span[bump.row].cover(
          {static_cast<std::uint32_t>(there.first), static_cast<std::uint32_t>(there.last)});
  }
  base_table_.lay_out();
  for (const auto& bump : bumps_) spread(bump);
}

const OutcomeGrid& Forecaster::gather(Index test, double bin_sd) {
  const auto& t = p_.compiled->vehicle->tests[test];
  mistaken_ = t.mistaken;
  table_ = &own_table_;
  if (t.reads == model::Reads::finding) {
    grid_ = grid(test, bin_sd);
    findings(t);
    return grid_;
  }
  if (base_ < 0 || base_bin_sd_ != bin_sd || !same_base(base_, test)) build_base(test, bin_sd);
  grid_ = base_grid_;
  // Rows of groups that show now and then are weighted by the provocation and join their class.
  const auto provocation = static_cast<std::size_t>(t.provocation);
  const auto joining = [&](const auto& join) {
    for (const auto& group : groups_) {
      if (group.steady) continue;
      const double pa = group.shows[2 * provocation], pb = group.shows[2 * provocation + 1];
      for (unsigned which = 0; which < 4; ++which) {
        const double w = (which & 1 ? pa : 1 - pa) * (which & 2 ? pb : 1 - pb);
        if (w > 0 && group.row[which] != k_no_row) join(group.cls, group.row[which], w);
      }
    }
  };
  if (rows_ == classes()) {
    table_ = &base_table_;
    return grid_;
  }
  own_table_.clear(classes());
  std::copy_n(base_table_.span.begin(), classes(), own_table_.span.begin());
  joining([&](std::uint32_t cls, std::uint32_t row, double) { own_table_.span[cls].cover(base_table_.span[row]); });
  own_table_.lay_out();
  const auto pour = [&](std::uint32_t cls, std::uint32_t row, double w) {
    own_table_.floor[cls] += w * base_table_.floor[row];
    own_table_.over[cls] += w * base_table_.over[row];
    const std::size_t held = base_table_.span[row].size();
    if (held == 0) return;
    const double* from = base_table_.bins(row);
    double* out = own_table_.bin(cls, base_table_.span[row].first);
    for (std::size_t k = 0; k < held; ++k) out[k] += w * from[k];
  };
  for (std::uint32_t cls = 0; cls < classes(); ++cls) pour(cls, cls, 1);
  joining(pour);
  return grid_;
}

void Forecaster::whole(std::vector<double>& out) const {
  const std::size_t n = grid_.outcomes, first = grid_.word ? 0 : 1;
  out.assign(n, 0.0);
  double mass = 0;
  for (std::size_t c = 0; c < classes(); ++c) {
    mass += class_mass_[c];
    if (!grid_.word) {
      out.front() += table_->floor[c];
      out.back() += table_->over[c];
    }
    const double* bins = table_->bins(c);
    for (std::uint32_t k = table_->span[c].first; k < table_->span[c].last; ++k) out[first + k] += *bins++;
  }
  for (std::size_t k = 0; k < n; ++k) out[k] = out[k] * (1 - mistaken_) + mass * mistaken_ * grid_.mistaken_share(k);
}

void Forecaster::merged(const std::vector<std::size_t>& group, std::size_t groups, std::vector<double>& out) const {
  const std::size_t first = grid_.word ? 0 : 1;
  std::vector<double> false_share(groups, 0.0);
  for (std::size_t k = 0; k < grid_.outcomes; ++k) false_share[group[k]] += mistaken_ * grid_.mistaken_share(k);
  out.assign(classes() * groups, 0.0);
  for (std::size_t c = 0; c < classes(); ++c) {
    double* row = &out[c * groups];
    if (!grid_.word) {
      row[group.front()] += table_->floor[c];
      row[group.back()] += table_->over[c];
    }
    const double* bins = table_->bins(c);
    for (std::uint32_t k = table_->span[c].first; k < table_->span[c].last; ++k) row[group[first + k]] += *bins++;
    for (std::size_t g = 0; g < groups; ++g) row[g] = row[g] * (1 - mistaken_) + class_mass_[c] * false_share[g];
  }
}

double Forecaster::gain(Index test, double bin_sd) {
  const auto& grid = gather(test, bin_sd);
  const double sound = 1 - mistaken_;
  const std::size_t n = grid.outcomes;
  double joint = 0;
  if (grid.word) {
    whole_.assign(n, 0.0);
    const double share = mistaken_ * grid.mistaken_share(0);
    for (std::size_t c = 0; c < classes(); ++c)
      joint += entropy_row(table_->bins(c), n, sound, share * class_mass_[c], whole_.data());
    for (double& p : whole_) p = p * sound + share;
    return std::max(joint - class_entropy_ - sum_plogp(whole_.data(), n), 0.0);
  }
  // Bins that a class does not reach hold its mistakes only.
  const double inside = mistaken_ * grid.mistaken_share(1);
  const double false_floor = mistaken_ * grid.mistaken_share(0), false_over = mistaken_ * grid.mistaken_share(n - 1);
  Span reached;
  double floor = 0, over = 0;
  for (const auto& span : table_->span)
    if (span.size() > 0) reached.cover(span);
  whole_.assign(reached.size(), 0.0);
  for (std::size_t c = 0; c < classes(); ++c) {
    const double mass = class_mass_[c];
    floor += table_->floor[c];
    over += table_->over[c];
    joint += plogp(table_->floor[c] * sound + mass * false_floor) + plogp(table_->over[c] * sound + mass * false_over);
    const std::size_t held = table_->span[c].size();
    if (held > 0)
      joint += entropy_row(table_->bins(c), held, sound, inside * mass, &whole_[table_->span[c].first - reached.first]);
    joint += static_cast<double>(grid.bins - held) * plogp(inside * mass);
  }
  double outcomes = plogp(floor * sound + false_floor) + plogp(over * sound + false_over);
  for (const double p : whole_) outcomes += plogp(p * sound + inside);
  outcomes += static_cast<double>(grid.bins - whole_.size()) * plogp(inside);
  return std::max(joint - class_entropy_ - outcomes, 0.0);
}

}  // namespace lostspark::inference
