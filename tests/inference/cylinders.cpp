// Several cylinders: complaints about all, one or two of them, and parts that trade places, against full enumeration.
#include <array>
#include <cmath>
#include <random>

#include "catch_all.hpp"
#include "inference/posterior.hpp"
#include "model/generative.hpp"
#include "support/toy_vehicle.hpp"

using namespace lostspark;
using model::Index;

namespace {

constexpr int k_cylinders = 3;

/// Inputs: the supply all share, then coil and plug of each cylinder. Outputs: the supply's margin, then each
/// cylinder's, every one a plain logarithm.
class ThreeCylinders : public model::StagePhysics {
 public:
  void evaluate(Index, std::size_t n, std::span<const double> in, std::span<double> out) const override {
    for (std::size_t k = 0; k < n; ++k) {
      const double* x = &in[k * (1 + 2 * k_cylinders)];
      double* y = &out[k * (1 + k_cylinders)];
      y[0] = std::log(x[0]);
      for (int c = 0; c < k_cylinders; ++c) y[1 + c] = std::log(x[1 + 2 * c] * x[2 + 2 * c]);
    }
  }
};

/// Modes: 0 supply dead; 1 + 2c coil dead, 2 + 2c plug dead of cylinder c. Scene 1: coils 0 and 1 exchanged.
std::shared_ptr<model::Vehicle> three_cylinders() {
  auto v = toy::make_vehicle(0);
  v->parameters = {{.id = "supply", .unit = "one", .typical = 20}};
  model::Stage stage{.id = "stage", .title = "stage"};
  for (int c = 0; c < k_cylinders; ++c) {
    v->parameters.push_back({.id = "coil_" + std::to_string(c), .unit = "one", .typical = 20});
    v->parameters.push_back({.id = "plug_" + std::to_string(c), .unit = "one", .typical = 1});
  }
  for (Index p = 0; p < 1 + 2 * k_cylinders; ++p)
    stage.inputs.push_back({model::StageInput::Kind::parameter, p, model::k_none});
  stage.scalar_count = stage.inputs.size();
  stage.output_count = 1 + k_cylinders;
  v->stages = {stage};
  v->outputs.clear();
  for (int c = 0; c < 1 + k_cylinders; ++c)
    v->outputs.push_back({.id = "stage.margin_" + std::to_string(c), .unit = "one", .stage = 0,
                          .kind = model::OutputKind::margin});
  v->physics = std::make_shared<ThreeCylinders>();
  const auto dead = [](Index parameter) {
    return std::vector<model::Change>{{model::ChangeTarget::parameter, parameter, model::Operation::set, 1e-3, 1e-3}};
  };
  toy::add_mode(*v, "supply", 0.01, dead(0));
  for (int c = 0; c < k_cylinders; ++c) {
    toy::add_mode(*v, "coil_" + std::to_string(c), 0.02 + 0.01 * c, dead(1 + 2 * c));
    toy::add_mode(*v, "plug_" + std::to_string(c), 0.03, dead(2 + 2 * c));
  }
  for (const auto extent : {model::Extent::all, model::Extent::one, model::Extent::two}) {
    model::Complaint complaint{.id = "none_of_" + std::to_string(static_cast<int>(extent)), .title = "no spark",
                               .extent = extent, .word = 0};
    for (Index c = 0; c < k_cylinders; ++c) complaint.cylinders.push_back({0, 1 + c});
    v->complaints.push_back(complaint);
  }
  model::Setup exchange{.id = "coils_exchanged", .title = "coils exchanged"};
  exchange.effects = {{model::EffectKind::exchange_parameters, 1, 1, 3}};
  v->setups = {exchange};
  v->scenes.push_back({.condition = 0, .setups = {0}});
  for (Index scene : {0, 1})
    for (Index c = 0; c < k_cylinders; ++c) {
      model::Test test;
      test.id = test.kind = test.title = "spark_" + std::to_string(c) + (scene ? "+exchanged" : "");
      test.unit = "word";
      test.reads = model::Reads::margin_word;
      test.scene = scene;
      test.output = 1 + c;
      test.dead_below = {0};
      test.words = {"none", "irregular", "steady"};
      test.instrument = "eyes";
      test.mistaken = 0;
      v->tests.push_back(test);
    }
  return v;
}

using Set = std::vector<Index>;

bool dead(const Set& set, int cylinder, bool exchanged) {
  const int coil = exchanged && cylinder < 2 ? 1 - cylinder : cylinder;
  for (Index m : set)
    if (m == 0 || m == 1 + 2 * coil || m == 2 + 2 * cylinder) return true;
  return false;
}

}  // namespace

