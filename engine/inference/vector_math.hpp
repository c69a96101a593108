// Small loops that the ranking lives in, compiled for wide registers too where the processor has them.
#pragma once

#include <bit>
#include <cstddef>
#include <cstdint>

// Clones are chosen at load time, which the sanitizers' runtimes cannot stand.
#if defined(__x86_64__) && defined(__GNUC__) && !defined(__clang__) && !defined(__SANITIZE_ADDRESS__) && !defined(__SANITIZE_THREAD__)
#define LOSTSPARK_WIDE __attribute__((target_clones("arch=x86-64-v3", "default")))
#else
#define LOSTSPARK_WIDE
#endif

namespace lostspark::inference {

/// Scalar product of n numbers, n a multiple of four: no remainder loop, so that it vectorises.
inline double dot(const double* x, const double* y, std::size_t n) {
  double a = 0, b = 0, c = 0, d = 0;
  for (std::size_t k = 0; k < n; k += 4) {
    a += x[k] * y[k];
    b += x[k + 1] * y[k + 1];
    c += x[k + 2] * y[k + 2];
    d += x[k + 3] * y[k + 3];
  }
  return (a + b) + (c + d);
}

/// p log2 p without branches, absolute error of the logarithm below 1e-12: exponent from the bits, atanh series on
/// sqrt(1/2)..sqrt(2). 0 for p below 1e-30.
inline double plogp(double p) {
  const double x = p > 1e-30 ? p : 1.0;
  const auto bits = std::bit_cast<std::uint64_t>(x);
  const std::uint64_t shifted = bits - 0x3FE6A09E667F3BCDULL;  // sqrt(1/2)
  const auto exponent = static_cast<double>(static_cast<std::int32_t>(static_cast<std::int64_t>(shifted) >> 52));
  const double m = std::bit_cast<double>((shifted & 0x000FFFFFFFFFFFFFULL) + 0x3FE6A09E667F3BCDULL);
  const double t = (m - 1) / (m + 1), u = t * t;  // |t| < 0.1716
  const double series =
      t * (2.885390081777927 +
           u * (0.961796693925976 +
                u * (0.577078016355585 +
                     u * (0.412198583111132 +
                          u * (0.320598897975325 + u * (0.262308189252539 + u * (0.221953083213687 + u * 0.192359338785195)))))));
  return x * (exponent + series);
}

/// Sum of p log2 p.
[[nodiscard]] double sum_plogp(const double* p, std::size_t n);

/// row[k] * scale + add for the entropy of a class, and the plain row added to whole: returns the sum of p log2 p of the
/// scaled values.
[[nodiscard]] double entropy_row(const double* row, std::size_t n, double scale, double add, double* whole);

}  // namespace lostspark::inference
