// The program plays the vehicle too: a hidden fault on the simulated bench, the advice followed to the end.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "faces/cli/context.hpp"
#include "faces/cli/session.hpp"

namespace lostspark::faces {

struct PlayRequest {
  std::string vehicle;
  std::uint64_t seed = 1;
  std::string fault;                    ///< "component.mode", empty: drawn from how often faults occur
  std::vector<std::string> complaints;  ///< empty: what the hidden fault makes the customer say
};

/// Shows a whole diagnosis: complaint, every step with its answer, sheet, and what the hidden fault was.
/// Throws InputError for an unknown fault or complaint, naming the nearest.
void play(Context& context, Session& session, const PlayRequest& request);

}  // namespace lostspark::faces
