#include "job/words.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <numeric>

namespace lostspark::job {
namespace {

std::size_t edit_distance(std::string_view a, std::string_view b) {
  std::vector<std::size_t> row(b.size() + 1);
  std::iota(row.begin(), row.end(), std::size_t{0});
  for (std::size_t i = 1; i <= a.size(); ++i) {
    std::size_t diagonal = row[0];
    row[0] = i;
    for (std::size_t j = 1; j <= b.size(); ++j) {
      const std::size_t replaced = diagonal + (a[i - 1] == b[j - 1] ? 0U : 1U);
      diagonal = row[j];
      row[j] = std::min({row[j] + 1, row[j - 1] + 1, replaced});
    }
  }
  return row[b.size()];
}

}  // namespace

std::string trimmed(std::string_view text) {
  constexpr std::string_view blanks = " \t\r\n";
  const auto first = text.find_first_not_of(blanks);
  if (first == std::string_view::npos) return {};
  return std::string(text.substr(first, text.find_last_not_of(blanks) - first + 1));
}

std::string lowered(std::string_view text) {
  std::string out(text);
  for (char& c : out)
    if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
  return out;
}

std::string joined(const std::vector<std::string>& items, std::string_view last) {
  std::string out;
  for (std::size_t i = 0; i < items.size(); ++i) {
    if (i > 0) out += i + 1 == items.size() ? last : std::string_view(", ");
    out += items[i];
  }
  return out;
}

std::string nearest(std::string_view wanted, const std::vector<std::string>& candidates) {
  std::string best;
  std::size_t least = std::max<std::size_t>(3, wanted.size() / 2) + 1;
  for (const auto& c : candidates) {
    std::size_t d = edit_distance(wanted.substr(0, 200), c);
    // A person who types the beginning means it, however long the rest.
    if (!wanted.empty() && c.starts_with(wanted)) d = 1;
    if (d < least) {
      least = d;
      best = c;
    }
  }
  return best;
}

std::string unknown(std::string_view what, std::string_view wanted, const std::vector<std::string>& candidates) {
  std::string text = "there is no " + std::string(what) + " '" + std::string(wanted.substr(0, 80)) + "'";
  const std::string near = nearest(lowered(wanted), candidates);
  if (!near.empty()) return text + "; nearest: '" + near + "'";
  if (candidates.empty()) return text;
  if (candidates.size() <= 8) return text + "; known: " + joined(candidates);
  return text;
}

std::string exact(double value) {
  std::array<char, 400> buffer{};
  const auto result = std::to_chars(buffer.data(), buffer.data() + buffer.size(), value, std::chars_format::fixed);
  return {buffer.data(), result.ptr};
}

}  // namespace lostspark::job
