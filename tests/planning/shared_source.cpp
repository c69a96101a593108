// Four points that share one weak source: what measuring them is worth, against nested simulation.
//
// Logs of readings: y = u + e, e ~ N(0, own) fresh for each point, u ~ N(shift of the fault, spread) the same for all
// four.
#include <algorithm>
#include <array>
#include <cmath>
#include <numeric>
#include <random>
#include <tuple>

#include "catch_all.hpp"
#include "planner/score.hpp"
#include "planning/job_problem.hpp"
#include "planning/planner.hpp"
#include "support/toy_vehicle.hpp"

using namespace lostspark;
using namespace lostspark::planning;

namespace {

constexpr int k_points = 4;

struct Source {
  double spread = 0.25, own = 0.1;
  std::array<double, 3> weight{0.4, 0.35, 0.25};  // source weak; coil bad; lead bad
  std::array<double, 3> shift{std::log(0.7), 0, std::log(0.95)};
  std::array<double, 3> minutes{55, 40, 25};  // of the repair, check included
  double refer = 600;
};

double cdf(double x) { return 0.5 * std::erfc(-x / std::sqrt(2.0)); }

/// Borders that cut N-mixture values between low and high into `count` parts of equal probability.
std::vector<double> borders(const Source& s, double sd, int count) {
  std::vector<double> out;
  for (int k = 1; k < count; ++k) {
    double low = -5, high = 5;
    for (int i = 0; i < 60; ++i) {
      const double x = (low + high) / 2;
      double below = 0;
      for (int h = 0; h < 3; ++h) below += s.weight[h] * cdf((x - s.shift[h]) / sd);
      (below < static_cast<double>(k) / count ? low : high) = x;
    }
    out.push_back(low);
  }
  return out;
}

/// The decision problem with every fault set split by `levels` ranges of u, the same ranges for all faults, and
/// readings cut into `groups`. levels 1: results taken as independent given the fault.
Problem split(const Source& s, int levels, int groups, double test_minutes) {
  Problem p;
  p.setup_minutes = {0};
  p.refer = s.refer;
  const auto level = borders(s, s.spread, levels), group = borders(s, std::hypot(s.spread, s.own), groups);
  Problem::Test test;
  test.minutes = test_minutes;
  test.outcomes = groups;
  for (int h = 0; h < 3; ++h)
    for (int k = 0; k < levels; ++k) {
      // Integral over u inside the level, midpoints: 400 of them over 12 sd, so that nothing rests on the step.
      std::vector<double> row(groups, 0.0);
      double weight = 0;
      for (int i = 0; i < 400; ++i) {
        const double z = (i + 0.5) * 12 / 400 - 6, u = s.shift[h] + s.spread * z;
        if (std::upper_bound(level.begin(), level.end(), u) - level.begin() != k) continue;
        const double w = std::exp(-z * z / 2);
        weight += w;
        double below = 0;
        for (int g = 0; g < groups; ++g) {
          const double now = g + 1 == groups ? 1 : cdf((group[g] - u) / s.own);
          row[g] += w * (now - below);
          below = now;
        }
      }
      p.prior.push_back(s.weight[h] * weight);
      const double sum = std::accumulate(row.begin(), row.end(), 0.0);
      for (double x : row) test.p.push_back(sum > 0 ? x / sum : 1.0 / groups);
    }
  p.passes.assign(p.prior.size(), 0);
  p.nothing.assign(p.prior.size(), 0);
  p.tests.assign(k_points, test);
  for (int r = 0; r < 3; ++r) {
    Problem::Repair repair;
    repair.minutes = s.minutes[r];
    for (int x = 0; x < 3 * levels; ++x) repair.after.push_back(x / levels == r ? k_mended : x);
    p.repairs.push_back(repair);
  }
  validate(p);
  return p;
}

/// Cost of the cheapest order of repairs, given what each fault weighs: all six orders.
double cheapest_order(const Source& s, const std::array<double, 3>& b) {
  std::array<int, 3> order{0, 1, 2};
  double best = 1e9;
  do {
    const auto [x, y, z] = order;
    best = std::min(best, s.minutes[x] + (b[y] + b[z]) * s.minutes[y] + b[z] * s.minutes[z]);
  } while (std::next_permutation(order.begin(), order.end()));
  return best;
}

struct Estimate {
  double value = 0, error = 0;
};

/// Nested simulation of measuring all four and then repairing: outer draws of fault, u and readings; for each, inner
/// draws of u weigh the faults. Savings per draw against the repairs without a test, in the same world.
Estimate nested(const Source& s, int outer, int inner) {
  std::mt19937_64 dice(7);
  std::normal_distribution<double> normal;
  // Inner draws: one from each of `inner` slices of equal probability, so that few of them do.
  std::vector<double> z(inner);
  for (int i = 0; i < inner; ++i) {
    const double p = (i + static_cast<double>(dice() >> 11) * 0x1p-53) / inner;
    double low = -9, high = 9;
    for (int step = 0; step < 60; ++step) (cdf((low + high) / 2) < p ? low : high) = (low + high) / 2;
    z[i] = low;
  }
  double sum = 0, squares = 0;
  const double before = cheapest_order(s, s.weight);
  for (int o = 0; o < outer; ++o) {
    const double pick = static_cast<double>(dice() >> 11) * 0x1p-53;
    const int fault = pick < s.weight[0] ? 0 : pick < s.weight[0] + s.weight[1] ? 1 : 2;
    const double u = s.shift[fault] + s.spread * normal(dice);
    std::array<double, k_points> y;
    for (double& reading : y) reading = u + s.own * normal(dice);
    std::array<double, 3> b{};
    for (int h = 0; h < 3; ++h)
      for (double inner_z : z) {
        double square = 0;
        for (double reading : y) square += std::pow(reading - s.shift[h] - s.spread * inner_z, 2);
        b[h] += s.weight[h] * std::exp(-square / (2 * s.own * s.own));
      }
    const double mass = b[0] + b[1] + b[2];
    for (double& x : b) x /= mass;
    const double saved = before - cheapest_order(s, b);
    sum += saved;
    squares += saved * saved;
  }
  const double mean = sum / outer;
  return {mean, std::sqrt((squares / outer - mean * mean) / outer)};
}

/// What the planner says four free tests are worth.
double planned(const Source& s, int levels, int groups) {
  const auto p = split(s, levels, groups, 0);
  const auto d = decide(p, start_of(p));
  REQUIRE(d.exact);
  return d.no_test_cost - d.cost;
}

/// The policy that asks for the belief anew after each reading and looks ahead as if results were independent given the
/// fault: fault sets merged over the levels, tables as the present belief mixes them.
Action merged_advice(const Problem& p, const JobState& s, int levels) {
  Problem merged = p;
  JobState state = s;
  merged.prior.assign(3, 0);
  for (std::size_t x = 0; x < p.prior.size(); ++x) merged.prior[x / levels] += s.belief[x];
  state.belief = merged.prior;
  merged.passes.assign(3, 0);
  merged.nothing.assign(3, 0);
  for (auto& t : merged.tests) {
    const auto whole = t.p;
    t.p.assign(3 * t.outcomes, 0.0);
    for (std::size_t x = 0; x < p.prior.size(); ++x)
      for (int o = 0; o < t.outcomes; ++o) t.p[x / levels * t.outcomes + o] += s.belief[x] * whole[x * t.outcomes + o];
    for (int h = 0; h < 3; ++h)
      for (int o = 0; o < t.outcomes; ++o) {
        double& x = t.p[h * t.outcomes + o];
        x = merged.prior[h] > 0 ? x / merged.prior[h] : 1.0 / t.outcomes;
      }
  }
  for (int r = 0; r < 3; ++r) {
    merged.repairs[r].after = {0, 1, 2};
    merged.repairs[r].after[r] = k_mended;
  }
  return decide(merged, state).action;
}

/// A test that has nothing to do with the source: the coil, right 85 times in 100.
void add_apart(Problem& p, int levels, double minutes) {
  Problem::Test t;
  t.minutes = minutes;
  t.outcomes = 2;
  for (std::size_t x = 0; x < p.prior.size(); ++x)
    for (double seen : {0.85, 0.15}) t.p.push_back(static_cast<int>(x) / levels == 1 ? seen : 1 - seen);
  p.tests.push_back(std::move(t));
}

}  // namespace

