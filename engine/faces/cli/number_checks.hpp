// Checks of numbers on the command line whose message says what was expected; CLI11's own prints the ends of a double.
#pragma once

#include <CLI/CLI.hpp>
#include <cmath>
#include <string>

namespace lostspark::faces {

/// Above 0, or with `or_zero` 0 too; finite.
[[nodiscard]] inline CLI::Validator above_zero(bool or_zero = false) {
  return CLI::Validator(
      [or_zero](const std::string& text) {
        double value = 0;
        const bool good =
            CLI::detail::lexical_cast(text, value) && std::isfinite(value) && (value > 0 || (or_zero && value == 0));
        return good
                   ? std::string()
                   : "'" + text.substr(0, 40) + "' is not " + (or_zero ? "0 or a number above it" : "a number above 0");
      },
      "");
}

}  // namespace lostspark::faces
