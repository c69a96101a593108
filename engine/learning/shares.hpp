// Shares of faults from closed jobs: expectation-maximisation over grouped patterns, Dirichlet shares pooled from class
// over family to network (docs/learning.md, 2).
#pragma once

#include <cstdint>
#include <string>
#include <vector>

namespace lostspark::learning {

/// One fault set of a pattern: rows of the network's classes, and its likelihood.
struct WeightedSet {
  std::int32_t a = -1, b = -1;  ///< rows; both -1: nothing wrong
  float likelihood = 1;
};

/// Cases that say the same. The sets of all groups lie in one vector: [first, first + count).
struct PatternGroup {
  double jobs = 0;
  std::size_t first = 0, count = 0;
};

/// All cases of one network.
struct NetworkCases {
  std::string family, network;
  std::vector<std::string> classes;
  std::vector<double> odds;  ///< by class: prior odds as the files state them
  std::vector<WeightedSet> sets;
  std::vector<PatternGroup> groups;
  /// Adds a group; classes the network does not have are left out (a group without any set is not added).
  void add(const std::string& pattern, double jobs);
};

/// What was learned of one class on one network (or a family, or over all): shares of faults, summing to 1.
struct ClassShare {
  std::string name;
  double file = 0;                        ///< as the files state it
  double centre = 0;                      ///< what the others (family, all) make of it before this network's own jobs
  double count = 0;                       ///< expected number of faults behind it
  double confirmed = 0;                   ///< of these in jobs that leave no doubt
  double learned = 0, low = 0, high = 0;  ///< posterior mean, 90 % interval
};

struct SharesOf {
  std::string name;  ///< network, or family
  std::string family;
  double jobs = 0;           ///< faults counted
  double concentration = 0;  ///< posterior mean of log K, exponentiated
  std::vector<ClassShare> classes;
};

struct LearnedShares {
  std::vector<SharesOf> families, networks;
  int rounds = 0;  ///< of expectation-maximisation
};

struct ShareOptions {
  int rounds = 60;
  double tolerance = 1e-5;  ///< largest change of a share that ends the rounds
};

[[nodiscard]] LearnedShares learn_shares(const std::vector<NetworkCases>& cases, const ShareOptions& options = {});

}  // namespace lostspark::learning
