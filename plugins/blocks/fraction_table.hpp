// A table over demand / reserve, read between its points.
#pragma once

#include <array>
#include <cstddef>

namespace lostspark::blocks {

/// Cubic through the table with slopes from neighbours: continuous with its slope; constant outside.
template <std::size_t N>
double at_fraction(const std::array<double, N>& t, const std::array<double, N>& y, double x) {
  if (x <= t[0]) return y[0];
  if (x >= t[N - 1]) return y[N - 1];
  std::size_t k = 0;
  while (x > t[k + 1]) ++k;
  const auto slope = [&](std::size_t i) {
    if (i == 0 || i == N - 1) return 0.0;
    return (y[i + 1] - y[i - 1]) / (t[i + 1] - t[i - 1]);
  };
  const double h = t[k + 1] - t[k], s = (x - t[k]) / h, r = 1 - s;
  return y[k] * (1 + 2 * s) * r * r + slope(k) * h * s * r * r + y[k + 1] * s * s * (3 - 2 * s) -
         slope(k + 1) * h * s * s * r;
}

}  // namespace lostspark::blocks
