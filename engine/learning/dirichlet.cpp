#include "learning/dirichlet.hpp"

#include <algorithm>
#include <boost/math/special_functions/beta.hpp>
#include <cmath>

namespace lostspark::learning {
namespace {

/// Without it Boost computes in long double, five times slower, for digits nobody asks for.
using InDouble = boost::math::policies::policy<boost::math::policies::promote_double<false>>;

constexpr double k_tail = 0.05;  // 90 % intervals
constexpr double k_least_centre = 1e-6;
constexpr std::size_t k_most_parts = 8;

}  // namespace

double Concentration::typical() const {
  double sum = 0;
  for (std::size_t i = 0; i < value.size(); ++i) sum += weight[i] * std::log(value[i]);
  return std::exp(sum);
}

Concentration any_concentration() {
  Concentration out;
  for (int i = 2; i <= 24; ++i) out.value.push_back(std::exp2(i / 2.0));  // 2 .. 4096
  out.weight.assign(out.value.size(), 1.0 / static_cast<double>(out.value.size()));
  return out;
}

double log_dirichlet_multinomial(std::span<const double> counts, std::span<const double> centre, double concentration) {
  double total = 0, out = 0;
  for (std::size_t i = 0; i < counts.size(); ++i) {
    total += counts[i];
    const double alpha = concentration * std::max(centre[i], k_least_centre);
    if (counts[i] > 0) out += std::lgamma(alpha + counts[i]) - std::lgamma(alpha);
  }
  return out + std::lgamma(concentration) - std::lgamma(concentration + total);
}

void weigh(Concentration& k, std::span<const double> counts, std::span<const double> centre) {
  std::vector<double> log(k.value.size());
  double largest = -1e300, sum = 0;
  for (std::size_t i = 0; i < k.value.size(); ++i) {
    log[i] = std::log(std::max(k.weight[i], 1e-300)) + log_dirichlet_multinomial(counts, centre, k.value[i]);
    largest = std::max(largest, log[i]);
  }
  for (std::size_t i = 0; i < k.value.size(); ++i) sum += k.weight[i] = std::exp(log[i] - largest);
  for (double& w : k.weight) w /= sum;
}

ShareEstimate estimate_share(const Concentration& k, double centre, double centre_size, double count, double total,
                             double certain) {
  struct Part {
    double weight, a, b;
  };
  std::vector<Part> parts;
  ShareEstimate out;
  const double c = std::clamp(centre, k_least_centre, 1 - k_least_centre);
  for (std::size_t i = 0; i < k.value.size(); ++i) {
    if (k.weight[i] < 1e-4) continue;
    // The centre's own doubt widens what it says: variance c (1 - c) (1 / (K + 1) + K / ((K + 1) (size + 1))).
    const double spread = 1 / (k.value[i] + 1) + k.value[i] / ((k.value[i] + 1) * (centre_size + 1));
    const double own = std::max(1 / spread - 1, 1e-3);
    const double mean = (own * c + count) / (own + total), size = own + total * certain;
    out.mean += k.weight[i] * mean;
    parts.push_back({k.weight[i], std::max(mean * size, 1e-6), std::max((1 - mean) * size, 1e-6)});
  }
  double kept = 0;
  for (const auto& part : parts) kept += part.weight;
  // Neighbours on the grid differ little: eight of them say what all do, and the incomplete beta function is dear.
  const std::size_t group = (parts.size() + k_most_parts - 1) / k_most_parts;
  std::vector<Part> merged;
  double second = 0;
  for (std::size_t i = 0; i < parts.size(); ++i) {
    auto part = parts[i];
    part.weight /= kept;
    const double size = part.a + part.b, m = part.a / size;
    second += part.weight * (m * (1 - m) / (size + 1) + m * m);
    if (i % group == 0) {
      merged.push_back(part);
      continue;
    }
    auto& into = merged.back();
    const double sum = into.weight + part.weight;
    into.a = std::exp((into.weight * std::log(into.a) + part.weight * std::log(part.a)) / sum);
    into.b = std::exp((into.weight * std::log(into.b) + part.weight * std::log(part.b)) / sum);
    into.weight = sum;
  }
  out.mean /= kept;
  const double sd = std::sqrt(std::max(second - out.mean * out.mean, 1e-18));
  const auto quantile = [&](double p) {
    // A mixture's tail of five percent lies within sqrt(19) sd of its mean (Cantelli).
    double low = std::max(0.0, out.mean - 5 * sd), high = std::min(1.0, out.mean + 5 * sd);
    for (int step = 0; step < 22; ++step) {
      const double x = (low + high) / 2;
      double below = 0;
      for (const auto& part : merged) below += part.weight * boost::math::ibeta(part.a, part.b, x, InDouble());
      (below < p ? low : high) = x;
    }
    return (low + high) / 2;
  };
  out.low = quantile(k_tail);
  out.high = quantile(1 - k_tail);
  return out;
}

}  // namespace lostspark::learning
