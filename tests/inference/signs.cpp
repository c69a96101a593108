#include "inference/signs.hpp"

#include <cmath>

#include "base/error.hpp"
#include "catch_all.hpp"

using namespace lostspark;
using namespace lostspark::inference;

namespace {

// Two classes, one sign that parts them 9 to 1 and one that says nothing; no mistakes.
SignTable table() {
  return {
      {"a", "b"}, {3, 1}, {{"telling", {"x", "y"}, {{9, 1}, {1, 9}}, 0}, {"empty", {"x", "y"}, {{2, 2}, {6, 6}}, 0}}};
}

double entropy(double p) { return -p * std::log2(p) - (1 - p) * std::log2(1 - p); }

}  // namespace

TEST_CASE("the posterior of a class is prior times likelihood, and nothing answered gives the prior",
          "[inference][unit]") {
  const auto t = table();
  CHECK(class_posterior(t, {std::nullopt, std::nullopt})[0] == Approx(0.75));
  // By hand: 0.75 x 0.1 against 0.25 x 0.9.
  CHECK(class_posterior(t, {1, std::nullopt})[0] == Approx(0.075 / (0.075 + 0.225)));
  CHECK(class_posterior(t, {1, 0})[0] == Approx(0.25));
  CHECK_THROWS_AS(class_posterior(t, {1}), InternalError);
}

TEST_CASE("a mistaken answer is as likely as any other, so none excludes a class", "[inference][unit]") {
  auto t = table();
  t.signs[0].weight = {{1, 0}, {0, 1}};
  t.signs[0].mistaken = 0.1;
  CHECK(likelihood(t.signs[0], 0, 0) == Approx(0.95));
  CHECK(likelihood(t.signs[0], 0, 1) == Approx(0.05));
  CHECK(class_posterior(t, {1, std::nullopt})[0] == Approx(0.75 * 0.05 / (0.75 * 0.05 + 0.25 * 0.95)));
}

TEST_CASE("what a sign is expected to tell is the mutual information of answer and class", "[inference][unit]") {
  auto t = table();
  const SignAnswers none{std::nullopt, std::nullopt};
  // H(class) - E H(class | answer), by hand.
  const double x = 0.75 * 0.9 + 0.25 * 0.1;
  const double after = x * entropy(0.75 * 0.9 / x) + (1 - x) * entropy(0.75 * 0.1 / (1 - x));
  CHECK(sign_gain_bits(t, none, 0) == Approx(entropy(0.75) - after));
  CHECK(std::abs(sign_gain_bits(t, none, 1)) < 1e-12);  // rounding of two logarithms
  CHECK(sign_gain_bits(t, {0, std::nullopt}, 0) == 0);
  t.signs[0].weight = {{1, 0}, {0, 1}};
  CHECK(sign_gain_bits(t, none, 0) == Approx(entropy(0.75)));
}
