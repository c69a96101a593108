// Cutting a reading into few groups: what is kept, and what of the information is lost.
#include <cmath>
#include <limits>
#include <numeric>

#include "catch_all.hpp"
#include "planning/advice.hpp"
#include "planning/outcome_groups.hpp"
#include "sources/load.hpp"

using namespace lostspark;
using inference::OutcomeTable;
using planning::merge_outcomes;

namespace {

/// Mutual information of outcome and class.
double bits(const OutcomeTable& t) {
  std::vector<double> outcome(t.outcomes, 0.0);
  for (std::size_t x = 0; x < t.probability.size(); ++x) outcome[x % t.outcomes] += t.probability[x];
  double sum = 0;
  for (std::size_t c = 0; c < t.repairs.size(); ++c) {
    const auto row = t.probability.begin() + static_cast<std::ptrdiff_t>(c * t.outcomes);
    const double mass = std::accumulate(row, row + static_cast<std::ptrdiff_t>(t.outcomes), 0.0);
    for (std::size_t o = 0; o < t.outcomes; ++o)
      if (row[static_cast<std::ptrdiff_t>(o)] > 0)
        sum +=
            row[static_cast<std::ptrdiff_t>(o)] * std::log2(row[static_cast<std::ptrdiff_t>(o)] / (mass * outcome[o]));
  }
  return sum;
}

/// Two classes; outcomes o of ten stand for readings o to o + 1.
OutcomeTable ten(const std::vector<double>& first, const std::vector<double>& second) {
  OutcomeTable t;
  t.repairs = {{0}, {1}};
  t.outcomes = 10;
  for (const auto* row : {&first, &second}) t.probability.insert(t.probability.end(), row->begin(), row->end());
  for (int o = 0; o < 10; ++o) t.ranges.emplace_back(o, o + 1);
  t.ranges.back().second = std::numeric_limits<double>::infinity();
  return t;
}

}  // namespace

TEST_CASE("the border between two groups falls where the classes part", "[planning][unit]") {
  auto t = ten({0.2, 0.2, 0.1, 0, 0, 0, 0, 0, 0, 0}, {0, 0, 0, 0.1, 0.1, 0.1, 0.1, 0.05, 0.05, 0});
  merge_outcomes(t, 2);
  REQUIRE(t.outcomes == 2);
  CHECK(t.ranges[0] == std::pair{0.0, 3.0});
  CHECK(t.ranges[1].first == 3.0);
  CHECK(std::isinf(t.ranges[1].second));
  CHECK(t.probability[0] == Approx(0.5));
  CHECK(t.probability[1] == Approx(0).margin(1e-15));
  CHECK(bits(t) == Approx(1));
}

TEST_CASE("a narrow band that one class alone shows stays a group of its own", "[planning][unit]") {
  auto t = ten({0.05, 0.05, 0.05, 0.05, 0, 0.1, 0.1, 0.05, 0.05, 0}, {0, 0, 0, 0, 0.5, 0, 0, 0, 0, 0});
  const double whole = bits(t);
  merge_outcomes(t, 3);
  REQUIRE(t.outcomes == 3);
  CHECK(t.ranges[1] == std::pair{4.0, 5.0});
  CHECK(bits(t) == Approx(whole));
}

TEST_CASE("words and readings of few outcomes stay as they are", "[planning][unit]") {
  OutcomeTable words;
  words.repairs = {{0}};
  words.outcomes = 3;
  words.probability = {0.2, 0.3, 0.5};
  merge_outcomes(words, 2);
  CHECK(words.outcomes == 3);
  auto t = ten({0.5, 0, 0, 0, 0, 0, 0, 0, 0, 0}, {0, 0.5, 0, 0, 0, 0, 0, 0, 0, 0});
  const auto before = t.probability;
  merge_outcomes(t, 10);
  CHECK(t.probability == before);
}

TEST_CASE("on the trail bike six groups keep nearly all that forty tell, eight as taken from inference do not",
          "[planning][oracle]") {
  const auto folders = sources::default_folders();
  const auto v = sources::load_vehicle(folders, "quillmarsh_trail_125");
  model::Evidence evidence;
  for (std::size_t k = 0; k < v->complaints.size(); ++k)
    if (v->complaints[k].id == "no_spark") evidence.emplace_back(model::Complained{static_cast<model::Index>(k)});
  REQUIRE(evidence.size() == 1);
  const auto posterior = inference::update(inference::compile(v, sources::default_workshop(folders)), evidence);
  std::vector<model::Index> numbers;
  for (std::size_t t = 0; t < v->tests.size(); ++t)
    if (!v->tests[t].is_word()) numbers.push_back(static_cast<model::Index>(t));
  REQUIRE(numbers.size() > 20);
  const auto fine = posterior.outcome_tables(numbers, 40), equal = posterior.outcome_tables(numbers, 8);
  double whole = 0, kept = 0, kept_equal = 0;
  for (std::size_t t = 0; t < fine.size(); ++t) {
    auto merged = fine[t];
    merge_outcomes(merged, 6);
    CHECK(merged.outcomes <= 6);
    CHECK(std::accumulate(merged.probability.begin(), merged.probability.end(), 0.0) == Approx(1));
    CHECK(bits(merged) <= bits(fine[t]) + 1e-12);
    whole += bits(fine[t]);
    kept += bits(merged);
    kept_equal += bits(equal[t]);
  }
  CAPTURE(whole, kept, kept_equal);
  CHECK(kept >= 0.97 * whole);
  CHECK(kept > kept_equal);
}
