// The advice followed through its results: a decision tree for people, and what the job will cost for the customer.
#pragma once

#include <string>
#include <utility>
#include <vector>

#include "planning/advice.hpp"

namespace lostspark::planning {

/// Results of one step that lead to the same next step.
struct TreeBranch {
  double probability = 0;                          ///< of these results, at the node
  std::vector<std::pair<double, double>> ranges;   ///< number tests, in the test's unit: apart from each other, rising
  std::vector<std::string> words;                  ///< word tests
  bool passed = false;                             ///< repairs: the check passed
  int next = -1;                                   ///< node; -1: the job ends, or was not followed
};

struct TreeNode {
  Advice step;                                     ///< kind, test or repair, price, expected_cost_min
  double reached = 0;                              ///< probability that the job comes here
  int depth = 0;                                   ///< steps before it
  std::vector<TreeBranch> branches;
};

/// Minutes of work (checks included) and money for parts from now to the end of the job; comebacks are not billed.
struct Quote {
  double expected_min = 0, worst_min = 0;          ///< worst: exceeded by one job in ten
  double expected_money = 0, worst_money = 0;
  double referred = 0;                             ///< probability that the job is given away
  double unfollowed = 0;                           ///< probability of ways counted by repairs in p/c order, not followed
};

struct DecisionTree {
  std::vector<TreeNode> nodes;                     ///< [0] is the next step; empty: nothing to do
  Quote quote;
};

struct TreeOptions {
  std::size_t decisions = 120;                     ///< most nodes decided; about 10 ms each
  double least = 0.004;                            ///< ways less probable are not followed
};

/// Follows the planner from the bench as it stands, the likeliest ways first. Results that lead to the same next step are
/// one branch: what tells them apart is forgotten there. The same posterior and bench give the same tree.
[[nodiscard]] DecisionTree decision_tree(const inference::Posterior&, const BenchState&, const TreeOptions& = {});

}  // namespace lostspark::planning
