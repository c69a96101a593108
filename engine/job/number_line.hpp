// A typed number reading cut into its parts: what is said about it (about, jumping, more than ...), the numbers, how
// they are joined, and their units. No instrument and no test kind here.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace lostspark::job {

enum class Said { plain, about, jumping, more_than, less_than };

struct TypedNumber {
  double value = 0;
  std::string unit;  ///< as typed, may be empty
};

struct NumberLine {
  Said said = Said::plain;
  bool interval = false;             ///< two numbers joined by "..", "-", "to"
  std::vector<TypedNumber> numbers;  ///< one; two of an interval; or several kicks
};

/// Throws InputError (without naming the test) when the text is no such line.
[[nodiscard]] NumberLine parse_number_line(std::string_view text);

}  // namespace lostspark::job
