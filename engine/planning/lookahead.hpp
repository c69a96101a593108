// Depth-limited look-ahead over one decision's flat problem. No allocation once made; the work is counted in node
// evaluations (one no-test cost each).
#pragma once

#include <functional>
#include <limits>
#include <span>
#include <vector>

#include "planning/flat.hpp"
#include "planning/planner.hpp"
#include "planning/repair_order.hpp"

namespace lostspark::planning {

/// How wide and deep one pass looks.
struct Level {
  int depth = 1;
  int root_tests = 1000, tests = 1000, repairs = 1000, screened = 1000;
};

class Lookahead {
 public:
  Lookahead(Flat& flat, std::size_t nodes, std::function<bool()> stop, std::size_t table_bits);
  /// Costs of the first steps at this level, cheapest first; empty: nodes or time ran out on the way.
  [[nodiscard]] const std::vector<Option>& look(const Level& level);
  /// Follows the test that parts most for the minutes, to the end, behind the best `tests` first tests of the last look:
  /// their costs as upper bounds; a long way of small steps is seen by it where E is flat (everything is given up).
  [[nodiscard]] std::vector<Option> follow(std::size_t tests);
  /// Whether the last look() left out nothing that could have lowered its cost.
  [[nodiscard]] bool complete() const { return !cut_; }
  [[nodiscard]] double no_test_cost() const { return no_test_cost_; }
  [[nodiscard]] std::size_t nodes() const { return nodes_; }
  void set_limit(std::size_t nodes) { limit_ = nodes; }

 private:
  struct Place {                       // where the job stands, but for the steps done, which are flags with undo
    double mass = 0;
    CoverMask off = 0;
    int setup = 0;
    std::uint64_t key = 0;             // of outcomes, repairs and swaps so far: fixes belief and steps done
    std::uint64_t repairs_key = 0;
  };
  struct Step {
    bool is_test = true, swap = false;
    int index = -1, depth = 0;
    double q = 0;                      // one step and E behind it, times mass
    double spent = 0;                  // the step itself, times mass
  };
  struct Entry {
    std::uint64_t key = 0;
    double no_test = 0, value = 0;
    int level = -1;                    // value: of which depth; -1 none
  };

  double follow(int ply, const Place& at);
  double value(int ply, int depth, const Place& at, double bound);
  double test_value(int ply, int depth, const Place& at, const Step& step, double bound);
  double repair_value(int ply, int depth, const Place& at, const Step& step, double bound);
  /// Belief after an outcome into `to`; its weight.
  double after_outcome(const double* from, int test, int outcome, double* to) const;
  double after_repair(const double* from, int repair, bool swap, double* to, double& wrong, double& ended) const;
  Place after_test(const Place& at, int test, int outcome, double mass) const;
  Place after_fail(const Place& at, int repair, bool swap, double mass) const;
  double no_test(const double* belief, const Place& at);
  double least(const double* belief, CoverMask off);
  /// Open steps worth a look at this node, with q and spent, cheapest first; tests before repairs.
  void find_steps(int ply, const Place& at, double room, bool root);
  void screen(const double* belief, const Place& at, double room, std::vector<Step>& steps, std::size_t most);
  Entry& entry(std::uint64_t key);
  void set_tested(int test, char done) {
    int t = test;
    do tested_[t] = done;
    while ((t = flat_.tests[t].next_twin) != test);
  }
  double* belief(int ply) { return &beliefs_[static_cast<std::size_t>(ply) * flat_.n]; }

  Flat& flat_;
  RepairOrder order_;
  std::size_t limit_ = 0, nodes_ = 0;
  std::function<bool()> stop_;
  bool aborted_ = false, cut_ = false;
  Level level_;
  int level_number_ = 0;
  double no_test_cost_ = 0;
  std::vector<double> beliefs_;
  std::vector<char> tested_, repaired_, swapped_;
  std::vector<std::vector<Step>> steps_;   // by ply
  std::vector<double> class_sum_;
  std::vector<Entry> table_;
  std::vector<Option> options_;
};

}  // namespace lostspark::planning
