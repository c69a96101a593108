#include "learning/cholesky.hpp"

#include <cmath>

#include "base/error.hpp"

namespace lostspark::learning {

Square cholesky(const Square& matrix) {
  Square l(matrix.n);
  for (std::size_t j = 0; j < matrix.n; ++j) {
    double d = matrix(j, j);
    for (std::size_t k = 0; k < j; ++k) d -= l(j, k) * l(j, k);
    ensure(d > 0 && std::isfinite(d), "a covariance is not positive definite");
    l(j, j) = std::sqrt(d);
    for (std::size_t i = j + 1; i < matrix.n; ++i) {
      double s = matrix(i, j);
      for (std::size_t k = 0; k < j; ++k) s -= l(i, k) * l(j, k);
      l(i, j) = s / l(j, j);
    }
  }
  return l;
}

std::vector<double> solve(const Square& l, std::vector<double> b) {
  for (std::size_t i = 0; i < l.n; ++i) {
    for (std::size_t k = 0; k < i; ++k) b[i] -= l(i, k) * b[k];
    b[i] /= l(i, i);
  }
  for (std::size_t i = l.n; i-- > 0;) {
    for (std::size_t k = i + 1; k < l.n; ++k) b[i] -= l(k, i) * b[k];
    b[i] /= l(i, i);
  }
  return b;
}

Square inverse(const Square& l) {
  Square out(l.n);
  for (std::size_t j = 0; j < l.n; ++j) {
    std::vector<double> unit(l.n, 0.0);
    unit[j] = 1;
    const auto column = solve(l, std::move(unit));
    for (std::size_t i = 0; i < l.n; ++i) out(i, j) = column[i];
  }
  return out;
}

}  // namespace lostspark::learning
