// Minutes taken: the textbook update, JAGS on steps of several items, shrinkage, intervals of simulated shops.
#include "learning/minutes.hpp"

#include <cmath>
#include <random>

#include "catch_all.hpp"
#include "jags.hpp"
#include "learning/healthy.hpp"

using namespace lostspark::learning;
namespace jt = lostspark::learning::testing;

namespace {

MinuteSteps steps_of(std::vector<std::pair<std::size_t, double>> items, const std::vector<double>& minutes) {
  MinuteSteps out{std::move(items), 0, 0, 0};
  for (const double m : minutes) out.add(m);
  return out;
}

}  // namespace

TEST_CASE("steps of one item and no common speed are the textbook update", "[learning][unit]") {
  const std::vector<double> minutes{9, 7.5, 12, 8};
  const MinutePrior prior{1e-7, 0.4, 0.35, 3};
  const std::vector<MinuteSteps> groups{steps_of({{0, 5.0}}, minutes)};
  const auto fit = fit_minutes(prior, groups, 1);
  // In units of the scatter of one step the item's doubt counts (0.35 / 0.4)^2 steps.
  std::vector<double> scaled;
  for (const double m : minutes) scaled.push_back(std::log(m / 5) / 0.35);
  const auto book = NormalInverseGamma{0, 0.35 * 0.35 / (0.4 * 0.4), 3, 2}.updated(scaled);
  CHECK(fit.item[0] == Approx(book.mean * 0.35).epsilon(1e-6));
  CHECK(fit.shape == Approx(book.shape));
  CHECK(fit.scale == Approx(book.scale).epsilon(1e-6));
  CHECK(fit.steps[0] == 4);
}

TEST_CASE("steps of several items agree with JAGS, which takes no tangent", "[learning][oracle]") {
  if (!jt::have_jags()) {
    WARN("skipped: the program jags is not installed (Debian package: jags)");
    SUCCEED();
    return;
  }
  // A cover of 4 minutes and a reading of 3, together and the reading alone; a repair of 20 with the cover.
  const std::vector<double> both{12, 15, 11, 9.5}, alone{3.2, 4.1, 2.8, 3.6, 3.0}, repair{30, 26};
  const std::vector<MinuteSteps> groups{steps_of({{0, 4.0}, {1, 3.0}}, both), steps_of({{1, 3.0}}, alone),
                                        steps_of({{0, 4.0}, {2, 20.0}}, repair)};
  const auto fit = fit_minutes({}, groups, 3);
  const auto jags = jt::run_jags(
      "model {\n  tau ~ dgamma(3, 2)\n  g ~ dnorm(0, tau / 0.09)\n  for (j in 1:3) { d[j] ~ dnorm(0, tau / 0.16) }\n"
      "  for (i in 1:4) { y[i] ~ dnorm(log(4 * exp(g + d[1]) + 3 * exp(g + d[2])), tau / 0.1225) }\n"
      "  for (i in 5:9) { y[i] ~ dnorm(log(3 * exp(g + d[2])), tau / 0.1225) }\n"
      "  for (i in 10:11) { y[i] ~ dnorm(log(4 * exp(g + d[1]) + 20 * exp(g + d[3])), tau / 0.1225) }\n"
      "  for (j in 1:3) { f[j] <- g + d[j] }\n}\n",
      "y <- c(2.4849066, 2.7080502, 2.3978953, 2.2512918, 1.1631508, 1.4109870, 1.0296194, 1.2809338, 1.0986123, "
      "3.4011974, 3.2580965)\n",
      {"f[1]", "f[2]", "f[3]"}, 200000);
  for (std::size_t j = 0; j < 3; ++j) {
    const auto& s = jags.at("f[" + std::to_string(j + 1) + "]");
    const auto factor = fit.factor(j);
    CAPTURE(j, factor.median, s.mean, s.sd, s.error);
    // The tangent at the mode leaves out the skew of a sum of exponentials: below a fifth of the posterior's spread.
    CHECK(std::abs(std::log(factor.median) - s.mean) < 0.2 * s.sd + 4 * s.error);
    CHECK(std::log(factor.high / factor.low) / 3.29 == Approx(s.sd).epsilon(0.15));
  }
}

TEST_CASE("one step moves an item about half the way, ten nearly all of it; what was never met follows the shop",
          "[learning][property]") {
  const auto after = [](int n) {
    const std::vector<MinuteSteps> groups{steps_of({{0, 5.0}}, std::vector<double>(static_cast<std::size_t>(n), 10.0))};
    return fit_minutes({}, groups, 2);
  };
  const auto way = [](const MinuteFit& fit) { return std::log(fit.factor(0).median) / std::log(2.0); };
  CHECK(way(after(1)) > 0.4);
  CHECK(way(after(1)) < 0.75);
  CHECK(way(after(10)) > 0.9);
  const auto none = after(0), ten = after(10);
  CHECK(none.factor(0).median == 1);
  CHECK(ten.factor(1).median > 1.05);  // fitted but never met, and not fitted at all: the same
  CHECK(ten.factor(1).median == Approx(ten.factor(7).median));
  CHECK(ten.factor(1).median < ten.factor(0).median);
  CHECK(ten.factor(0).high / ten.factor(0).low < none.factor(0).high / none.factor(0).low);
  CHECK(ten.factor(1).high / ten.factor(1).low > ten.factor(0).high / ten.factor(0).low);
}

TEST_CASE("90 % intervals of minutes hold 87 to 93 % of simulated items", "[learning][property]") {
  // 400 shops drawn from the prior, five items, forty steps of one to three of them.
  std::mt19937_64 random(20260104);
  std::normal_distribution<double> normal;
  int held = 0, asked = 0;
  for (int shop = 0; shop < 400; ++shop) {
    const double s = std::sqrt(2 / std::gamma_distribution<double>(3, 1)(random));
    const double common = 0.3 * s * normal(random);
    std::vector<double> truth, file{2, 4, 3, 12, 25};
    for (std::size_t i = 0; i < file.size(); ++i) truth.push_back(common + 0.4 * s * normal(random));
    std::vector<MinuteSteps> groups;
    for (int step = 0; step < 40; ++step) {
      std::vector<std::pair<std::size_t, double>> items;
      double sum = 0;
      for (std::size_t i = 0; i < file.size(); ++i)
        if (random() % 3 == 0 || (i + 1 == file.size() && items.empty())) {
          items.emplace_back(i, file[i]);
          sum += file[i] * std::exp(truth[i]);
        }
      groups.push_back(steps_of(std::move(items), {sum * std::exp(0.35 * s * normal(random))}));
    }
    const auto fit = fit_minutes({}, groups, file.size());
    for (std::size_t i = 0; i < file.size(); ++i) {
      const auto f = fit.factor(i);
      ++asked;
      held += std::exp(truth[i]) >= f.low && std::exp(truth[i]) <= f.high;
    }
  }
  CAPTURE(held, asked);
  CHECK(held > 0.87 * asked);
  CHECK(held < 0.93 * asked);
}
