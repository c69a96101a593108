// Healthy values: a conjugate normal-inverse-gamma model on the logs of what healthy vehicles read (docs/learning.md,
// 1).
#pragma once

#include <cstddef>
#include <span>
#include <vector>

#include "learning/cholesky.hpp"

namespace lostspark::learning {

/// The textbook case: y ~ N(mu, s2), mu | s2 ~ N(mean, s2 / count), s2 ~ inverse gamma(shape, scale).
struct NormalInverseGamma {
  double mean = 0, count = 1, shape = 3, scale = 2;
  [[nodiscard]] NormalInverseGamma updated(std::span<const double> y) const;
  /// Student t of the next y.
  [[nodiscard]] double degrees() const { return 2 * shape; }
  [[nodiscard]] double spread() const;
};

/// One number on one healthy vehicle; columns are per standard deviation of the file's parameter.
struct HealthyReading {
  std::size_t individual = 0;      ///< readings with the same number were taken on one vehicle
  std::size_t test = 0;            ///< row of the tests that have readings, 0 ..
  double residual = 0;             ///< log of the value over what the file predicts
  std::vector<double> column;      ///< by parameter: change of the log per sd of the parameter
  double noise_variance = 0.01;    ///< event, reading, instrument; of the log
  double mistaken = 0.03;          ///< prior probability that it says nothing
  double mistaken_density = 0.05;  ///< density of the log then
};

struct HealthyPrior {
  std::vector<double> doubt;  ///< by parameter: share of the file's variance that is doubt about the kind, 0 .. 1
  double test_sd = 0.05;      ///< what the equations leave unexplained at a test; of the log
  double shape = 3;           ///< prior readings behind the file's spreads, by halves; scale is shape - 1
};

struct HealthyFit {
  std::vector<double> shift;    ///< by parameter: mean of the kind against the file, in sd of the file
  std::vector<double> offset;   ///< by test: what the equations leave unexplained; log
  Square covariance;            ///< of (shift, offset), to be multiplied by s2
  double shape = 3, scale = 2;  ///< of s2
  std::vector<double> kept;     ///< by reading: probability that it is not mistaken
  std::vector<double> relevance;  ///< by parameter: its weight in the readings it moves, 1 for the one that moves one most
  /// Mean of s2: 1 where readings scatter as the file says.
  [[nodiscard]] double variance_factor() const { return scale / (shape - 1); }
};

/// tests = number of tests that have readings. Throws InternalError when columns and prior do not fit.
[[nodiscard]] HealthyFit fit_healthy(const HealthyPrior& prior, std::span<const HealthyReading> readings,
                                     std::size_t tests);

/// What the next vehicle of the kind reads: Student t of the log over what the file predicts.
struct HealthyBand {
  double centre = 0, spread = 1, degrees = 6;
  [[nodiscard]] double quantile(double p) const;
};
/// `test` beyond the fitted ones: no offset was learned there.
[[nodiscard]] HealthyBand predict(const HealthyPrior& prior, const HealthyFit& fit, std::span<const double> column,
                                  std::size_t test, double noise_variance);

/// How the scatter of a parameter compares with the file's, as a factor of its sd. It counts as far as the parameter
/// moves what was read: others keep the file's.
[[nodiscard]] double scatter_factor(const HealthyFit& fit, std::size_t parameter);
/// Spread of a parameter between vehicles of the kind as a factor of the file's: scatter, and doubt about the kind.
[[nodiscard]] double spread_factor(const HealthyPrior& prior, const HealthyFit& fit, std::size_t parameter);

}  // namespace lostspark::learning
