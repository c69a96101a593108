// Random repair jobs built like an ignition chain: supply and trigger into a control unit, coil, lead, plug. Numbers are
// invented. The same seed gives the same job on every machine.
#pragma once

#include <cstdint>

#include "planning/problem.hpp"

namespace lostspark::planner {

struct RandomOptions {
  int faults = 7;
  int tests = 6;
  int covers = 3;
  bool pairs = false;          ///< every pair of faults of different repairs as well
  double most_hide = 0.5;      ///< one fault in five hides from the check up to this
  double noise = 1;            ///< factor on the share of misleading results; nothing else of the instance changes
};
[[nodiscard]] planning::Problem random_instance(const RandomOptions&, std::uint64_t seed);

}  // namespace lostspark::planner
