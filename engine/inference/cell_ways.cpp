// Which ways the readings came about in one cell: the combinations worth an exact evaluation.
#include <algorithm>
#include <cmath>

#include "inference/likelihood.hpp"
#include "inference/normal.hpp"

namespace lostspark::inference {
namespace {

constexpr double k_worth_nats = 10;  // below the best combination: not evaluated
constexpr double k_certain_sd = 4.8;  // as in cell_gaussian.cpp

}  // namespace

/// Fills open_ and leaves_ with the combinations to evaluate; returns the natural log of (all / kept) of the estimates.
/// Ways whose log probability is below `least` (given the numbers) are left out: none may stay.
double Likelihood::find_leaves(std::uint64_t mistaken, const std::array<std::uint8_t, 64>& choice, double least) {
  const auto& list = observations_.list;
  open_.clear();
  leaves_.clear();
  for (std::size_t o = 0; o < list.size(); ++o)
    if (!list[o].finding && !has_numbers_[o] && !(mistaken >> o & 1) && way_count_[o] > 1) open_.push_back(o);
  if (open_.size() < 2 && least < -1e200) {
    const std::size_t ways = open_.empty() ? 1 : way_count_[open_.front()];
    for (std::size_t w = 0; w < ways; ++w) {
      leaves_.emplace_back();
      leaves_.back().way[0] = static_cast<std::uint8_t>(w);
    }
    return 0;
  }
  // Bounds one after the other (assumed-density filtering): first those that hold whatever the ways, then a tree over
  // the ways. Every bound can only lower the probability, so a branch far below the best leaf is given up.
  seen_.clear();
  // Ways of one observation that bound the same channel share its row.
  std::size_t begin = 0;
  const auto add = [&](std::size_t o, std::size_t way, std::vector<Cut>& where) {
    for (std::size_t at = first_atom_[o][way]; at < first_atom_[o][way + 1]; ++at) {
      const auto& x = atoms_[at];
      if (x.number || x.live < 0) continue;
      if (std::isnan(given_mean_[x.live])) condition(x);
      const double mean = given_mean_[x.live], reach = k_certain_sd * std::sqrt(x.variance + x.noise) + 1e-12;
      if (x.low < mean - reach && x.high > mean + reach) continue;
      std::size_t row = begin;
      while (row < seen_.size() && (seen_[row]->channel != x.channel || seen_[row]->couples != x.couples)) ++row;
      if (row == seen_.size()) seen_.push_back(&x);
      where.push_back({row, &x});
    }
  };
  always_.clear();
  for (std::size_t o = 0; o < list.size(); ++o)
    if (!list[o].finding && !(mistaken >> o & 1) && choice[o] != k_no_way && (has_numbers_[o] || way_count_[o] == 1)) {
      begin = seen_.size();
      add(o, choice[o], always_);
    }
  if (way_atoms_.size() < open_.size()) way_atoms_.resize(open_.size());
  row_begin_.clear();
  for (std::size_t k = 0; k < open_.size(); ++k) {
    begin = seen_.size();
    row_begin_.push_back(begin);
    way_atoms_[k].resize(way_count_[open_[k]]);
    for (std::size_t w = 0; w < way_count_[open_[k]]; ++w) {
      way_atoms_[k][w].clear();
      add(open_[k], ways_[open_[k]][w], way_atoms_[k][w]);
    }
  }
  const std::size_t m = seen_.size();
  if (level_.size() < open_.size() + 1) level_.resize(open_.size() + 1);
  for (std::size_t k = 0; k <= open_.size(); ++k)
    if (level_[k].size() < m + m * m) level_[k].resize(m + m * m);
  for (std::size_t p = 0; p < m; ++p) {
    level_[0][p] = given_mean_[seen_[p]->live];
    for (std::size_t q = 0; q <= p; ++q)
      level_[0][m + p * m + q] = level_[0][m + q * m + p] = conditional(*seen_[p], *seen_[q]);
  }
  double log = 0;
  for (const auto& bound : always_) log += cut(level_[0], bound, 0);
  best_leaf_ = -1e300;
  least_leaf_ = least;
  nodes_ = 0;
  descend(0, log);
  evaluations += nodes_;
  std::sort(leaves_.begin(), leaves_.end(), [](const Leaf& x, const Leaf& y) { return x.log > y.log; });
  double all = 0, kept = 0;
  for (const auto& leaf : leaves_) all += std::exp(leaf.log - best_leaf_);
  std::size_t keep = 0;
  while (keep < leaves_.size() && keep < effort.ways && leaves_[keep].log > best_leaf_ - k_worth_nats)
    kept += std::exp(leaves_[keep++].log - best_leaf_);
  leaves_.resize(keep);
  return kept > 0 ? std::log(all / kept) : 0;
}

/// Applies a bound to mean and covariance of a level from row `from` on; returns its log probability.
double Likelihood::cut(std::vector<double>& level, const Cut& bound, std::size_t from) {
  const std::size_t m = seen_.size(), b = bound.row;
  const auto& x = *bound.atom;
  double *mean = level.data(), *cov = level.data() + m;
  const auto found = truncate(mean[b], std::max(cov[b * m + b], 1e-14) + bound_noise(x), x.low, x.high);
  const double* own = cov + b * m;
  cut_row_.assign(own + from, own + m);  // its own row changes too: another bound may follow on it
  for (std::size_t p = from; p < m; ++p) {
    const double c = cut_row_[p - from];
    if (c == 0) continue;
    mean[p] += c * found.gain;
    const double less = c * found.shrink;
    for (std::size_t q = from; q < m; ++q) cov[p * m + q] -= less * cut_row_[q - from];
  }
  return std::log(std::max(found.probability, 1e-40));
}

void Likelihood::descend(std::size_t depth, double log) {
  if (log < best_leaf_ - k_worth_nats - 2 || log < least_leaf_ || ++nodes_ > effort.nodes) return;
  if (depth == open_.size()) {
    best_leaf_ = std::max(best_leaf_, log);
    leaves_.push_back({way_, log});
    return;
  }
  auto& next = level_[depth + 1];
  for (std::size_t w = 0; w < way_count_[open_[depth]]; ++w) {
    // What lies behind plays no part any more: only the rows from this observation on are carried along.
    const std::size_t m = seen_.size(), from = row_begin_[depth];
    const auto& here_level = level_[depth];
    std::copy(here_level.begin() + static_cast<std::ptrdiff_t>(from),
              here_level.begin() + static_cast<std::ptrdiff_t>(m), next.begin() + static_cast<std::ptrdiff_t>(from));
    for (std::size_t p = from; p < m; ++p)
      std::copy_n(here_level.begin() + static_cast<std::ptrdiff_t>(m + p * m + from), m - from,
                  next.begin() + static_cast<std::ptrdiff_t>(m + p * m + from));
    double here = log;
    for (const auto& bound : way_atoms_[depth][w]) here += cut(next, bound, from);
    way_[depth] = static_cast<std::uint8_t>(w);
    descend(depth + 1, here);
  }
}

}  // namespace lostspark::inference
