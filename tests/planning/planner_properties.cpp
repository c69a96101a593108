// The planner against plain recursion over the rules of the game, and what must hold whatever the job.
#include <cmath>
#include <map>
#include <numeric>

#include "catch_all.hpp"
#include "planner/random_instance.hpp"
#include "planner/score.hpp"
#include "planning/planner.hpp"

using namespace lostspark;
using namespace lostspark::planning;

namespace {

using Key = std::vector<long long>;

/// The least cost of all policies by plain recursion: no bound, no order, no leaf.
double least_cost(const Problem& p, const JobState& s, std::map<Key, double>& seen) {
  Key key{static_cast<long long>(s.off), s.setup};
  const double mass = std::accumulate(s.belief.begin(), s.belief.end(), 0.0);
  for (double b : s.belief) key.push_back(std::llround(b / mass * 1e10));
  for (const auto* done : {&s.tested, &s.repaired, &s.swapped}) key.insert(key.end(), done->begin(), done->end());
  if (const auto it = seen.find(key); it != seen.end()) return it->second;
  double best = branches(p, s, {}).front().cost;
  const auto look = [&](Action a) {
    double cost = 0;
    for (const auto& b : branches(p, s, a))
      cost += b.probability * (b.cost + (b.ends ? 0 : least_cost(p, b.state, seen)));
    best = std::min(best, cost);
  };
  for (int t = 0; t < static_cast<int>(p.tests.size()); ++t)
    if (!s.tested[t]) look({ActionKind::test, t});
  for (int k = 0; k < static_cast<int>(p.repairs.size()); ++k) {
    if (!s.repaired[k]) look({ActionKind::repair, k});
    if (!s.swapped[k] && p.repairs[k].swap_minutes >= 0) look({ActionKind::swap, k});
  }
  return seen[key] = best;
}

double least_cost(const Problem& p) {
  std::map<Key, double> seen;
  return least_cost(p, start_of(p), seen);
}

PlannerOptions shipped() {
  PlannerOptions options;
  options.exact = false;
  options.nodes = 20000;
  return options;
}

}  // namespace

TEST_CASE("the exact search equals plain recursion on tiny random jobs", "[planning][oracle]") {
  for (std::uint64_t seed = 0; seed < 120; ++seed) {
    const bool pairs = seed % 12 == 0;
    const auto p = planner::random_instance({4, 3, 2, pairs, 0.5}, seed);
    INFO("seed " << seed);
    const auto d = decide(p, start_of(p));
    REQUIRE(d.exact);
    CHECK(d.cost == Approx(least_cost(p)).epsilon(1e-7));
  }
}

TEST_CASE("repairs that can fail and jobs with nothing wrong are counted as plain recursion counts them", "[planning][oracle]") {
  for (std::uint64_t seed = 500; seed < 540; ++seed) {
    auto p = planner::random_instance({4, 3, 2, seed % 8 == 0, 0.3}, seed);
    for (std::size_t k = 0; k < p.repairs.size(); ++k) p.repairs[k].success = 0.7 + 0.05 * static_cast<double>(k);
    // One more fault set: nothing wrong; every test shows its last outcome there, nine times in ten.
    const int n = static_cast<int>(p.prior.size());
    p.prior.push_back(0.3 * std::accumulate(p.prior.begin(), p.prior.end(), 0.0));
    p.passes.push_back(1);
    p.nothing.push_back(1);
    for (auto& t : p.tests)
      for (int o = 0; o < t.outcomes; ++o) t.p.push_back(o + 1 == t.outcomes ? 0.9 : 0.1 / (t.outcomes - 1));
    for (auto& r : p.repairs) r.after.push_back(n);
    validate(p);
    INFO("seed " << seed);
    CHECK(decide(p, start_of(p)).cost == Approx(least_cost(p)).epsilon(1e-7));
  }
}

