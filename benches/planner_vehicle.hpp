// The planner on a vehicle: time and memory of a decision, and what cutting readings into few groups loses.
#pragma once

#include <string>

namespace lostspark::benches {

/// Follows the advice from the complaint on, readings at their likeliest, `steps` readings far, and prints for every
/// place of the job: fault sets, tests, processor time of what leads to the first answer and to depth two, memory of
/// the decision. groups: also mutual information and expected cost with readings cut into 6, 8, 12 groups against 40.
void vehicle(const std::string& id, const std::string& complaint, int steps, bool groups);

}  // namespace lostspark::benches
