#include "catch_all.hpp"
#include "faces/cli/negative.hpp"
#include "faces/cli/prompt.hpp"
#include "faces/cli/text.hpp"

#include <random>
#include <sstream>

using namespace lostspark::faces;

TEST_CASE("wrapped text keeps every word and no line is wider than asked", "[cli][property]") {
  std::mt19937 random(20260101);
  for (int round = 0; round < 200; ++round) {
    std::vector<std::string> words;
    std::string text;
    for (int i = 0; i < 40; ++i) {
      words.push_back(std::string(1 + random() % 12, static_cast<char>('a' + random() % 26)));
      text += words.back() + (random() % 5 == 0 ? "\n" : " ");
    }
    const std::size_t indent = random() % 6, width = 20 + random() % 60;
    std::istringstream lines(wrapped(text, indent, width));
    std::vector<std::string> found;
    for (std::string line; std::getline(lines, line);) {
      REQUIRE(columns(line) <= width);
      std::istringstream in(line);
      for (std::string word; in >> word;) found.push_back(word);
    }
    REQUIRE(found == words);
  }
}

TEST_CASE("a label stands before its paragraph and the paragraph hangs under itself", "[cli][unit]") {
  const std::string text =
      labelled("where", std::string(30, 'a') + " " + std::string(30, 'b') + " " + std::string(30, 'c'));
  CHECK(text == "  where       " + std::string(30, 'a') + " " + std::string(30, 'b') + "\n" + std::string(14, ' ') +
                    std::string(30, 'c') + "\n");
  CHECK(labelled("where", "").empty());
  // A signal word longer than the column pushes its text, it is never cut.
  CHECK(labelled("a_very_long_label", "x") == "  a_very_long_label x\n");
}

TEST_CASE("columns are counted in characters, not in bytes", "[cli][unit]") {
  CHECK(columns("kΩ") == 2);
  CHECK(padded("µ", 3) == "µ  ");
}

TEST_CASE("numbers are rounded to what somebody can use", "[cli][unit]") {
  CHECK(number(168.04) == "168");
  CHECK(number(0.35) == "0.35");
  CHECK(number(12.449) == "12.4");
  CHECK(number(100000) == "100000");
  CHECK(number(0) == "0");
  CHECK(minutes(0.4) == "under 1 min");
  CHECK(minutes(59.6) == "1 h");
  CHECK(minutes(85) == "1 h 25 min");
  CHECK(percent(0.0) == "0 %");
  CHECK(percent(0.004) == "under 1 %");
  CHECK(percent(0.714) == "71 %");
  CHECK(percent(0.997) == "over 99 %");
}

TEST_CASE("a prompt understands words, menu numbers and readings", "[cli][unit]") {
  CHECK(parse_command("").wish == Wish::enter);
  CHECK(parse_command("/").wish == Wish::menu);
  CHECK(parse_command("/0").wish == Wish::menu);
  for (std::size_t i = 0; i < menu_lines().size(); ++i)
    CHECK(parse_command("/" + std::to_string(i + 1)).wish == menu_wish(i));
  CHECK(parse_command("/12").wish == Wish::skip);
  CHECK(parse_command("/12").rest == "2");
  CHECK(parse_command("skip no_tool").rest == "no_tool");
  CHECK(parse_command("UNDO").wish == Wish::undo);
  for (const char* reading :
       {"168", "0.17kV", "150/170/165", "*150", "250+", "5-", "+", "-", "below", "over", "steady", "none"}) {
    CAPTURE(reading);
    CHECK(parse_command(reading).wish == Wish::text);
    CHECK(parse_command(reading).rest == reading);
  }
}

TEST_CASE("a list is chosen from by one digit a page and left by Enter", "[cli][unit]") {
  std::vector<std::string> items;
  for (int i = 0; i < 12; ++i) items.push_back("item " + std::to_string(i));
  const auto answer = [&](const std::string& typed) {
    std::istringstream in(typed);
    std::ostringstream out;
    return Prompt(in, out, true).choose("Which?", items);
  };
  CHECK(answer("3\n") == 2);
  CHECK(answer("+\n2\n") == 10);
  CHECK(answer("+\n+\n1\n") == 0);  // round again
  CHECK(answer("\n") == std::nullopt);
  CHECK(answer("+\n9\n0\n") == std::nullopt);  // nine is not on the second page: asked again
  CHECK_THROWS_AS(answer("99\n"), EndOfInput);
}

TEST_CASE("a piped session is echoed, a typed one is not", "[cli][unit]") {
  std::istringstream in("168 \n168\n");
  std::ostringstream out;
  CHECK(Prompt(in, out, true).line("it shows:") == "168");
  CHECK(out.str() == "it shows: 168\n");
  CHECK(Prompt(in, out, false).line("it shows:") == "168");
  CHECK(out.str() == "it shows: 168\nit shows: ");
}

TEST_CASE("only the value of a reading may begin with a minus", "[cli][unit]") {
  const std::vector<std::string> reading{"job", "reading", "J0001", "a_test", "-5", "--json"};
  const auto marked = guarded(reading);
  CHECK(marked[4] != "-5");
  CHECK(marked[5] == "--json");
  for (std::size_t i = 0; i < reading.size(); ++i) CHECK(unguarded(marked[i]) == reading[i]);
  const std::vector<std::string> other{"vehicle", "show", "-5"};
  CHECK(guarded(other) == other);
}
