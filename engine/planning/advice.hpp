// What to do next: tests ranked by information per minute, and repairs where their expected cost is lower.
#pragma once

#include <string>
#include <vector>

#include "inference/posterior.hpp"

namespace lostspark::planning {

using model::Index;

/// The state of the vehicle on the bench, from the job's log.
struct BenchState {
  std::vector<Index> covers_off;
  std::vector<Index> setups_standing;
  std::vector<Index> not_available;    ///< tests skipped ("cannot reach", "not now") or done and not worth repeating
  bool helper = true;
};

enum class StepKind { test, repair, refer };

struct Advice {
  StepKind kind = StepKind::test;
  Index test = model::k_none;          ///< kind test
  Index repair = model::k_none;        ///< kind repair
  double gain_bits = 0;
  double access_min = 0;               ///< from the present state to the reading taken or the repair done, refit included
  double gain_bits_per_min = 0;
  double expected_cost_min = 0;        ///< to a fixed vehicle if this is done first, money at the labour rate
  double cures = 0;                    ///< repairs: probability that it ends the job
  double price = 0;
  std::vector<Index> covers_to_open;   ///< in the order to take them off
  std::vector<std::string> reasons_against;  ///< why a step is only listed, e.g. "no helper"
};

struct Plan {
  std::vector<Advice> steps;           ///< best first; the head is the advice
  bool nothing_separates = false;      ///< no listed test tells the remaining suspects apart
  double no_test_cost_min = 0;         ///< expected cost of repairing in p/c order without another test
  std::vector<std::string> refused;    ///< tests not offered, with the reason ("needs an ohmmeter")
};

/// Minutes from the bench state to the reading: covers, set-up, condition, own time, refit; at least 0.5.
[[nodiscard]] double access_minutes(const model::Vehicle&, const model::Test&, const BenchState&);
/// Covers to take off for these needs, in order, what lies over them included; already open ones left out.
[[nodiscard]] std::vector<Index> covers_to_open(const model::Vehicle&, const std::vector<Index>& needed,
                                                const std::vector<Index>& off);

[[nodiscard]] Plan advise(const inference::Posterior&, const BenchState&);

/// Whether the repair mends what is not ignition (fuel, compression, air, other).
[[nodiscard]] bool mends_elsewhere(const model::Vehicle&, Index repair);
/// Probability that nothing here is at fault: nothing at all, or not the ignition.
[[nodiscard]] double elsewhere(const inference::Posterior&);

}  // namespace lostspark::planning
