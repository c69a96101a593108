// Rules of choosing the next step that the shipped planner is compared with; nowhere else in use.
#pragma once

#include <string>
#include <vector>

#include "planner/score.hpp"

namespace lostspark::benches {

struct NamedPolicy {
  std::string name;
  planner::Policy choose;
};

/// parts by p/c; fixed front to back; half-split; information per minute (stop at .5, at .8, by cost); one-step greedy by
/// lowest total and by saving per minute; look-ahead of two and of three steps; the shipped planner last.
[[nodiscard]] std::vector<NamedPolicy> all_policies();

}  // namespace lostspark::benches
