// What a technician types for a reading, as people say it, turned into a value in the test's unit.
// docs/job-log.md lists every form, the one for a numeric keypad beside it.
#pragma once

#include <string>
#include <string_view>

#include "model/evidence.hpp"
#include "model/instrument.hpp"

namespace lostspark::job {

/// A typed reading: the value, and the text to show back ("168 V") so that a slip is seen at once.
struct TypedReading {
  model::Value value;
  std::string echo;
};

/// Parses `text` for `test`. `instrument` gives floor and range in the test's unit (nullptr: no limits known): a number
/// under the floor becomes below_floor, one above the range over_range. Throws InputError, with what was expected, for
/// an empty text, an unknown word, a wrong unit, a negative or not finite number, or one 100 times beyond the range.
[[nodiscard]] TypedReading parse_reading(const model::Test& test, const model::Instrument* instrument,
                                         std::string_view text);

/// The value in words: "168 V", "150..200 V", "over", "steady". parse_reading() of it gives the same value again.
[[nodiscard]] std::string reading_text(const model::Test& test, const model::Value& value);

/// One line that tells what can be typed for this test: "volts: 168, 150..200, below, over" or "1 none, 2 irregular
/// ...".
[[nodiscard]] std::string reading_hint(const model::Test& test);

/// "V" for volt, "ohm", "kV", "A", "rpm"; empty for word.
[[nodiscard]] std::string unit_symbol(std::string_view unit);

/// A number for people: four significant digits, no exponent between 1e-3 and 1e7, unit with k or M where it helps.
[[nodiscard]] std::string with_unit(double value, std::string_view unit);

}  // namespace lostspark::job
