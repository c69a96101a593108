#include <string>
#include <vector>

#include "catch_all.hpp"
#include "sources/text.hpp"

using namespace lostspark::sources;

TEST_CASE("identifiers are lower_snake_case and stable to type", "[sources][unit]") {
  CHECK(is_identifier("exciter_coil"));
  CHECK(is_identifier("c3"));
  for (const char* bad : {"", "Exciter", "3c", "_x", "x_", "a__b", "a-b", "a.b", "größe"})
    CHECK_FALSE(is_identifier(bad));
  CHECK_FALSE(is_identifier(std::string(65, 'a')));
  CHECK(is_dotted_identifier("coil.primary"));
  CHECK_FALSE(is_dotted_identifier("coil"));
  CHECK_FALSE(is_dotted_identifier("coil.primary.x"));
}

TEST_CASE("text is UTF-8 or refused", "[sources][unit]") {
  CHECK(is_utf8("plain"));
  CHECK(is_utf8("\xc3\xa4 \xe2\x82\xac \xf0\x9f\x94\xa5"));
  // Overlong, surrogate, too large, cut off, stray continuation (RFC 3629, from memory).
  for (const char* bad : {"\xc0\xaf", "\xed\xa0\x80", "\xf4\x90\x80\x80", "\xe2\x82", "\x80", "\xff"})
    CHECK_FALSE(is_utf8(bad));
}

TEST_CASE("the nearest name is offered only when it is near", "[sources][unit]") {
  const std::vector<std::string> names{"seat", "side_panel", "fuel_tank"};
  CHECK(edit_distance("kitten", "sitting") == 3);
  CHECK(edit_distance("", "abc") == 3);
  CHECK(nearest("side_panle", names) == "side_panel");
  CHECK_FALSE(nearest("carburettor", names).has_value());
  CHECK(suggestion("carburettor", names) == "; valid: seat, side_panel, fuel_tank");
}

TEST_CASE("patterns match runs of characters", "[sources][unit]") {
  CHECK(matches("a*c", "abbbc"));
  CHECK(matches("*", ""));
  CHECK(matches("exciter_peak@*", "exciter_peak@box.source+kill_unplugged"));
  CHECK_FALSE(matches("a*c", "abcd"));
  CHECK(matches("*a*b*", "xxaxxbxx"));
  CHECK_FALSE(matches("abc", "abcd"));
}

TEST_CASE("lists keep empty alternatives", "[sources][unit]") {
  CHECK(pieces_of("|kill_unplugged", '|') == std::vector<std::string>{"", "kill_unplugged"});
  CHECK(pieces_of("", '|') == std::vector<std::string>{""});
  CHECK(words_of("  a  b ") == std::vector<std::string>{"a", "b"});
  CHECK(words_of("").empty());
}
