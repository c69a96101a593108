// Questions put to a posterior about readings to come: gains, predictions, outcome tables, and how odd a reading was.
#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

#include "inference/forecast.hpp"

namespace lostspark::inference {
namespace {

constexpr double k_odd_tail = 0.01;  // below it a tail is worth the evaluation of pairs
constexpr double k_bin_sd = 0.7, k_exact_bin_sd = 0.5;  // bins per reading scatter: what binning loses stays below 0.01 bit

/// Probability of each outcome, classes added up.
OutcomeGrid whole_of(Forecaster& forecaster, Index test, double bin_sd, std::vector<double>& whole) {
  const std::array<Index, 1> one{test};
  forecaster.prepare(one);
  const auto grid = forecaster.gather(test, bin_sd);
  forecaster.whole(whole);
  return grid;
}

}  // namespace

Prediction summarise(const OutcomeGrid& grid, const std::vector<double>& outcome) {
  Prediction out;
  double total = 0;
  for (double p : outcome) total += p;
  if (total <= 0) return out;
  if (grid.word) {
    for (double p : outcome) out.word.push_back(p / total);
    return out;
  }
  out.below_floor = outcome.front() / total;
  out.over_range = outcome.back() / total;
  double inside = 0;
  for (std::size_t k = 1; k + 1 < outcome.size(); ++k) inside += outcome[k];
  const auto quantile = [&](double q) {
    double sum = 0;
    for (std::size_t k = 1; k + 1 < outcome.size(); ++k) {
      if (outcome[k] > 0 && sum + outcome[k] >= q * inside)
        return std::exp(grid.low + grid.width * (static_cast<double>(k - 1) + (q * inside - sum) / outcome[k]));
      sum += outcome[k];
    }
    return std::exp(grid.low + grid.width * static_cast<double>(grid.bins));
  };
  if (inside > 1e-9 * total) {
    out.low = quantile(0.05);
    out.median = quantile(0.5);
    out.high = quantile(0.95);
  }
  return out;
}

std::vector<Gain> Posterior::gains(std::span<const Index> tests, bool keep_all) const {
  std::vector<Gain> out;
  Forecaster forecaster(*impl_, {.keep_all = keep_all});
  forecaster.prepare(tests);
  for (Index test : tests) out.push_back({test, 0});
  for (std::size_t k : forecaster.best_order(tests))
    if (impl_->compiled->tests[tests[k]].instrument >= 0)
      out[k].gain_bits = forecaster.gain(tests[k], forecaster.exact() ? k_exact_bin_sd : k_bin_sd);
  return out;
}

std::vector<OutcomeTable> Posterior::outcome_tables(std::span<const Index> tests, std::size_t most,
                                                     std::size_t levels) const {
  std::vector<OutcomeTable> out;
  Forecaster forecaster(*impl_, {.by_repair = true, .levels = levels, .shared_by = tests});
  forecaster.prepare(tests);
  std::vector<double> whole;
  out.resize(tests.size());
  for (std::size_t at_test : forecaster.best_order(tests)) {
    const Index test = tests[at_test];
    OutcomeTable& result = out[at_test];
    for (std::size_t c = 0; c < forecaster.classes(); ++c) {
      const auto [a, b] = forecaster.members(c);
      std::vector<Index> needed;
      for (Index repair : {a, b})
        if (repair >= 0) needed.push_back(repair);
      result.repairs.push_back(std::move(needed));
      result.level.push_back(forecaster.level(c));
    }
    const auto grid = forecaster.gather(test, 1.0);
    // Neighbouring bins are merged to groups of about equal probability; floor, over range and words stay apart.
    std::vector<std::size_t> group(grid.outcomes);
    if (grid.word) {
      for (std::size_t k = 0; k < grid.outcomes; ++k) group[k] = k;
      result.outcomes = grid.outcomes;
    } else {
      forecaster.whole(whole);
      double inside = 0;
      for (std::size_t k = 1; k + 1 < grid.outcomes; ++k) inside += whole[k];
      const double share = inside / static_cast<double>(most - 2);
      double sum = 0;
      std::size_t at = 1;
      for (std::size_t k = 1; k + 1 < grid.outcomes; ++k) {
        if (sum > 0 && sum + whole[k] / 2 > share && at < most - 2) {
          sum = 0;
          ++at;
        }
        group[k] = at;
        sum += whole[k];
      }
      group.back() = at + 1;
      result.outcomes = at + 2;
      const auto border = [&](std::size_t bin) { return std::exp(grid.low + grid.width * static_cast<double>(bin - 1)); };
      result.ranges.assign(result.outcomes, {0.0, border(1)});
      for (std::size_t k = 1; k + 1 < grid.outcomes; ++k) {
        auto& range = result.ranges[group[k]];
        if (group[k] != group[k - 1]) range.first = border(k);
        range.second = border(k + 1);
      }
      result.ranges.back() = {border(grid.outcomes - 1), std::numeric_limits<double>::infinity()};
    }
    forecaster.merged(group, result.outcomes, result.probability);
  }
  return out;
}

OutcomeTable Posterior::outcome_table(Index test, std::size_t most) const {
  const std::array<Index, 1> one{test};
  return outcome_tables(one, most).front();
}

Prediction Posterior::predict(Index test, Index given_mode) const {
  Forecaster forecaster(*impl_, {.only_mode = given_mode});
  if (forecaster.empty()) return healthy_band(*impl_->compiled, test);
  std::vector<double> whole;
  const auto grid = whole_of(forecaster, test, 0.25, whole);
  return summarise(grid, whole);
}

double Posterior::tail(std::size_t event) const {
  const auto& evidence = impl_->evidence;
  const auto* reading = event < evidence.size() ? std::get_if<model::Reading>(&evidence[event]) : nullptr;
  if (!reading) return 1;
  auto without = evidence;
  without.erase(without.begin() + static_cast<std::ptrdiff_t>(event));
  const double first = update_singles(impl_->compiled, without).tail_of(*reading);
  if (first > k_odd_tail || !impl_->compiled->options.pairs) return first;
  return update(impl_->compiled, without).tail_of(*reading);
}

double Posterior::tail_of(const model::Reading& said) const {
  const auto* reading = &said;
  Forecaster forecaster(*impl_);
  std::vector<double> whole;
  const auto grid = whole_of(forecaster, reading->test, 0.25, whole);
  // The mistake term would hide exactly what is asked for: take it out again.
  const double mistaken = impl_->compiled->vehicle->tests[reading->test].mistaken;
  for (std::size_t k = 0; k < grid.outcomes; ++k)
    whole[k] = std::max((whole[k] - mistaken * grid.mistaken_share(k)) / (1 - mistaken), 0.0);
  if (grid.word) return whole[std::min(reading->value.word, grid.outcomes - 1)];
  double value = reading->value.number;
  switch (reading->value.kind) {
    case model::ValueKind::below_floor: return whole.front();
    case model::ValueKind::over_range: return whole.back();
    case model::ValueKind::interval:
      if (reading->value.low <= 0 || !std::isfinite(reading->value.high)) return 1;
      value = std::sqrt(reading->value.low * reading->value.high);
      break;
    default: break;
  }
  const auto at = static_cast<std::size_t>(std::clamp((std::log(std::max(value, 1e-12)) - grid.low) / grid.width + 1, 0.0,
                                                      static_cast<double>(grid.bins)));
  double below = 0;
  for (std::size_t k = 0; k < at; ++k) below += whole[k];
  const double here = whole[at] / 2;
  return std::min(1.0, 2 * std::min(below + here, 1 - below - here));
}

}  // namespace lostspark::inference
