// Small text helpers of the readers: identifiers, UTF-8, nearest name, lists.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace lostspark::sources {

/// lower_snake_case: a letter a-z, then letters, digits and single underscores between them; at most 64 characters.
[[nodiscard]] bool is_identifier(std::string_view text);
/// "component.terminal": two identifiers joined by one dot.
[[nodiscard]] bool is_dotted_identifier(std::string_view text);
/// Well-formed UTF-8: no overlong forms, no surrogates, nothing above U+10FFFF.
[[nodiscard]] bool is_utf8(std::string_view text);

/// Levenshtein distance (insert, delete, replace cost 1 each); O(a b).
[[nodiscard]] std::size_t edit_distance(std::string_view a, std::string_view b);
/// The candidate with the least distance, if it is near enough to be meant (at most 2 or a third of the length,
/// or cut short).
[[nodiscard]] std::optional<std::string> nearest(std::string_view wanted, std::span<const std::string> candidates);
/// "; did you mean 'x'?" or, for few candidates without a near one, "; valid: a, b, c"; else "".
[[nodiscard]] std::string suggestion(std::string_view wanted, std::span<const std::string> candidates);

/// Words separated by blanks; none for an empty text.
[[nodiscard]] std::vector<std::string> words_of(std::string_view text);
/// Pieces between separators, blanks trimmed; "|x" gives "" and "x"; an empty text gives one empty piece.
[[nodiscard]] std::vector<std::string> pieces_of(std::string_view text, char separator);
[[nodiscard]] std::string join(std::span<const std::string> parts, std::string_view between);
/// "side_panel" as words: "side panel".
[[nodiscard]] std::string spoken(std::string_view identifier);
/// Matches with '*' for any run of characters.
[[nodiscard]] bool matches(std::string_view pattern, std::string_view text);
/// Shortest decimal form, at most six significant digits: "0.05", "1e+11".
[[nodiscard]] std::string number_text(double value);

}  // namespace lostspark::sources