TEST_CASE("split by levels of the shared source, four points are worth what nested simulation says",
          "[planning][oracle]") {
  // Bar: within 2 percent. How many levels it takes rests on spread over own error; printed with -s.
  for (const auto& [spread, own, enough] : {std::tuple{0.25, 0.1, 6}, {0.25, 0.2, 6}, {0.4, 0.1, 8}, {0.15, 0.15, 6}}) {
    Source s;
    s.spread = spread;
    s.own = own;
    const auto truth = nested(s, 60000, 500);
    CAPTURE(spread, own, truth.value, truth.error);
    REQUIRE(truth.error < 0.006 * truth.value);
    for (int levels : {1, 2, 3, 4, 6, 8, 12}) {
      const double ratio = planned(s, levels, 6) / truth.value;
      CAPTURE(levels);
      if (levels >= enough) CHECK(ratio == Approx(1).margin(0.02));
      // Independent given the fault, four readings of one source seem worth far more than they are.
      if (levels == 1) CHECK(ratio > 1.15);
      if (levels > 1 && levels < enough) CHECK(ratio < 1.5);
    }
  }
}

/// The model above as a vehicle: its posterior before any reading, and the four points.
std::pair<inference::Posterior, std::vector<model::Index>> as_vehicle(const Source& s) {
  auto vehicle = toy::make_vehicle(s.spread);
  auto workshop = toy::make_workshop();
  workshop.check_min = 0;
  workshop.refer_min = s.refer;
  const std::array<const char*, 3> name{"source", "coil", "lead"};
  for (int h = 0; h < 3; ++h) {
    std::vector<model::Change> changes;
    const double scale = std::exp(s.shift[h]);
    if (scale < 1) changes.push_back({model::ChangeTarget::parameter, 0, model::Operation::scale, scale, scale});
    const auto mode = toy::add_mode(*vehicle, name[h], s.weight[h] / (1 + s.weight[h]), std::move(changes));
    auto& repair = vehicle->repairs[vehicle->modes[mode].repair];
    repair.labour_min = s.minutes[h];
    repair.price = 0;
  }
  std::vector<model::Index> points;
  for (const char* id : {"one", "two", "three", "four"}) points.push_back(toy::add_number(*vehicle, id, 0, s.own, 0));
  vehicle->complaints = {{.id = "broken", .title = "broken", .by_group = {{"CON", 1e6}}}};
  inference::Options options;
  options.pairs = false;
  return {inference::update(inference::compile(vehicle, workshop, options), {model::Complained{0}}), points};
}

