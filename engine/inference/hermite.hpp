// Gauss-Hermite rule for the standard normal weight, 20 points (Abramowitz and Stegun 25.4.46, nodes by Newton on the
// recurrence of the orthonormal polynomials).
#pragma once

#include <array>
#include <cmath>

namespace lostspark::inference {

struct Hermite {
  static constexpr int n = 20;
  std::array<double, n> x{}, w{};
  Hermite() {
    constexpr double pi_quarter = 0.7511255444649425;  // pi^(-1/4)
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

}  // namespace lostspark::inference
