#include "faces/cli/text.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <cmath>

namespace lostspark::faces {

std::size_t columns(std::string_view text) {
  return static_cast<std::size_t>(
      std::count_if(text.begin(), text.end(), [](char c) { return (static_cast<unsigned char>(c) & 0xC0u) != 0x80u; }));
}

std::string padded(std::string_view text, std::size_t width) {
  std::string out(text);
  const std::size_t used = columns(text);
  if (used < width) out.append(width - used, ' ');
  return out;
}

namespace {

/// Breaks text into lines of at most `room` columns; a longer word keeps a line of its own.
std::vector<std::string> broken(std::string_view text, std::size_t room) {
  std::vector<std::string> lines;
  std::size_t start = 0;
  while (start <= text.size()) {
    const std::size_t end = std::min(text.find('\n', start), text.size());
    const std::string_view paragraph = text.substr(start, end - start);
    std::string line;
    std::size_t at = 0;
    while (at < paragraph.size()) {
      const std::size_t word_start = paragraph.find_first_not_of(' ', at);
      if (word_start == std::string_view::npos) break;
      const std::size_t word_end = std::min(paragraph.find(' ', word_start), paragraph.size());
      const std::string_view word = paragraph.substr(word_start, word_end - word_start);
      if (!line.empty() && columns(line) + 1 + columns(word) > room) {
        lines.push_back(line);
        line.clear();
      }
      if (!line.empty()) line += ' ';
      line += word;
      at = word_end;
    }
    lines.push_back(line);
    start = end + 1;
  }
  return lines;
}

}  // namespace

std::string wrapped(std::string_view text, std::size_t indent, std::size_t width) {
  if (text.empty()) return {};
  std::string out;
  for (const std::string& line : broken(text, width > indent ? width - indent : 1)) {
    if (!line.empty()) out += std::string(indent, ' ') + line;
    out += '\n';
  }
  return out;
}

std::string labelled(std::string_view label, std::string_view text, std::size_t indent, std::size_t label_width) {
  if (text.empty()) return {};
  const std::size_t start = indent + std::max(label_width, columns(label) + 1);
  std::string out = std::string(indent, ' ') + padded(label, start - indent);
  bool first = true;
  for (const std::string& line : broken(text, k_page_width > start ? k_page_width - start : 1)) {
    if (!first) out += std::string(start, ' ');
    out += line;
    out += '\n';
    first = false;
  }
  return out;
}

std::string number(double value) {
  if (std::isnan(value)) return "not a number";
  if (std::isinf(value)) return value > 0 ? "infinite" : "minus infinite";
  if (value == 0) return "0";
  const double size = std::fabs(value);
  if (size >= 1e6 || size < 1e-3) return fmt::format("{:.2e}", value);
  const int digits = std::max(0, 2 - static_cast<int>(std::floor(std::log10(size))));
  std::string out = fmt::format("{:.{}f}", value, digits);
  if (out.find('.') != std::string::npos) {
    while (out.back() == '0') out.pop_back();
    if (out.back() == '.') out.pop_back();
  }
  return out;
}

std::string minutes(double value) {
  const long whole = std::lround(value);
  if (whole < 1) return "under 1 min";
  if (whole < 60) return fmt::format("{} min", whole);
  return whole % 60 == 0 ? fmt::format("{} h", whole / 60) : fmt::format("{} h {} min", whole / 60, whole % 60);
}

std::string percent(double probability) {
  if (probability <= 0) return "0 %";
  if (probability < 0.01) return "under 1 %";
  if (probability > 0.99) return "over 99 %";
  return fmt::format("{:.0f} %", 100 * probability);
}

std::string listed(const std::vector<std::string>& items) {
  if (items.empty()) return "none";
  std::string out = items.front();
  for (std::size_t i = 1; i < items.size(); ++i) out += (i + 1 == items.size() ? " and " : ", ") + items[i];
  return out;
}

std::string sentence(std::string_view text) {
  std::string out(text);
  if (!out.empty()) out[0] = static_cast<char>(std::toupper(static_cast<unsigned char>(out[0])));
  return out;
}

std::string counted(std::size_t n, std::string_view noun) { return fmt::format("{} {}{}", n, noun, n == 1 ? "" : "s"); }

std::string Table::text() const {
  std::vector<std::size_t> width;
  for (const auto& cells : rows_) {
    if (width.size() < cells.size()) width.resize(cells.size(), 0);
    for (std::size_t i = 0; i + 1 < cells.size(); ++i) width[i] = std::max(width[i], columns(cells[i]));
  }
  std::string out;
  for (const auto& cells : rows_) {
    std::size_t start = indent_;
    std::string line(indent_, ' ');
    for (std::size_t i = 0; i + 1 < cells.size(); ++i) {
      line += padded(cells[i], width[i] + 2);
      start += width[i] + 2;
    }
    const std::string last = cells.empty() ? std::string() : cells.back();
    const auto parts = broken(last, k_page_width > start + 20 ? k_page_width - start : 20);
    for (std::size_t i = 0; i < parts.size(); ++i) {
      std::string full = (i == 0 ? line : std::string(start, ' ')) + parts[i];
      while (!full.empty() && full.back() == ' ') full.pop_back();
      out += full + '\n';
    }
  }
  return out;
}

}  // namespace lostspark::faces
