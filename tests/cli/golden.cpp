#include "cli/golden.hpp"

#include <cctype>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <regex>
#include <sstream>

#include "cli/program.hpp"

namespace lostspark::test {

namespace {

std::string settled(std::string text) {
  static const std::regex time(
      "[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}(:[0-9]{2})?Z?|[0-9]{4}-[0-9]{2}-[0-9]{2}( [0-9]{2}:[0-9]{2})?");
  text = std::regex_replace(text, time, "<time>");
  const auto replace = [&](const std::string& from, const std::string& to) {
    for (std::size_t at = 0; (at = text.find(from, at)) != std::string::npos; at += to.size())
      text.replace(at, from.size(), to);
  };
  replace(LOSTSPARK_BINARY_DIR, "<build>");
  replace(LOSTSPARK_SOURCE_DIR, "<source>");
  return text;
}

bool word_char(char c) { return std::isalnum(static_cast<unsigned char>(c)) != 0 || c == '_'; }

/// The number that begins at `at`, as text; empty if none does (digits inside a name are no number).
std::string number_at(const std::string& line, std::size_t at) {
  if (std::isdigit(static_cast<unsigned char>(line[at])) == 0) return {};
  if (at > 0 && (word_char(line[at - 1]) || line[at - 1] == '.')) {
    if (!(line[at - 1] == '.' && at > 1 && line[at - 2] == '.')) return {};  // "150..200" has two numbers
  }
  std::size_t end = at;
  while (end < line.size() && std::isdigit(static_cast<unsigned char>(line[end])) != 0) ++end;
  if (end + 1 < line.size() && line[end] == '.' && std::isdigit(static_cast<unsigned char>(line[end + 1])) != 0) {
    ++end;
    while (end < line.size() && std::isdigit(static_cast<unsigned char>(line[end])) != 0) ++end;
  }
  if (end < line.size() && word_char(line[end])) return {};
  return line.substr(at, end - at);
}

bool same_number(const std::string& a, const std::string& b) {
  const double x = std::stod(a), y = std::stod(b);
  const auto step = [](const std::string& n) {
    const std::size_t dot = n.find('.');
    return dot == std::string::npos ? 1.0 : std::pow(10.0, -static_cast<double>(n.size() - dot - 1));
  };
  return std::fabs(x - y) <= 1.001 * std::max(step(a), step(b)) || std::fabs(x - y) <= 0.02 * std::max(x, y);
}

bool same_line(const std::string& a, const std::string& b) {
  std::size_t i = 0, j = 0;
  while (i < a.size() && j < b.size()) {
    const std::string m = number_at(a, i), n = number_at(b, j);
    if (!m.empty() && !n.empty()) {
      if (!same_number(m, n)) return false;
      i += m.size();
      j += n.size();
    } else if (a[i] == b[j]) {
      ++i;
      ++j;
    } else {
      return false;
    }
  }
  return i == a.size() && j == b.size();
}

}  // namespace

std::string page_difference(const std::string& wanted, const std::string& found) {
  std::istringstream a(settled(wanted)), b(settled(found));
  std::string left, right;
  for (int n = 1;; ++n) {
    const bool more_a = static_cast<bool>(std::getline(a, left)), more_b = static_cast<bool>(std::getline(b, right));
    if (!more_a && !more_b) return {};
    if (more_a != more_b || !same_line(left, right))
      return "line " + std::to_string(n) + "\n  wanted: " + (more_a ? left : "<end>") +
             "\n  found:  " + (more_b ? right : "<end>");
  }
}

std::string golden_difference(const std::string& name, const std::string& text) {
  const std::filesystem::path kept = std::filesystem::path(LOSTSPARK_SOURCE_DIR) / "tests" / "golden" / name;
  const std::string difference =
      std::filesystem::exists(kept) ? page_difference(read_file(kept), text) : "no page is kept under this name yet";
  const std::filesystem::path fresh = std::filesystem::path(LOSTSPARK_BINARY_DIR) / "golden" / name;
  if (difference.empty()) {
    std::error_code ignored;
    std::filesystem::remove(fresh, ignored);  // of an earlier run; nothing of it is to be accepted any more
    return {};
  }
  write_file(fresh, settled(text));
  return kept.filename().string() + ": " + difference + "\n  look at " + fresh.string() +
         "; tests/accept_golden.sh accepts it";
}

}  // namespace lostspark::test
