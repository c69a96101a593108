#include "inference/vector_math.hpp"

namespace lostspark::inference {

LOSTSPARK_WIDE double sum_plogp(const double* p, std::size_t n) {
  double sum = 0;
  for (std::size_t k = 0; k < n; ++k) sum += plogp(p[k]);
  return sum;
}

LOSTSPARK_WIDE double entropy_row(const double* row, std::size_t n, double scale, double add, double* whole) {
  double sum = 0;
  for (std::size_t k = 0; k < n; ++k) {
    whole[k] += row[k];
    sum += plogp(row[k] * scale + add);
  }
  return sum;
}

}  // namespace lostspark::inference
