// Advice on small vehicles whose best step can be worked out by hand.
#include "catch_all.hpp"
#include "planning/advice.hpp"
#include "planning/decision_tree.hpp"
#include "planning/job_problem.hpp"
#include "support/toy_vehicle.hpp"

using namespace lostspark;
using model::Index;

namespace {

struct Shop {
  std::shared_ptr<model::Vehicle> vehicle = toy::make_vehicle();
  model::Workshop workshop = toy::make_workshop();
  Shop() {
    workshop.check_min = 2;
    workshop.refer_min = 240;
    workshop.labour_rate_per_hour = 60;
  }
  inference::Posterior posterior() {
    inference::Options options;
    options.pairs = false;
    // A complaint that only a fault explains: nothing wrong is out of the question here.
    vehicle->complaints = {{.id = "broken", .title = "broken", .by_group = {{"CON", 10.0}}}};
    const model::Evidence evidence{model::Complained{0}};
    return inference::update(inference::compile(vehicle, workshop, options), evidence);
  }
  planning::Plan advise(const planning::BenchState& bench = {}) { return planning::advise(posterior(), bench); }
};

}  // namespace

TEST_CASE("minutes count the covers still on, once, with what must come off first", "[planning][unit]") {
  Shop shop;
  auto& v = *shop.vehicle;
  v.covers = {{.id = "tank", .title = "tank", .remove_min = 6, .refit_min = 8, .first = {1}},
              {.id = "seat", .title = "seat", .remove_min = 2, .refit_min = 2},
              {.id = "panel", .title = "panel", .remove_min = 1, .refit_min = 1}};
  const auto t = toy::add_finding(v, "look", {});
  v.tests[t].minutes = 3;
  v.tests[t].covers = {0};
  CHECK(planning::covers_to_open(v, {0}, {}) == std::vector<Index>{1, 0});
  CHECK(planning::covers_to_open(v, {0}, {1}) == std::vector<Index>{0});
  CHECK(planning::access_minutes(v, v.tests[t], {}) == Approx(3 + 14 + 4));
  CHECK(planning::access_minutes(v, v.tests[t], {.covers_off = {1}}) == Approx(3 + 14));
  CHECK(planning::access_minutes(v, v.tests[t], {.covers_off = {0, 1}}) == Approx(3));
  v.tests[t].blind_min = 5;
  CHECK(planning::access_minutes(v, v.tests[t], {}) == Approx(3 + 5));
  v.tests[t].minutes = 0.1;
  CHECK(planning::access_minutes(v, v.tests[t], {.covers_off = {0, 1}}) == Approx(0.5));
}

TEST_CASE("a cheap sure test comes before dear repairs, and cheap repairs before a dear test", "[planning][unit]") {
  Shop shop;
  auto& v = *shop.vehicle;
  const auto a = toy::add_mode(v, "a", 0.05), b = toy::add_mode(v, "b", 0.05);
  v.repairs[a].labour_min = v.repairs[b].labour_min = 60;
  const auto look = toy::add_finding(v, "look", {{a, 0.98}}, 0.0, 0.0);
  v.tests[look].minutes = 3;
  auto plan = shop.advise();
  REQUIRE(!plan.steps.empty());
  CHECK(plan.steps.front().kind == planning::StepKind::test);
  CHECK(plan.steps.front().gain_bits > 0.9);

  v.repairs[a].labour_min = v.repairs[b].labour_min = 1;
  v.repairs[a].price = v.repairs[b].price = 0;
  v.tests[look].minutes = 30;
  plan = shop.advise();
  REQUIRE(!plan.steps.empty());
  CHECK(plan.steps.front().kind == planning::StepKind::repair);
}

TEST_CASE("before a part is fitted to what may well be sound, the test that tells about that part comes", "[planning][unit]") {
  Shop shop;
  auto& v = *shop.vehicle;
  const auto part = toy::add_mode(v, "part", 0.04), fuel = toy::add_mode(v, "fuel", 0.04), dear = toy::add_mode(v, "dear", 0.02);
  v.components[v.modes[fuel].component].kind = model::ComponentKind::elsewhere;
  v.repairs[v.modes[part].repair].labour_min = 1;
  v.repairs[v.modes[part].repair].price = 1;
  v.repairs[v.modes[fuel].repair].labour_min = 30;
  v.repairs[v.modes[fuel].repair].price = 0;
  v.repairs[v.modes[dear].repair].price = 20;
  const auto other = toy::add_finding(v, "about the dear one", {{dear, 0.9}}), own = toy::add_finding(v, "about the part", {{part, 0.9}});
  v.tests[other].minutes = 6;
  v.tests[own].minutes = 8;
  const auto first = [&](const planning::BenchState& bench) {
    const auto step = shop.advise(bench).steps.at(0);
    const auto planned = planning::decision_tree(shop.posterior(), bench).nodes.at(0).step;
    CHECK(planned.kind == step.kind);  // the plan begins with what is advised
    CHECK(planned.test == step.test);
    CHECK(planned.repair == step.repair);
    return step;
  };
  auto step = first({});
  CHECK(step.kind == planning::StepKind::test);
  CHECK(step.test == own);
  // No test about it left: it is fitted, as long as it is likelier than not that something here is at fault.
  step = first({.not_available = {own}});
  CHECK(step.kind == planning::StepKind::repair);
  CHECK(step.repair == v.modes[part].repair);
  // With nothing here likelier than not, what fits no part comes first: a test, or a repair of something else.
  v.modes[fuel].prior = 0.12;
  step = first({.not_available = {own}});
  CHECK(step.test == other);
  step = first({.not_available = {own, other}});
  CHECK(step.kind == planning::StepKind::repair);
  CHECK(step.repair == v.modes[fuel].repair);
  // A repair that fits no part needs no leave.
  v.modes[fuel].prior = 0.04;
  v.repairs[v.modes[part].repair].kind = model::RepairKind::clean;
  v.repairs[v.modes[part].repair].price = 0;
  step = first({});
  CHECK(step.kind == planning::StepKind::repair);
  CHECK(step.repair == v.modes[part].repair);
}

