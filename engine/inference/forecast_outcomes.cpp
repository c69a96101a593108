// Distribution of one test's reading by class: Gaussian bumps collected from the items, poured into bins; its gain.
#include <algorithm>
#include <cmath>
#include <cstring>

#include "inference/forecast.hpp"
#include "inference/normal.hpp"

namespace lostspark::inference {
namespace {

constexpr double k_reach = 4.5;          // sd over which a bump is spread
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

void Forecaster::number(Index test, std::size_t at) {
  const auto& map = p_.compiled->tests[test];
  const auto& slot = slots_[at];
  const double alive = met(map.dead_below, at);
  base_table_[slot.row * base_grid_.outcomes] += slot.weight * (1 - alive);
  const auto bump = [&](int channel, double w) {
    if (w < 1e-12) return;
    const auto& m = moments(channel, at);
    double variance = m.variance + map.noise_variance;
    if (map.step > 0) {
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
  double* out = &base_table_[slot.row * base_grid_.outcomes];
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
    double mass = 0;
    for (const auto& bump : bumps_) {
      const double mean = bump.mean / bump.weight;
      narrow_.emplace_back(bump.variance / bump.weight - mean * mean, bump.weight);
      mass += bump.weight;
    }
    std::sort(narrow_.begin(), narrow_.end());
    double below = 0;
    for (const auto& [wide, weight] : narrow_) {
      variance = std::max(variance, wide);
      if ((below += weight) > k_narrow_mass * mass) break;
    }
  }
  out.width = std::sqrt(variance) * bin_sd;
  out.bins = static_cast<std::size_t>(std::clamp(std::ceil((std::log(map.shown_to) - out.low) / out.width), 1.0, 4000.0));
  out.outcomes = out.bins + 2;
  return out;
}

void Forecaster::spread(const Bump& bump) {
  const auto& grid = base_grid_;
  double* out = &base_table_[bump.row * grid.outcomes];
  auto& span = base_span_[bump.row];
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
  if (k < end) {
    span.first = std::min(span.first, static_cast<std::uint32_t>(k));
    span.last = std::max(span.last, static_cast<std::uint32_t>(end));
  }
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

void Forecaster::findings(const model::Test& test, const OutcomeGrid& grid, std::vector<double>& table) {
  std::fill(has_row_.begin(), has_row_.end(), std::int8_t{0});
  for (const auto& row : test.findings) has_row_[row.mode] = 1;
  std::array<double, k_most_words> nothing{};
  for (std::size_t w = 0; w < test.words.size(); ++w) nothing[w] = finding_probability(test, w, {});
  for (const auto& faults : fault_groups_) {
    std::array<Index, 2> present{};
    std::size_t count = 0;
    for (Index mode : {faults.a, faults.b})
      if (mode >= 0 && has_row_[mode]) present[count++] = mode;
    double* out = &table[faults.cls * grid.outcomes];
    for (std::size_t w = 0; w < test.words.size(); ++w)
      out[w] += faults.weight * (count ? finding_probability(test, w, {present.data(), count}) : nothing[w]);
  }
}

void Forecaster::build_base(Index test, double bin_sd) {
  const bool word = p_.compiled->vehicle->tests[test].reads == model::Reads::margin_word;
  bumps_.clear();
  std::fill(hash_.begin(), hash_.end(), -1);
  // The grid follows from the bumps; until then rows hold their first outcomes only.
  base_grid_ = {};
  base_grid_.outcomes = word ? 3 : 1;
  base_table_.assign(rows_ * base_grid_.outcomes, 0.0);
  for (std::size_t k = 0; k < slots_.size(); ++k) {
    if (word) words(test, k);
    else number(test, k);
  }
  base_span_.assign(rows_, {});
  const auto final_grid = grid(test, bin_sd);
  if (!word) {
    floor_.swap(base_table_);
    base_table_.assign(rows_ * final_grid.outcomes, 0.0);
    for (std::size_t r = 0; r < rows_; ++r) base_table_[r * final_grid.outcomes] = floor_[r];
  }
  base_grid_ = final_grid;
  for (const auto& bump : bumps_) spread(bump);
  base_ = test;
  base_bin_sd_ = bin_sd;
}

OutcomeGrid Forecaster::gather_clean(Index test, double bin_sd, std::vector<double>& table) {
  const auto& t = p_.compiled->vehicle->tests[test];
  if (t.reads == model::Reads::finding) {
    const auto out = grid(test, bin_sd);
    table.assign(classes() * out.outcomes, 0.0);
    findings(t, out, table);
    return out;
  }
  if (base_ < 0 || base_bin_sd_ != bin_sd || !same_base(base_, test)) build_base(test, bin_sd);
  const std::size_t n = base_grid_.outcomes;
  table.assign(base_table_.begin(), base_table_.begin() + static_cast<std::ptrdiff_t>(classes() * n));
  span_.assign(base_span_.begin(), base_span_.begin() + static_cast<std::ptrdiff_t>(classes()));
  const auto provocation = static_cast<std::size_t>(t.provocation);
  for (const auto& group : groups_) {
    if (group.steady) continue;
    const double pa = group.shows[2 * provocation], pb = group.shows[2 * provocation + 1];
    double* out = &table[group.cls * n];
    for (unsigned which = 0; which < 4; ++which) {
      const double w = (which & 1 ? pa : 1 - pa) * (which & 2 ? pb : 1 - pb);
      if (w <= 0 || group.row[which] == k_no_row) continue;
      const double* row = &base_table_[group.row[which] * n];
      if (base_grid_.word) {
        for (std::size_t k = 0; k < n; ++k) out[k] += w * row[k];
        continue;
      }
      const auto& span = base_span_[group.row[which]];
      out[0] += w * row[0];
      out[n - 1] += w * row[n - 1];
      for (std::size_t k = 1 + span.first, last = 1 + span.last; span.size() > 0 && k < last; ++k) out[k] += w * row[k];
      span_[group.cls].cover(span);
    }
  }
  return base_grid_;
}

OutcomeGrid Forecaster::gather(Index test, double bin_sd, std::vector<double>& table) {
  const auto out = gather_clean(test, bin_sd, table);
  // Mistakes spread every class over the instrument's range, floor included.
  const double mistaken = p_.compiled->vehicle->tests[test].mistaken;
  for (std::size_t c = 0; c < classes(); ++c) {
    double* row = &table[c * out.outcomes];
    for (std::size_t k = 0; k < out.outcomes; ++k)
      row[k] = row[k] * (1 - mistaken) + class_mass_[c] * mistaken * out.mistaken_share(k);
  }
  return out;
}

double Forecaster::gain(Index test, double bin_sd) {
  const auto grid = gather_clean(test, bin_sd, table_);
  const double mistaken = p_.compiled->vehicle->tests[test].mistaken, sound = 1 - mistaken;
  const std::size_t n = grid.outcomes;
  whole_.assign(n, 0.0);
  double joint = 0;
  if (grid.word) {
    const double share = mistaken * grid.mistaken_share(0);
    for (std::size_t c = 0; c < classes(); ++c)
      joint += entropy_row(&table_[c * n], n, sound, share * class_mass_[c], whole_.data());
    for (double& p : whole_) p = p * sound + share;
    return std::max(joint - class_entropy_ - sum_plogp(whole_.data(), n), 0.0);
  }
  // Bins that a class does not reach hold its mistakes only.
  const double inside = mistaken * grid.mistaken_share(1);
  std::uint32_t first = static_cast<std::uint32_t>(grid.bins), last = 0;
  for (std::size_t c = 0; c < classes(); ++c) {
    const double* row = &table_[c * n];
    const double mass = class_mass_[c];
    for (std::size_t k : {std::size_t{0}, n - 1}) {
      whole_[k] += row[k];
      joint += plogp(row[k] * sound + mass * mistaken * grid.mistaken_share(k));
    }
    const auto span = span_[c];
    const std::size_t held = span.size();
    if (held > 0) {
      joint += entropy_row(row + 1 + span.first, held, sound, inside * mass, &whole_[1 + span.first]);
      first = std::min(first, span.first);
      last = std::max(last, span.last);
    }
    joint += static_cast<double>(grid.bins - held) * plogp(inside * mass);
  }
  double outcomes = 0;
  for (std::size_t k : {std::size_t{0}, n - 1}) outcomes += plogp(whole_[k] * sound + mistaken * grid.mistaken_share(k));
  const std::size_t held = first < last ? last - first : 0;
  for (std::size_t k = 0; k < held; ++k) outcomes += plogp(whole_[1 + first + k] * sound + inside);
  outcomes += static_cast<double>(grid.bins - held) * plogp(inside);
  return std::max(joint - class_entropy_ - outcomes, 0.0);
}

}  // namespace lostspark::inference
