#include "base/error.hpp"
#include "catch_all.hpp"
#include "cli/program.hpp"
#include "faces/cli/child_check.hpp"

#include <nlohmann/json.hpp>

using namespace lostspark;
using lostspark::faces::check_family_in_child;

namespace {
std::string rude(const std::string& how) { return std::string(LOSTSPARK_RUDE_PLUGINS) + "/rude_" + how + ".so"; }
}  // namespace

TEST_CASE("a plugin that crashes is one problem, and the program lives on", "[cli][fault]") {
  const auto problems = check_family_in_child(rude("crash"), 10);
  REQUIRE(problems.size() == 1);
  CHECK(problems[0].find(rude("crash")) != std::string::npos);
  CHECK(problems[0].find("crashed") != std::string::npos);
}

TEST_CASE("a plugin that never answers is stopped after the time allowed", "[cli][fault]") {
  const auto problems = check_family_in_child(rude("hang"), 1);
  REQUIRE(problems.size() == 1);
  CHECK(problems[0].find("did not answer within 1 second and was stopped") != std::string::npos);
}

TEST_CASE("a plugin that ends the process is found out", "[cli][fault]") {
  const auto problems = check_family_in_child(rude("leave"), 10);
  REQUIRE(problems.size() == 1);
  CHECK(problems[0].find("ended the process") != std::string::npos);
}

TEST_CASE("an exception that leaves a plugin is a problem, not an end", "[cli][fault]") {
  const auto problems = check_family_in_child(rude("throw"), 10);
  REQUIRE(problems.size() == 1);
  CHECK(problems[0].find("rude_throw") != std::string::npos);
}

TEST_CASE("what a plugin prints does not reach the answer", "[cli][fault]") {
  const test::Folder folder;
  const auto outcome = test::Program(folder).run({"family", "check", rude("talk"), "--json"});
  CHECK(outcome.exit_code == 3);  // it has no family either
  const auto document = nlohmann::json::parse(outcome.out);
  CHECK(document["sound"] == false);
  CHECK(document["problems"].size() >= 1);
  CHECK(outcome.err.empty());
}

TEST_CASE("a file that is not there, or is no library, is told by name", "[cli][fault]") {
  CHECK_THROWS_AS(check_family_in_child("/nowhere/at_all.so", 5), InputError);
  const test::Folder folder;
  const std::string file = (folder.path() / "words.so").string();
  test::write_file(file, "just words\n");
  const auto problems = check_family_in_child(file, 5);
  REQUIRE(problems.size() == 1);
  CHECK(problems[0].find("words.so") != std::string::npos);
}
