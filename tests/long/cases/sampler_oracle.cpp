// The importance sampler itself against integrals that can be done on paper: it must be right before it judges.
#include <cmath>

#include "catch_all.hpp"
#include "sampler.hpp"
#include "support/toy_vehicle.hpp"

using namespace lostspark;
using namespace lostspark::long_checks;

namespace {

double density(double x, double sd) { return std::exp(-0.5 * x * x / (sd * sd)) / (sd * std::sqrt(2 * 3.141592653589793)); }
double cdf(double x) { return 0.5 * std::erfc(-x / std::sqrt(2.0)); }

model::Reading number(Index test, double value) {
  model::Reading out{.test = test};
  out.value.number = value;
  return out;
}
model::Reading word(Index test, std::size_t said) {
  model::Reading out{.test = test};
  out.value.kind = model::ValueKind::word;
  out.value.word = said;
  return out;
}

/// Integral over the log of the source (sd .25) and, for the fault with degrees, over its severity.
template <class F>
double over_source(F f) {
  double sum = 0;
  for (double u = -2.5; u <= 2.5; u += 0.004) sum += density(u, 0.25) * f(std::log(200.0) + u) * 0.004;
  return sum;
}
template <class F>
double over_severity(F f) {
  double sum = 0;
  const double step = 0.005;
  for (double s = -0.25 + step / 2; s < 1.25; s += step) sum += (s > 0 && s < 1 ? 0.95 : 0.05 / 0.5) * f(s) * step;
  return sum;
}

}  // namespace

TEST_CASE("the sampler agrees with numerical integration within four of its standard errors", "[long][oracle]") {
  auto vehicle = toy::make_vehicle(0.25);
  using enum model::ChangeTarget;
  toy::add_mode(*vehicle, "weak", 0.03, {{parameter, 0, model::Operation::scale, 0.4, 0.4}});
  toy::add_mode(*vehicle, "leaking", 0.02, {{parameter, 1, model::Operation::scale, 0.9, 0.1}});
  const Index volts = toy::add_number(*vehicle, "volts", 0, 0.08, 0.03);
  const Index spark = toy::add_word(*vehicle, "spark", 0.03);
  const auto workshop = toy::make_workshop();
  const model::Evidence evidence{number(volts, 95), word(spark, 0), number(volts, 70)};

  const auto likelihood = [&](double y) {
    // Log volts y: three readings, each right or mistaken, at most two mistaken.
    const double wrong_number = 0.5 / std::log(1000.0);
    const double margin = y - std::log(80.0);
    const double right[3] = {0.97 * density(std::log(95.0) - y, 0.08), 0.97 * cdf((-0.10 - margin) / 0.10),
                             0.97 * density(std::log(70.0) - y, 0.08)};
    const double wrong[3] = {0.03 * wrong_number, 0.03 / 3, 0.03 * wrong_number};
    double sum = 0;
    for (int mask = 0; mask < 7; ++mask) {
      double product = 1;
      for (int k = 0; k < 3; ++k) product *= mask >> k & 1 ? wrong[k] : right[k];
      sum += product;
    }
    return sum;
  };
  const auto leak = [](double s) { return std::log(0.9) + s * std::log(0.1 / 0.9); };
  const double healthy = over_source(likelihood);
  const double weak = 0.03 / 0.97 * over_source([&](double y) { return likelihood(y + std::log(0.4)); });
  const double leaking = 0.02 / 0.98 * over_severity([&](double s) {
                           return over_source([&](double y) { return likelihood(y + leak(s)); });
                         });
  const double both = 0.03 / 0.97 * 0.02 / 0.98 * over_severity([&](double s) {
                        return over_source([&](double y) { return likelihood(y + std::log(0.4) + leak(s)); });
                      });
  const double total = healthy + weak + leaking + both;

  JobModel job(vehicle, workshop, evidence);
  SamplerOptions options;
  options.rest = 0;
  const auto sampled = sample_posterior(job, {}, options);
  CHECK(sampled.fault_sets == 4);
  CHECK(sampled.error[0] <= options.standard_error);
  CHECK(std::abs(sampled.component[0] - (weak + both) / total) <= 4 * sampled.error[0] + 1e-4);
  CHECK(std::abs(sampled.component[1] - (leaking + both) / total) <= 4 * sampled.error[1] + 1e-4);
  CHECK(std::abs(sampled.nothing_wrong - healthy / total) <= 4 * (sampled.error[0] + sampled.error[1]) + 1e-4);
}

TEST_CASE("the sampler sums over whether a fault showed itself and over touched contacts", "[long][oracle]") {
  auto vehicle = toy::make_vehicle(0);
  using enum model::ChangeTarget;
  const Index fault = toy::add_mode(*vehicle, "joint", 0.05, {{parameter, 0, model::Operation::scale, 0.3, 0.3}});
  vehicle->components[0].kind = model::ComponentKind::connector;
  vehicle->modes[static_cast<std::size_t>(fault)].visible[0] = 0.6;
  vehicle->modes[static_cast<std::size_t>(fault)].visible[1] = 1.0;
  const Index volts = toy::add_number(*vehicle, "volts", 0, 0.1, 0);
  auto hot = number(volts, 60);
  hot.provocation = model::Provocation::hot;
  const model::Evidence evidence{number(volts, 200), hot, model::Touched{{0}}, number(volts, 195)};
  JobModel job(vehicle, toy::make_workshop(), evidence);
  const auto sampled = sample_posterior(job, {}, {});
  const auto p = [](double shown, double typical) { return density(std::log(shown / typical), 0.1); };
  // Present throughout or cured by the touch; cold readings of one visit share whether it showed.
  const double healthy = p(200, 200) * p(60, 200) * p(195, 200);
  const double hot_shown = p(60, 60);
  const double stays = 0.7 * hot_shown * (0.6 * p(200, 60) * p(195, 60) + 0.4 * p(200, 200) * p(195, 200));
  const double cured = 0.3 * hot_shown * (0.6 * p(200, 60) + 0.4 * p(200, 200)) * p(195, 200);
  const double odds = 0.05 / 0.95, total = healthy + odds * (stays + cured);
  CHECK(sampled.component[0] == Approx(odds * stays / total).epsilon(1e-9));
  CHECK(sampled.nothing_wrong == Approx((healthy + odds * cured) / total).epsilon(1e-9));
}
