// The next step of a repair job by expected cost: look-ahead over tests, repairs, swaps and referring out, with the
// no-test order of repairs as its leaf. docs/planning.md: algorithm, budgets, what is exact when.
#pragma once

#include <functional>
#include <vector>

#include "planning/problem.hpp"

namespace lostspark::planning {

struct PlannerOptions {
  bool exact = true;                 ///< search to the end where the job is small enough for exact_nodes
  std::size_t nodes = 0;             ///< node evaluations a decision; 0: k_default_work over the number of fault sets
  std::size_t nodes_to_two = 0;      ///< if above nodes: what the first pass of depth two may take up to, to be finished
  std::size_t exact_nodes = 20000000;  ///< node evaluations spent on the search to the end before it is given up
  std::size_t fault_sets = 400;      ///< most probable ones looked at (closed under repair, renormalised)
  int screened = 16;                 ///< tests costed at a node below the first
  int depth = 12;                    ///< deepest look-ahead
  std::function<bool()> stop;        ///< asked every 64 nodes, a safety stop: true ends the search with what it has
};

/// A possible first step and its expected cost, followed by what the search thinks best.
struct Option {
  Action action;
  double cost = 0;                   ///< minutes to the end of the job
  int depth = 0;                     ///< look-ahead behind the number
};

struct Decision {
  Action action;
  double cost = 0;                   ///< of the advised step
  double no_test_cost = 0;           ///< repairs in p/c order from here, no test
  std::vector<Option> options;       ///< cheapest first; the head is the advice
  bool exact = false;                ///< the cost is the least of all policies
  int depth = 0;
  std::size_t nodes = 0;             ///< node evaluations spent
};

/// The same problem, state and options give the same decision, unless `stop` cut it short.
[[nodiscard]] Decision decide(const Problem&, const JobState&, const PlannerOptions& = {});

}  // namespace lostspark::planning