TEST_CASE("a test added or a cover made cheaper never raises the exact cost", "[planning][property]") {
  for (std::uint64_t seed = 0; seed < 60; ++seed) {
    const auto p = planner::random_instance({5, 4, 3, seed % 6 == 0, 0.5}, seed);
    INFO("seed " << seed);
    const auto whole = decide(p, start_of(p));
    REQUIRE(whole.exact);
    for (std::size_t t = 0; t < p.tests.size(); ++t) {
      auto fewer = p;
      fewer.tests.erase(fewer.tests.begin() + static_cast<std::ptrdiff_t>(t));
      CHECK(decide(fewer, start_of(fewer)).cost >= whole.cost - 1e-9);
    }
    for (std::size_t c = 0; c < p.cover_minutes.size(); ++c) {
      auto cheaper = p;
      cheaper.cover_minutes[c] *= 0.5;
      CHECK(decide(cheaper, start_of(cheaper)).cost <= whole.cost + 1e-9);
    }
  }
}

TEST_CASE("a test whose result is certain is never advised nor listed", "[planning][property]") {
  for (std::uint64_t seed = 0; seed < 80; ++seed) {
    auto p = planner::random_instance({6, 5, 2, false, 0.5}, seed);
    // Free of charge, and always the same.
    Problem::Test dull;
    dull.outcomes = 2;
    for (std::size_t h = 0; h < p.prior.size(); ++h) dull.p.insert(dull.p.end(), {1.0, 0.0});
    p.tests.insert(p.tests.begin(), dull);
    for (bool exact : {false, true}) {
      auto options = shipped();
      options.exact = exact;
      for (const auto& o : decide(p, start_of(p), options).options)
        CHECK_FALSE((o.action.kind == ActionKind::test && o.action.index == 0));
    }
  }
}

TEST_CASE("a test that tells only modes of one repair apart is not worth a minute", "[planning][property]") {
  for (std::uint64_t seed = 0; seed < 40; ++seed) {
    auto p = planner::random_instance({6, 0, 0, false, 0.0}, seed);
    // Sets 0 and 1 are mended by one repair at one price: a test that parts just these two must not be advised.
    for (auto& r : p.repairs) r.after[1] = r.after[0] == k_mended ? k_mended : 1;
    Problem::Test test;
    test.minutes = 0.5;
    test.outcomes = 2;
    for (std::size_t h = 0; h < p.prior.size(); ++h) test.p.insert(test.p.end(), {h == 0 ? 0.95 : 0.05, h == 0 ? 0.05 : 0.95});
    for (std::size_t h = 2; h < p.prior.size(); ++h) test.p[2 * h] = test.p[2 * h + 1] = 0.5;
    const double b0 = p.prior[0], b1 = p.prior[1];
    // Sets 2.. see the mixture of the two, so that the result says nothing about what to repair.
    const double mixed = (b0 * 0.95 + b1 * 0.05) / (b0 + b1);
    for (std::size_t h = 2; h < p.prior.size(); ++h) test.p[2 * h] = mixed, test.p[2 * h + 1] = 1 - mixed;
    p.tests = {test};
    const auto d = decide(p, start_of(p), shipped());
    CHECK(d.action.kind != ActionKind::test);
  }
}

TEST_CASE("a better workshop seldom makes the shipped look-ahead dearer", "[planning][property]") {
  // Bar: violations under one percent on 200 random instances. Policy costs, not claims.
  const auto cost = [](const Problem& p) {
    return planner::exact_cost(p, [](const Problem& q, const JobState& s) { return decide(q, s, shipped()).action; });
  };
  int violations = 0, looked = 0;
  const int jobs = k_sanitized ? 20 : 200;
  for (std::uint64_t seed = 1000; seed < 1000 + static_cast<std::uint64_t>(jobs); ++seed) {
    const auto p = planner::random_instance({5, 4, 2, false, 0.5}, seed);
    auto better = p;
    if (seed % 2) better.cover_minutes[0] *= 0.5;
    else better.tests.push_back(planner::random_instance({5, 4, 2, false, 0.5}, seed + 5000).tests[0]);
    if (better.tests.back().p.size() != p.prior.size() * static_cast<std::size_t>(better.tests.back().outcomes)) continue;
    ++looked;
    if (cost(better) > cost(p) * (1 + 1e-9)) {
      ++violations;
      WARN("seed " << seed);
    }
  }
  CHECK(looked >= jobs - 5);
  CHECK(violations <= looked / 100);
}

