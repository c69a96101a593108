#include "faces/cli/negative.hpp"

#include <algorithm>

namespace lostspark::faces {

namespace {
constexpr char k_mark = '\x02';  // start of text: nobody types it
}

std::vector<std::string> guarded(std::vector<std::string> arguments) {
  const bool readings =
      arguments.size() > 2 && arguments[0] == "job" && (arguments[1] == "reading" || arguments[1] == "amend");
  if (!readings) return arguments;
  for (std::string& argument : arguments) {
    if (argument.size() < 2 || argument[0] != '-') continue;
    const char next = argument[1];
    const bool infinite = argument == "-inf" || argument == "-nan" || argument == "-infinity";
    if ((next >= '0' && next <= '9') || next == '.' || next == ',' || infinite)
      argument.insert(argument.begin(), k_mark);
  }
  return arguments;
}

std::string unguarded(std::string_view argument) {
  if (!argument.empty() && argument.front() == k_mark) argument.remove_prefix(1);
  return std::string(argument);
}

}  // namespace lostspark::faces
