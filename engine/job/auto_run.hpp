// A whole diagnosis without a person: the simulated bench answers what the advice asks for.
#pragma once

#include <functional>
#include <memory>
#include <random>
#include <string>

#include "job/job.hpp"
#include "simulation/bench.hpp"

namespace lostspark::job {

/// One step of the run, given to the observer after it was recorded.
struct AutoStep {
  int number = 0;
  planning::Advice advice;
  std::string title;   ///< the test or repair
  std::string answer;  ///< "168 V", "passed"
  Done done;
};

struct AutoResult {
  enum class End { fixed, not_ignition, referred_on, step_limit } end = End::step_limit;
  int steps = 0;
  Index first_part_repair = model::k_none;  ///< first repair that replaced a part, k_none: none
  bool cured = false;                       ///< the bench has no fault left
};

/// What the technician writes down about the spark on arrival (Intake::spark): one look at the spark test as the
/// vehicle stands, nothing provoked. Empty where the vehicle has no such test.
[[nodiscard]] std::string spark_on_arrival(const model::Vehicle& vehicle, simulation::Bench& bench);

/// The word a customer would bring the first of these faults in with: by what provokes it where it seldom shows
/// otherwise, else by the spark as it is where a complaint is computed from it, else drawn by the table of the fault's
/// group.
[[nodiscard]] std::string complaint_as_told(const std::shared_ptr<const model::Vehicle>& vehicle,
                                            const simulation::Truth& truth, std::mt19937_64& random);

struct AutoOptions {
  std::function<void(const AutoStep&)> after = {};         ///< told of each step that was recorded
  std::function<void(const planning::Plan&)> before = {};  ///< told what is advised before each step
  /// Which step of the plan is taken, an index into plan.steps; empty: the advice, its head. For comparing policies.
  std::function<std::size_t(const planning::Plan&)> choose = {};
  int step_limit = 40;  ///< or as many readings as inference weighs together, whichever comes first
};

/// Follows the advice to the end on `bench` (which holds the hidden fault): reads, repairs, checks, records the stops,
/// closes.
AutoResult run_simulated(Job& job, simulation::Bench& bench, const AutoOptions& options = {});

}  // namespace lostspark::job