TEST_CASE("complaints about all, one or two cylinders and exchanged coils judge faults as enumeration does",
          "[inference][oracle]") {
  const auto v = three_cylinders();
  const auto compiled = inference::compile(v, toy::make_workshop());
  std::mt19937 random(3);
  for (int trial = 0; trial < 60; ++trial) {
    const auto complaint = static_cast<Index>(trial % 3);
    model::Evidence evidence{model::Complained{complaint}};
    std::vector<std::pair<Index, std::size_t>> words;
    // Words as some faults would give them; only the complaint may be mistaken: with pairs one mistake is enumerated.
    const std::array<Set, 3> truths{Set{0}, Set{static_cast<Index>(1 + random() % 6)}, Set{1, 6}};
    int left = 1 + trial % 4;
    for (Index t = 0; t < static_cast<Index>(v->tests.size()) && left > 0; ++t)
      if (random() % 2 == 0) {
        --left;
        model::Reading reading;
        reading.test = t;
        reading.value.kind = model::ValueKind::word;
        const bool none = dead(truths[static_cast<std::size_t>(complaint)], t % k_cylinders, t >= k_cylinders);
        reading.value.word = none ? 0 : 2;
        evidence.emplace_back(reading);
        words.emplace_back(t, reading.value.word);
      }
    std::vector<Set> sets{{}};
    const auto modes = static_cast<Index>(v->modes.size());
    for (Index a = 0; a < modes; ++a) {
      sets.push_back({a});
      for (Index b = a + 1; b < modes; ++b) sets.push_back({a, b});
    }
    double total = 0;
    std::vector<double> by_mode(static_cast<std::size_t>(modes), 0.0);
    for (const auto& set : sets) {
      double w = 1;
      for (Index m : set) w *= v->modes[m].prior / (1 - v->modes[m].prior);
      std::size_t gone = 0;
      for (int c = 0; c < k_cylinders; ++c) gone += dead(set, c, false);
      const std::array<std::size_t, 3> wanted{3, 1, 2};
      constexpr double mistaken = model::k_complaint_mistaken;
      w *= (gone == wanted[static_cast<std::size_t>(complaint)] ? 1 - mistaken : 0) + mistaken / 3;
      for (const auto& [test, word] : words) {
        const bool none = dead(set, test % k_cylinders, test >= k_cylinders);
        w *= none == (word == 0) ? 1 : 0;
      }
      total += w;
      for (Index m : set) by_mode[static_cast<std::size_t>(m)] += w;
    }
    const auto posterior = inference::update(compiled, evidence);
    for (Index m = 0; m < modes; ++m) {
      CAPTURE(trial, m);
      CHECK(posterior.component_probability()[static_cast<std::size_t>(v->modes[m].component)] == Approx(by_mode[static_cast<std::size_t>(m)] / total).margin(1e-6));
    }
  }
}

TEST_CASE("what a customer says of so many cylinders is told from the stage outputs", "[inference][unit]") {
  const auto v = three_cylinders();
  const auto told = [&](std::size_t complaint, std::array<double, 4> outputs) {
    return model::shows(v->complaints[complaint], outputs, [] { return 0.0; });
  };
  CHECK(told(0, {-1, 2, 2, 2}));        // nothing feeds: no cylinder sparks
  CHECK_FALSE(told(1, {-1, 2, 2, 2}));
  CHECK(told(1, {1, -2, 2, 2}));
  CHECK_FALSE(told(0, {1, -2, 2, 2}));
  CHECK(told(2, {1, -2, 2, -2}));
  CHECK_FALSE(told(1, {1, -2, 2, -2}));
  CHECK(told(1, {1, -2, 0.05, 2}));     // irregular is better than none
}
