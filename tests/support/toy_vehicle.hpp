// Small vehicles made in code, for checks that need no plugin: a few faults, findings, and one stage whose outputs are
// simple products.
#pragma once

#include <cmath>
#include <memory>
#include <string>
#include <vector>

#include "model/instrument.hpp"
#include "model/vehicle.hpp"

namespace lostspark::toy {

/// Stage 0: inputs strength, gain, demand -> outputs reading = strength * gain, reserve = strength * gain,
/// margin = ln(strength * gain / demand).
class ProductPhysics : public model::StagePhysics {
 public:
  void evaluate(model::Index, std::size_t n, std::span<const double> in, std::span<double> out) const override {
    for (std::size_t k = 0; k < n; ++k) {
      out[3 * k] = in[3 * k] * in[3 * k + 1];
      out[3 * k + 1] = std::log(in[3 * k] * in[3 * k + 1] / in[3 * k + 2]);
      out[3 * k + 2] = in[3 * k + 2];
    }
  }
};

/// Adds a component with one mode and its repair; returns the mode.
inline model::Index add_mode(model::Vehicle& v, const std::string& id, double prior,
                             std::vector<model::Change> changes = {}) {
  using model::Index;
  v.components.push_back({.id = id, .title = id, .group = "CON"});
  const auto component = static_cast<Index>(v.components.size()) - 1;
  v.repairs.push_back({.id = id + ".replace", .title = "replace " + id, .kind = model::RepairKind::replace,
                       .component = component, .labour_min = 10, .success = 1.0, .price = 10});
  v.modes.push_back({.id = id + ".bad", .title = "bad", .group = "CON", .component = component,
                     .repair = static_cast<Index>(v.repairs.size()) - 1, .prior = prior, .changes = std::move(changes)});
  return static_cast<Index>(v.modes.size()) - 1;
}

/// A vehicle with one condition, one scene and the product stage; parameters strength, gain, demand.
inline std::shared_ptr<model::Vehicle> make_vehicle(double strength_sd = 0.25, double gain_sd = 0, double demand_sd = 0) {
  auto v = std::make_shared<model::Vehicle>();
  v->id = "toy";
  v->parameters = {{.id = "strength", .unit = "volt", .typical = 200, .log_sd = strength_sd},
                   {.id = "gain", .unit = "one", .typical = 1, .log_sd = gain_sd},
                   {.id = "demand", .unit = "volt", .typical = 80, .log_sd = demand_sd}};
  v->nodes = {{.id = "earth"}};
  v->conditions = {{.id = "cranking", .title = "cranking", .needs_crank = true}};
  v->scenes = {{.condition = 0, .setups = {}}};
  model::Stage stage{.id = "stage", .title = "stage"};
  for (model::Index p = 0; p < 3; ++p) stage.inputs.push_back({model::StageInput::Kind::parameter, p, model::k_none});
  stage.scalar_count = 3;
  stage.output_count = 3;
  v->stages = {stage};
  v->outputs = {{.id = "stage.reading", .unit = "volt", .stage = 0, .kind = model::OutputKind::value},
                {.id = "stage.margin", .unit = "one", .stage = 0, .kind = model::OutputKind::margin},
                {.id = "stage.demand", .unit = "volt", .stage = 0, .kind = model::OutputKind::value}};
  v->physics = std::make_shared<ProductPhysics>();
  return v;
}

inline model::Index add_finding(model::Vehicle& v, const std::string& id, std::vector<std::pair<model::Index, double>> rows,
                                double false_alarm = 0.02, double mistaken = 0.03) {
  model::Test test;
  test.id = test.kind = test.title = id;
  test.unit = "word";
  test.reads = model::Reads::finding;
  test.scene = 0;
  test.words = {"nothing", "found"};
  test.false_alarm = false_alarm;
  test.mistaken = mistaken;
  test.instrument = "eyes";
  for (auto [mode, p] : rows) test.findings.push_back({mode, 1, p});
  v.tests.push_back(std::move(test));
  return static_cast<model::Index>(v.tests.size()) - 1;
}

inline model::Index add_number(model::Vehicle& v, const std::string& id, model::Index output, double log_sd,
                               double mistaken = 0.03) {
  model::Test test;
  test.id = test.kind = test.title = id;
  test.unit = "volt";
  test.reads = model::Reads::output;
  test.scene = 0;
  test.output = output;
  test.log_sd = log_sd;
  test.mistaken = mistaken;
  test.instrument = "peak_voltmeter";
  v.tests.push_back(std::move(test));
  return static_cast<model::Index>(v.tests.size()) - 1;
}

inline model::Index add_word(model::Vehicle& v, const std::string& id, double mistaken = 0.03) {
  model::Test test;
  test.id = test.kind = test.title = id;
  test.unit = "word";
  test.reads = model::Reads::margin_word;
  test.scene = 0;
  test.output = 1;
  test.words = {"none", "irregular", "steady"};
  test.mistaken = mistaken;
  test.instrument = "eyes";
  v.tests.push_back(std::move(test));
  return static_cast<model::Index>(v.tests.size()) - 1;
}

inline model::Workshop make_workshop(double accuracy = 0) {
  model::Workshop w;
  w.instruments = {{.id = "eyes", .title = "eyes", .kind = "eyes", .unit = "word", .accuracy_log_sd = 0},
                   {.id = "meter", .title = "peak voltmeter", .kind = "peak_voltmeter", .unit = "volt",
                    .accuracy_log_sd = accuracy, .step = 0, .floor = 1, .range = 1000}};
  return w;
}

}  // namespace lostspark::toy
