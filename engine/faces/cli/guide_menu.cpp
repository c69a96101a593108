// What a person can do at any prompt of the guided job besides answering it.
#include <algorithm>
#include <charconv>

#include "base/error.hpp"
#include "faces/cli/cards.hpp"
#include "faces/cli/guide.hpp"
#include "faces/cli/text.hpp"

namespace lostspark::faces {

namespace {

using model::Index;

constexpr const char* k_help =
    "At every prompt: Enter goes on, / opens a numbered menu, /1 to /9 take an item of it at once.\n"
    "By words: skip [cannot_reach|no_tool|no_helper|not_now], list [TEST], undo, why, repair [REPAIR], plan, bench, "
    "readings, end [fixed|not_ignition|referred_on|part|customer|leave], amend N READING, strike N [REASON], "
    "cover ID off|on, setup ID made|undone, held none|hot|wet|shaken|steering|loaded, note WORDS, took MINUTES, "
    "leave.\n"
    "Readings: 168, 0.17kV, 150..200, about 150, >250, jumping 0..190, 150 170 165 (kicks), below, over, or a word. "
    "On a keypad: *150 about, 250+ more, 5- less, 150/170/165 kicks, 0 below, + over, a number for a word.";

/// "a b c" -> "a" and "b c".
std::pair<std::string, std::string> split(const std::string& text) {
  const std::size_t end = std::min(text.find(' '), text.size());
  const std::size_t next = std::min(text.find_first_not_of(' ', end), text.size());
  return {text.substr(0, end), text.substr(next)};
}

}  // namespace

Guide::Then Guide::carry_out(const Command& command, std::optional<Index> test) {
  switch (command.wish) {
    case Wish::skip:
      return skip(command.rest, test);
    case Wish::list:
      return choose_step(command.rest);
    case Wish::undo:
      told(job_.undo());
      return Then::look_afresh;
    case Wish::why:
      prompt_.say("\n" + why_page(job_.vehicle(), job_.why(test)) + "\n");
      return Then::ask_again;
    case Wish::repair:
      return choose_repair(command.rest);
    case Wish::plan:
      prompt_.say("\n" + plan_page(job_.vehicle(), job_.next()) + "\n");
      return Then::ask_again;
    case Wish::bench:
      return change_bench();
    case Wish::readings:
      return correct_reading();
    case Wish::end:
      return end_job(command.rest);
    case Wish::amend:
    case Wish::strike:
      return correct_by_number(command.wish, command.rest);
    case Wish::note:
      told(job_.note(command.rest));
      return Then::ask_again;
    case Wish::took:
      told(job_.took(command.rest));
      return Then::ask_again;
    case Wish::cover:
    case Wish::setup:
    case Wish::held:
      return bench_by_words(command.wish, command.rest);
    case Wish::leave:
      over_ = true;
      return Then::look_afresh;
    default:
      prompt_.say(wrapped(k_help, 2));
      return Then::ask_again;
  }
}

Guide::Then Guide::skip(const std::string& reason, std::optional<Index> test) {
  if (!test) throw InputError("only a test can be skipped; choose another step with list");
  job::SkipReason why = job::SkipReason::not_now;
  if (reason.empty()) {
    const auto chosen = prompt_.choose("Why not?", {"cannot reach it", "no tool for it", "no helper", "not now"});
    if (!chosen) return Then::ask_again;
    why = job::skip_reason(std::to_string(*chosen + 1));
  } else {
    why = job::skip_reason(reason);
  }
  told(job_.skip(job_.vehicle().tests[static_cast<std::size_t>(*test)].id, why));
  return Then::look_afresh;
}

Guide::Then Guide::choose_step(const std::string& id) {
  const auto& vehicle = job_.vehicle();
  if (!id.empty()) {
    wanted_test_ = job_.test(id);
    return Then::look_afresh;
  }
  // What the plan knows first, best first; then every other test of the vehicle in its own order.
  std::vector<planning::Advice> steps;
  std::vector<std::string> lines;
  std::set<Index> listed_tests;
  for (const auto& advice : job_.next().steps) {
    if (advice.kind == planning::StepKind::refer) continue;
    if (advice.kind == planning::StepKind::test) listed_tests.insert(advice.test);
    steps.push_back(advice);
    lines.push_back(advice_title(vehicle, advice) + " (" + minutes(advice.access_min) + ")");
  }
  for (std::size_t t = 0; t < vehicle.tests.size(); ++t) {
    if (listed_tests.count(static_cast<Index>(t)) != 0) continue;
    planning::Advice other;
    other.test = static_cast<Index>(t);
    steps.push_back(other);
    lines.push_back(vehicle.tests[t].title);
  }
  const auto chosen = prompt_.choose("Which step?", lines);
  if (!chosen) return Then::ask_again;
  const planning::Advice& step = steps[*chosen];
  (step.kind == planning::StepKind::test ? wanted_test_ : wanted_repair_) =
      step.kind == planning::StepKind::test ? step.test : step.repair;
  return Then::look_afresh;
}

Guide::Then Guide::choose_repair(const std::string& id) {
  const auto& vehicle = job_.vehicle();
  if (!id.empty()) {
    wanted_repair_ = job_.repair(id);
    return Then::look_afresh;
  }
  // Repairs of the likely suspects first.
  std::vector<Index> order;
  const auto add = [&](Index repair) {
    if (repair != model::k_none && std::find(order.begin(), order.end(), repair) == order.end())
      order.push_back(repair);
  };
  for (const auto& suspect : job_.suspects())
    if (suspect.mode != model::k_none) add(vehicle.modes[static_cast<std::size_t>(suspect.mode)].repair);
  for (std::size_t r = 0; r < vehicle.repairs.size(); ++r) add(static_cast<Index>(r));
  std::vector<std::string> lines;
  for (const Index r : order) lines.push_back(vehicle.repairs[static_cast<std::size_t>(r)].title);
  const auto chosen = prompt_.choose("Which repair?", lines);
  if (!chosen) return Then::ask_again;
  wanted_repair_ = order[*chosen];
  return Then::look_afresh;
}

Guide::Then Guide::change_bench() {
  bool changed = false;
  for (;;) {
    prompt_.say(bench_page(job_));
    const auto what = prompt_.choose("Correct what?", {"a cover", "a set-up", "what is held (hot, wet ...)"});
    if (!what) return changed ? Then::look_afresh : Then::ask_again;
    if (*what == 0) {
      const auto covers = job_.covers();
      std::vector<std::string> lines;
      for (const auto& c : covers) lines.push_back(c.title + (c.off ? ": off, note it as on" : ": on, note it as off"));
      const auto chosen = prompt_.choose("Which cover?", lines);
      if (chosen) told(job_.cover(covers[*chosen].id, !covers[*chosen].off));
      changed = changed || chosen.has_value();
    } else if (*what == 1) {
      const auto setups = job_.setups();
      std::vector<std::string> lines;
      for (const auto& s : setups)
        lines.push_back(s.title + (s.standing ? ": made, note it as undone" : ": note it as made"));
      const auto chosen = prompt_.choose("Which set-up?", lines);
      if (chosen) told(job_.setup(setups[*chosen].id, !setups[*chosen].standing));
      changed = changed || chosen.has_value();
    } else {
      const std::vector<std::string> words{"none", "hot", "wet", "shaken", "steering", "loaded"};
      const auto chosen = prompt_.choose("Held from now on?", words);
      if (chosen) told(job_.provoke(job::provocation(words[*chosen])));
      changed = changed || chosen.has_value();
    }
  }
}

Guide::Then Guide::correct_reading() {
  std::vector<std::int64_t> numbers;
  std::vector<std::string> lines;
  const auto history = job_.history();
  for (auto line = history.rbegin(); line != history.rend(); ++line) {
    if (line->status == job::HistoryLine::Status::struck || line->status == job::HistoryLine::Status::undone) continue;
    if (job_.state().find_reading(line->sequence) == nullptr) continue;
    numbers.push_back(line->sequence);
    lines.push_back(line->text);
  }
  if (numbers.empty()) throw InputError("no reading has been taken yet");
  const auto chosen = prompt_.choose("Which reading, the latest first?", lines);
  if (!chosen) return Then::ask_again;
  const auto how = prompt_.choose(lines[*chosen], {"it was read or typed wrong: give it again", "strike it"});
  if (!how) return Then::ask_again;
  if (*how == 0) {
    const std::string typed = prompt_.line("it showed:");
    if (typed.empty()) return Then::ask_again;
    told(job_.amend(numbers[*chosen], typed));
  } else {
    told(job_.strike(numbers[*chosen], ""));
  }
  return Then::look_afresh;
}

Guide::Then Guide::end_job(const std::string& how) {
  static const std::vector<std::string> words{"fixed", "not_ignition", "referred_on", "part", "customer", "leave"};
  std::size_t chosen = 0;
  if (how.empty()) {
    const auto answer = prompt_.choose(
        "How does it end?",
        {"fixed", "not ignition", "referred on", "it waits for a part", "it waits for the customer", "leave it open"});
    if (!answer) return Then::ask_again;
    chosen = *answer;
  } else {
    const auto found = std::find(words.begin(), words.end(), how);
    if (found == words.end())
      throw InputError("'" + how.substr(0, 40) + "' is no way to end; expected " + listed(words));
    chosen = static_cast<std::size_t>(found - words.begin());
  }
  if (chosen < 3) {
    close(job::outcome(words[chosen]));
    return Then::look_afresh;
  }
  if (chosen == 3) told(job_.set_state(history::JobState::waiting_for_part));
  if (chosen == 4) told(job_.set_state(history::JobState::waiting_for_customer));
  over_ = true;
  return Then::look_afresh;
}

Guide::Then Guide::correct_by_number(Wish wish, const std::string& rest) {
  const auto [first, other] = split(rest);
  std::int64_t number = 0;
  const auto [end, error] = std::from_chars(first.data(), first.data() + first.size(), number);
  if (error != std::errc() || end != first.data() + first.size())
    throw InputError("'" + first.substr(0, 40) + "' is no entry; give its number, then " +
                     (wish == Wish::amend ? "what it showed" : "the reason") + ", or take it from the list: readings");
  told(wish == Wish::amend ? job_.amend(number, other) : job_.strike(number, other));
  return Then::look_afresh;
}

Guide::Then Guide::bench_by_words(Wish wish, const std::string& rest) {
  const auto [id, how] = split(rest);
  if (wish == Wish::held) {
    told(job_.provoke(job::provocation(id)));
  } else if (wish == Wish::cover) {
    if (how != "off" && how != "on") throw InputError("a cover is off or on: cover seat off");
    told(job_.cover(id, how == "off"));
  } else {
    if (how != "made" && how != "undone") throw InputError("a set-up is made or undone: setup gap_tester made");
    told(job_.setup(id, how == "made"));
  }
  return Then::look_afresh;
}

}  // namespace lostspark::faces
