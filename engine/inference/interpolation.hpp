// Monotone piecewise cubic interpolation (Fritsch and Carlson, SIAM J. Numer. Anal. 17, 1980; slopes after Fritsch and
// Butland): never overshoots between nodes, so a saturating prediction stays saturated.
#pragma once

#include <algorithm>
#include <vector>

namespace lostspark::inference {

class MonotoneCubic {
 public:
  /// x strictly increasing, at least one node; constant beyond the ends' tangents is avoided by clamping x.
  MonotoneCubic(const std::vector<double>& x, const std::vector<double>& y) : x_(x), y_(y), slope_(x.size(), 0.0) {
    const std::size_t n = x.size();
    if (n < 2) return;
    std::vector<double> secant(n - 1);
    for (std::size_t k = 0; k + 1 < n; ++k) secant[k] = (y[k + 1] - y[k]) / (x[k + 1] - x[k]);
    slope_[0] = secant[0];
    slope_[n - 1] = secant[n - 2];
    for (std::size_t k = 1; k + 1 < n; ++k) {
      if (secant[k - 1] * secant[k] <= 0) continue;
      const double left = x[k] - x[k - 1], right = x[k + 1] - x[k];
      const double w1 = 2 * right + left, w2 = right + 2 * left;
      slope_[k] = (w1 + w2) / (w1 / secant[k - 1] + w2 / secant[k]);
    }
  }

  [[nodiscard]] double at(double x) const {
    const std::size_t n = x_.size();
    if (n == 1 || x <= x_.front()) return y_.front();
    if (x >= x_.back()) return y_.back();
    const std::size_t k = static_cast<std::size_t>(std::upper_bound(x_.begin(), x_.end(), x) - x_.begin()) - 1;
    const double h = x_[k + 1] - x_[k], t = (x - x_[k]) / h;
    const double t2 = t * t, t3 = t2 * t;
    return (2 * t3 - 3 * t2 + 1) * y_[k] + (t3 - 2 * t2 + t) * h * slope_[k] + (-2 * t3 + 3 * t2) * y_[k + 1] +
           (t3 - t2) * h * slope_[k + 1];
  }

 private:
  std::vector<double> x_, y_, slope_;
};

}  // namespace lostspark::inference
