// What a policy really costs on a problem: walked over all outcomes (exact), or over drawn jobs (common random numbers).
#pragma once

#include <cstdint>
#include <functional>

#include "planning/problem.hpp"

namespace lostspark::planner {

using Policy = std::function<planning::Action(const planning::Problem&, const planning::JobState&)>;

/// Expected cost over all outcomes. Places of the job that differ only in the order of the steps are asked once.
[[nodiscard]] double exact_cost(const planning::Problem&, const Policy&);
/// The same where the policy thinks with `believed`, and results and costs are those of `world`. Both have the same steps
/// and fault sets; weights and outcome tables may differ. Where `believed` calls impossible what has happened, the job
/// is referred out.
[[nodiscard]] double exact_cost(const planning::Problem& world, const planning::Problem& believed, const Policy&);

struct Job {
  double minutes = 0;       ///< everything, the comeback included
  double parts = 0;         ///< minutes' worth of parts built in that mended nothing
  int wrong_parts = 0, comebacks = 0, referred = 0, tests = 0, decisions = 0;
};
/// One job: the true fault set and every result come from the seed alone, whatever the policy does first.
[[nodiscard]] Job play(const planning::Problem&, const Policy&, std::uint64_t seed);

}  // namespace lostspark::planner
