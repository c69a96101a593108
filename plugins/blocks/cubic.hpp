// The cubic through two points with their slopes (Hermite): crests between samples.
#pragma once

#include <cmath>

namespace lostspark::blocks {

/// At s in [0, 1], from value a with slope da to value b with slope db; slopes are per unit of s.
inline double cubic_at(double a, double da, double b, double db, double s) {
  const double r = 1 - s;
  return a * (1 + 2 * s) * r * r + da * s * r * r + b * s * s * (3 - 2 * s) - db * s * s * r;
}

/// Where the cubic is highest, for da > 0 > db: the one zero of its slope in (0, 1).
inline double crest_position(double a, double da, double b, double db) {
  const double rise = b - a, second = 3 * (da + db) - 6 * rise, first = 6 * rise - 4 * da - 2 * db;
  const double root = std::sqrt(std::fmax(first * first - 4 * second * da, 0.0));
  return 2 * da / (root - first);
}

/// Its value there.
inline double crest_of_cubic(double a, double da, double b, double db) {
  return cubic_at(a, da, b, db, crest_position(a, da, b, db));
}

}  // namespace lostspark::blocks
