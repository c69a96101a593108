// Units a reading may be typed in.
#pragma once

#include <optional>
#include <string>
#include <string_view>

namespace lostspark::job {

/// What a typed unit means for a test read in `test_unit`: the factor to the test's unit. Empty: not a unit of it.
/// A bare prefix ("k", "M") belongs to the test's base unit: 212k is 212 kilohm, 8k of a kilovolt test is 8 kV.
[[nodiscard]] std::optional<double> unit_factor(std::string_view typed, std::string_view test_unit);
/// "volt, V, mV or kV" for the error message.
[[nodiscard]] std::string units_accepted(std::string_view test_unit);
/// "a unit of resistance" when the text is a unit of something else; empty when it is no unit at all.
[[nodiscard]] std::string what_it_measures(std::string_view typed);

}  // namespace lostspark::job
