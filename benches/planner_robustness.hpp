// What wrong priors and wrong noise cost: the policy thinks with the wrong model, the world is the true one.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

namespace lostspark::benches {

/// Prints a table of cost over the true optimum, mean and 95 %, for every error and policy: on `instances` small jobs
/// with single faults and half as many with pairs. Both costs are exact: walked over all outcomes, searched to the end.
/// only: names of policies (empty: all).
void robustness(int instances, std::uint64_t seed, const std::vector<std::string>& only);

}  // namespace lostspark::benches
