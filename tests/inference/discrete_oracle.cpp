// Small discrete networks against full enumeration of fault sets and outcomes.
#include <cmath>
#include <map>
#include <random>

#include "catch_all.hpp"
#include "inference/posterior.hpp"
#include "support/toy_vehicle.hpp"

using namespace lostspark;
using model::Index;

namespace {

struct Net {
  std::shared_ptr<model::Vehicle> vehicle;
  std::vector<Index> tests;
};

Net random_net(std::mt19937& random, int modes, int tests) {
  std::uniform_real_distribution<double> unit(0, 1);
  Net net;
  net.vehicle = toy::make_vehicle();
  for (int m = 0; m < modes; ++m) toy::add_mode(*net.vehicle, "part_" + std::to_string(m), 0.005 + 0.05 * unit(random));
  for (int t = 0; t < tests; ++t) {
    std::vector<std::pair<Index, double>> rows;
    for (int m = 0; m < modes; ++m)
      if (unit(random) < 0.5) rows.emplace_back(m, unit(random));
    net.tests.push_back(toy::add_finding(*net.vehicle, "look_" + std::to_string(t), rows, 0.05 * unit(random), 0.03));
  }
  return net;
}

/// p(word | set) straight from the definition: nobody notices anything, or somebody does; mistakes replace the word.
double word_given(const model::Test& test, std::size_t word, const std::vector<Index>& set) {
  double nothing = 1 - test.false_alarm;
  for (Index mode : set)
    for (const auto& row : test.findings)
      if (row.mode == mode) nothing *= 1 - row.probability;
  const double good = word == 0 ? nothing : 1 - nothing;
  return (1 - test.mistaken) * good + test.mistaken * 0.5;
}

struct Enumeration {
  std::vector<std::vector<Index>> sets;
  std::vector<double> weight;
};

Enumeration enumerate(const model::Vehicle& v, const std::vector<std::pair<Index, std::size_t>>& readings) {
  Enumeration out;
  const auto n = static_cast<Index>(v.modes.size());
  std::vector<std::vector<Index>> sets{{}};
  for (Index a = 0; a < n; ++a) {
    sets.push_back({a});
    for (Index b = a + 1; b < n; ++b) sets.push_back({a, b});
  }
  double total = 0;
  for (const auto& set : sets) {
    double w = 1;
    for (Index m : set) w *= v.modes[m].prior / (1 - v.modes[m].prior);
    for (auto [test, word] : readings) w *= word_given(v.tests[test], word, set);
    out.sets.push_back(set);
    out.weight.push_back(w);
    total += w;
  }
  for (double& w : out.weight) w /= total;
  return out;
}

}  // namespace

TEST_CASE("posteriors of random discrete networks equal full enumeration", "[inference][oracle]") {
  std::mt19937 random(20261125);
  for (int trial = 0; trial < 40; ++trial) {
    const auto net = random_net(random, 3 + trial % 4, 5);
    const auto compiled = inference::compile(net.vehicle, toy::make_workshop());
    model::Evidence evidence;
    std::vector<std::pair<Index, std::size_t>> readings;
    for (Index test : net.tests)
      if (random() % 2) {
        model::Reading reading{.test = test};
        reading.value.kind = model::ValueKind::word;
        reading.value.word = random() % 2;
        readings.emplace_back(test, reading.value.word);
        evidence.push_back(reading);
      }
    const auto posterior = inference::update(compiled, evidence);
    const auto truth = enumerate(*net.vehicle, readings);
    std::vector<double> component(net.vehicle->components.size(), 0.0);
    double nothing = 0;
    for (std::size_t k = 0; k < truth.sets.size(); ++k) {
      if (truth.sets[k].empty()) nothing = truth.weight[k];
      for (Index m : truth.sets[k]) component[net.vehicle->modes[m].component] += truth.weight[k];
    }
    INFO("trial " << trial);
    CHECK(std::abs(posterior.nothing_wrong() - nothing) < 1e-9);
    for (std::size_t c = 0; c < component.size(); ++c)
      CHECK(std::abs(posterior.component_probability()[c] - component[c]) < 1e-9);

    const auto gains = posterior.gains(net.tests);
    for (const auto& gain : gains) {
      // I(word; set of components at fault), all from the enumeration.
      std::map<std::vector<Index>, std::array<double, 2>> joint;
      std::array<double, 2> by_word{};
      for (std::size_t k = 0; k < truth.sets.size(); ++k)
        for (std::size_t w = 0; w < 2; ++w) {
          const double p = truth.weight[k] * word_given(net.vehicle->tests[gain.test], w, truth.sets[k]);
          joint[truth.sets[k]][w] += p;
          by_word[w] += p;
        }
      double information = 0;
      for (const auto& [set, p] : joint)
        for (std::size_t w = 0; w < 2; ++w) information += p[w] * std::log2(p[w] / ((p[0] + p[1]) * by_word[w]));
      CHECK(std::abs(gain.gain_bits - information) < 1e-9);
    }
  }
}

TEST_CASE("a test whose result is certain has no gain", "[inference][property]") {
  auto vehicle = toy::make_vehicle();
  const auto a = toy::add_mode(*vehicle, "a", 0.1);
  toy::add_mode(*vehicle, "b", 0.1);
  const auto blind = toy::add_finding(*vehicle, "blind", {}, 0.0, 0.0);
  const auto useful = toy::add_finding(*vehicle, "useful", {{a, 0.9}}, 0.0, 0.0);
  const auto posterior = inference::update(inference::compile(vehicle, toy::make_workshop()), {});
  const std::vector<Index> tests{blind, useful};
  const auto gains = posterior.gains(tests);
  CHECK(gains[0].gain_bits < 1e-12);
  CHECK(gains[1].gain_bits > 0.01);
}
