// Minutes that steps really took against the file's: conjugate regression on their logs (docs/learning.md, 3).
#pragma once

#include <cstddef>
#include <span>
#include <utility>
#include <vector>

#include "learning/cholesky.hpp"

namespace lostspark::learning {

/// Steps made of the same items, added up: all that the model asks of them.
struct MinuteSteps {
  std::vector<std::pair<std::size_t, double>> items;  ///< item, minutes the file gives it (> 0)
  double steps = 0;                                   ///< how many
  double log_sum = 0, log_square = 0;                 ///< sums of the log of the minutes taken, and of its square
  /// One more step of these items that took this long; minutes > 0.
  void add(double minutes);
};

/// Spreads of logs, scaled by s2; judgement.
struct MinutePrior {
  double common_sd = 0.3;  ///< how fast this shop is
  double item_sd = 0.4;    ///< an item against the file
  double step_sd = 0.35;   ///< one step against its items
  double shape = 3;        ///< of s2, with scale shape - 1: the spreads count as 2 x shape steps
};

/// Times the file's minutes: median and 90 % interval.
struct MinuteFactor {
  double median = 1, low = 1, high = 1;
};

struct MinuteFit {
  double common = 0;          ///< log factor of all items
  std::vector<double> item;   ///< by item: its own log factor beyond that
  std::vector<double> steps;  ///< by item: steps it was part of
  Square covariance;          ///< of (common, item), to be multiplied by s2
  double shape = 3, scale = 2;
  double item_variance = 0;  ///< of an item nobody has met, before s2
  int rounds = 0;
  /// `item` beyond the fitted ones: never met.
  [[nodiscard]] MinuteFactor factor(std::size_t item) const;
};

/// items: how many there are. O(rounds x (groups x items of a step^2 + items^3)). Throws InternalError when a group
/// names an item beyond them, has no item, or minutes that are not above 0.
[[nodiscard]] MinuteFit fit_minutes(const MinutePrior& prior, std::span<const MinuteSteps> groups, std::size_t items);

}  // namespace lostspark::learning
