// A reading may begin with a minus; an option parser would take "-5" for an option. It is marked before parsing and the
// mark taken off where readings are read, so that the reading parser can say what is wrong with a negative value.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace lostspark::faces {

/// Marks every argument that looks like a negative number.
[[nodiscard]] std::vector<std::string> guarded(std::vector<std::string> arguments);
/// The argument as it was typed.
[[nodiscard]] std::string unguarded(std::string_view argument);

}  // namespace lostspark::faces
