// Number and word readings with a shared unknown against numerical integration over that unknown.
#include <cmath>
#include <random>

#include "catch_all.hpp"
#include "inference/posterior.hpp"
#include "support/toy_vehicle.hpp"

using namespace lostspark;
using model::Index;

namespace {

double density(double x, double sd) { return std::exp(-0.5 * x * x / (sd * sd)) / (sd * std::sqrt(2 * 3.141592653589793)); }
double cdf(double x) { return 0.5 * std::erfc(-x / std::sqrt(2.0)); }

/// weak: strength x 0.4, without degrees; the source varies by 0.25, readings by 0.08.
struct Workbench {
  std::shared_ptr<model::Vehicle> vehicle = toy::make_vehicle(0.25);
  Index weak, number, word;
  inference::CompiledPtr compiled;
  explicit Workbench(double mistaken) {
    weak = toy::add_mode(*vehicle, "weak", 0.1, {{model::ChangeTarget::parameter, 0, model::Operation::scale, 0.4, 0.4}});
    number = toy::add_number(*vehicle, "number", 0, 0.08, mistaken);
    word = toy::add_word(*vehicle, "word", mistaken);
    inference::Options options;
    options.pairs = false;
    compiled = inference::compile(vehicle, toy::make_workshop(), options);
  }
};

/// Integral over the log of the source (mean shift, sd .25) of the product of likelihoods f(log value).
template <class F>
double integrate(double shift, F f) {
  double sum = 0;
  const double step = 0.001;
  for (double u = -3; u <= 3; u += step) sum += density(u, 0.25) * f(std::log(200.0) + shift + u) * step;
  return sum;
}

model::Reading number_reading(Index test, double value) {
  model::Reading r{.test = test};
  r.value.number = value;
  return r;
}
model::Reading word_reading(Index test, std::size_t word) {
  model::Reading r{.test = test};
  r.value.kind = model::ValueKind::word;
  r.value.word = word;
  return r;
}

}  // namespace

TEST_CASE("four low readings share the weak source: their ratio is that of the joint integral", "[inference][oracle]") {
  // Independent readings would give the product of four ratios; source spread .25 and own error .08 give far less.
  Workbench bench(0);
  model::Evidence evidence;
  for (int k = 0; k < 4; ++k) evidence.push_back(number_reading(bench.number, 120));
  const auto posterior = inference::update(bench.compiled, evidence);
  const auto joint = [&](double shift) {
    return integrate(shift, [](double y) { return std::pow(density(std::log(120.0) - y, 0.08), 4); });
  };
  const double odds = 0.1 / 0.9 * joint(std::log(0.4)) / joint(0);
  CHECK(posterior.component_probability()[0] == Approx(odds / (1 + odds)).epsilon(1e-6));
  const auto alone = [&](double shift) {
    return integrate(shift, [](double y) { return density(std::log(120.0) - y, 0.08); });
  };
  const double independent = std::pow(alone(std::log(0.4)) / alone(0), 4);
  CHECK(joint(std::log(0.4)) / joint(0) < 0.5 * independent);
}

TEST_CASE("words on one margin, repeated, equal the integral over that margin", "[inference][oracle]") {
  Workbench bench(0);
  const auto smeared = [](double y, double low, double high) {
    const double margin = y - std::log(80.0);
    return cdf((high - margin) / 0.10) - cdf((low - margin) / 0.10);
  };
  for (const auto& words : std::vector<std::vector<std::size_t>>{{0}, {2}, {0, 0}, {0, 1}, {2, 1, 1}}) {
    model::Evidence evidence;
    for (auto w : words) evidence.push_back(word_reading(bench.word, w));
    const auto posterior = inference::update(bench.compiled, evidence);
    const auto likelihood = [&](double shift) {
      return integrate(shift, [&](double y) {
        double p = 1;
        for (auto w : words) p *= smeared(y, w == 0 ? -99 : w == 1 ? -0.1 : 0.1, w == 0 ? -0.1 : w == 1 ? 0.1 : 99);
        return p;
      });
    };
    const double odds = 0.1 / 0.9 * likelihood(std::log(0.4)) / likelihood(0);
    CHECK(posterior.component_probability()[0] == Approx(odds / (1 + odds)).margin(2e-4));
  }
}

TEST_CASE("a number and a word on the same source equal the integral, mistakes included", "[inference][oracle]") {
  const double mistaken = 0.03;
  Workbench bench(mistaken);
  const model::Evidence evidence{number_reading(bench.number, 150), word_reading(bench.word, 0)};
  const auto posterior = inference::update(bench.compiled, evidence);
  const double false_number = mistaken * 0.5 / std::log(1000.0), false_word = mistaken / 3;
  const auto likelihood = [&](double shift) {
    return integrate(shift, [&](double y) {
      const double number = (1 - mistaken) * density(std::log(150.0) - y, 0.08) + false_number;
      const double none = cdf((-0.1 - (y - std::log(80.0))) / 0.10);
      return number * ((1 - mistaken) * none + false_word);
    });
  };
  const double odds = 0.1 / 0.9 * likelihood(std::log(0.4)) / likelihood(0);
  CHECK(posterior.component_probability()[0] == Approx(odds / (1 + odds)).margin(1e-3));
  // Here the two contradict each other: the posterior says that one of them is mistaken.
  CHECK(posterior.mistaken(0) + posterior.mistaken(1) > 0.5);
}

TEST_CASE("gain of a number equals the integral to a thousandth of a bit", "[inference][oracle]") {
  Workbench bench(0);
  const auto posterior = inference::update(bench.compiled, {});
  const std::vector<Index> tests{bench.number};
  const double gain = posterior.gains(tests)[0].gain_bits;
  // Without reading yet the log value is normal with sd sqrt(.25^2 + .08^2) around either mean.
  const double sd = std::hypot(0.25, 0.08), p1 = 0.1, p0 = 0.9;
  double information = 0;
  for (double y = -5; y < 5; y += 0.0005) {
    const double f0 = density(y, sd), f1 = density(y - std::log(0.4), sd), f = p0 * f0 + p1 * f1;
    if (f0 > 0) information += 0.0005 * p0 * f0 * std::log2(f0 / f);
    if (f1 > 0) information += 0.0005 * p1 * f1 * std::log2(f1 / f);
  }
  CHECK(gain == Approx(information).margin(1e-3));
}

TEST_CASE("the order of readings changes no probability", "[inference][property]") {
  Workbench bench(0.03);
  model::Evidence evidence{number_reading(bench.number, 110), word_reading(bench.word, 2),
                           number_reading(bench.number, 95), word_reading(bench.word, 1)};
  evidence[2] = [&] { auto r = number_reading(bench.number, 0); r.value.kind = model::ValueKind::below_floor; return r; }();
  const auto reference = inference::update(bench.compiled, evidence).component_probability()[0];
  std::mt19937 random(7);
  for (int k = 0; k < 24; ++k) {
    std::shuffle(evidence.begin(), evidence.end(), random);
    CHECK(std::abs(inference::update(bench.compiled, evidence).component_probability()[0] - reference) < 1e-6);
  }
}
