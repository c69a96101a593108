// Expected cost of mending without another test: repairs in the order of probability per cost, until referring out is
// cheaper. It is the cost of a real policy, so an upper bound of the best (docs/costs.md).
#pragma once

#include <span>
#include <vector>

#include "inference/posterior.hpp"
#include "planning/advice.hpp"

namespace lostspark::planning {

/// Minutes of one repair with its price at the labour rate and the check behind it, without covers.
[[nodiscard]] double repair_minutes(const model::Vehicle&, const model::Workshop&, Index repair);

struct NoTest {
  double cost_min = 0;             ///< expected, minutes
  Index first = model::k_none;     ///< repair to begin with; k_none: refer out or nothing to do
};

/// classes: repairs each class needs; probability: of each class (need not sum to 1; the rest is ignored).
[[nodiscard]] NoTest no_test_cost(const model::Vehicle&, const model::Workshop&, const BenchState&,
                                  const std::vector<std::vector<Index>>& classes, std::span<const double> probability,
                                  std::size_t probability_stride = 1);

}  // namespace lostspark::planning
