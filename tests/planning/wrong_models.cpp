// A policy that thinks with a wrong model, scored in the true world.
#include "catch_all.hpp"
#include "planner/random_instance.hpp"
#include "planner/score.hpp"
#include "planning/planner.hpp"

using namespace lostspark;
using namespace lostspark::planning;

namespace {

/// Two faults, each with its own repair (10 and 30 minutes), referring 1000; no test, no check.
Problem two_repairs(double first, double second) {
  Problem p;
  p.setup_minutes = {0};
  p.prior = {first, second};
  p.passes = {0, 0};
  p.nothing = {0, 0};
  p.refer = 1000;
  p.repairs.resize(2);
  p.repairs[0].minutes = 10;
  p.repairs[0].after = {k_mended, 1};
  p.repairs[1].minutes = 30;
  p.repairs[1].after = {0, k_mended};
  return p;
}

Action advised(const Problem& p, const JobState& s) { return decide(p, s).action; }

}  // namespace

TEST_CASE("wrong priors cost what the wrong order of repairs costs", "[planning][oracle]") {
  const auto world = two_repairs(0.5, 0.5);
  CHECK(planner::exact_cost(world, advised) == Approx(10 + 0.5 * 30));
  // Believed 5 to 95, the dear repair comes first: 30 + 0.05 * 10 against 10 + 0.95 * 30.
  CHECK(planner::exact_cost(world, two_repairs(0.05, 0.95), advised) == Approx(30 + 0.5 * 10));
}

TEST_CASE("what the believed model calls impossible ends in referring out", "[planning][oracle]") {
  auto world = two_repairs(0.5, 0.5);
  world.tests.resize(1);
  world.tests[0].minutes = 4;
  world.tests[0].outcomes = 2;
  world.tests[0].p = {1, 0, 0, 1};
  auto believed = world;
  believed.tests[0].p = {1, 0, 1, 0};
  const auto test_first = [](const Problem& p, const JobState& s) {
    return s.tested[0] ? advised(p, s) : Action{ActionKind::test, 0};
  };
  CHECK(planner::exact_cost(world, test_first) == Approx(4 + 0.5 * 10 + 0.5 * 30));
  // Outcome 0 teaches the believer nothing: he begins with the cheap repair, and is right.
  CHECK(planner::exact_cost(world, believed, test_first) == Approx(4 + 0.5 * 10 + 0.5 * 1000));
}

TEST_CASE("no wrong model beats the optimum of the true one", "[planning][property]") {
  for (std::uint64_t seed = 300; seed < 312; ++seed) {
    const bool pairs = seed % 4 == 0;
    const planner::RandomOptions shape{4, 4, 2, pairs, 0.5};
    const auto world = planner::random_instance(shape, seed);
    auto wrong = shape;
    wrong.noise = seed % 2 ? 0.3 : 3;
    auto believed = planner::random_instance(wrong, seed);
    for (std::size_t h = 0; h < 4; ++h) believed.prior[h] *= h % 2 ? 3 : 1.0 / 3;
    INFO("seed " << seed);
    const auto best = decide(world, start_of(world));
    REQUIRE(best.exact);
    CHECK(planner::exact_cost(world, advised) == Approx(best.cost).epsilon(1e-7));
    CHECK(planner::exact_cost(world, believed, advised) >= best.cost * (1 - 1e-7));
    // Only what is believed of the results changes with the noise.
    CHECK(believed.repairs[0].minutes == world.repairs[0].minutes);
    CHECK(believed.tests[0].p != world.tests[0].p);
  }
}
