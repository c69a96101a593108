// The vehicle's harness as a stage sees it: nodal conductances at the stage's terminals (LS_INPUT_TERMINAL).
#pragma once

#include <cstddef>

#include "dense.hpp"

namespace lostspark::blocks {

/// Conductance every terminal keeps to earth, siemens: stray leakage. It bounds the condition of the nodal systems when
/// a connector is off and is far below what any meter loads.
inline constexpr double k_stray_siemens = 1e-9;

/// Unpacks the lower triangle (row by row, as the host appends it) into a full symmetric matrix.
template <std::size_t N>
Matrix<N> unpack_harness(const double* packed, double stray = k_stray_siemens) {
  Matrix<N> y;
  std::size_t at = 0;
  for (std::size_t i = 0; i < N; ++i)
    for (std::size_t j = 0; j <= i; ++j, ++at) {
      y[i][j] = packed[at];
      y[j][i] = packed[at];
    }
  for (std::size_t i = 0; i < N; ++i) y[i][i] += stray;
  return y;
}

/// Adds a conductance between two nodes.
template <std::size_t N>
void join(Matrix<N>& y, std::size_t a, std::size_t b, double siemens) {
  y[a][a] += siemens;
  y[b][b] += siemens;
  y[a][b] -= siemens;
  y[b][a] -= siemens;
}

/// Kron reduction: eliminates the last node, which carries no injected current.
template <std::size_t N>
Matrix<N - 1> without_last(const Matrix<N>& y) {
  Matrix<N - 1> r;
  const double inverse = 1 / y[N - 1][N - 1];
  for (std::size_t i = 0; i + 1 < N; ++i)
    for (std::size_t j = 0; j + 1 < N; ++j) r[i][j] = y[i][j] - y[i][N - 1] * y[N - 1][j] * inverse;
  return r;
}

}  // namespace lostspark::blocks
