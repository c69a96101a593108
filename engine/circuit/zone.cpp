#include "circuit/zone.hpp"

#include <algorithm>
#include <set>

namespace lostspark::circuit {

ZonePlan::ZonePlan(int n, const std::vector<bool>& is_terminal, std::vector<Branch> branches)
    : n_(n), position_(n, -1), branches_(std::move(branches)) {
  std::vector<std::set<int>> neighbours(n);
  for (const auto& branch : branches_) {
    if (branch.a < 0 || branch.b < 0 || branch.a == branch.b) continue;
    neighbours[branch.a].insert(branch.b);
    neighbours[branch.b].insert(branch.a);
  }
  for (int i = 0; i < n; ++i) terminals_ += is_terminal[i] ? 1 : 0;
  // Terminals are mutually joined in the Schur complement: give them a dense block from the start.
  for (int i = 0; i < n; ++i)
    for (int j = 0; j < n; ++j)
      if (i != j && is_terminal[i] && is_terminal[j]) neighbours[i].insert(j);

  std::vector<int> order;
  std::vector<bool> gone(n, false);
  std::vector<std::vector<int>> rows_of_node(n);
  for (int step = 0; step < n; ++step) {
    int best = -1;
    for (int i = 0; i < n; ++i) {
      if (gone[i] || (is_terminal[i] && step < n - terminals_)) continue;
      if (best < 0 || neighbours[i].size() < neighbours[best].size()) best = i;
    }
    position_[best] = step;
    order.push_back(best);
    gone[best] = true;
    rows_of_node[best].assign(neighbours[best].begin(), neighbours[best].end());
    for (int a : neighbours[best]) {
      neighbours[a].erase(best);
      for (int b : neighbours[best])
        if (a != b) neighbours[a].insert(b);
    }
  }
  start_.push_back(0);
  for (int k = 0; k < n; ++k) {
    std::vector<int> rows;
    for (int node : rows_of_node[order[k]]) rows.push_back(position_[node]);
    std::sort(rows.begin(), rows.end());
    columns_.insert(columns_.end(), rows.begin(), rows.end());
    start_.push_back(static_cast<int>(columns_.size()));
  }
  for (const auto& branch : branches_) {
    if (branch.a < 0 || branch.b < 0 || branch.a == branch.b) {
      slot_.push_back(-1);
      continue;
    }
    const int p = position_[branch.a], q = position_[branch.b];
    slot_.push_back(entry(std::max(p, q), std::min(p, q)));
  }
  update_start_.push_back(0);
  for (int k = 0; k < n; ++k) {
    for (int p = start_[k]; p < start_[k + 1]; ++p)
      for (int q = start_[k]; q <= p; ++q)
        update_.push_back(p == q ? -1 : entry(columns_[p], columns_[q]));
    update_start_.push_back(static_cast<int>(update_.size()));
  }
}

int ZonePlan::entry(int row, int column) const {
  const auto first = columns_.begin() + start_[column], last = columns_.begin() + start_[column + 1];
  const auto it = std::lower_bound(first, last, row);
  return it != last && *it == row ? static_cast<int>(it - columns_.begin()) : -1;
}

namespace {

double inverse_of(double x) { return 1 / x; }
std::complex<double> inverse_of(const std::complex<double>& x) { return std::conj(x) / std::norm(x); }

}  // namespace

template <class T>
void ZonePlan::factor(std::span<const T> admittance, std::span<const T> shunt, std::span<T> diagonal,
                      std::span<T> lower, bool whole) const {
  // A node's diagonal is what leaves it to earth plus what leaves it to its neighbours. Eliminating a node shares out both
  // by sums of like signs, so that teraohms beside milliohms keep their digits; subtracting from the diagonal, as the
  // textbook does, would leave rounding errors as large as a floating node's leak. `diagonal` holds the part to earth until
  // its node's turn comes.
  std::fill(lower.begin(), lower.end(), T{});
  for (int i = 0; i < n_; ++i) diagonal[position_[i]] = shunt[i];
  for (std::size_t k = 0; k < branches_.size(); ++k) {
    const auto& branch = branches_[k];
    if (branch.a == branch.b) continue;
    const T y = admittance[branch.element];
    if (slot_[k] >= 0)
      lower[slot_[k]] -= y;
    else
      diagonal[position_[branch.a >= 0 ? branch.a : branch.b]] += y;
  }
  const int last = whole ? n_ : interior();
  for (int k = 0; k < last; ++k) {
    const T to_earth = diagonal[k];
    T sum = to_earth;
    for (int p = start_[k]; p < start_[k + 1]; ++p) sum -= lower[p];
    diagonal[k] = sum;
    const T inverse = inverse_of(sum);
    int u = update_start_[k];
    for (int p = start_[k]; p < start_[k + 1]; ++p) {
      const T multiplier = lower[p] * inverse;
      for (int q = start_[k]; q < p; ++q) lower[update_[u++]] -= multiplier * lower[q];
      diagonal[columns_[p]] -= multiplier * to_earth;
      ++u;
    }
    for (int p = start_[k]; p < start_[k + 1]; ++p) lower[p] *= inverse;
  }
  for (int k = last; k < n_; ++k)
    for (int p = start_[k]; p < start_[k + 1]; ++p) {
      diagonal[k] -= lower[p];
      diagonal[columns_[p]] -= lower[p];
    }
}

template <class T>
void ZonePlan::solve(std::span<const T> diagonal, std::span<const T> lower, std::span<T> x) const {
  for (int k = 0; k < n_; ++k)
    for (int p = start_[k]; p < start_[k + 1]; ++p) x[columns_[p]] -= lower[p] * x[k];
  for (int k = n_ - 1; k >= 0; --k) {
    T value = x[k] * inverse_of(diagonal[k]);
    for (int p = start_[k]; p < start_[k + 1]; ++p) value -= lower[p] * x[columns_[p]];
    x[k] = value;
  }
}

void ZonePlan::back_substitute(std::span<const double> lower, std::span<double> x) const {
  for (int k = interior() - 1; k >= 0; --k) {
    double value = 0;
    for (int p = start_[k]; p < start_[k + 1]; ++p) value -= lower[p] * x[columns_[p]];
    x[k] = value;
  }
}

double ZonePlan::driving_point(std::span<const double> diagonal, std::span<const double> lower, int position,
                               std::span<double> scratch) const {
  return driving_point_below(diagonal, lower, position, interior(), scratch);
}
double ZonePlan::whole_driving_point(std::span<const double> diagonal, std::span<const double> lower, int position,
                                     std::span<double> scratch) const {
  return driving_point_below(diagonal, lower, position, n_, scratch);
}

double ZonePlan::driving_point_below(std::span<const double> diagonal, std::span<const double> lower, int position,
                                     int last, std::span<double> scratch) const {
  std::fill(scratch.begin(), scratch.begin() + n_, 0.0);
  scratch[position] = 1;
  double sum = 0;
  for (int k = position; k < last; ++k) {
    if (scratch[k] == 0) continue;
    sum += scratch[k] * scratch[k] / diagonal[k];
    for (int p = start_[k]; p < start_[k + 1]; ++p) scratch[columns_[p]] -= lower[p] * scratch[k];
  }
  return sum;
}

double ZonePlan::schur(std::span<const double> diagonal, std::span<const double> lower, int i, int j) const {
  const int p = interior() + std::max(i, j), q = interior() + std::min(i, j);
  if (p == q) return diagonal[p];
  const int at = entry(p, q);
  return at < 0 ? 0.0 : lower[at];
}

template void ZonePlan::factor<double>(std::span<const double>, std::span<const double>, std::span<double>,
                                       std::span<double>, bool) const;
template void ZonePlan::factor<std::complex<double>>(std::span<const std::complex<double>>,
                                                     std::span<const std::complex<double>>,
                                                     std::span<std::complex<double>>,
                                                     std::span<std::complex<double>>, bool) const;
template void ZonePlan::solve<double>(std::span<const double>, std::span<const double>, std::span<double>) const;
template void ZonePlan::solve<std::complex<double>>(std::span<const std::complex<double>>,
                                                    std::span<const std::complex<double>>,
                                                    std::span<std::complex<double>>) const;

}  // namespace lostspark::circuit
