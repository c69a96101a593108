#include "learning/minutes.hpp"

#include <algorithm>
#include <boost/math/distributions/students_t.hpp>
#include <cmath>

#include "base/error.hpp"

namespace lostspark::learning {
namespace {

constexpr int k_most_rounds = 50;
constexpr double k_settled = 1e-10;

}  // namespace

void MinuteSteps::add(double minutes) {
  ensure(minutes > 0, "a step took no time");
  const double y = std::log(minutes);
  steps += 1;
  log_sum += y;
  log_square += y * y;
}

MinuteFactor MinuteFit::factor(std::size_t which) const {
  const bool met = which < item.size();
  double log_factor = common, variance = covariance(0, 0);
  if (met) {
    log_factor += item[which];
    variance += covariance(which + 1, which + 1) + 2 * covariance(0, which + 1);
  } else {
    variance += item_variance;
  }
  const double spread = std::sqrt(variance * scale / shape);
  const double reach = spread * boost::math::quantile(boost::math::students_t(2 * shape), 0.95);
  return {std::exp(log_factor), std::exp(log_factor - reach), std::exp(log_factor + reach)};
}

MinuteFit fit_minutes(const MinutePrior& prior, std::span<const MinuteSteps> groups, std::size_t items) {
  const std::size_t n = items + 1;
  const double noise = prior.step_sd * prior.step_sd;
  MinuteFit fit;
  fit.item.assign(items, 0.0);
  fit.steps.assign(items, 0.0);
  fit.item_variance = prior.item_sd * prior.item_sd;
  double steps = 0;
  for (const auto& g : groups) {
    ensure(!g.items.empty(), "a step is made of nothing");
    steps += g.steps;
    for (const auto& [i, minutes] : g.items) {
      ensure(i < items && minutes > 0, "a step does not fit the items");
      fit.steps[i] += g.steps;
    }
  }
  for (fit.rounds = 1;; ++fit.rounds) {
    Square precision(n);
    std::vector<double> vector(n, 0.0), row;
    precision(0, 0) = 1 / (prior.common_sd * prior.common_sd);
    for (std::size_t i = 1; i < n; ++i) precision(i, i) = 1 / fit.item_variance;
    double square = 0;
    for (const auto& g : groups) {
      double planned = 0;
      row.clear();
      for (const auto& [i, minutes] : g.items) {
        row.push_back(minutes * std::exp(fit.common + fit.item[i]));
        planned += row.back();
      }
      // log planned + sum of shares x (change of each item's log): the tangent at the present estimate.
      double constant = std::log(planned) - fit.common;
      for (std::size_t k = 0; k < row.size(); ++k) {
        row[k] /= planned;
        constant -= row[k] * fit.item[g.items[k].first];
      }
      const double sum = (g.log_sum - g.steps * constant) / noise;
      square += (g.log_square - 2 * constant * g.log_sum + g.steps * constant * constant) / noise;
      vector[0] += sum;
      precision(0, 0) += g.steps / noise;
      for (std::size_t k = 0; k < row.size(); ++k) {
        const std::size_t a = g.items[k].first + 1;
        vector[a] += row[k] * sum;
        precision(0, a) += row[k] * g.steps / noise;
        precision(a, 0) = precision(0, a);
        for (std::size_t l = 0; l < row.size(); ++l)
          precision(a, g.items[l].first + 1) += row[k] * row[l] * g.steps / noise;
      }
    }
    const auto factor = cholesky(precision);
    const auto mean = solve(factor, vector);
    double moved = std::abs(mean[0] - fit.common), explained = 0;
    for (std::size_t i = 0; i < items; ++i) moved = std::max(moved, std::abs(mean[i + 1] - fit.item[i]));
    for (std::size_t i = 0; i < n; ++i) explained += mean[i] * vector[i];
    fit.common = mean[0];
    fit.item.assign(mean.begin() + 1, mean.end());
    if (moved > k_settled && fit.rounds < k_most_rounds) continue;
    fit.covariance = inverse(factor);
    fit.shape = prior.shape + steps / 2;
    fit.scale = prior.shape - 1 + std::max(0.0, square - explained) / 2;
    return fit;
  }
}

}  // namespace lostspark::learning
