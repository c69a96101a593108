// How JSON leaves the program: one document, numbers rounded to six significant digits, unknown bytes replaced.
#pragma once

#include <nlohmann/json.hpp>

#include "faces/cli/context.hpp"

namespace lostspark::faces {

/// Keys keep the order in which docs/json.md lists them.
using Json = nlohmann::ordered_json;

/// A finite number with six significant digits; null for infinity (JSON has none).
[[nodiscard]] Json json_number(double value);
/// Prints the one document of a command.
void print_json(Context& context, const Json& document);

}  // namespace lostspark::faces
