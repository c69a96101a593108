// The discrete problem behind an advice: fault sets merged by what must be repaired, outcome tables from the posterior,
// minutes from the bench as it stands.
#pragma once

#include <vector>

#include "planning/advice.hpp"
#include "planning/problem.hpp"

namespace lostspark::planning {

struct JobProblem {
  Problem problem;
  JobState state;
  std::vector<Index> tests;      ///< of each test of the problem, the vehicle's
  std::vector<Index> repairs;    ///< of each repair, the vehicle's
  std::vector<std::vector<std::pair<double, double>>> ranges;  ///< of each test, by outcome (OutcomeTable); words: empty
};

constexpr std::size_t k_outcome_groups = 6;  ///< that a number reading is cut into; docs/planning-results.md: the loss

constexpr std::size_t k_levels = 6;  ///< of what readings share; docs/planning.md: how near the truth they come

/// tests: the vehicle's tests to be weighed. Their results are taken as independent given what must be repaired and the level
/// (one of `levels` ranges) of what they share most, except that of the same reading with and without a provocation only
/// one counts.
[[nodiscard]] JobProblem job_problem(const inference::Posterior&, const BenchState&, const std::vector<Index>& tests,
                                     std::size_t outcome_groups = k_outcome_groups, std::size_t levels = k_levels);

}  // namespace lostspark::planning
