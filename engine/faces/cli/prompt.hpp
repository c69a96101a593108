// Questions and answers over two streams: works in a terminal, on a pipe, and with a numeric keypad alone.
#pragma once

#include <iosfwd>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace lostspark::faces {

/// Thrown when the input ends; what was recorded stays recorded.
struct EndOfInput {};

class Prompt {
 public:
  /// echo: write back what was read, so that a piped session reads like a typed one.
  Prompt(std::istream& in, std::ostream& out, bool echo) : in_(in), out_(out), echo_(echo) {}

  /// Shows `question` and reads one line, blanks at both ends trimmed. Throws EndOfInput.
  [[nodiscard]] std::string line(std::string_view question);
  /// A numbered list, nine to a page: a digit chooses, '+' shows the next page, Enter or 0 goes back (nothing chosen).
  [[nodiscard]] std::optional<std::size_t> choose(std::string_view title, const std::vector<std::string>& items);
  void say(std::string_view text);

 private:
  std::istream& in_;
  std::ostream& out_;
  bool echo_;
};

/// What a person wants at a prompt of the guided job.
enum class Wish {
  enter,  ///< an empty line
  text,   ///< none of ours: a reading
  menu,   ///< "/" alone
  skip,
  list,
  undo,
  why,
  repair,
  plan,
  bench,
  readings,
  end,  // the numbered menu, "/1" .. "/9"
  amend,
  strike,
  note,
  took,
  cover,
  setup,
  held,
  help,
  leave  // words only; the menu reaches the same by lists
};
struct Command {
  Wish wish = Wish::enter;
  std::string rest;  ///< what follows the command word, or the whole text
};
/// "skip 2", "/1 2" and "/12" are the same; anything unknown is text, but "/" with no menu number after it is menu.
[[nodiscard]] Command parse_command(std::string_view line);

/// The lines of the numbered menu, in the order of their keys.
[[nodiscard]] const std::vector<std::string>& menu_lines();
/// The command behind item `index` of menu_lines().
[[nodiscard]] Wish menu_wish(std::size_t index);

}  // namespace lostspark::faces
