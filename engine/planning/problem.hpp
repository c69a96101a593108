// One repair job as a discrete decision problem: fault sets with probabilities, tests with outcome tables, repairs, covers.
// Everything is in minutes; money was joined at the labour rate before. docs/planning.md says what is decided and how.
#pragma once

#include <cstdint>
#include <vector>

namespace lostspark::planning {

using CoverMask = std::uint64_t;             ///< one bit a cover; at most 64 covers
constexpr int k_mended = -1;                 ///< fault set after a repair: nothing is left
constexpr double k_no_swap = -1;             ///< swap_minutes where no known-good part can be tried

/// What can be done to the vehicle, and what is believed of it. Values; indices are positions in the vectors.
struct Problem {
  struct Test {
    double minutes = 0;                      ///< own time
    CoverMask needs = 0;                     ///< covers that must be off, what lies over them included
    int setup = 0;                           ///< set-up it needs; 0: bare
    int outcomes = 0;
    std::vector<double> p;                   ///< [fault set][outcome], each row sums to 1
    int twins = -1;                          ///< >= 0: of the tests with this number only one tells anything
  };
  struct Repair {
    double minutes = 0;                      ///< labour
    double price = 0;                        ///< part, in minutes
    CoverMask needs = 0;
    double swap_minutes = k_no_swap;         ///< labour of trying a known-good part, taking it out again included
    double success = 1;                      ///< probability that it removes what it is for
    std::vector<int> after;                  ///< [fault set]: the set left if it succeeds; itself: not touched
  };
  std::vector<double> cover_minutes;         ///< opening and refitting together
  std::vector<double> setup_minutes;         ///< entering it; [0] is the bare state, free
  std::vector<double> prior;                 ///< weight of each fault set, any sum
  std::vector<double> passes;                ///< probability that a check passes while this set is present
  std::vector<char> nothing;                 ///< 1: nothing is wrong in this "fault set": every check passes, rightly
  std::vector<Test> tests;
  std::vector<Repair> repairs;
  double check = 0;                          ///< paid after every repair and swap
  double comeback = 0;                       ///< a check passed wrongly
  double refer = 0;                          ///< giving the job away; where nothing is wrong it ends with a check instead

  [[nodiscard]] double access(CoverMask needed, CoverMask off) const;
};

/// Throws std::invalid_argument (what, where) unless sizes, ranges and row sums are right.
void validate(const Problem&);

/// A job under way.
struct JobState {
  std::vector<double> belief;                ///< weight of each fault set, any sum
  CoverMask off = 0;
  int setup = 0;
  std::vector<char> tested, repaired, swapped;
};
[[nodiscard]] JobState start_of(const Problem&);

enum class ActionKind { test, repair, swap, refer };
struct Action {
  ActionKind kind = ActionKind::refer;
  int index = -1;                            ///< test or repair
  friend bool operator==(const Action&, const Action&) = default;
};

/// One way a step can come out. Steps that end the job have no state.
struct Branch {
  double probability = 0;
  double cost = 0;                           ///< minutes paid for the step and, if it comes to that, the comeback
  bool ends = false;
  int outcome = -1;                          ///< of a test
  JobState state;
};
/// Every way the step can come out, with its probability. The rules of the game, written once for simulation and scoring;
/// the search keeps its own flat copy of them.
[[nodiscard]] std::vector<Branch> branches(const Problem&, const JobState&, Action);

}  // namespace lostspark::planning
