#include "catch_all.hpp"
#include "cli/golden.hpp"
#include "cli/program.hpp"

#include <deque>
#include <nlohmann/json.hpp>

using namespace lostspark::test;

namespace {

constexpr const char* k_vehicle = "quillmarsh_trail_125";
constexpr std::chrono::seconds k_long(600);  // not a speed claim: only a program that hangs takes this long

bool has(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

std::string last_line(const std::string& screen) { return screen.substr(screen.rfind('\n') + 1); }

/// Somebody at a numeric keypad: says no spark, takes readings as they come (all zero), does what is advised. What is
/// in `at_hook_up` is typed first at prompts of that moment, what is in `in_lists` at numbered lists.
struct Keypad {
  std::deque<std::string> at_hook_up, in_lists, at_value;
  std::string typed;  ///< everything that was typed
  int values = 0, cranks = 0, hook_ups = 0, checks = 0;
  int failing_checks = 2;  ///< the first repairs do not help

  std::string take(std::deque<std::string>& queue, const std::string& otherwise) {
    if (queue.empty()) return otherwise;
    std::string next = queue.front();
    queue.pop_front();
    return next;
  }
  std::string answer(const std::string& screen) {
    const std::string prompt = last_line(screen);
    if (has(prompt, "keys, as many as fit:")) return has(screen, "What is the complaint?") ? "1" : "";
    if (has(prompt, "number, Enter to go back:")) return take(in_lists, "1");
    if (has(prompt, "hook up, then Enter")) {
      ++hook_ups;
      return take(at_hook_up, "");
    }
    if (has(prompt, "Enter when done")) {
      ++cranks;
      return "";
    }
    if (has(prompt, "it shows")) {
      ++values;
      return take(at_value, has(screen, "1 none") || has(screen, " or 2 ") ? "1" : "0");
    }
    if (has(prompt, "it showed:")) return "0";
    if (has(prompt, "1 referred on")) return "2";
    if (has(prompt, "1 it works")) return ++checks <= failing_checks ? "2" : "1";
    // What is to be tried at a test is tried before any repair that is advised.
    if (has(prompt, "1 done") && !at_hook_up.empty()) return has(prompt, "3 not now") ? "3" : "2";
    if (has(prompt, "1 done") || has(prompt, "1 close as")) return "1";
    return "";
  }
  std::optional<std::string> operator()(const std::string& screen) {
    const std::string next = answer(screen);
    typed += next + "\n";
    return next;
  }
};

}  // namespace

TEST_CASE("a whole job is answered from a numeric keypad and ends with the sheet", "[cli][fault]") {
  const Folder folder;
  const Program program(folder);
  Keypad keypad;
  // Plan, menu and back; skip for the first reason; another step from the list; a cover noted as off; one reading; why;
  // that reading given again from the list of readings, and the correction undone; then a repair that helps.
  keypad.at_hook_up = {"/6", "/", "/11", "/2", "/7", "", "/4", "/8", "/3", "/5"};
  keypad.in_lists = {"", "1", "1", "1", "", "1", "1", "1"};
  keypad.failing_checks = 0;
  const auto outcome = program.converse({"trace", k_vehicle}, std::ref(keypad), k_long);
  CAPTURE(outcome.err);
  REQUIRE(outcome.exit_code == 0);
  CHECK(outcome.err.empty());
  CHECK(keypad.typed.find_first_not_of("0123456789.,+-*/\n") == std::string::npos);
  CHECK(has(outcome.out, "likelihood ratio"));             // why was shown
  CHECK(has(outcome.out, "What to do next, best first"));  // the plan
  CHECK(has(outcome.out, "skipped"));
  CHECK(keypad.values > 0);
  CHECK(has(outcome.out, "amended"));
  CHECK(has(outcome.out, "undone"));
  CHECK(has(outcome.out, "closed: fixed"));
  CHECK(outcome.out.find("Values") > outcome.out.find("Does it work now?"));  // the sheet comes last
  const auto listed = nlohmann::json::parse(program.run({"job", "list", "--json"}).out);
  REQUIRE(listed["jobs"].size() == 1);
  CHECK(listed["jobs"][0]["state"] == "closed");
}

TEST_CASE("hook-up, crank and value are three prompts, and a value at the wrong one is not taken", "[cli][unit]") {
  const Folder folder;
  const Program program(folder);
  Keypad keypad;
  keypad.at_hook_up = {"150"};  // a value while still hooking up
  std::string moments;
  bool chosen = false;
  const auto outcome = program.converse(
      {"trace", k_vehicle, "--complaint", "no_spark"},
      [&](const std::string& screen) -> std::optional<std::string> {
        const std::string prompt = last_line(screen);
        if (!chosen && has(prompt, "/ for a menu")) {  // whatever comes first: a test for which the engine turns
          chosen = true;
          return "list plug_kilovolt";
        }
        if (has(prompt, "hook up, then")) moments += 'h';
        if (has(prompt, "Enter when done")) moments += 'c';
        if (has(prompt, "it shows")) return moments += 'v', std::nullopt;  // the window is closed at the value prompt
        return keypad(screen);
      },
      k_long);
  CHECK(moments == "hhcv");
  CHECK(has(outcome.out, "The reading comes in a moment"));
  CHECK(has(outcome.out, "The job is kept as it stands (open). Go on with: lostspark trace --job J0001"));
  CHECK(outcome.exit_code == 0);
  const auto shown = nlohmann::json::parse(program.run({"job", "show", "J0001", "--json"}).out);
  for (const auto& line : shown["history"]) CHECK(line["kind"] != "reading");
}

TEST_CASE("a piped session with words reads like a typed one and can be gone on with", "[cli][unit]") {
  const Folder folder;
  const Program program(folder);
  // Intake left out but for the complaint given; then leave at the first screen.
  const auto first =
      program.run({"trace", k_vehicle, "--complaint", "no_spark"}, std::string(40, '\n') + "leave\n", k_long);
  CHECK(first.exit_code == 0);
  const auto again =
      program.run({"trace", "--job", "J0001"},
                  "\nlist plug_kilovolt\n\n\nbelow\nnote the customer waits outside\nend customer\n", k_long);
  CAPTURE(again.out, again.err);
  CHECK(again.exit_code == 0);
  CHECK(has(again.out, "it shows (/ for a menu): below\n"));  // echoed
  CHECK(has(again.out, "below"));
  CHECK(has(again.out, "waiting_for_customer"));
  const auto shown = nlohmann::json::parse(program.run({"job", "show", "J0001", "--json"}).out);
  CHECK(shown["state"] == "waiting_for_customer");
  const auto sheet = program.run({"job", "sheet", "J0001"});
  CHECK(has(sheet.out, "the customer waits outside"));
}

TEST_CASE("before a vehicle goes elsewhere the complaint is looked for, and one that is gone closes without a repair",
          "[cli][unit]") {
  const Folder folder;
  const Program program(folder);
  REQUIRE(program.run({"job", "open", "--vehicle", k_vehicle, "--complaint", "weak_spark"}).exit_code == 0);
  REQUIRE(program.run({"job", "reading", "J0001", "plug_look@spark_plug", "tan_and_dry"}).exit_code == 0);
  REQUIRE(program.run({"job", "reading", "J0001", "spark/wet", "steady"}).exit_code == 0);
  std::string asked;
  const auto outcome = program.converse(
      {"trace", "--job", "J0001"},
      [&](const std::string& screen) -> std::optional<std::string> {
        const std::string prompt = last_line(screen);
        if (has(screen, "See to it now?")) return asked += 'l', "1";
        if (has(prompt, "1 it works")) return asked += 'c', "1";
        if (has(prompt, "nothing was mended")) return asked += 'e', "1";
        return has(screen, "Is it undone?") ? "1" : "";
      },
      k_long);
  CHECK(asked == "lce");
  CHECK(has(outcome.out, "the readings fit a sound ignition"));
  CHECK(has(outcome.out, "closed: not ignition"));
}

TEST_CASE("no bit and no likelihood ratio is shown in a guided job unless why is asked", "[cli][unit]") {
  const Folder folder;
  Keypad keypad;
  int screens = 0;
  const auto outcome = Program(folder).converse(
      {"trace", k_vehicle, "--complaint", "no_spark"},
      [&](const std::string& screen) -> std::optional<std::string> {
        if (++screens > 25) return std::nullopt;
        return keypad(screen);
      },
      k_long);
  CHECK(keypad.values > 0);
  CHECK_FALSE(has(outcome.out, " bit"));
  CHECK_FALSE(has(outcome.out, "likelihood"));
  CHECK(has(outcome.out, "manufacturer"));  // deference came first
  CHECK(outcome.out.find("manufacturer") < outcome.out.find("hook up, then"));
  CHECK(outcome.out.find('\x1b') == std::string::npos);  // no terminal tricks
}

TEST_CASE("a played job finds the fault it hid and ends with the sheet", "[cli][unit]") {
  const Folder folder;
  const Program program(folder);
  const auto outcome =
      program.run({"trace", k_vehicle, "--play", "--seed", "3", "--fault", "kill_switch.stuck_to_ground"}, "", k_long);
  CAPTURE(outcome.out, outcome.err);
  REQUIRE(outcome.exit_code == 0);
  CHECK(has(outcome.out, "does not start, no spark"));
  CHECK(has(outcome.out, "The hidden fault was kill switch: stuck to earth. It is cured."));
  CHECK(has(outcome.out, "closed: fixed"));
  // The same seed hides the same fault and gives the same readings.
  const auto again =
      program.run({"trace", k_vehicle, "--play", "--seed", "3", "--fault", "kill_switch.stuck_to_ground"}, "", k_long);
  CHECK(page_difference(outcome.out, again.out).empty());
  // A play is nobody's job.
  CHECK_FALSE(std::filesystem::exists(program.store()));
}
