// Posterior of one job by importance sampling of the nonlinear physics: an independent answer to compare the program's with.
#pragma once

#include <set>
#include <string>
#include <vector>

#include "generative.hpp"

namespace lostspark::long_checks {

struct SamplerOptions {
  std::uint64_t seed = 1;
  int first_draws = 3000;           ///< stratified prior draws of every fault set
  int adapt_draws = 3000;           ///< draws of each adaptive round
  int adapt_rounds = 6;
  double standard_error = 0.002;    ///< goal for every component probability
  double rest = 0.005;              ///< estimated mass of electrical pairs that may be left out
  int most_pairs = 1500;            ///< electrical pairs sampled at most
  double most_draws = 4e6;          ///< limit of all draws; the result says what was reached
};

struct Sampled {
  std::vector<double> component;    ///< probability of being at fault now, by component
  std::vector<double> error;        ///< standard error of each
  double nothing_wrong = 0;
  double log_evidence = 0;          ///< natural log, up to the constant the prior odds leave out
  double rest = 0;                  ///< estimated mass of electrical pairs not sampled
  double draws = 0;
  std::size_t electrical_sets = 0, fault_sets = 0;
  /// Probability of each set of repairs needed now (sorted), for scores.
  std::vector<std::pair<std::vector<Index>, double>> repairs;
  /// Probability of each initial fault set (sorted modes), whatever touches made of it since: for finding out what differs.
  std::vector<std::pair<std::vector<Index>, double>> sets;
  /// Natural log of the estimated likelihood of each single mode, complaint tables and findings included.
  std::vector<double> log_single;
};

/// `wanted` pairs (mode, mode) are sampled whatever their estimated mass: those the program thinks matter.
[[nodiscard]] Sampled sample_posterior(JobModel& job, const std::set<std::pair<Index, Index>>& wanted,
                                       const SamplerOptions& options);

}  // namespace lostspark::long_checks
