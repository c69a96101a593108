// Small dense linear algebra of fixed size for the stages: no allocation, all on the stack.
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>

namespace lostspark::blocks {

template <std::size_t N>
using Vector = std::array<double, N>;
template <std::size_t N>
using Matrix = std::array<std::array<double, N>, N>;

/// Solves the symmetric positive definite system a x = b for R right-hand sides, in place: b becomes x, a is destroyed.
/// Cholesky without square roots; a pivot lost to rounding is held at a tiny positive value instead of failing, which
/// only happens for a node that hangs on nothing.
template <std::size_t N, std::size_t R>
void solve_symmetric(Matrix<N>& a, std::array<Vector<R>, N>& b) {
  for (std::size_t k = 0; k < N; ++k) {
    const double pivot = std::max(a[k][k], 1e-300);
    const double inverse = 1 / pivot;
    for (std::size_t i = k + 1; i < N; ++i) {
      const double factor = a[i][k] * inverse;
      if (factor == 0) continue;
      for (std::size_t j = k + 1; j <= i; ++j) a[i][j] -= factor * a[j][k];
      for (std::size_t r = 0; r < R; ++r) b[i][r] -= factor * b[k][r];
    }
    for (std::size_t r = 0; r < R; ++r) b[k][r] *= inverse;
    for (std::size_t i = k + 1; i < N; ++i) a[i][k] *= inverse;  // now row k of L transposed
  }
  for (std::size_t k = N; k-- > 0;)
    for (std::size_t i = k + 1; i < N; ++i)
      for (std::size_t r = 0; r < R; ++r) b[k][r] -= a[i][k] * b[i][r];
}

template <std::size_t N>
Matrix<N> product(const Matrix<N>& a, const Matrix<N>& b) {
  Matrix<N> c{};
  for (std::size_t i = 0; i < N; ++i)
    for (std::size_t k = 0; k < N; ++k)
      for (std::size_t j = 0; j < N; ++j) c[i][j] += a[i][k] * b[k][j];
  return c;
}

template <std::size_t N>
Vector<N> product(const Matrix<N>& a, const Vector<N>& x) {
  Vector<N> y{};
  for (std::size_t i = 0; i < N; ++i)
    for (std::size_t k = 0; k < N; ++k) y[i] += a[i][k] * x[k];
  return y;
}

/// exp(a): scaling, Taylor to the eighth order, squaring. States should be scaled alike beforehand (balancing), or the
/// largest entry decides the scaling for all. Relative error about 1e-9 times the number of squarings.
template <std::size_t N>
Matrix<N> exponential(Matrix<N> a) {
  double norm = 0;
  for (std::size_t j = 0; j < N; ++j) {
    double sum = 0;
    for (std::size_t i = 0; i < N; ++i) sum += std::abs(a[i][j]);
    norm = std::max(norm, sum);
  }
  int squarings = 0;
  if (norm > 0.5) squarings = std::min(200, std::max(0, static_cast<int>(std::ceil(std::log2(norm / 0.5)))));
  const double scale = std::ldexp(1.0, -squarings);
  for (auto& row : a)
    for (double& value : row) value *= scale;
  const Matrix<N> a2 = product(a, a), a3 = product(a2, a), a4 = product(a2, a2);
  Matrix<N> low, high;
  for (std::size_t i = 0; i < N; ++i)
    for (std::size_t j = 0; j < N; ++j) {
      const double one = i == j ? 1.0 : 0.0;
      low[i][j] = one + a[i][j] + a2[i][j] / 2 + a3[i][j] / 6;
      high[i][j] = one / 24 + a[i][j] / 120 + a2[i][j] / 720 + a3[i][j] / 5040 + a4[i][j] / 40320;
    }
  Matrix<N> result = product(a4, high);
  for (std::size_t i = 0; i < N; ++i)
    for (std::size_t j = 0; j < N; ++j) result[i][j] += low[i][j];
  for (int k = 0; k < squarings; ++k) result = product(result, result);
  return result;
}

/// exp(a t) of a 2x2 matrix in closed form, for stable a of any stiffness: no overflow, also with equal eigenvalues.
class Exponential2 {
 public:
  Exponential2() = default;
  explicit Exponential2(const Matrix<2>& a) : a_(a), mean_((a[0][0] + a[1][1]) / 2) {
    const double half = (a[0][0] - a[1][1]) / 2;
    spread_squared_ = half * half + a[0][1] * a[1][0];
  }
  [[nodiscard]] Matrix<2> at(double t) const {
    double c, s;  // exp(mean t) cosh(q t) and exp(mean t) sinh(q t) / q
    const double z = spread_squared_ * t * t;
    if (std::abs(z) < 1e-4) {
      const double e = decay(mean_ * t);
      c = e * (1 + z / 2 + z * z / 24);
      s = e * t * (1 + z / 6 + z * z / 120);
    } else if (z > 0) {
      const double q = std::sqrt(spread_squared_);
      const double slow = decay(slow_rate(q) * t), fast = decay((mean_ - q) * t);
      c = (slow + fast) / 2;
      s = (slow - fast) / (2 * q);
    } else {
      const double q = std::sqrt(-spread_squared_), e = decay(mean_ * t);
      c = e * std::cos(q * t);
      s = e * std::sin(q * t) / q;
    }
    return {{{c + s * (a_[0][0] - mean_), s * a_[0][1]}, {s * a_[1][0], c + s * (a_[1][1] - mean_)}}};
  }

 private:
  /// exp without the slow path of its underflow.
  static double decay(double x) { return x < -80 ? 0 : std::exp(x); }
  /// mean + q without cancellation: determinant over the other eigenvalue.
  [[nodiscard]] double slow_rate(double q) const { return (a_[0][0] * a_[1][1] - a_[0][1] * a_[1][0]) / (mean_ - q); }
  Matrix<2> a_{};
  double mean_ = 0, spread_squared_ = 0;
};

}  // namespace lostspark::blocks
