// The questions of `vehicle new`, one a screen. All throw EndOfInput where the input ends.
#pragma once

#include <string>
#include <vector>

#include "faces/cli/prompt.hpp"
#include "job/new_vehicle.hpp"

namespace lostspark::faces {

/// Asks sign after sign while one still tells something; answers go into `seen`.
void ask_signs(Prompt& prompt, job::Seen& seen, const std::vector<std::string>& installed);
/// Shows the families and what to leave alone; the family to write, empty where nobody wants one.
[[nodiscard]] std::string ask_family(Prompt& prompt, const job::Identification& found);
/// The form of machine, where the signs did not ask for it.
void ask_form(Prompt& prompt, job::Seen& seen);
/// The options of the family that are not stated yet.
void ask_options(Prompt& prompt, const sources::Folders& folders, const job::Seen& seen, job::NewVehicle& vehicle);
/// Where components are otherwise than the form says.
void ask_places(Prompt& prompt, const sources::Folders& folders, const job::Seen& seen, job::NewVehicle& vehicle);

}  // namespace lostspark::faces
