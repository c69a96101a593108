// Healthy values: conjugate updates against JAGS and the textbook, narrowing, contradiction, mistaken readings,
// coverage.
#include "learning/healthy.hpp"

#include <cmath>
#include <random>

#include "catch_all.hpp"
#include "jags.hpp"

using namespace lostspark::learning;
namespace jt = lostspark::learning::testing;

namespace {

/// One parameter of sd 0.25, half of its variance doubt about the kind; readings without noise of their own.
HealthyPrior plain_prior(double doubt = 0.5) { return {{doubt}, 1e-5, 3}; }

HealthyReading reading(std::size_t individual, double residual, double noise = 1e-8) {
  HealthyReading r;
  r.individual = individual;
  r.residual = residual;
  r.column = {0.25};
  r.noise_variance = noise;
  r.mistaken = 0;
  return r;
}

double width(const HealthyPrior& prior, const std::vector<HealthyReading>& readings) {
  const auto fit = fit_healthy(prior, readings, 1);
  const std::vector<double> column{0.25};
  const auto band = predict(prior, fit, column, 0, 0.0);
  return band.quantile(0.95) - band.quantile(0.05);
}

}  // namespace

TEST_CASE("the textbook update of four numbers agrees with JAGS", "[learning][oracle]") {
  if (!jt::have_jags()) {
    WARN("skipped: the program jags is not installed (Debian package: jags)");
    SUCCEED();
    return;
  }
  const std::vector<double> y{5.31, 5.12, 5.44, 5.20, 5.29};
  const NormalInverseGamma prior{5.0, 2, 3, 0.4};
  const auto ours = prior.updated(y);
  const auto jags = jt::run_jags(
      "model {\n  tau ~ dgamma(3, 0.4)\n  mu ~ dnorm(5.0, 2 * tau)\n  for (i in 1:5) { y[i] ~ dnorm(mu, tau) }\n"
      "  s2 <- 1 / tau\n  fresh ~ dnorm(mu, tau)\n}\n",
      "y <- c(5.31, 5.12, 5.44, 5.20, 5.29)\n", {"mu", "s2", "fresh"});
  // Four Monte Carlo standard errors.
  CHECK(std::abs(ours.mean - jags.at("mu").mean) < 4 * jags.at("mu").error);
  CHECK(std::abs(ours.scale / (ours.shape - 1) - jags.at("s2").mean) < 4 * jags.at("s2").error);
  // Variance of a Student t: spread^2 df / (df - 2); JAGS' own scatter of an sd is about 1 % here.
  const double sd = ours.spread() * std::sqrt(ours.degrees() / (ours.degrees() - 2));
  CHECK(sd == Approx(jags.at("fresh").sd).epsilon(0.02));
}

TEST_CASE("the regression with one parameter and one test is the textbook update", "[learning][unit]") {
  const std::vector<double> y{0.11, -0.05, 0.2, 0.07};
  const auto prior = plain_prior();
  std::vector<HealthyReading> readings;
  for (std::size_t i = 0; i < y.size(); ++i) readings.push_back(reading(i, y[i]));
  const auto fit = fit_healthy(prior, readings, 1);
  // Between vehicles s2 x 0.5 x 0.0625; the kind's mean doubted by as much: count 1.
  const double unit = 0.25 * std::sqrt(0.5);
  std::vector<double> scaled;
  for (const double v : y) scaled.push_back(v / unit);
  const auto book = NormalInverseGamma{0, 1, 3, 2}.updated(scaled);
  CHECK(fit.shift[0] * 0.25 == Approx(book.mean * unit).epsilon(1e-4));  // the test's own offset has sd 1e-5
  CHECK(fit.shape == Approx(book.shape));
  CHECK(fit.scale == Approx(book.scale).epsilon(1e-4));
  const std::vector<double> column{0.25};
  CHECK(predict(prior, fit, column, 0, 0).spread == Approx(book.spread() * unit).epsilon(1e-4));
}

TEST_CASE("one reading narrows the band a little, ten narrow it a lot", "[learning][property]") {
  const auto prior = plain_prior();
  std::vector<HealthyReading> readings;
  const double none = width(prior, readings);
  readings.push_back(reading(0, 0.02));
  const double one = width(prior, readings);
  for (std::size_t i = 1; i < 10; ++i) readings.push_back(reading(i, i % 2 ? 0.05 : -0.01));
  const double ten = width(prior, readings);
  CHECK(one < none);
  CHECK(one > 0.6 * none);
  CHECK(ten < 0.5 * none);
}

