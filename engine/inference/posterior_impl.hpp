// What a Posterior holds.
#pragma once

#include <cmath>

#include "inference/likelihood.hpp"

namespace lostspark::inference {

/// One cell of one hypothesis with its weight.
struct WeightedCell {
  Index a = model::k_none, b = model::k_none;  ///< faults of the hypothesis
  bool a_now = false, b_now = false;           ///< still present
  CellRef cell;                                ///< what predicts
  Activity activity;
  double log_prior = 0;                        ///< everything but the likelihood of the observations
  double log_likelihood = 0;
  std::size_t first_branch = 0, branch_count = 0;
};

struct Posterior::Impl {
  CompiledPtr compiled;
  model::Evidence evidence;
  Observations observations;
  std::vector<WeightedCell> cells;             ///< weight exp(log_prior + log_likelihood - log_total)
  std::vector<Branch> branches;
  double log_total = 0;
  std::vector<double> component_probability, mode_probability;
  double nothing_wrong = 0, unexplored = 0;
  std::vector<double> mistaken;                ///< by observation
  Work work;

  [[nodiscard]] double weight(const WeightedCell& c) const { return std::exp(c.log_prior + c.log_likelihood - log_total); }
};

}  // namespace lostspark::inference