TEST_CASE("the look ahead from a posterior carries what four points on one source share", "[planning][oracle]") {
  // Bar: within 2 percent of nested simulation. Without levels they seem worth far more than they are.
  for (const auto& [spread, own] : {std::pair{0.25, 0.1}, {0.25, 0.2}, {0.15, 0.15}}) {
    Source s;
    s.spread = spread;
    s.own = own;
    const auto [posterior, points] = as_vehicle(s);
    const auto truth = nested(s, 60000, 500);
    CAPTURE(spread, own, truth.value, truth.error);
    for (const std::size_t levels : {std::size_t{1}, k_levels}) {
      auto job = job_problem(posterior, {}, points, k_outcome_groups, levels);
      for (auto& t : job.problem.tests) t.minutes = 0;
      const auto d = decide(job.problem, job.state);
      REQUIRE(d.exact);
      CHECK(d.no_test_cost == Approx(cheapest_order(s, s.weight)).epsilon(0.01));
      const double ratio = (d.no_test_cost - d.cost) / truth.value;
      CAPTURE(levels, ratio);
      if (levels > 1) {
        CHECK(ratio == Approx(1).margin(0.02));
        continue;
      }
      CHECK(ratio > (spread == 0.15 ? 1.15 : 1.5));
      CHECK(ratio == Approx(planned(s, 1, 6) / truth.value).epsilon(0.05));
    }
  }
}

TEST_CASE("asking anew after each reading makes up for what the look-ahead forgets", "[planning][property]") {
  const int levels = 8;
  double worst = 1;
  for (double own : {0.05, 0.1, 0.2}) {
    if (k_sanitized && own != 0.1) continue;
    for (double minutes : {0.5, 2.0, 4.0})
      for (double apart : {3.0, 6.0}) {
        Source s;
        s.own = own;
        auto p = split(s, levels, 6, minutes);
        add_apart(p, levels, apart);
        const auto best = decide(p, start_of(p));
        REQUIRE(best.exact);
        const double cost =
            planner::exact_cost(p, [&](const Problem& q, const JobState& at) { return merged_advice(q, at, levels); });
        auto independent = split(s, 1, 6, minutes);
        add_apart(independent, 1, apart);
        const double claimed = decide(independent, start_of(independent)).cost;
        CAPTURE(own, minutes, apart, best.cost, cost, claimed);
        CHECK(cost >= best.cost * (1 - 1e-7));
        CHECK(claimed < cost);
        worst = std::max(worst, cost / best.cost);
      }
  }
  CHECK(worst <= 1.01);
}
