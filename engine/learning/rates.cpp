#include "learning/rates.hpp"

#include <algorithm>
#include <boost/math/special_functions/gamma.hpp>
#include <cmath>

#include "base/error.hpp"

namespace lostspark::learning {
namespace {

/// Without it Boost computes in long double, five times slower.
using InDouble = boost::math::policies::policy<boost::math::policies::promote_double<false>>;

struct Part {
  double weight, shape, exposure;
};

/// Mean and 90 % interval of a mixture of Gamma.
RateEstimate of_mixture(const std::vector<Part>& parts) {
  RateEstimate out;
  double top = 0;
  for (const auto& p : parts) {
    out.mean += p.weight * p.shape / p.exposure;
    top = std::max(top, (p.shape + 12 * std::sqrt(p.shape) + 30) / p.exposure);
  }
  const auto quantile = [&](double wanted) {
    double low = 0, high = top;
    for (int step = 0; step < 45; ++step) {
      // By geometric means near zero: low quantiles of shapes below 1 are tiny.
      const double x = low > 0 ? std::sqrt(low * high) : high * 1e-3;
      double below = 0;
      for (const auto& p : parts) below += p.weight * boost::math::gamma_p(p.shape, p.exposure * x, InDouble());
      if (below < wanted)
        low = x;
      else
        high = x;
      if (high < 1e-12) break;
    }
    return high;
  };
  out.low = quantile(0.05);
  out.high = quantile(0.95);
  return out;
}

}  // namespace

PooledRates pool_rates(std::span<const double> failures, std::span<const double> exposure, const RatePool& pool) {
  ensure(failures.size() == exposure.size(), "failures and exposures differ in number");
  // Grid in the logs of shape and exposure; the integrand is smooth there. Density of the log = density times the
  // value.
  constexpr int n_shape = 120, n_exposure = 120;
  const double shape_low = std::log(0.02), shape_step = (std::log(60.0) - shape_low) / n_shape;
  const double beta_low = std::log(1e-4), beta_step = (std::log(500.0) - beta_low) / n_exposure;
  std::vector<Part> grid;
  double largest = -1e300;
  for (int i = 0; i < n_shape; ++i)
    for (int j = 0; j < n_exposure; ++j) {
      const double a = std::exp(shape_low + (i + 0.5) * shape_step), b = std::exp(beta_low + (j + 0.5) * beta_step);
      double log = -pool.shape_rate * a + std::log(a) + pool.exposure_shape * std::log(b) - pool.exposure_rate * b;
      for (std::size_t k = 0; k < failures.size(); ++k)
        log += std::lgamma(a + failures[k]) - std::lgamma(a) + a * std::log(b) -
               (a + failures[k]) * std::log(b + exposure[k]);
      largest = std::max(largest, log);
      grid.push_back({log, a, b});
    }
  double sum = 0;
  for (auto& g : grid) sum += g.weight = std::exp(g.weight - largest);
  std::erase_if(grid, [&](const Part& g) { return g.weight < 1e-4 * sum / static_cast<double>(n_shape); });
  sum = 0;
  for (const auto& g : grid) sum += g.weight;
  PooledRates out;
  for (auto& g : grid) {
    g.weight /= sum;
    out.shape += g.weight * g.shape;
    out.exposure += g.weight * g.exposure;
  }
  auto parts = grid;
  for (std::size_t k = 0; k < failures.size(); ++k) {
    for (std::size_t g = 0; g < grid.size(); ++g)
      parts[g] = {grid[g].weight, grid[g].shape + failures[k], grid[g].exposure + exposure[k]};
    out.rates.push_back(of_mixture(parts));
  }
  out.next = of_mixture(grid);
  return out;
}

}  // namespace lostspark::learning
