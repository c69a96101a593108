// The shipped planner on instances with a known optimum, scored by its exact expected cost over all outcomes.
#include <algorithm>
#include <filesystem>
#include <numeric>

#include "catch_all.hpp"
#include "planner/instance.hpp"
#include "planner/random_instance.hpp"
#include "planner/score.hpp"
#include "planning/planner.hpp"

using namespace lostspark;
using planning::Problem;
using planning::JobState;

namespace {

std::vector<std::string> instance_files() {
  std::vector<std::string> files;
  for (const auto& entry : std::filesystem::directory_iterator(LOSTSPARK_SOURCE_DIR "/tests/data/planner"))
    if (entry.path().extension() == ".json") files.push_back(entry.path().string());
  std::sort(files.begin(), files.end());
  return files;
}

double policy_cost(const Problem& problem, bool exact) {
  planning::PlannerOptions options;
  options.exact = exact;
  return planner::exact_cost(problem, [&](const Problem& p, const JobState& s) { return decide(p, s, options).action; });
}

}  // namespace

TEST_CASE("look-ahead alone stays within half a percent of the known optimum", "[planning][oracle]") {
  // Bar: mean 1.005, worst 1.05; the constructed cases within 0.5 percent. Never below the optimum.
  std::vector<double> ratios;
  for (const auto& file : instance_files()) {
    INFO(file);
    const auto instance = planner::read_instance(file);
    REQUIRE(instance.optimum);
    const double ratio = policy_cost(instance.problem, false) / *instance.optimum;
    CHECK(ratio >= 1 - 1e-7);
    CHECK(ratio <= (file.find("/case_") != std::string::npos ? 1.005 : 1.05));
    ratios.push_back(ratio);
  }
  REQUIRE(ratios.size() >= 25);
  CHECK(std::accumulate(ratios.begin(), ratios.end(), 0.0) / static_cast<double>(ratios.size()) <= 1.005);
}

TEST_CASE("the search to the end reaches the known optimum and says so", "[planning][oracle]") {
  for (const auto& file : instance_files()) {
    INFO(file);
    const auto instance = planner::read_instance(file);
    const auto decision = decide(instance.problem, start_of(instance.problem));
    CHECK(decision.exact);
    CHECK(decision.cost == Approx(*instance.optimum).epsilon(1e-7));
    if (!instance.first_actions.empty())
      CHECK(std::find(instance.first_actions.begin(), instance.first_actions.end(), decision.action) !=
            instance.first_actions.end());
  }
}

TEST_CASE("the advice is the same every time and within its nodes", "[planning][unit]") {
  const auto instance = planner::read_instance(LOSTSPARK_SOURCE_DIR "/tests/data/planner/small_double_2004.json");
  planning::PlannerOptions options;
  options.exact = false;
  options.nodes = 5000;
  const auto a = decide(instance.problem, start_of(instance.problem), options);
  const auto b = decide(instance.problem, start_of(instance.problem), options);
  CHECK(a.action == b.action);
  CHECK(a.cost == b.cost);
  CHECK(a.nodes <= 5001);
  CHECK_FALSE(a.exact);
}

TEST_CASE("a large job is seen two steps ahead where the nodes for that are granted", "[planning][unit]") {
  const auto p = planner::random_instance({60, 40, 6, false, 0.5}, 4);
  planning::PlannerOptions options;
  options.exact = false;
  options.nodes = 600;
  const auto near = decide(p, start_of(p), options);
  CHECK(near.depth == 1);
  options.nodes_to_two = 60000;
  const auto far = decide(p, start_of(p), options);
  CHECK(far.depth == 2);
  CHECK(far.nodes > options.nodes);
  CHECK(far.nodes <= options.nodes_to_two + 1);
  CHECK(far.cost <= near.cost + 1e-9);
}

TEST_CASE("a safety stop still leaves an advice", "[planning][fault]") {
  const auto instance = planner::read_instance(LOSTSPARK_SOURCE_DIR "/tests/data/planner/small_single_2003.json");
  planning::PlannerOptions options;
  int asked = 0;
  options.stop = [&] { return ++asked > 0; };
  const auto d = decide(instance.problem, start_of(instance.problem), options);
  CHECK(asked > 0);
  CHECK(d.cost <= d.no_test_cost + 1e-9);
  CHECK(d.depth >= 1);
}

TEST_CASE("on fresh random jobs look-ahead alone stays within half a percent of its own exact search", "[planning][slow]") {
  // Bar: mean 1.005, 95th percentile 1.03, worst 1.05. The exact search is checked against plain recursion elsewhere.
  std::vector<double> ratios;
  for (std::uint64_t seed = 1; seed <= 90; ++seed) {
    const bool pairs = seed % 3 == 0;
    const auto p = planner::random_instance(
        pairs ? planner::RandomOptions{5, 5, 3, true, 0.5} : planner::RandomOptions{7, 7, 3, false, 0.5}, seed + 70000);
    const auto best = decide(p, start_of(p));
    if (!best.exact) continue;
    INFO("seed " << seed);
    ratios.push_back(policy_cost(p, false) / best.cost);
    CHECK(ratios.back() >= 1 - 1e-7);
  }
  REQUIRE(ratios.size() >= 80);
  std::sort(ratios.begin(), ratios.end());
  const double mean = std::accumulate(ratios.begin(), ratios.end(), 0.0) / static_cast<double>(ratios.size());
  CAPTURE(ratios.size(), mean, ratios[ratios.size() * 95 / 100], ratios.back());
  CHECK(mean <= 1.005);
  CHECK(ratios[ratios.size() * 95 / 100] <= 1.03);
  CHECK(ratios.back() <= 1.05);
}