TEST_CASE("drawn jobs do not cost more than claimed, nor less than the optimum", "[planning][property]") {
  // Both by no more than three standard errors. Claimed: by the shipped look-ahead at the start, budget of a vehicle.
  auto options = shipped();
  options.nodes = 4000;
  for (std::uint64_t seed = 70; seed < 78; ++seed) {
    const bool pairs = seed % 3 == 0;
    const auto p = pairs ? planner::random_instance({5, 5, 3, true, 0.5}, seed) : planner::random_instance({7, 7, 3, false, 0.5}, seed);
    const double claimed = decide(p, start_of(p), options).cost;
    const auto best = decide(p, start_of(p));
    REQUIRE(best.exact);
    // The same place of the job, the same answer: asked once.
    std::map<Key, Action> known;
    const auto policy = [&](const Problem& q, const JobState& s) {
      Key key{static_cast<long long>(s.off), s.setup};
      for (double b : s.belief) key.push_back(std::llround(b * 1e12));
      for (const auto* done : {&s.tested, &s.repaired, &s.swapped}) key.insert(key.end(), done->begin(), done->end());
      const auto [it, fresh] = known.try_emplace(key);
      if (fresh) it->second = decide(q, s, options).action;
      return it->second;
    };
    const int jobs = 2000;
    double sum = 0, squares = 0;
    for (int j = 0; j < jobs; ++j) {
      const double m = planner::play(p, policy, static_cast<std::uint64_t>(j)).minutes;
      sum += m;
      squares += m * m;
    }
    const double mean = sum / jobs, error = std::sqrt((squares / jobs - mean * mean) / jobs);
    INFO("seed " << seed << ": mean " << mean << " +- " << error << ", claimed " << claimed << ", optimum " << best.cost);
    CHECK(mean <= claimed + 3 * error);
    CHECK(mean >= best.cost - 3 * error);
  }
}

TEST_CASE("a long way of small tests is seen where everything within sight ends in referring out", "[planning][oracle]") {
  // 32 equal faults, each mended in 62 minutes with its check, five tests of four minutes that halve them, referring 150.
  // Without errors: 5 * 4 + 62 = 82; with no test, or with up to three, going on costs more than 150.
  for (double slip : {0.0, 0.03}) {
    Problem p;
    p.check = 2;
    p.refer = 150;
    p.setup_minutes = {0};
    constexpr int n = 32;
    p.prior.assign(n, 1);
    p.passes.assign(n, 0);
    p.nothing.assign(n, 0);
    for (int bit = 0; bit < 5; ++bit) {
      Problem::Test t;
      t.minutes = 4;
      t.outcomes = 2;
      for (int h = 0; h < n; ++h)
        for (double p1 : {0.0, 1.0}) t.p.push_back(((h >> bit) & 1) == static_cast<int>(p1) ? 1 - slip : slip);
      p.tests.push_back(std::move(t));
    }
    for (int k = 0; k < n; ++k) {
      Problem::Repair r;
      r.minutes = 60;
      for (int h = 0; h < n; ++h) r.after.push_back(h == k ? k_mended : h);
      p.repairs.push_back(std::move(r));
    }
    PlannerOptions options;
    options.exact = false;
    options.nodes = 500;
    const auto d = decide(p, start_of(p), options);
    CHECK(d.no_test_cost == Approx(150));
    CHECK(d.action.kind == ActionKind::test);
    if (slip == 0.0) CHECK(d.cost == Approx(82));
  }
}

TEST_CASE("a problem with wrong sizes is refused with what is wrong", "[planning][fault]") {
  auto p = planner::random_instance({5, 4, 2, false, 0.5}, 1);
  p.tests[2].p[0] += 0.1;
  CHECK_THROWS_WITH(validate(p), Catch::Contains("test 2"));
}
