// Normal distribution helpers used by every part of inference.
#pragma once

#include <cmath>
#include <limits>
#include <numbers>

namespace lostspark::inference {

inline constexpr double k_infinity = std::numeric_limits<double>::infinity();

/// Standard normal distribution function.
inline double normal_cdf(double x) { return 0.5 * std::erfc(-x * std::numbers::sqrt2 / 2); }
/// Normal distribution function by table: linear between 4,096 points over +-8 sd, absolute error below 5e-7.
class CdfTable {
 public:
  CdfTable() {
    for (int k = 0; k < k_size + 2; ++k) value_[k] = normal_cdf(-8 + 16.0 * k / k_size);
  }
  [[nodiscard]] double at(double x) const {
    if (x <= -8) return 0;
    if (x >= 8) return 1;
    const double t = (x + 8) * (k_size / 16.0);
    const int k = static_cast<int>(t);
    return value_[k] + (value_[k + 1] - value_[k]) * (t - k);
  }

 private:
  static constexpr int k_size = 4096;
  double value_[k_size + 2] = {};
};
inline const CdfTable k_cdf;

/// Standard normal density.
inline double normal_pdf(double x) { return std::exp(-0.5 * x * x) * 0.3989422804014327; }

/// Mills ratio of the standard normal, upper tail over density, by table: cubic Hermite with the exact slope x M - 1,
/// relative error below 1e-8 for x >= 0 (beyond 16 the continued fraction, Abramowitz and Stegun 26.2.14).
class MillsTable {
 public:
  MillsTable() {
    for (int k = 0; k <= k_size; ++k) {
      const double x = k * k_step;
      value_[k] = 0.5 * std::erfc(x * std::numbers::sqrt2 / 2) / normal_pdf(x);
      slope_[k] = (x * value_[k] - 1) * k_step;
    }
  }
  [[nodiscard]] double at(double x) const {
    if (x >= 16) return 1 / (x + 1 / (x + 2 / (x + 3 / (x + 4 / x))));
    const double t = x / k_step;
    const int k = static_cast<int>(t);
    const double u = t - k, v = 1 - u;
    return v * v * ((1 + 2 * u) * value_[k] + u * slope_[k]) + u * u * ((1 + 2 * v) * value_[k + 1] - v * slope_[k + 1]);
  }

 private:
  static constexpr int k_size = 512;
  static constexpr double k_step = 16.0 / k_size;
  double value_[k_size + 1] = {}, slope_[k_size + 1] = {};
};
inline const MillsTable k_mills;

/// Probability above x >= 0.
inline double upper_tail(double x) { return x > 38 ? 0 : normal_pdf(x) * k_mills.at(x); }

/// Probability of (a, b) under the standard normal: by table in the middle, exact in the tails, where digits count.
inline double normal_between(double a, double b) {
  if (a > -3 && a < 3 && b > 3) return 1 - k_cdf.at(a) - (b < 8 ? upper_tail(b) : 0);
  if (b < 3 && b > -3 && a < -3) return k_cdf.at(b) - (a > -8 ? upper_tail(-a) : 0);
  if (a > 0) return upper_tail(a) - upper_tail(b);
  if (b < 0) return upper_tail(-b) - upper_tail(-a);
  return 1 - upper_tail(b) - upper_tail(-a);
}

/// Probability that N(mean, variance) lies in (low, high), and the derivatives that move its mean and variance when it
/// is known to lie there: mean += cov * gain, variance -= cov^2 * shrink for any variable with covariance cov
/// (moments of the truncated normal, e.g. Johnson, Kotz, Balakrishnan, Continuous Univariate Distributions 1, ch. 13).
struct Truncation {
  double probability = 1, gain = 0, shrink = 0;
};
inline Truncation truncate(double mean, double variance, double low, double high) {
  const double sd = std::sqrt(variance);
  const double a = (low - mean) / sd, b = (high - mean) / sd;
  // Work in the tail that is small so that no digits cancel; density and tail share their exponential.
  const double fa = std::isinf(a) ? 0 : normal_pdf(a), fb = std::isinf(b) ? 0 : normal_pdf(b);
  const auto beyond = [](double x, double density) { return std::isinf(x) ? 0 : density * k_mills.at(std::abs(x)); };
  const double p = a > 0 ? beyond(a, fa) - beyond(b, fb) : b < 0 ? beyond(b, fb) - beyond(a, fa) : 1 - beyond(a, fa) - beyond(b, fb);
  Truncation out;
  out.probability = p;
  if (p < 1e-300) {
    // Far tail: all mass sits at the nearer border.
    const double border = a > 0 ? low : high;
    out.probability = 0;
    out.gain = (border - mean) / variance;
    out.shrink = 1 / variance;
    return out;
  }
  const double g = (fa - fb) / p;
  const double h = ((std::isinf(b) ? 0 : b * fb) - (std::isinf(a) ? 0 : a * fa)) / p;
  out.gain = g / sd;
  out.shrink = (g * g + h) / variance;
  return out;
}

}  // namespace lostspark::inference
