#include "spice/bench.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <stdexcept>

#include "spice/magneto_bench.hpp"

namespace lostspark::spice {

namespace {

double at_severity(const model::Change& change, double severity) {
  return change.mild * std::pow(change.severe / change.mild, severity);
}

const FamilyBench& bench_of(const model::Vehicle& v) {
  if (v.family == "flywheel_magneto") return flywheel_magneto_bench(v);
  const auto distributor = std::pair<std::string, std::string>{"distributor", "true"};
  if (v.family == "breaker_points" && std::find(v.options.begin(), v.options.end(), distributor) != v.options.end())
    return distributor_bench();
  return family_bench(v.family);
}

}  // namespace

SpiceBench::SpiceBench(std::shared_ptr<const model::Vehicle> vehicle, const std::string& network,
                       double meter_rise_second, double meter_ohm)
    : vehicle_(std::move(vehicle)),
      family_(bench_of(*vehicle_)),
      harness_(read_harness(network, family_.links())),
      rise_(meter_rise_second),
      meter_ohm_(meter_ohm) {}

bool SpiceBench::can_measure(const model::Test& test) const { return test.reads != model::Reads::finding; }

Situation SpiceBench::situation(Index scene, const Kick& kick) const {
  const auto& v = *vehicle_;
  Situation s;
  s.harness = harness_;
  std::vector<double> value;
  for (std::size_t p = 0; p < v.parameters.size(); ++p)
    value.push_back(v.parameters[p].typical * (kick.log_shift.empty() ? 1.0 : std::exp(kick.log_shift[p])));
  const auto& where = v.scenes[static_cast<std::size_t>(scene)];
  for (const auto& fault : kick.faults)
    for (const auto& change : v.modes[static_cast<std::size_t>(fault.mode)].changes) {
      const double to = at_severity(change, fault.severity);
      const auto index = static_cast<std::size_t>(change.index);
      if (change.target == model::ChangeTarget::parameter) {
        value[index] = change.operation == model::Operation::set ? to : value[index] * to;
      } else if (change.target == model::ChangeTarget::element_series) {
        auto& joint = s.harness.joint(v.elements[index].id);
        joint.ohm = change.operation == model::Operation::set ? std::max(to, joint.ohm) : joint.ohm * to;
      } else {
        s.shunts.push_back({s.harness.joint(v.elements[index].id).a, to});
      }
    }
  for (std::size_t p = 0; p < v.parameters.size(); ++p) {
    s.value[v.parameters[p].id] = value[p];
    s.typical[v.parameters[p].id] = v.parameters[p].typical;
  }
  if (where.condition >= 0) s.condition = v.conditions[static_cast<std::size_t>(where.condition)].id;
  for (const Index setup : where.setups) {
    const auto& row = v.setups[static_cast<std::size_t>(setup)];
    if (family_.makes_setup(row.id)) {
      s.setups.push_back(row.id);
      for (const auto& terminal : family_.unplugs(row.id)) s.harness.unplug(terminal);
      continue;
    }
    // Set-ups of ohm tests are made by the host, one per test: they unplug what their effects say.
    for (const auto& effect : row.effects) {
      if (effect.kind != model::EffectKind::open_node)
        throw std::runtime_error(fmt::format("the deck knows no set-up '{}'", row.id));
      s.harness.open_at(v.nodes[static_cast<std::size_t>(effect.target)].id);
    }
  }
  return s;
}

Measurement SpiceBench::prepare(std::vector<Index> tests, const Kick& kick, std::optional<Index> scene) const {
  const auto& v = *vehicle_;
  Measurement m;
  const auto& first = v.tests[static_cast<std::size_t>(tests.front())];
  m.situation = situation(scene.value_or(first.scene), kick);
  if (first.reads == model::Reads::ohms) {
    const auto point = [&](Index node) { return v.nodes[static_cast<std::size_t>(node)].id; };
    m.deck = family_.ohm_deck(m.situation, point(first.node_a), point(first.node_b));
    m.tests = {tests.front()};
    m.meter = {std::nullopt};
    return m;
  }
  std::vector<Meter> meters;
  const double input_ohm = tests.size() == 1 ? meter_ohm_ : 1e12;
  for (const Index row : tests) {
    const auto& test = v.tests[static_cast<std::size_t>(row)];
    std::optional<std::size_t> number;
    if (test.reads == model::Reads::node_volts || test.reads == model::Reads::drop_volts) {
      const bool drop = test.reads == model::Reads::drop_volts;
      const auto point = [&](Index node) { return v.nodes[static_cast<std::size_t>(node)].id; };
      number = meters.size();
      meters.push_back({point(test.node_a), drop ? point(test.node_b) : "earth", input_ohm, rise_});
    }
    m.meter.push_back(number);
  }
  const bool holds = first.kind == "reserve";
  m.deck = family_.deck(m.situation, meters, holds ? Gap::holds : Gap::as_fitted);
  m.tests = std::move(tests);
  return m;
}

Shown SpiceBench::read(const Measurement& measurement, const Run& run, std::size_t position) const {
  const auto& test = vehicle_->tests[static_cast<std::size_t>(measurement.tests[position])];
  Shown shown;
  if (test.reads == model::Reads::ohms) {
    shown.value = std::max(1 / run.at("ampere") - 1, 1e-3);
    return shown;
  }
  const auto pointer = [&](const char* what) {
    return run.at(fmt::format("m{}_{}", *measurement.meter[position], what));
  };
  return family_.read(test.kind, measurement.situation, run, pointer);
}

Shown SpiceBench::measure(Index test, const Kick& kick) const {
  const auto m = prepare({test}, kick);
  return read(m, run_deck(m.deck), 0);
}

}  // namespace lostspark::spice
