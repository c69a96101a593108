#include "sources/text.hpp"

#include <algorithm>
#include <cstdio>
#include <numeric>

namespace lostspark::sources {

bool is_identifier(std::string_view text) {
  if (text.empty() || text.size() > 64 || text.front() < 'a' || text.front() > 'z' || text.back() == '_') return false;
  for (std::size_t i = 0; i < text.size(); ++i) {
    const char c = text[i];
    const bool letter = (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9');
    if (!letter && (c != '_' || text[i - 1] == '_')) return false;
  }
  return true;
}

bool is_dotted_identifier(std::string_view text) {
  const auto dot = text.find('.');
  return dot != std::string_view::npos && is_identifier(text.substr(0, dot)) && is_identifier(text.substr(dot + 1));
}

bool is_utf8(std::string_view text) {
  for (std::size_t i = 0; i < text.size();) {
    const auto lead = static_cast<unsigned char>(text[i]);
    std::size_t more = 0;
    unsigned value = 0;
    if (lead < 0x80) {
      ++i;
      continue;
    }
    if ((lead & 0xE0u) == 0xC0u) {
      more = 1;
      value = lead & 0x1Fu;
    } else if ((lead & 0xF0u) == 0xE0u) {
      more = 2;
      value = lead & 0x0Fu;
    } else if ((lead & 0xF8u) == 0xF0u) {
      more = 3;
      value = lead & 0x07u;
    } else {
      return false;
    }
    if (i + more >= text.size()) return false;
    for (std::size_t k = 1; k <= more; ++k) {
      const auto next = static_cast<unsigned char>(text[i + k]);
      if ((next & 0xC0u) != 0x80u) return false;
      value = value << 6u | (next & 0x3Fu);
    }
    constexpr unsigned least[] = {0, 0x80, 0x800, 0x10000};
    if (value < least[more] || value > 0x10FFFF || (value >= 0xD800 && value <= 0xDFFF)) return false;
    i += more + 1;
  }
  return true;
}

std::size_t edit_distance(std::string_view a, std::string_view b) {
  std::vector<std::size_t> row(b.size() + 1);
  std::iota(row.begin(), row.end(), std::size_t{0});
  for (std::size_t i = 1; i <= a.size(); ++i) {
    std::size_t diagonal = row[0];
    row[0] = i;
    for (std::size_t j = 1; j <= b.size(); ++j) {
      const std::size_t replaced = diagonal + (a[i - 1] == b[j - 1] ? 0 : 1);
      diagonal = row[j];
      row[j] = std::min({replaced, row[j] + 1, row[j - 1] + 1});
    }
  }
  return row.back();
}

std::optional<std::string> nearest(std::string_view wanted, std::span<const std::string> candidates) {
  const std::string* best = nullptr;
  std::size_t least = std::max<std::size_t>(2, wanted.size() / 3) + 1;
  for (const auto& candidate : candidates) {
    // A name cut short is meant as well: labour_rate for labour_rate_per_hour.
    const bool cut = wanted.size() >= 4 && candidate.starts_with(wanted);
    const auto distance = cut ? 2 : edit_distance(wanted, candidate);
    if (distance < least) {
      least = distance;
      best = &candidate;
    }
  }
  if (best == nullptr) return std::nullopt;
  return *best;
}

std::string suggestion(std::string_view wanted, std::span<const std::string> candidates) {
  if (const auto near = nearest(wanted, candidates)) return "; did you mean '" + *near + "'?";
  if (candidates.empty() || candidates.size() > 12) return "";
  return "; valid: " + join(candidates, ", ");
}

std::vector<std::string> words_of(std::string_view text) {
  std::vector<std::string> words;
  std::size_t at = 0;
  while (true) {
    const auto start = text.find_first_not_of(" \t\n", at);
    if (start == std::string_view::npos) return words;
    const auto end = std::min(text.find_first_of(" \t\n", start), text.size());
    words.emplace_back(text.substr(start, end - start));
    at = end;
  }
}

std::vector<std::string> pieces_of(std::string_view text, char separator) {
  std::vector<std::string> pieces;
  std::size_t at = 0;
  while (true) {
    const auto end = std::min(text.find(separator, at), text.size());
    const auto words = words_of(text.substr(at, end - at));
    pieces.push_back(join(words, " "));
    if (end == text.size()) return pieces;
    at = end + 1;
  }
}

std::string join(std::span<const std::string> parts, std::string_view between) {
  std::string text;
  for (std::size_t i = 0; i < parts.size(); ++i) {
    if (i > 0) text += between;
    text += parts[i];
  }
  return text;
}

std::string spoken(std::string_view identifier) {
  std::string text(identifier);
  std::replace(text.begin(), text.end(), '_', ' ');
  return text;
}

bool matches(std::string_view pattern, std::string_view text) {
  std::size_t p = 0, t = 0, star = std::string_view::npos, resume = 0;
  while (t < text.size()) {
    if (p < pattern.size() && pattern[p] == '*') {
      star = p++;
      resume = t;
    } else if (p < pattern.size() && pattern[p] == text[t]) {
      ++p;
      ++t;
    } else if (star != std::string_view::npos) {
      p = star + 1;
      t = ++resume;
    } else {
      return false;
    }
  }
  while (p < pattern.size() && pattern[p] == '*') ++p;
  return p == pattern.size();
}

std::string number_text(double value) {
  char text[32];
  std::snprintf(text, sizeof text, "%.6g", value);
  return text;
}

}  // namespace lostspark::sources
