#include "faces/cli/prompt.hpp"

#include <algorithm>
#include <array>
#include <cctype>
#include <istream>
#include <ostream>
#include <utility>

#include "faces/cli/text.hpp"

namespace lostspark::faces {

namespace {

constexpr std::size_t k_page = 9;

constexpr std::array<Wish, 9> k_menu{Wish::skip, Wish::list,  Wish::undo,     Wish::why, Wish::repair,
                                     Wish::plan, Wish::bench, Wish::readings, Wish::end};

constexpr std::array<std::pair<std::string_view, Wish>, 21> k_words{
    {{"skip", Wish::skip},     {"list", Wish::list}, {"undo", Wish::undo},   {"why", Wish::why},
     {"repair", Wish::repair}, {"plan", Wish::plan}, {"bench", Wish::bench}, {"readings", Wish::readings},
     {"end", Wish::end},       {"close", Wish::end}, {"amend", Wish::amend}, {"strike", Wish::strike},
     {"note", Wish::note},     {"took", Wish::took}, {"cover", Wish::cover}, {"setup", Wish::setup},
     {"held", Wish::held},     {"help", Wish::help}, {"?", Wish::help},      {"leave", Wish::leave},
     {"quit", Wish::leave}}};

std::string trimmed(std::string_view text) {
  const auto blank = [](char c) { return c == ' ' || c == '\t' || c == '\r'; };
  while (!text.empty() && blank(text.front())) text.remove_prefix(1);
  while (!text.empty() && blank(text.back())) text.remove_suffix(1);
  return std::string(text);
}

}  // namespace

std::string Prompt::line(std::string_view question) {
  out_ << question << ' ' << std::flush;
  std::string text;
  if (!std::getline(in_, text)) {
    out_ << '\n';
    throw EndOfInput{};
  }
  text = trimmed(text);
  if (echo_) out_ << text << '\n';
  return text;
}

void Prompt::say(std::string_view text) { out_ << text; }

std::optional<std::size_t> Prompt::choose(std::string_view title, const std::vector<std::string>& items) {
  std::size_t first = 0;
  for (;;) {
    const std::size_t end = std::min(first + k_page, items.size());
    Table table(4);
    for (std::size_t i = first; i < end; ++i) table.row({std::to_string(i - first + 1), items[i]});
    if (items.size() > k_page) table.row({"+", end == items.size() ? "from the beginning" : "more"});
    say(wrapped(title) + table.text());
    const std::string typed = line("number, Enter to go back:");
    if (typed.empty() || typed == "0") return std::nullopt;
    if (typed == "+" && items.size() > k_page) {
      first = end == items.size() ? 0 : end;
      continue;
    }
    if (typed.size() == 1 && typed[0] >= '1' && typed[0] <= '9') {
      const std::size_t index = first + static_cast<std::size_t>(typed[0] - '1');
      if (index < end) return index;
    }
    say("'" + typed.substr(0, 40) + "' is not in the list.\n");
  }
}

Command parse_command(std::string_view line) {
  if (line.empty()) return {Wish::enter, {}};
  if (line.front() == '/') {
    const std::string rest = trimmed(line.substr(1));
    if (rest.empty() || rest[0] < '1' || rest[0] > '9') return {Wish::menu, {}};
    return {k_menu[static_cast<std::size_t>(rest[0] - '1')], trimmed(std::string_view(rest).substr(1))};
  }
  const std::size_t end = std::min(line.find(' '), line.size());
  std::string word(line.substr(0, end));
  std::transform(word.begin(), word.end(), word.begin(),
                 [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
  for (const auto& [name, wish] : k_words)
    if (name == word) return {wish, trimmed(line.substr(end))};
  return {Wish::text, std::string(line)};
}

const std::vector<std::string>& menu_lines() {
  static const std::vector<std::string> lines{"skip this test",
                                              "another test",
                                              "undo the last entry",
                                              "why this advice",
                                              "a repair was done",
                                              "the plan: what comes next",
                                              "what is off, set up, held",
                                              "correct an earlier reading",
                                              "end, wait or leave the job"};
  return lines;
}

Wish menu_wish(std::size_t index) { return k_menu.at(index); }

}  // namespace lostspark::faces
