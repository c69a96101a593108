#include "learning/pattern.hpp"

#include <algorithm>
#include <charconv>
#include <cmath>

#include "base/error.hpp"

namespace lostspark::learning {
namespace {

constexpr double k_steps_per_octave = 4;
constexpr int k_most_steps = 120;

}  // namespace

std::string pattern_text(std::vector<PatternEntry> entries) {
  double largest = 0;
  for (auto& e : entries) {
    std::sort(e.classes.begin(), e.classes.end());
    largest = std::max(largest, e.likelihood);
  }
  std::sort(entries.begin(), entries.end(), [](const auto& a, const auto& b) { return a.classes < b.classes; });
  std::string out;
  for (const auto& e : entries) {
    if (!(e.likelihood > 0)) continue;
    const auto steps = static_cast<int>(std::lround(-k_steps_per_octave * std::log2(e.likelihood / largest)));
    if (steps > k_most_steps) continue;
    if (!out.empty()) out += ' ';
    if (e.classes.empty()) out += '-';
    for (std::size_t i = 0; i < e.classes.size(); ++i) out += (i > 0 ? "+" : "") + e.classes[i];
    out += ':' + std::to_string(steps);
  }
  return out;
}

std::vector<PatternEntry> read_pattern(std::string_view text) {
  std::vector<PatternEntry> out;
  const auto damaged = [&] {
    throw StoreError("a closed case holds '" + std::string(text.substr(0, 60)) +
                     "', which is no pattern of faults; put back a backup of the store, or derive the cases again");
  };
  std::size_t at = 0;
  while (at < text.size()) {
    const std::size_t end = std::min(text.find(' ', at), text.size());
    const std::string_view word = text.substr(at, end - at);
    at = end + 1;
    const std::size_t colon = word.rfind(':');
    if (colon == std::string_view::npos || colon == 0) damaged();
    int steps = 0;
    const auto number = word.substr(colon + 1);
    const auto [stop, error] = std::from_chars(number.data(), number.data() + number.size(), steps);
    if (error != std::errc{} || stop != number.data() + number.size() || steps < 0) damaged();
    PatternEntry entry;
    entry.likelihood = std::exp2(-steps / k_steps_per_octave);
    if (const auto names = word.substr(0, colon); names != "-")
      for (std::size_t from = 0; from <= names.size();) {
        const std::size_t plus = std::min(names.find('+', from), names.size());
        if (plus == from) damaged();
        entry.classes.emplace_back(names.substr(from, plus - from));
        from = plus + 1;
      }
    out.push_back(std::move(entry));
  }
  if (out.empty()) damaged();
  return out;
}

}  // namespace lostspark::learning
