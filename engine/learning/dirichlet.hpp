// A Dirichlet around a known centre with an unknown concentration: empirical Bayes with its uncertainty kept.
#pragma once

#include <span>
#include <vector>

namespace lostspark::learning {

/// Concentrations looked at, with their weights; log-uniform before any count.
struct Concentration {
  std::vector<double> value, weight;     ///< weight sums to 1
  [[nodiscard]] double typical() const;  ///< exponential of the mean log
};
[[nodiscard]] Concentration any_concentration();
/// Natural log of the Dirichlet-multinomial probability of counts (not necessarily whole) given concentration x centre.
[[nodiscard]] double log_dirichlet_multinomial(std::span<const double> counts, std::span<const double> centre,
                                               double concentration);
/// Multiplies the weights by the probability of these counts.
void weigh(Concentration& k, std::span<const double> counts, std::span<const double> centre);

/// One share: mixture of Beta over the concentrations.
struct ShareEstimate {
  double mean = 0, low = 0, high = 0;
};
/// `count` of `total` in the class, `certain` (0 .. 1] of the total counts as if it had been seen (the rest was
/// inferred); `centre_size` is how many faults the centre itself stands on (infinity: it is known).
[[nodiscard]] ShareEstimate estimate_share(const Concentration& k, double centre, double centre_size, double count,
                                           double total, double certain);

}  // namespace lostspark::learning
