// What an advice and a plan weigh: the tests the shop can take, the discrete problem behind them, the planner's budget.
#pragma once

#include <string>
#include <vector>

#include "planning/advice.hpp"
#include "planning/job_problem.hpp"
#include "planning/planner.hpp"

namespace lostspark::planning {

struct Considered {
  std::vector<Advice> tests;         ///< worth listing, by bits per minute; expected_cost_min not filled in
  std::vector<std::string> refused;  ///< tests not offered, with the reason
  JobProblem job;                    ///< over the most telling of them
  PlannerOptions options;
};

[[nodiscard]] Considered consider(const inference::Posterior&, const BenchState&);

}  // namespace lostspark::planning
