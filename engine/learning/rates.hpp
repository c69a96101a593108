// Rates where exposure is known: Poisson counts, Gamma rates, pooled with the doubt about the pool kept.
#pragma once

#include <span>
#include <vector>

namespace lostspark::learning {

/// rate ~ gamma(shape, 1 / exposure).
struct GammaRate {
  double shape = 1, exposure = 1;
  [[nodiscard]] GammaRate updated(double failures, double more) const { return {shape + failures, exposure + more}; }
  [[nodiscard]] double mean() const { return shape / exposure; }
};

struct RateEstimate {
  double mean = 0, low = 0, high = 0;  ///< per unit of exposure; 90 % interval
};

/// Priors of the pool: shape ~ exponential(shape_rate), exposure ~ gamma(exposure_shape, exposure_rate).
struct RatePool {
  double shape_rate = 1, exposure_shape = 0.1, exposure_rate = 1;
};

struct PooledRates {
  std::vector<RateEstimate> rates;  ///< of each unit
  RateEstimate next;                ///< of a unit without a failure or exposure of its own
  double shape = 0, exposure = 0;   ///< posterior means
};

/// Rates of units that share a Gamma of unknown shape and scale, by summing over a grid of both. Exposure > 0 in units
/// that give about one failure each. Throws InternalError for unequal lengths.
[[nodiscard]] PooledRates pool_rates(std::span<const double> failures, std::span<const double> exposure,
                                     const RatePool& pool = {});

}  // namespace lostspark::learning
