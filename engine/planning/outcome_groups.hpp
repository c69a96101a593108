// A number reading of many outcomes cut into few, so that little of what it tells about the repairs is lost.
#pragma once

#include "inference/posterior.hpp"

namespace lostspark::planning {

/// Merges neighbouring outcomes of a number test until `most` are left, each time the two whose merging loses least of
/// the expected sum of squares of the classes' probabilities behind the reading (the chance that two guesses drawn from
/// it agree: no logarithm). Word tests and tables small enough stay as they are. O(outcomes * (classes + outcomes)).
void merge_outcomes(inference::OutcomeTable&, std::size_t most);

}  // namespace lostspark::planning
