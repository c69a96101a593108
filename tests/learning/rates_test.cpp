// Rates with exposure: the pump-failure data (10 pumps; Gaver and O'Muircheartaigh 1987) as in the BUGS examples volume
// 1, "Pumps": Gamma rates, shape ~ exponential(1), inverse scale ~ gamma(0.1, 1).
#include "learning/rates.hpp"

#include <cmath>

#include "catch_all.hpp"
#include "jags.hpp"

using namespace lostspark::learning;
namespace jt = lostspark::learning::testing;

namespace {

const std::vector<double> k_failures{5, 1, 5, 14, 3, 19, 1, 1, 4, 22};
const std::vector<double> k_hours{94.3, 15.7, 62.9, 126, 5.24, 31.4, 1.05, 1.05, 2.1, 10.5};  // thousand hours

}  // namespace

TEST_CASE("rates of the ten pumps are those of the BUGS examples", "[learning][oracle]") {
  const auto pooled = pool_rates(k_failures, k_hours);
  // Posterior means printed with the example (from memory, so compared to 3 %; JAGS below is the sharp judge).
  const std::vector<double> printed{0.0598, 0.1015, 0.0893, 0.116, 0.602, 0.609, 0.894, 0.894, 1.58, 1.99};
  REQUIRE(pooled.rates.size() == printed.size());
  for (std::size_t i = 0; i < printed.size(); ++i) {
    CAPTURE(i);
    CHECK(pooled.rates[i].mean == Approx(printed[i]).epsilon(0.03));
    CHECK(pooled.rates[i].low < pooled.rates[i].mean);
    CHECK(pooled.rates[i].high > pooled.rates[i].mean);
  }
  CHECK(pooled.shape == Approx(0.70).epsilon(0.03));
  CHECK(pooled.exposure == Approx(0.93).epsilon(0.04));
}

TEST_CASE("rates of the ten pumps agree with JAGS", "[learning][oracle]") {
  if (!jt::have_jags()) {
    WARN("skipped: the program jags is not installed (Debian package: jags)");
    SUCCEED();
    return;
  }
  const auto jags = jt::run_jags(
      "model {\n  for (i in 1:10) {\n    theta[i] ~ dgamma(alpha, beta)\n    x[i] ~ dpois(theta[i] * t[i])\n  }\n"
      "  alpha ~ dexp(1)\n  beta ~ dgamma(0.1, 1.0)\n}\n",
      "x <- c(5, 1, 5, 14, 3, 19, 1, 1, 4, 22)\nt <- c(94.3, 15.7, 62.9, 126, 5.24, 31.4, 1.05, 1.05, 2.1, 10.5)\n",
      {"theta", "alpha", "beta"});
  const auto ours = pool_rates(k_failures, k_hours);
  for (std::size_t i = 0; i < k_failures.size(); ++i) {
    const auto& s = jags.at("theta[" + std::to_string(i + 1) + "]");
    CAPTURE(i, ours.rates[i].mean, s.mean, s.error);
    CHECK(std::abs(ours.rates[i].mean - s.mean) < 4 * s.error + 1e-4 * s.mean);
  }
  CHECK(std::abs(ours.shape - jags.at("alpha").mean) < 4 * jags.at("alpha").error + 1e-3);
  CHECK(std::abs(ours.exposure - jags.at("beta").mean) < 4 * jags.at("beta").error + 1e-3);
}

TEST_CASE("a Gamma prior of shape 2 and a million hours, three failures in half a million", "[learning][unit]") {
  CHECK(GammaRate{2, 1e6}.updated(3, 5e5).mean() == Approx(5 / 1.5e6));  // the textbook update, exactly
}
