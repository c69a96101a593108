// A decision's own flat copy of the problem: only fault sets that still have weight, only steps still open. Rows of
// doubles, so that the search allocates nothing and its loops run over neighbours.
#pragma once

#include <span>
#include <unordered_map>

#include "planning/problem.hpp"

namespace lostspark::planning {

struct Flat {
  struct Test {
    double minutes = 0;
    CoverMask needs = 0;
    int setup = 0, outcomes = 0, row = 0;    ///< first of its rows
    int origin = 0;
    int next_twin = 0;                       ///< ring of the tests that tell the same; itself: none
  };
  struct Repair {
    double minutes = 0, price = 0, swap_minutes = k_no_swap;
    CoverMask needs = 0;
    int begin = 0, end = 0;                  ///< its touches
    int origin = 0;
  };
  /// Repair k on fault set h: what the check behind it can show.
  struct Touch {
    int h = 0, after = 0;
    double more_ends = 0;                    ///< how much likelier the check passes than without the repair
    double wrong = 0;                        ///< passes although something is left
    double moves = 0, stays = 0;             ///< fails, with the set `after`, with h as before
  };
  int n = 0;                                 ///< fault sets
  std::vector<double> belief;                ///< now, sums to 1
  std::vector<double> rows;                  ///< [test row][fault set]
  std::vector<Test> tests;
  std::vector<Repair> repairs;
  std::vector<Touch> touches;                ///< by repair
  std::vector<int> by_set_begin, by_set_repair, by_set_touch;  ///< touches by fault set
  std::vector<double> ends;                  ///< [fault set] a check passes with nothing done
  std::vector<double> wrong;                 ///< [fault set] the wrong part of it
  std::vector<int> hiding;                   ///< fault sets with ends > 0
  std::vector<int> idle;                     ///< of these, those with nothing wrong
  std::vector<int> kind;                     ///< [fault set] group with the same way to mend it
  int kinds = 0;
  bool pairs = false;                        ///< some repair leaves a fault behind
  std::vector<char> swapped;                 ///< [repair] no swap any more
  double check = 0, comeback = 0, refer = 0;
  CoverMask off = 0;
  int setup = 0;
  double dropped = 0;                        ///< weight left out by the cap
  std::vector<double> setup_minutes;

  Flat(const Problem&, const JobState&, std::size_t most_fault_sets);
  [[nodiscard]] double access(CoverMask needed, CoverMask covers_off) const {
    double sum = 0;
    for (CoverMask left = needed & ~covers_off; left; left &= left - 1) sum += cover_minutes_[__builtin_ctzll(left)];
    return sum;
  }
  /// Minutes of giving up, times the weight of the belief: where nothing is wrong that is only a check.
  [[nodiscard]] double give_up(double mass, double idle_mass) const {
    return refer * (mass - idle_mass) + (check < refer ? check : refer) * idle_mass;
  }
  /// For each fault set, minutes of mending it were it known, or giving up on it: no policy is cheaper.
  [[nodiscard]] std::span<const double> least(CoverMask covers_off);

 private:
  struct Way {
    double minutes = 0;
    CoverMask needs = 0;
  };
  void find_ways();
  std::vector<double> cover_minutes_;
  std::vector<std::vector<Way>> ways_;
  std::unordered_map<CoverMask, std::vector<double>> least_;
};

}  // namespace lostspark::planning