TEST_CASE("where no listed test separates the suspects the plan says so", "[planning][unit]") {
  Shop shop;
  toy::add_mode(*shop.vehicle, "a", 0.05);
  toy::add_mode(*shop.vehicle, "b", 0.05);
  toy::add_finding(*shop.vehicle, "blind", {});
  const auto plan = shop.advise();
  CHECK(plan.nothing_separates);
  REQUIRE(!plan.steps.empty());
  CHECK(plan.steps.front().kind == planning::StepKind::repair);
}

TEST_CASE("tests that need a missing tool or helper are not offered and the reason is told", "[planning][unit]") {
  Shop shop;
  auto& v = *shop.vehicle;
  const auto a = toy::add_mode(v, "a", 0.05);
  toy::add_mode(v, "b", 0.05);
  const auto look = toy::add_finding(v, "look", {{a, 0.9}});
  v.tests[look].instrument = "timing_light";
  auto plan = shop.advise();
  for (const auto& step : plan.steps) CHECK(step.kind != planning::StepKind::test);
  CHECK(plan.refused.size() == 1);
  v.tests[look].instrument = "eyes";
  v.conditions[0].needs_helper = true;
  plan = shop.advise({.helper = false});
  for (const auto& step : plan.steps) CHECK(step.kind != planning::StepKind::test);
  CHECK(plan.refused.size() == 1);
}

TEST_CASE("a test that tells only modes of one repair apart is not advised, however cheap", "[planning][property]") {
  Shop shop;
  auto& v = *shop.vehicle;
  const auto a = toy::add_mode(v, "a", 0.05), b = toy::add_mode(v, "b", 0.05), c = toy::add_mode(v, "c", 0.002);
  v.modes[b].repair = v.modes[a].repair;  // one repair for both
  v.repairs[v.modes[a].repair].labour_min = 20;
  v.repairs[v.modes[c].repair].labour_min = 20;
  const auto look = toy::add_finding(v, "tug", {{a, 0.95}}, 0.0, 0.0);
  v.tests[look].minutes = 2;
  const auto plan = shop.advise();
  REQUIRE(!plan.steps.empty());
  CHECK(plan.steps.front().kind == planning::StepKind::repair);
  CHECK(plan.steps.front().repair == v.modes[a].repair);
}

TEST_CASE("the head of the plan has the least expected cost of all listed steps", "[planning][property]") {
  Shop shop;
  auto& v = *shop.vehicle;
  const auto a = toy::add_mode(v, "a", 0.05), b = toy::add_mode(v, "b", 0.02), c = toy::add_mode(v, "c", 0.01);
  v.repairs[v.modes[a].repair].labour_min = 50;
  v.repairs[v.modes[b].repair].labour_min = 30;
  v.repairs[v.modes[c].repair].labour_min = 90;
  v.tests[toy::add_finding(v, "cheap", {{a, 0.7}})].minutes = 2;
  v.tests[toy::add_finding(v, "sure", {{b, 0.98}, {c, 0.98}})].minutes = 9;
  const auto plan = shop.advise();
  REQUIRE(plan.steps.size() >= 4);
  for (const auto& step : plan.steps) CHECK(step.expected_cost_min >= plan.steps.front().expected_cost_min - 1e-9);
  CHECK(plan.no_test_cost_min >= plan.steps.front().expected_cost_min - 1e-9);
}

TEST_CASE("the discrete problem keeps the bench: covers off are free, set-ups standing are free", "[planning][unit]") {
  Shop shop;
  auto& v = *shop.vehicle;
  v.covers = {{.id = "tank", .title = "tank", .remove_min = 6, .refit_min = 8, .first = {1}},
              {.id = "seat", .title = "seat", .remove_min = 2, .refit_min = 2}};
  const auto a = toy::add_mode(v, "a", 0.05);
  toy::add_mode(v, "b", 0.05);
  const auto look = toy::add_finding(v, "look", {{a, 0.9}});
  v.tests[look].minutes = 3;
  v.tests[look].covers = {0};
  v.complaints = {{.id = "broken", .title = "broken", .by_group = {{"CON", 10.0}}}};
  inference::Options options;
  options.pairs = false;
  const auto posterior = inference::update(inference::compile(shop.vehicle, shop.workshop, options), {model::Complained{0}});
  const auto closed = planning::job_problem(posterior, {}, {look});
  REQUIRE(closed.problem.tests.size() == 1);
  const auto& test = closed.problem.tests[0];
  CHECK(test.minutes + closed.problem.access(test.needs, 0) == Approx(3 + 14 + 4));
  const auto open = planning::job_problem(posterior, {.covers_off = {0, 1}}, {look});
  CHECK(open.problem.tests[0].needs == 0);
  CHECK(open.problem.tests[0].minutes == Approx(3));
}
