// Runs a plugin where it can do no harm.
#pragma once

#include <string>
#include <vector>

namespace lostspark::faces {

/// sources::check_family(path) in a child process. A crash, a hang of more than `seconds`, or a plugin that ends the
/// process becomes one problem line. What the plugin prints is thrown away. Empty: sound.
/// Throws InputError when there is no such file, InternalError when no process can be started.
[[nodiscard]] std::vector<std::string> check_family_in_child(const std::string& path, int seconds);

}  // namespace lostspark::faces
