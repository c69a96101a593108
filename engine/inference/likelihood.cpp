#include "inference/likelihood.hpp"

#include <algorithm>
#include <cmath>

#include "base/error.hpp"
#include "inference/normal.hpp"

namespace lostspark::inference {
namespace {

constexpr double k_certain_sd = 6.5;      // a bound this far away is certain
constexpr double k_log_impossible = -60;  // an observation no way explains: only a mistake can
constexpr double k_explicit = 0.02;       // a mistake with at least this odds gets a state of its own
constexpr double k_keep_within = 14;      // nats below the best: branches kept for prediction
constexpr double k_worth_within = 18;     // nats below the best: mistakes evaluated exactly

/// Gauss-Hermite rule (weight exp(-x^2/2)/sqrt(2 pi)), 20 points by symmetry; nodes by Newton on the recurrence, e.g.
/// Abramowitz and Stegun 25.4.46.
struct Hermite {
  static constexpr int n = 20;
  std::array<double, n> x{}, w{};
  Hermite() {
    constexpr double pi_quarter = 0.7511255444649425;
    double z = 0;
    for (int i = 0; i < n / 2; ++i) {
      if (i == 0) z = std::sqrt(2.0 * n + 1) - 1.85575 * std::pow(2.0 * n + 1, -1.0 / 6);
      else if (i == 1) z -= 1.14 * std::pow(n, 0.426) / z;
      else if (i == 2) z = 1.86 * z - 0.86 * x[0];
      else if (i == 3) z = 1.91 * z - 0.91 * x[1];
      else z = 2 * z - x[i - 2];
      double derivative = 1;
      for (int it = 0; it < 100; ++it) {
        double p1 = pi_quarter, p2 = 0;
        for (int j = 0; j < n; ++j) {
          const double p3 = p2;
          p2 = p1;
          p1 = z * std::sqrt(2.0 / (j + 1)) * p2 - std::sqrt(static_cast<double>(j) / (j + 1)) * p3;
        }
        derivative = std::sqrt(2.0 * n) * p2;
        const double step = p1 / derivative;
        z -= step;
        if (std::abs(step) < 1e-15) break;
      }
      x[i] = z;
      x[n - 1 - i] = -z;
      w[i] = w[n - 1 - i] = 2 / (derivative * derivative);
    }
    double sum = 0;
    for (double v : w) sum += v;
    for (int i = 0; i < n; ++i) {
      w[i] /= sum;
      x[i] *= std::sqrt(2.0);
    }
  }
};
const Hermite k_hermite;

}  // namespace

Likelihood::Likelihood(const Compiled& compiled, const Observations& observations)
    : compiled_(compiled), observations_(observations), width_(compiled.columns.size() + 2) {
  for (std::size_t k = 0; k < compiled.columns.size(); ++k)
    if (compiled.columns[k].event_ratio > 0) event_columns_.push_back(k);
  for (const auto& instrument : compiled.workshop.instruments)
    accuracy_.push_back(instrument.accuracy_log_sd * instrument.accuracy_log_sd);
  log_rest_.resize(observations.list.size());
  bound_log_.resize(observations.list.size());
  probe_.resize(width_);
}

void Likelihood::expand(const CellRef& cell, bool a, bool b, int channel, double* row, double& mean) const {
  const std::size_t columns = compiled_.columns.size();
  const double* base = compiled_.healthy_row(channel);
  const double* first = a ? compiled_.row(cell.a, cell.level, cell.cell_a, channel) : nullptr;
  const double* second = b ? compiled_.row(cell.b, cell.level, cell.cell_b, channel) : nullptr;
  const double* single = first ? first : second ? second : base;
  if (first && second) {
    mean = first[0] + second[0] - base[0];
    if (cell.correction)
      mean += cell.correction->shift[(cell.cell_a * compiled_.modes[cell.b].count(cell.level) + cell.cell_b) *
                                         compiled_.channel_count + channel];
    for (std::size_t k = 0; k < columns; ++k) row[k] = first[2 + k] + second[2 + k] - base[2 + k];
  } else {
    mean = single[0];
    for (std::size_t k = 0; k < columns; ++k) row[k] = single[2 + k];
  }
  row[columns] = first ? first[1] : 0;
  row[columns + 1] = second ? second[1] : 0;
}

bool Likelihood::viable(const CellRef& cell, const Activity& activity, const Alternative& way, std::size_t observation) {
  const bool a = activity.a >> observation & 1, b = activity.b >> observation & 1;
  for (const auto& bound : way.bounds) {
    double mean = 0;
    expand(cell, a, b, bound.channel, probe_.data(), mean);
    double variance = bound.noise_variance;
    for (std::size_t k = 0; k < compiled_.columns.size(); ++k) {
      const double ratio = compiled_.columns[k].event_ratio;
      variance += probe_[k] * probe_[k] * (compiled_.columns[k].vehicle + ratio * ratio);
    }
    for (std::size_t k = width_ - 2; k < width_; ++k) variance += probe_[k] * probe_[k];
    const double reach = k_certain_sd * std::sqrt(variance) + 1e-12;
    if (mean + reach < bound.low || mean - reach > bound.high) return false;
  }
  return true;
}

double Likelihood::covariance(std::size_t i, std::size_t j) const {
  const double *wi = &rows_[i * width_], *wj = &rows_[j * width_];
  double sum = 0;
  for (std::size_t k = 0; k < width_; ++k) sum += wi[k] * wj[k];
  const auto &x = variables_[i], &y = variables_[j];
  if (x.moment != 0 && x.moment == y.moment) {
    const double *ei = &event_rows_[i * event_columns_.size()], *ej = &event_rows_[j * event_columns_.size()];
    double event = 0;
    for (std::size_t k = 0; k < event_columns_.size(); ++k) event += ei[k] * ej[k];
    sum += event * (i == j ? x.share : std::min(x.share, y.share));
  }
  if (x.instrument >= 0 && x.instrument == y.instrument) sum += accuracy_[x.instrument];
  return sum;
}

double Likelihood::evaluate(const CellRef& cell, const Activity& activity, std::uint64_t mistaken,
                            const std::array<std::uint8_t, 64>& choice, State* state) {
  const auto& list = observations_.list;
  const std::size_t columns = compiled_.columns.size(), events = event_columns_.size();
  variables_.clear();
  // Numbers first, then bounds.
  for (int pass = 0; pass < 2; ++pass)
    for (std::size_t o = 0; o < list.size(); ++o) {
      if (list[o].finding || (mistaken >> o & 1)) continue;
      if (list[o].alternatives.empty() || choice[o] == 255) continue;
      const auto& way = list[o].alternatives[choice[o]];
      if (pass == 0)
        for (const auto& atom : way.numbers)
          variables_.push_back({atom.channel, o, atom.value, 0, 0, atom.noise_variance, atom.event_share,
                                list[o].moment, list[o].instrument, false});
      else
        for (const auto& atom : way.bounds) {
          const bool number_bound = !compiled_.channels[atom.channel].margin;
          variables_.push_back({atom.channel, o, 0, atom.low, atom.high, atom.noise_variance, 1,
                                way.numbers.empty() ? 0 : list[o].moment, number_bound ? list[o].instrument : -1,
                                !way.numbers.empty()});
        }
    }
  std::size_t n = 0;
  const std::size_t total = variables_.size();
  rows_.resize(total * width_);
  event_rows_.resize(total * std::max<std::size_t>(events, 1));
  mean_.resize(total);
  for (std::size_t i = 0; i < total; ++i) {
    auto& x = variables_[i];
    double* row = &rows_[i * width_];
    expand(cell, activity.a >> x.observation & 1, activity.b >> x.observation & 1, x.channel, row, mean_[i]);
    double own_event = 0;
    for (std::size_t k = 0; k < events; ++k) {
      const double e = row[event_columns_[k]] * compiled_.columns[event_columns_[k]].event_ratio;
      event_rows_[i * events + k] = e;
      own_event += e * e;
    }
    for (std::size_t k = 0; k < columns; ++k) row[k] *= compiled_.columns[k].vehicle;
    const bool number = x.low == 0 && x.high == 0;
    if (number) ++n;
    else if (x.moment == 0) x.noise += own_event;  // nobody shares the event: it is noise of this bound
  }
  // Numbers: Cholesky of their covariance.
  factor_.resize(n * n);
  residual_.resize(n);
  alpha_.resize(n);
  double log = 0;
  for (std::size_t i = 0; i < n; ++i) {
    residual_[i] = variables_[i].value - mean_[i];
    for (std::size_t j = 0; j <= i; ++j) {
      double sum = covariance(i, j);
      if (i == j) sum += variables_[i].noise;
      for (std::size_t k = 0; k < j; ++k) sum -= factor_[i * n + k] * factor_[j * n + k];
      factor_[i * n + j] = i == j ? std::sqrt(std::max(sum, 1e-12)) : sum / factor_[j * n + j];
    }
  }
  for (std::size_t i = 0; i < n; ++i) {
    double sum = residual_[i];
    for (std::size_t k = 0; k < i; ++k) sum -= factor_[i * n + k] * alpha_[k];
    alpha_[i] = sum / factor_[i * n + i];
    log += -0.5 * alpha_[i] * alpha_[i] - std::log(factor_[i * n + i]) - 0.9189385332046727;
  }
  for (std::size_t i = n; i-- > 0;) {
    double sum = alpha_[i];
    for (std::size_t k = i + 1; k < n; ++k) sum -= factor_[k * n + i] * alpha_[k];
    alpha_[i] = sum / factor_[i * n + i];
  }
  std::fill(log_rest_.begin(), log_rest_.end(), 0.0);
  std::fill(bound_log_.begin(), bound_log_.end(), 0.0);
  double bounds_total = 0;
  // Each number given all others, from the inverse: Var = 1 / P_ii, mean error = alpha_i / P_ii.
  for (std::size_t i = 0; i < n; ++i) {
    quad_.assign(n, 0.0);
    quad_[i] = 1 / factor_[i * n + i];
    double precision = quad_[i] * quad_[i];
    for (std::size_t r = i + 1; r < n; ++r) {
      double sum = 0;
      for (std::size_t k = i; k < r; ++k) sum -= factor_[r * n + k] * quad_[k];
      quad_[r] = sum / factor_[r * n + r];
      precision += quad_[r] * quad_[r];
    }
    log_rest_[variables_[i].observation] +=
        0.5 * std::log(precision) - 0.9189385332046727 - 0.5 * alpha_[i] * alpha_[i] / precision;
  }

  // Bounds: conditional mean and covariance given the numbers.
  const std::size_t m = total - n;
  white_.resize(m * std::max<std::size_t>(n, 1));
  cov_.resize(m * m);
  for (std::size_t b = 0; b < m; ++b) {
    double* white = &white_[b * n];
    for (std::size_t i = 0; i < n; ++i) {
      const double c = covariance(i, n + b);
      mean_[n + b] += c * alpha_[i];
      double sum = c;
      for (std::size_t k = 0; k < i; ++k) sum -= factor_[i * n + k] * white[k];
      white[i] = sum / factor_[i * n + i];
    }
  }
  for (std::size_t b = 0; b < m; ++b)
    for (std::size_t c = 0; c <= b; ++c) {
      double sum = covariance(n + b, n + c);
      for (std::size_t k = 0; k < n; ++k) sum -= white_[b * n + k] * white_[c * n + k];
      cov_[b * m + c] = cov_[c * m + b] = sum;
    }
  // Fixed order: by channel, then bounds, so that the order of readings does not matter.
  order_.resize(m);
  for (std::size_t b = 0; b < m; ++b) order_[b] = b;
  std::sort(order_.begin(), order_.end(), [&](std::size_t p, std::size_t q) {
    const auto &x = variables_[n + p], &y = variables_[n + q];
    return std::tie(x.channel, x.low, x.high, mean_[n + p], p) < std::tie(y.channel, y.low, y.high, mean_[n + q], q);
  });
  if (state) {
    state->numbers = n;
    state->steps = 0;
    state->rows.assign(rows_.begin(), rows_.begin() + static_cast<std::ptrdiff_t>(n * width_));
    state->factor = factor_;
    state->alpha = alpha_;
    state->instrument.clear();
    for (std::size_t i = 0; i < n; ++i) state->instrument.push_back(variables_[i].instrument);
    state->whitened.clear();
    state->coupling.clear();
    state->gain.clear();
    state->shrink.clear();
  }
  std::vector<std::size_t> applied;  // steps recorded in the state
  for (std::size_t at = 0; at < m; ++at) {
    const std::size_t b = order_[at];
    if (b == ~std::size_t{0}) continue;
    // Certain bounds cost nothing.
    const double variance = std::max(cov_[b * m + b], 1e-14);
    const auto& x = variables_[n + b];
    const double sd = std::sqrt(variance + x.noise);
    const bool certain = x.low < mean_[n + b] - k_certain_sd * sd && x.high > mean_[n + b] + k_certain_sd * sd;
    // Others on the same margin: same direction up to an offset.
    std::array<std::size_t, 16> group{};
    std::size_t members = 0;
    group[members++] = b;
    if (!x.couples)
      for (std::size_t later = at + 1; later < m && members < group.size(); ++later) {
        const std::size_t c = order_[later];
        if (c == ~std::size_t{0} || variables_[n + c].couples) continue;
        const double vc = cov_[c * m + c];
        if (std::abs(vc - variance) > 0.02 * variance || std::abs(cov_[b * m + c] - variance) > 0.01 * variance) continue;
        group[members++] = c;
        order_[later] = ~std::size_t{0};
      }
    if (certain && members == 1) continue;
    double gain = 0, shrink = 0;
    if (members == 1) {
      const auto cut = truncate(mean_[n + b], variance + x.noise, x.low, x.high);
      const double p = std::log(std::max(cut.probability, 1e-40));
      log += p;
      log_rest_[x.observation] += p;
      bound_log_[x.observation] += p;
      bounds_total += p;
      gain = cut.gain;
      shrink = cut.shrink;
    } else {
      // One margin, several words: integrate over it, with the rule centred where one word after the other puts it.
      double middle = 0, spread = variance;
      for (std::size_t g = 0; g < members; ++g) {
        const auto& y = variables_[n + group[g]];
        const auto cut = truncate(mean_[n + group[g]] + middle, spread + y.noise, y.low, y.high);
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
          const auto& y = variables_[n + group[g]];
          const double s = std::sqrt(std::max(y.noise, 1e-6)), centre = mean_[n + group[g]] + u;
          each[g] = normal_cdf((y.high - centre) / s) - normal_cdf((y.low - centre) / s);
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
      const double shift = z1 / z0, rest = z2 / z0 - shift * shift;
      gain = shift / variance;
      shrink = (variance - std::max(rest, 0.0)) / (variance * variance);
      log += std::log(z0);
      bounds_total += std::log(z0);
      for (std::size_t g = 0; g < members; ++g) {
        const double p = std::log(std::max(z0 / std::max(without[g], 1e-40), 1e-40));
        log_rest_[variables_[n + group[g]].observation] += p;
        bound_log_[variables_[n + group[g]].observation] += p;
      }
    }
    if (state) {
      for (std::size_t prior = 0; prior < applied.size(); ++prior)
        state->coupling.push_back(cov_[applied[prior] * m + b]);
      applied.push_back(b);
      state->rows.insert(state->rows.end(), rows_.begin() + static_cast<std::ptrdiff_t>((n + b) * width_),
                         rows_.begin() + static_cast<std::ptrdiff_t>((n + b + 1) * width_));
      state->whitened.insert(state->whitened.end(), white_.begin() + static_cast<std::ptrdiff_t>(b * n),
                             white_.begin() + static_cast<std::ptrdiff_t>((b + 1) * n));
      state->instrument.push_back(x.instrument);
      state->gain.push_back(gain);
      state->shrink.push_back(shrink);
      ++state->steps;
    }
    for (std::size_t later = at + 1; later < m; ++later) {
      const std::size_t c = order_[later];
      if (c == ~std::size_t{0}) continue;
      mean_[n + c] += cov_[b * m + c] * gain;
    }
    for (std::size_t p = at + 1; p < m; ++p)
      for (std::size_t q = at + 1; q <= p; ++q) {
        const std::size_t c = order_[p], d = order_[q];
        if (c == ~std::size_t{0} || d == ~std::size_t{0}) continue;
        const double less = cov_[b * m + c] * cov_[b * m + d] * shrink;
        cov_[c * m + d] -= less;
        if (c != d) cov_[d * m + c] -= less;
      }
  }
  // Where bounds contradict the rest, any other observation may be the false one: each is charged with what the others'
  // bounds cost, so that its mistake is looked at exactly.
  for (std::size_t o = 0; o < list.size(); ++o) {
    const double others = bounds_total - bound_log_[o];
    if (others < std::log(0.05)) log_rest_[o] += others;
  }
  return log;
}

double Likelihood::explore(const CellRef& cell, const Activity& activity, std::uint64_t mistaken, int depth,
                           std::size_t from, double log_prior, std::vector<Branch>* branches,
                           std::vector<double>* shares) {
  const auto& list = observations_.list;
  const std::size_t count = list.size();
  // Ways that can be at all, by observation.
  std::array<std::array<std::uint8_t, 8>, 64> ways{};
  std::array<std::uint8_t, 64> way_count{}, choice{};
  double constant = 0;
  std::array<bool, 64> impossible{};
  std::vector<int> hookups;
  for (std::size_t o = 0; o < count; ++o) {
    choice[o] = 255;
    if (list[o].finding) continue;
    if (mistaken >> o & 1) {
      // A hook-up is mistaken once; further readings through it repeat the false value.
      const bool again = std::find(hookups.begin(), hookups.end(), list[o].hookup) != hookups.end();
      if (!again) hookups.push_back(list[o].hookup);
      constant += again ? std::log(0.5) : std::log(list[o].mistaken * list[o].mistaken_density);
      continue;
    }
    constant += std::log1p(-list[o].mistaken);
    for (std::size_t k = 0; k < list[o].alternatives.size() && way_count[o] < 8; ++k)
      if (list[o].alternatives.size() == 1 && list[o].alternatives[0].bounds.empty())
        ways[o][way_count[o]++] = 0;
      else if (viable(cell, activity, list[o].alternatives[k], o))
        ways[o][way_count[o]++] = static_cast<std::uint8_t>(k);
    if (way_count[o] == 0) {
      impossible[o] = true;
      constant += k_log_impossible;
    } else {
      choice[o] = ways[o][0];
    }
  }
  // All combinations of the observations that have several ways.
  double total = -k_infinity;
  std::array<double, 64> rest{};
  double rest_weight = -k_infinity;
  int combinations = 0;
  std::array<std::uint8_t, 64> digit{};
  while (true) {
    const double log = constant + evaluate(cell, activity, mistaken, choice, nullptr);
    if (log > rest_weight) {
      rest_weight = log;
      for (std::size_t o = 0; o < count; ++o) rest[o] = impossible[o] ? k_log_impossible : log_rest_[o];
    }
    const double high = std::max(total, log);
    total = high + std::log(std::exp(total - high) + std::exp(log - high));
    best = std::max(best, log_prior + log);
    if (branches && log_prior + log > best - k_keep_within) branches->push_back({mistaken, choice, log});
    // Next combination.
    std::size_t o = 0;
    for (; o < count; ++o) {
      if (way_count[o] < 2) continue;
      if (++digit[o] < way_count[o]) {
        choice[o] = ways[o][digit[o]];
        break;
      }
      digit[o] = 0;
      choice[o] = ways[o][0];
    }
    if (o == count || ++combinations > 256) break;
  }
  if (depth >= compiled_.options.mistakes) return total;
  const double here = total;
  if (depth == 0) {
    reference_ = here;
    explicit_ = 0;
  }
  // Which mistakes get a state of their own is settled before any is entered, so that pairs are counted once whatever the
  // order: {s, o} in s's turn when both are explicit and s comes first, else in the turn of the explicit one.
  struct Mistake {
    std::size_t first;
    std::uint64_t group;
    double log_odds;
    bool own_state;
  };
  std::array<Mistake, 64> mistakes{};
  std::size_t mistake_count = 0;
  for (std::size_t o = 0; o < count; ++o) {
    if (list[o].finding || (mistaken >> o & 1)) continue;
    std::uint64_t group = 0;
    for (std::size_t p = 0; p < count; ++p)
      if (!list[p].finding && list[p].hookup == list[o].hookup) group |= std::uint64_t{1} << p;
    if (group & ((std::uint64_t{1} << o) - 1)) continue;  // counted at the group's first reading
    double log_odds = std::log(list[o].mistaken * list[o].mistaken_density) - std::log1p(-list[o].mistaken);
    for (std::size_t p = o; p < count; ++p)
      if (group >> p & 1) log_odds -= rest[p] + (p == o ? 0.0 : std::log(2.0));
    const bool matters = log_prior + here + log_odds > best - k_worth_within;
    const bool own_state = matters && log_odds > std::log(k_explicit);
    if (depth > 0 && o < from && (explicit_ >> o & 1)) continue;  // was entered before: counted there
    if (depth == 0 && own_state) explicit_ |= std::uint64_t{1} << o;
    mistakes[mistake_count++] = {o, group, log_odds, own_state};
  }
  for (std::size_t k = 0; k < mistake_count; ++k) {
    const auto& mistake = mistakes[k];
    double add = here + mistake.log_odds;
    if (mistake.own_state)
      add = explore(cell, activity, mistaken | mistake.group, depth + 1, mistake.first, log_prior, branches, shares);
    const double high = std::max(total, add);
    total = high + std::log(std::exp(total - high) + std::exp(add - high));
    if (shares)
      for (std::size_t p = mistake.first; p < count; ++p)
        if (mistake.group >> p & 1) (*shares)[p] += std::exp(std::min(add - reference_, 600.0));
  }
  return total;
}

double Likelihood::log_likelihood(const CellRef& cell, const Activity& activity, double log_prior,
                                  std::vector<Branch>* branches, std::vector<double>* mistaken_share) {
  if (mistaken_share) mistaken_share->assign(observations_.list.size(), 0.0);
  const double total = explore(cell, activity, 0, 0, 0, log_prior, branches, mistaken_share);
  if (mistaken_share)
    for (double& s : *mistaken_share) s *= std::exp(std::min(reference_ - total, 700.0));
  return total;
}

void Likelihood::state(const CellRef& cell, const Activity& activity, const Branch& branch, State& out) {
  evaluate(cell, activity, branch.mistaken, branch.choice, &out);
}

ChannelMoments Likelihood::predict(const CellRef& cell, bool active_a, bool active_b, int channel, const State& s) {
  double mean = 0;
  double* row = probe_.data();
  expand(cell, active_a, active_b, channel, row, mean);
  ChannelMoments out;
  for (std::size_t k : event_columns_) {
    const double e = row[k] * compiled_.columns[k].event_ratio;
    out.event_variance += e * e;
  }
  for (std::size_t k = 0; k < compiled_.columns.size(); ++k) row[k] *= compiled_.columns[k].vehicle;
  double variance = 0;
  for (std::size_t k = 0; k < width_; ++k) variance += row[k] * row[k];
  const int instrument = compiled_.channels[channel].margin ? -1 : compiled_.tests[compiled_.channels[channel].test].instrument;
  if (instrument >= 0) variance += accuracy_[instrument];
  const std::size_t n = s.numbers;
  const auto cov = [&](std::size_t i) {
    const double* other = &s.rows[i * width_];
    double sum = 0;
    for (std::size_t k = 0; k < width_; ++k) sum += row[k] * other[k];
    if (instrument >= 0 && s.instrument[i] == instrument) sum += accuracy_[instrument];
    return sum;
  };
  quad_.resize(n + s.steps);
  for (std::size_t i = 0; i < n; ++i) {
    const double c = cov(i);
    mean += c * s.alpha[i];
    double sum = c;
    for (std::size_t k = 0; k < i; ++k) sum -= s.factor[i * n + k] * quad_[k];
    quad_[i] = sum / s.factor[i * n + i];
    variance -= quad_[i] * quad_[i];
  }
  std::size_t coupling = 0;
  for (std::size_t b = 0; b < s.steps; ++b) {
    double c = cov(n + b);
    for (std::size_t k = 0; k < n; ++k) c -= quad_[k] * s.whitened[b * n + k];
    for (std::size_t prior = 0; prior < b; ++prior)
      c -= quad_[n + prior] * s.coupling[coupling++] * s.shrink[prior];
    quad_[n + b] = c;
    mean += c * s.gain[b];
    variance -= c * c * s.shrink[b];
  }
  out.mean = mean;
  out.variance = std::max(variance, 1e-12) + out.event_variance;
  return out;
}

}  // namespace lostspark::inference
