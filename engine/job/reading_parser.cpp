#include "job/reading_parser.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <utility>

#include "base/error.hpp"
#include "job/number_line.hpp"
#include "job/units.hpp"
#include "job/words.hpp"

namespace lostspark::job {
namespace {

using model::Test;
using model::Value;
using model::ValueKind;

/// Beyond this many times the range a number is a slip of scale, not an over-range reading.
constexpr double k_scale_slip = 100;

bool one_of(std::string_view list, std::string_view wanted) {
  return (";" + std::string(list) + ";").find(";" + std::string(wanted) + ";") != std::string::npos;
}

struct Limits {
  double floor = 0, range = std::numeric_limits<double>::infinity();
};

Limits limits_of(const Test& test, const model::Instrument* instrument) {
  if (instrument == nullptr || instrument->unit != test.unit) return {};
  return {instrument->floor, instrument->range};
}

std::string spaced(std::string_view word) {
  std::string out(word);
  std::replace(out.begin(), out.end(), '_', ' ');
  return out;
}

std::string word_list(const Test& test) {
  std::vector<std::string> items;
  for (std::size_t i = 0; i < test.words.size(); ++i)
    items.push_back(std::to_string(i + 1) + " " + spaced(test.words[i]));
  return joined(items, " or ");
}

std::optional<std::size_t> word_index(const Test& test, const std::string& typed) {
  const auto count = test.words.size();
  const std::string low = spaced(lowered(typed));
  if (typed.size() <= 2 && !typed.empty() &&
      std::all_of(typed.begin(), typed.end(), [](char c) { return c >= '0' && c <= '9'; })) {
    const auto n = static_cast<std::size_t>(std::stoul(typed));
    if (n <= count) return n == 0 ? 0 : n - 1;
    return std::nullopt;
  }
  std::vector<std::size_t> starting;
  for (std::size_t i = 0; i < count; ++i) {
    const std::string word = spaced(test.words[i]);
    if (word == low) return i;
    if (!low.empty() && word.starts_with(low)) starting.push_back(i);
  }
  if (starting.size() == 1) return starting.front();
  if (one_of("-;no;none;nothing;nothing found;not found;no spark;dead;clean;clear;all right", low)) return 0;
  if (low == "+") return count - 1;
  if (test.reads == model::Reads::margin_word && count == 3) {
    if (one_of("weak;sometimes;intermittent;jumping;now and then;unsteady", low)) return 1;
    if (one_of("good;strong;yes;ok;blue;always;spark", low)) return 2;
  }
  if (count == 2 && one_of("yes;found;bad;seen", low)) return 1;
  return std::nullopt;
}

TypedReading parse_word(const Test& test, const std::string& typed) {
  const auto index = word_index(test, typed);
  if (!index)
    throw InputError("'" + typed.substr(0, 60) + "' is not an answer to " + test.id + "; expected " + word_list(test));
  Value value;
  value.kind = ValueKind::word;
  value.word = *index;
  return {value, spaced(test.words[*index])};
}

[[noreturn]] void refuse(const Test& test, const std::string& typed, const std::string& cause) {
  throw InputError("reading '" + typed.substr(0, 60) + "' for " + test.id + ": " + cause + "; expected " +
                   reading_hint(test));
}

/// The numbers in the test's unit: a number without a unit takes the next one given, else the one before it.
std::vector<double> in_test_unit(const Test& test, const NumberLine& line, const std::string& typed) {
  std::vector<double> out;
  for (std::size_t i = 0; i < line.numbers.size(); ++i) {
    std::string unit = line.numbers[i].unit;
    for (std::size_t j = i + 1; unit.empty() && j < line.numbers.size(); ++j) unit = line.numbers[j].unit;
    for (std::size_t j = i; unit.empty() && j-- > 0;) unit = line.numbers[j].unit;
    double factor = 1;
    if (!unit.empty()) {
      const auto found = unit_factor(unit, test.unit);
      if (!found) {
        const std::string other = what_it_measures(unit);
        refuse(test, typed,
               "'" + unit + "' is " + (other.empty() ? "no unit this test knows" : other) + ", this test is read in " +
                   units_accepted(test.unit));
      }
      factor = *found;
    }
    out.push_back(line.numbers[i].value * factor);
    if (!std::isfinite(out.back())) refuse(test, typed, "the number is too large");
  }
  return out;
}

Value of_kind(ValueKind kind) {
  Value value;
  value.kind = kind;
  return value;
}

/// One number against the instrument.
Value single(double number, const Limits& limits, bool about) {
  if (number <= 0 || number < limits.floor) return of_kind(ValueKind::below_floor);
  if (number > limits.range) return of_kind(ValueKind::over_range);
  Value value;
  value.number = number;
  value.about = about;
  return value;
}

/// Somewhere between low and high.
Value between(double low, double high, const Limits& limits, bool about) {
  if (low == high) return single(low, limits, about);
  if (high <= limits.floor) return of_kind(ValueKind::below_floor);
  if (low >= limits.range) return of_kind(ValueKind::over_range);
  Value value;
  value.kind = ValueKind::interval;
  value.low = low < limits.floor ? 0 : low;
  value.high = high > limits.range ? std::numeric_limits<double>::infinity() : high;
  value.about = about && std::isfinite(value.high);  // "jumping up to over" has no width of its own
  // "anything at all" says nothing, and would only look like a reading.
  if (value.low <= 0 && std::isinf(value.high)) throw InputError("that covers all the instrument can show");
  return value;
}

Value kicks(const std::vector<double>& each, const Limits& limits, bool about) {
  Value value = single(*std::max_element(each.begin(), each.end()), limits, about);
  value.kicks = static_cast<int>(each.size());
  value.each = each;
  return value;
}

TypedReading parse_number(const Test& test, const Limits& limits, const std::string& typed) {
  const std::string low = lowered(typed);
  if (one_of("below;below floor;under;-;none;nothing;zero;nil;no reading;dead;less", low))
    return {of_kind(ValueKind::below_floor), reading_text(test, of_kind(ValueKind::below_floor))};
  if (one_of("over;over range;above;+;ol;o.l;o.l.;o l;open;open loop;overload;off scale;infinite;infinity;inf", low))
    return {of_kind(ValueKind::over_range), reading_text(test, of_kind(ValueKind::over_range))};
  if (one_of("nan;-nan;-inf;not a number", low)) refuse(test, typed, "not a number");
  NumberLine line;
  try {
    line = parse_number_line(typed);
  } catch (const InputError& e) {
    refuse(test, typed, e.what());
  }
  const auto values = in_test_unit(test, line, typed);
  for (const double v : values)
    if (v > k_scale_slip * limits.range)
      refuse(test, typed,
             with_unit(v, test.unit) + " is more than 100 times what the instrument can show (" +
                 with_unit(limits.range, test.unit) + "): look at the unit or the decimal sign");
  const bool about = line.said == Said::about || line.said == Said::jumping;
  Value value;
  try {
    if (line.said == Said::more_than)
      value = between(values[0], std::numeric_limits<double>::infinity(), limits, false);
    else if (line.said == Said::less_than)
      value = between(0, values[0], limits, false);
    else if (line.interval)
      value = between(std::min(values[0], values[1]), std::max(values[0], values[1]), limits, about);
    else if (values.size() == 1)
      value = single(values[0], limits, about);
    else
      value = kicks(values, limits, about);
  } catch (const InputError& e) {
    refuse(test, typed, e.what());
  }
  std::string echo = reading_text(test, value);
  if (value.kind == ValueKind::below_floor && limits.floor > 0)
    echo += " (under " + with_unit(limits.floor, test.unit) + ")";
  if (value.kind == ValueKind::over_range && std::isfinite(limits.range))
    echo += " (above " + with_unit(limits.range, test.unit) + ")";
  return {value, echo};
}

/// Exact, with k or M where the product gives the same double again.
std::string exact_with_unit(double value, std::string_view unit) {
  const std::string symbol = unit_symbol(unit);
  struct Prefix {
    double factor;
    std::string_view text;
  };
  if (unit == "ohm")
    for (const auto& p : {Prefix{1e6, "M"}, Prefix{1e3, "k"}}) {
      const double scaled = value / p.factor;
      if (value >= p.factor && scaled * p.factor == value && exact(scaled).size() <= 8)
        return exact(scaled) + " " + std::string(p.text) + symbol;
    }
  return exact(value) + (symbol.empty() ? "" : " " + symbol);
}

}  // namespace

TypedReading parse_reading(const Test& test, const model::Instrument* instrument, std::string_view text) {
  const std::string typed = trimmed(text);
  if (typed.empty()) throw InputError("an empty reading for " + test.id + "; expected " + reading_hint(test));
  if (test.is_word()) return parse_word(test, typed);
  return parse_number(test, limits_of(test, instrument), typed);
}

std::string reading_text(const Test& test, const Value& value) {
  if (value.kind == ValueKind::word) return value.word < test.words.size() ? spaced(test.words[value.word]) : "?";
  const std::string about = value.about ? "about " : "";
  if (!value.each.empty()) {
    std::string out = about;
    for (std::size_t i = 0; i < value.each.size(); ++i) out += (i == 0 ? "" : " ") + exact(value.each[i]);
    return out + " " + unit_symbol(test.unit);
  }
  switch (value.kind) {
    case ValueKind::below_floor:
      return "below";
    case ValueKind::over_range:
      return "over";
    case ValueKind::interval:
      break;
    default:
      return about + exact_with_unit(value.number, test.unit);
  }
  if (std::isinf(value.high)) return ">" + exact_with_unit(value.low, test.unit);
  if (value.low <= 0 && !value.about) return "<" + exact_with_unit(value.high, test.unit);
  return (value.about ? "jumping " : "") + exact(value.low) + ".." + exact(value.high) + " " + unit_symbol(test.unit);
}

std::string reading_hint(const Test& test) {
  if (test.is_word()) return word_list(test);
  return "a value in " + units_accepted(test.unit) +
         ": 168, 150..200, *150 (about), 250+ (more), 5- (less), 150/170/165 (kicks), 0 (below), + (over)";
}

std::string unit_symbol(std::string_view unit) {
  constexpr std::array<std::pair<std::string_view, std::string_view>, 5> table{
      {{"volt", "V"}, {"ohm", "ohm"}, {"kilovolt", "kV"}, {"ampere", "A"}, {"word", ""}}};
  for (const auto& [name, symbol] : table)
    if (name == unit) return std::string(symbol);
  return std::string(unit);
}

std::string with_unit(double value, std::string_view unit) {
  if (std::isinf(value)) return "any";
  const std::string symbol = unit_symbol(unit);
  std::string prefix;
  double shown = value;
  if (unit == "ohm" && value >= 9.9995e5) {
    prefix = "M";
    shown = value / 1e6;
  } else if (unit == "ohm" && value >= 9999.5) {
    prefix = "k";
    shown = value / 1e3;
  }
  double rounded = shown;
  if (shown != 0) {
    // Four significant digits, by the decimal exponent; three would hide the step of a good ohmmeter.
    const double scale = std::pow(10.0, 3.0 - std::floor(std::log10(std::fabs(shown))));
    rounded = std::round(shown * scale) / scale;
  }
  std::string out = exact(rounded);
  const std::string tail = prefix + symbol;
  return tail.empty() ? out : out + " " + tail;
}

}  // namespace lostspark::job