TEST_CASE("ten readings outvote a file that is wrong; one does not", "[learning][property]") {
  const auto prior = plain_prior(0.2);  // stated as service data: holds harder
  const double truth = std::log(120.0 / 220.0);
  std::vector<HealthyReading> readings{reading(0, truth)};
  CHECK(fit_healthy(prior, readings, 1).shift[0] * 0.25 > 0.4 * truth);
  for (std::size_t i = 1; i < 10; ++i) readings.push_back(reading(i, truth + 0.02 * static_cast<double>(i % 3)));
  const auto fit = fit_healthy(prior, readings, 1);
  CHECK(fit.shift[0] * 0.25 < 0.65 * truth);
  const std::vector<double> column{0.25};
  const auto band = predict(prior, fit, column, 0, 0);
  CHECK(band.quantile(0.05) < truth);
  CHECK(band.centre < 0.65 * truth);
}

TEST_CASE("a slipped clip among sound readings loses its weight, a group that agrees keeps it",
          "[learning][property]") {
  const auto prior = plain_prior();
  std::vector<HealthyReading> readings;
  for (std::size_t i = 0; i < 6; ++i) readings.push_back(reading(i, 0.05 * (static_cast<double>(i % 3) - 1), 0.01));
  readings.push_back(reading(6, std::log(0.05), 0.01));
  for (auto& r : readings) r.mistaken = 0.03;
  const auto fit = fit_healthy(prior, readings, 1);
  CHECK(fit.kept.back() < 0.05);
  CHECK(fit.kept.front() > 0.95);
  CHECK(std::abs(fit.shift[0]) < 0.3);
  std::vector<HealthyReading> group;
  for (std::size_t i = 0; i < 6; ++i) {
    group.push_back(reading(i, -0.9 + 0.03 * static_cast<double>(i % 3), 0.01));
    group.back().mistaken = 0.03;
  }
  const auto together = fit_healthy(prior, group, 1);
  for (const double kept : together.kept) CHECK(kept > 0.8);
}

TEST_CASE("readings on one vehicle say less about its kind than readings on several", "[learning][property]") {
  const auto prior = plain_prior();
  std::vector<HealthyReading> same, several;
  for (std::size_t i = 0; i < 5; ++i) {
    same.push_back(reading(0, 0.3, 0.01));
    several.push_back(reading(i, 0.3, 0.01));
  }
  CHECK(fit_healthy(prior, same, 1).shift[0] < 0.75 * fit_healthy(prior, several, 1).shift[0]);
}

TEST_CASE("a parameter no reading speaks about keeps the file's figure and spread", "[learning][property]") {
  HealthyPrior prior{{0.5, 0.5}, 0.05, 3};
  std::vector<HealthyReading> readings;
  for (std::size_t i = 0; i < 10; ++i) {
    auto r = reading(i, 0.3, 0.01);
    r.column = {0.25, 0.0};
    readings.push_back(r);
  }
  const auto fit = fit_healthy(prior, readings, 1);
  CHECK(fit.shift[1] == Approx(0).margin(1e-9));
  CHECK(spread_factor(prior, fit, 1) == Approx(1).epsilon(1e-6));
  CHECK(spread_factor(prior, fit, 0) < 0.9);
}

TEST_CASE("learned 90 % bands hold about 90 % of next vehicles", "[learning][property]") {
  // Kinds and vehicles drawn from the model itself, scatter too: 4,000 kinds, so a share has sd 0.5 %.
  std::mt19937_64 random(20260101);
  std::normal_distribution<double> normal;
  std::gamma_distribution<double> gamma(3, 1);
  const auto prior = plain_prior();
  int held = 0;
  constexpr int kinds = 4000;
  for (int kind = 0; kind < kinds; ++kind) {
    const double s = std::sqrt(2 / gamma(random));
    const double mean = 0.25 * std::sqrt(0.5) * s * normal(random);
    const auto draw = [&] { return mean + s * (0.25 * std::sqrt(0.5) * normal(random) + 0.1 * normal(random)); };
    std::vector<HealthyReading> readings;
    for (std::size_t i = 0; i < 1 + static_cast<std::size_t>(kind % 8); ++i)
      readings.push_back(reading(i, draw(), 0.01));
    const auto fit = fit_healthy(prior, readings, 1);
    const std::vector<double> column{0.25};
    const auto band = predict(prior, fit, column, 0, 0.01);
    const double next = draw();
    held += next > band.quantile(0.05) && next < band.quantile(0.95);
  }
  CHECK(held > 0.88 * kinds);
  CHECK(held < 0.92 * kinds);
}
