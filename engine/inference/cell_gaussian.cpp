// The Gaussian inside a cell: numbers by Cholesky, bounds on top by truncated moments, and the state they leave.
#include <algorithm>
#include <cmath>
#include <limits>
#include <tuple>

#include "inference/hermite.hpp"
#include "inference/likelihood.hpp"
#include "inference/normal.hpp"

namespace lostspark::inference {
namespace {

constexpr double k_certain_sd = 4.8;  // a bound this far away is certain: 8e-7
constexpr double k_log_sqrt_two_pi = 0.9189385332046727;
constexpr std::size_t k_taken = ~std::size_t{0};  // a bound applied together with an earlier one
const Hermite k_hermite;

}  // namespace

double Likelihood::covariance(const Atom& x, const Atom& y) const {
  double sum = x.row.slope_b * y.row.slope_b;
  const double *p = x.row.table, *q = y.row.table;
  sum += dot(p + 1, q + 1, columns_);
  const auto& list = observations_.list;
  if (x.feels_event() && y.feels_event() && list[x.observation].moment == list[y.observation].moment) {
    double event = 0;
    for (std::size_t k = 1 + columns_; k < compiled_.stride; ++k) event += p[k] * q[k];
    sum += event * (&x == &y ? x.share : std::min(x.share, y.share));
  }
  if (x.instrument >= 0 && x.instrument == y.instrument) sum += accuracy_[x.instrument];
  return sum;
}

double Likelihood::shared(const Atom& x, const Atom& y) {
  double& kept = shared_[static_cast<std::size_t>(x.live) * live_ + static_cast<std::size_t>(y.live)];
  if (std::isnan(kept))
    kept = shared_[static_cast<std::size_t>(y.live) * live_ + static_cast<std::size_t>(x.live)] = covariance(x, y);
  return kept;
}

void Likelihood::factor_numbers(std::uint64_t mistaken, const std::array<std::uint8_t, 64>& choice) {
  const auto& list = observations_.list;
  number_.clear();
  for (std::size_t o = 0; o < list.size(); ++o) {
    if (!has_numbers_[o] || (mistaken >> o & 1) || choice[o] == k_no_way) continue;
    for (std::size_t at = first_atom_[o][choice[o]]; at < first_atom_[o][choice[o] + 1]; ++at)
      if (atoms_[at].number) number_.push_back(&atoms_[at]);
  }
  const std::size_t n = number_.size();
  // Cholesky of their covariance; alpha = covariance^-1 (y - m).
  double log = 0;
  factor_.resize(n * n);
  alpha_.resize(n);
  for (std::size_t i = 0; i < n; ++i)
    for (std::size_t j = 0; j <= i; ++j) {
      double sum = i == j ? number_[i]->variance + number_[i]->noise : shared(*number_[i], *number_[j]);
      for (std::size_t k = 0; k < j; ++k) sum -= factor_[i * n + k] * factor_[j * n + k];
      factor_[i * n + j] = i == j ? std::sqrt(std::max(sum, 1e-12)) : sum / factor_[j * n + j];
    }
  for (std::size_t i = 0; i < n; ++i) {
    double sum = number_[i]->value - number_[i]->row.mean;
    for (std::size_t k = 0; k < i; ++k) sum -= factor_[i * n + k] * alpha_[k];
    alpha_[i] = sum / factor_[i * n + i];
    log += -0.5 * alpha_[i] * alpha_[i] - std::log(factor_[i * n + i]) - k_log_sqrt_two_pi;
  }
  numbers_log_ = log;
}

void Likelihood::take_numbers(std::uint64_t mistaken, const std::array<std::uint8_t, 64>& choice) {
  factor_numbers(mistaken, choice);
  const std::size_t n = number_.size();
  std::fill(number_rest_.begin(), number_rest_.end(), 0.0);
  given_mean_.assign(live_, std::numeric_limits<double>::quiet_NaN());
  given_cov_.assign(live_ * live_, std::numeric_limits<double>::quiet_NaN());
  white_.resize(live_ * n);
  for (std::size_t i = n; i-- > 0;) {
    double sum = alpha_[i];
    for (std::size_t k = i + 1; k < n; ++k) sum -= factor_[k * n + i] * alpha_[k];
    alpha_[i] = sum / factor_[i * n + i];
  }
  // Each number given all others, from the inverse P: variance 1 / P_ii, error alpha_i / P_ii.
  column_.resize(n);
  for (std::size_t i = 0; i < n; ++i) {
    column_[i] = 1 / factor_[i * n + i];
    double precision = column_[i] * column_[i];
    for (std::size_t r = i + 1; r < n; ++r) {
      double sum = 0;
      for (std::size_t k = i; k < r; ++k) sum -= factor_[r * n + k] * column_[k];
      column_[r] = sum / factor_[r * n + r];
      precision += column_[r] * column_[r];
    }
    number_rest_[number_[i]->observation] +=
        0.5 * std::log(precision) - k_log_sqrt_two_pi - 0.5 * alpha_[i] * alpha_[i] / precision;
  }
}

void Likelihood::condition(const Atom& x) {
  const std::size_t n = number_.size(), place = static_cast<std::size_t>(x.live);
  double mean = x.row.mean;
  double* white = &white_[place * n];
  for (std::size_t i = 0; i < n; ++i) {
    const double c = shared(*number_[i], x);
    mean += c * alpha_[i];
    double sum = c;
    for (std::size_t k = 0; k < i; ++k) sum -= factor_[i * n + k] * white[k];
    white[i] = sum / factor_[i * n + i];
  }
  given_mean_[place] = mean;
}

double Likelihood::conditional(const Atom& x, const Atom& y) {
  const auto p = static_cast<std::size_t>(x.live), q = static_cast<std::size_t>(y.live), n = number_.size();
  double& kept = given_cov_[p * live_ + q];
  if (std::isnan(kept)) {
    double sum = shared(x, y);
    for (std::size_t k = 0; k < n; ++k) sum -= white_[p * n + k] * white_[q * n + k];
    kept = given_cov_[q * live_ + p] = sum;
  }
  return kept;
}

double Likelihood::evaluate(std::uint64_t mistaken, const std::array<std::uint8_t, 64>& choice, State* state) {
  ++evaluations;
  const auto& list = observations_.list;
  chosen_.clear();
  for (std::size_t o = 0; o < list.size(); ++o) {
    if (list[o].finding || (mistaken >> o & 1) || choice[o] == k_no_way) continue;
    for (std::size_t at = first_atom_[o][choice[o]]; at < first_atom_[o][choice[o] + 1]; ++at)
      if (!atoms_[at].number && atoms_[at].live >= 0) chosen_.push_back(&atoms_[at]);
  }
  log_rest_ = number_rest_;
  std::fill(log_charge_.begin(), log_charge_.end(), 0.0);
  double log = numbers_log_;
  if (state) record_numbers(*state);
  if (!chosen_.empty()) apply_bounds(state, log);
  return log;
}

void Likelihood::apply_bounds(State* state, double& log) {
  // Bounds that are certain given the numbers (further bounds only shrink the variance) drop out.
  const std::size_t m = chosen_.size();
  mean_.resize(m);
  noise_.resize(m);
  order_.clear();
  for (std::size_t b = 0; b < m; ++b) {
    const auto& x = *chosen_[b];
    if (std::isnan(given_mean_[x.live])) condition(x);
    mean_[b] = given_mean_[x.live];
    // Where nobody shares a bound's event, the event is noise of the bound.
    noise_[b] = bound_noise(x);
    const double reach = k_certain_sd * std::sqrt(x.variance + x.noise) + 1e-12;
    if (x.low < mean_[b] - reach && x.high > mean_[b] + reach) continue;
    order_.push_back(b);
  }
  if (order_.empty()) return;
  std::fill(bound_log_.begin(), bound_log_.end(), 0.0);
  cov_.resize(m * m);
  for (std::size_t p : order_)
    for (std::size_t q : order_) {
      if (q > p) break;
      cov_[p * m + q] = cov_[q * m + p] = conditional(*chosen_[p], *chosen_[q]);
    }
  // Fixed order, so that the order of readings does not matter.
  std::sort(order_.begin(), order_.end(), [&](std::size_t p, std::size_t q) {
    const auto &x = *chosen_[p], &y = *chosen_[q];
    return std::tie(x.channel, x.low, x.high, mean_[p], p) < std::tie(y.channel, y.low, y.high, mean_[q], q);
  });
  double bounds_total = 0;
  const std::size_t steps = order_.size();
  for (std::size_t at = 0; at < steps; ++at) {
    const std::size_t b = order_[at];
    if (b == k_taken) continue;
    const auto& x = *chosen_[b];
    const double variance = std::max(cov_[b * m + b], 1e-14);
    // Others on the same margin: same direction up to an offset.
    std::array<std::size_t, 16> group{};
    std::size_t members = 0;
    group[members++] = b;
    // Nearly certain bounds need no joint treatment: what one leaves of the other's doubt is of second order.
    const auto doubtful = [&](std::size_t which) {
      const auto& y = *chosen_[which];
      const double sd = std::sqrt(std::max(cov_[which * m + which], 1e-14) + noise_[which]);
      return normal_between((y.low - mean_[which]) / sd, (y.high - mean_[which]) / sd) < 0.98;
    };
    if (!x.couples && doubtful(b))
      for (std::size_t later = at + 1; later < steps && members < group.size(); ++later) {
        const std::size_t c = order_[later];
        if (c == k_taken || chosen_[c]->couples) continue;
        if (std::abs(cov_[c * m + c] - variance) > 0.02 * variance ||
            std::abs(cov_[b * m + c] - variance) > 0.01 * variance)
          continue;
        if (!doubtful(c)) continue;
        group[members++] = c;
        order_[later] = k_taken;
      }
    double gain = 0, shrink = 0;
    const auto charge = [&](std::size_t which, double p) {
      log_rest_[chosen_[which]->observation] += p;
      bound_log_[chosen_[which]->observation] += p;
    };
    if (members == 1) {
      const auto cut = truncate(mean_[b], variance + noise_[b], x.low, x.high);
      const double p = std::log(std::max(cut.probability, 1e-40));
      log += p;
      bounds_total += p;
      charge(b, p);
      gain = cut.gain;
      shrink = cut.shrink;
    } else {
      // One margin, several words: integrate over it, with the rule centred where one word after the other puts it.
      double middle = 0, spread = variance;
      for (std::size_t g = 0; g < members; ++g) {
        const auto& y = *chosen_[group[g]];
        const auto cut = truncate(mean_[group[g]] + middle, spread + noise_[group[g]], y.low, y.high);
        middle += spread * cut.gain;
        spread = std::max(spread - spread * spread * cut.shrink, 1e-3 * variance);
      }
      spread = std::min(1.5 * spread, variance);
      const double scale = std::sqrt(spread);
      double z0 = 0, z1 = 0, z2 = 0;
      std::array<double, 16> without{}, each{};
      for (int q = 0; q < Hermite::n; ++q) {
        const double u = middle + k_hermite.x[q] * scale;
        const double weight = k_hermite.w[q] * std::sqrt(spread / variance) *
                              std::exp(0.5 * (k_hermite.x[q] * k_hermite.x[q] - u * u / variance));
        double product = weight;
        for (std::size_t g = 0; g < members; ++g) {
          const auto& y = *chosen_[group[g]];
          const double s = std::sqrt(std::max(noise_[group[g]], 1e-6)), centre = mean_[group[g]] + u;
          each[g] = normal_between((y.low - centre) / s, (y.high - centre) / s);
          product *= each[g];
        }
        for (std::size_t g = 0; g < members; ++g) {
          double others = weight;
          for (std::size_t h = 0; h < members; ++h) others *= h == g ? 1.0 : each[h];
          without[g] += others;
        }
        z0 += product;
        z1 += product * u;
        z2 += product * u * u;
      }
      z0 = std::max(z0, 1e-40);
      const double shift = z1 / z0, left = z2 / z0 - shift * shift;
      gain = shift / variance;
      shrink = (variance - std::max(left, 0.0)) / (variance * variance);
      log += std::log(z0);
      bounds_total += std::log(z0);
      for (std::size_t g = 0; g < members; ++g)
        charge(group[g], std::log(std::max(z0 / std::max(without[g], 1e-40), 1e-40)));
    }
    if (state) record_bound(*state, x, gain, shrink);
    for (std::size_t p = at + 1; p < steps; ++p) {
      const std::size_t c = order_[p];
      if (c == k_taken) continue;
      mean_[c] += cov_[b * m + c] * gain;
      for (std::size_t q = at + 1; q <= p; ++q) {
        const std::size_t d = order_[q];
        if (d == k_taken) continue;
        const double less = cov_[b * m + c] * cov_[b * m + d] * shrink;
        cov_[c * m + d] -= less;
        if (c != d) cov_[d * m + c] -= less;
      }
    }
  }
  // Where bounds contradict the rest, any other observation may be the false one: each is charged with what the others'
  // bounds cost, so that its mistake is looked at exactly.
  for (std::size_t o = 0; o < log_rest_.size(); ++o) {
    const double others = bounds_total - bound_log_[o];
    if (others < std::log(0.05)) log_charge_[o] = others;
  }
}

void Likelihood::record_numbers(State& s) const {
  // Rows of z, see State: of the numbers, whitened by the factor.
  const std::size_t n = number_.size();
  s.width = width_;
  s.directions = n;
  s.mean.assign(width_, 0.0);
  s.direction.assign(n * width_, 0.0);
  for (std::size_t i = 0; i < n; ++i) {
    const auto& x = *number_[i];
    double* v = &s.direction[i * width_];
    std::copy(x.row.table + 1, x.row.table + 1 + columns_, v);
    v[columns_] = x.row.slope_b;
    if (x.instrument >= 0) v[1 + columns_ + x.instrument] = std::sqrt(accuracy_[x.instrument]);
    for (std::size_t k = 0; k < width_; ++k) s.mean[k] += v[k] * alpha_[i];
  }
  for (std::size_t i = 0; i < n; ++i) {
    double* v = &s.direction[i * width_];
    for (std::size_t j = 0; j < i; ++j) {
      const double* u = &s.direction[j * width_];
      const double f = factor_[i * n + j];
      for (std::size_t k = 0; k < width_; ++k) v[k] -= f * u[k];
    }
    const double inverse = 1 / factor_[i * n + i];
    for (std::size_t k = 0; k < width_; ++k) v[k] *= inverse;
  }
}

void Likelihood::record_bound(State& s, const Atom& x, double gain, double shrink) {
  // Covariance of z with the bound, given the numbers and the bounds before it.
  const std::size_t n = number_.size();
  work_.assign(width_, 0.0);
  std::copy(x.row.table + 1, x.row.table + 1 + columns_, work_.begin());
  work_[columns_] = x.row.slope_b;
  if (x.instrument >= 0) work_[1 + columns_ + x.instrument] = std::sqrt(accuracy_[x.instrument]);
  plain_ = work_;
  for (std::size_t d = 0; d < s.directions; ++d) {
    const double* v = &s.direction[d * s.width];
    double c = 0;
    if (d < n)
      c = white_[static_cast<std::size_t>(x.live) * n + d];  // with the shared event
    else
      for (std::size_t k = 0; k < width_; ++k) c += plain_[k] * v[k];
    for (std::size_t k = 0; k < width_; ++k) work_[k] -= c * v[k];
  }
  const double root = std::sqrt(std::max(shrink, 0.0));
  for (std::size_t k = 0; k < width_; ++k) s.mean[k] += work_[k] * gain;
  for (std::size_t k = 0; k < width_; ++k) s.direction.push_back(work_[k] * root);
  ++s.directions;
}

}  // namespace lostspark::inference
