// Plain text for people: wrapped paragraphs with a label column, numbers rounded to what somebody can use.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace lostspark::faces {

inline constexpr std::size_t k_page_width = 88;   ///< columns; a page never depends on the terminal it is shown on
inline constexpr std::size_t k_label_width = 12;  ///< columns of the label before a paragraph, gap included

/// Number of columns a UTF-8 text takes (code points; no wide or combining characters are used by us).
[[nodiscard]] std::size_t columns(std::string_view text);
/// Padded with spaces on the right to `width` columns; never cut.
[[nodiscard]] std::string padded(std::string_view text, std::size_t width);

/// Words of `text` on lines of at most `width` columns, each line indented by `indent`; line breaks in it are kept.
/// Ends with a newline unless empty.
[[nodiscard]] std::string wrapped(std::string_view text, std::size_t indent = 0, std::size_t width = k_page_width);
/// "  label      text that goes on" with the following lines under the text. Empty text gives an empty string.
[[nodiscard]] std::string labelled(std::string_view label, std::string_view text, std::size_t indent = 2,
                                   std::size_t label_width = k_label_width);

/// Three significant digits without exponent between 0.001 and 1e6: "168", "0.35", "12.4", "1200".
[[nodiscard]] std::string number(double value);
/// "4 min", "1 h 25 min", "under 1 min".
[[nodiscard]] std::string minutes(double value);
/// "71 %", "under 1 %", "over 99 %".
[[nodiscard]] std::string percent(double probability);

/// "a, b and c"; "none" for an empty list.
[[nodiscard]] std::string listed(const std::vector<std::string>& items);
/// First letter in upper case (ASCII).
[[nodiscard]] std::string sentence(std::string_view text);
/// "1 test", "3 tests".
[[nodiscard]] std::string counted(std::size_t n, std::string_view noun);

/// Rows padded to columns, two spaces between, indented; the last column is wrapped under itself.
class Table {
 public:
  explicit Table(std::size_t indent = 2) : indent_(indent) {}
  void row(std::vector<std::string> cells) { rows_.push_back(std::move(cells)); }
  [[nodiscard]] bool empty() const { return rows_.empty(); }
  [[nodiscard]] std::string text() const;

 private:
  std::size_t indent_;
  std::vector<std::vector<std::string>> rows_;
};

}  // namespace lostspark::faces
