// The leaf of the search: expected cost of mending without another test, repairs and swaps in the order of probability to
// end the job per minute, until referring out is cheaper. A real policy, so an upper bound of the best.
#pragma once

#include <span>
#include <vector>

#include "planning/flat.hpp"

namespace lostspark::planning {

class RepairOrder {
 public:
  explicit RepairOrder(const Flat& flat);
  /// Expected minutes times the weight of `belief` (any sum). repaired, swapped: steps no longer open.
  [[nodiscard]] double cost(std::span<const double> belief, double mass, CoverMask off, std::span<const char> repaired,
                            std::span<const char> swapped);
  /// Of the last cost(): the repair to begin with, -1: refer out; and whether it begins with the swap.
  [[nodiscard]] int first() const { return first_; }
  [[nodiscard]] bool first_is_swap() const { return first_swap_; }
  /// Open repairs and swaps of the last cost() by probability per minute, best first.
  struct Ranked {
    double ratio = 0;
    int repair = -1;
    bool swap = false;
  };
  [[nodiscard]] std::span<const Ranked> ranked(std::span<const double> belief, double mass, CoverMask off,
                                               std::span<const char> repaired, std::span<const char> swapped);

 private:
  void gather(std::span<const double> belief, std::span<const char> repaired);
  void change(int h, double weight);

  const Flat& flat_;
  std::vector<double> weight_, more_ends_, touched_, minutes_, swap_minutes_;
  std::vector<double> step_cost_, step_wrong_, step_mass_;
  std::vector<char> swapped_;
  std::vector<int> alive_;
  std::vector<Ranked> ranked_;
  double base_ = 0;   ///< weight that ends with the next check whatever is done
  double idle_ = 0;   ///< of it, where nothing is wrong: no repair's merit
  int first_ = -1;
  bool first_swap_ = false;
};

}  // namespace lostspark::planning
