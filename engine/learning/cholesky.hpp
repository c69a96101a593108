// Small dense symmetric matrices, row by row: enough for regressions with tens of unknowns.
#pragma once

#include <cstddef>
#include <vector>

namespace lostspark::learning {

/// n x n, row by row.
struct Square {
  explicit Square(std::size_t size = 0) : n(size), at(size * size, 0.0) {}
  std::size_t n;
  std::vector<double> at;
  double& operator()(std::size_t i, std::size_t j) { return at[i * n + j]; }
  double operator()(std::size_t i, std::size_t j) const { return at[i * n + j]; }
};

/// Lower Cholesky factor of a symmetric positive definite matrix. Throws InternalError when it is not.
[[nodiscard]] Square cholesky(const Square& matrix);
/// x of matrix x = b, given the factor.
[[nodiscard]] std::vector<double> solve(const Square& factor, std::vector<double> b);
/// Inverse of the matrix whose factor this is.
[[nodiscard]] Square inverse(const Square& factor);

}  // namespace lostspark::learning
