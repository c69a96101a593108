#include "sources/mistakes.hpp"

#include <algorithm>

#include "base/error.hpp"

namespace lostspark::sources {

void Mistakes::add(Spot spot, const std::string& key, const std::string& message) {
  found_.push_back({spot, (key.empty() ? "" : key + ": ") + message});
}

std::string Mistakes::report() const {
  auto sorted = found_;
  std::stable_sort(sorted.begin(), sorted.end(), [](const Found& a, const Found& b) {
    return a.spot.line != b.spot.line ? a.spot.line < b.spot.line : a.spot.column < b.spot.column;
  });
  std::string text;
  for (const auto& found : sorted) {
    if (!text.empty()) text += '\n';
    text += file_;
    if (found.spot.line > 0) text += ":" + std::to_string(found.spot.line) + ":" + std::to_string(found.spot.column);
    text += ": " + found.text;
  }
  return text;
}

void Mistakes::throw_if_any() const {
  if (!found_.empty()) throw InputError(report());
}

}  // namespace lostspark::sources
