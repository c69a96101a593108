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

/// "coil_connector_2.1.harness" -> "coil_connector_1.1.harness", and 1 to 2: cylinder 1 and another one exchanged in a
/// name or a point, whose numbers stand at the end, before a dot or before a bar.
std::string exchanged(std::string_view text, int cylinder) {
  std::string out(text);
  if (cylinder == 1) return out;
  for (std::size_t k = 0; k + 1 < out.size(); ++k)
    if (out[k] == '_' && (k + 2 == out.size() || out[k + 2] == '.' || out[k + 2] == '_')) {
      const char other = static_cast<char>('0' + cylinder);
      char& digit = out[k + 1];
      digit = digit == '1' ? other : digit == other ? '1' : digit;
    }
  return out;
}

const FamilyBench& bench_of(const model::Vehicle& v) {
  if (v.family == "flywheel_magneto") return flywheel_magneto_bench(v);
  const auto distributor = std::pair<std::string, std::string>{"distributor", "true"};
  if (v.family == "breaker_points" && std::find(v.options.begin(), v.options.end(), distributor) != v.options.end())
    return distributor_bench();
  return family_bench(v.family);
}

}  // namespace

bool holds_the_gap(const std::string& kind) {
  return kind == "reserve" || kind == "king_reserve" || kind.starts_with("reserve_");
}

SpiceBench::SpiceBench(std::shared_ptr<const model::Vehicle> vehicle, const std::string& network,
                       double meter_rise_second, double meter_ohm)
    : vehicle_(std::move(vehicle)),
      family_(bench_of(*vehicle_)),
      harness_(read_harness(network, family_.links())),
      rise_(meter_rise_second),
      meter_ohm_(meter_ohm) {}

int SpiceBench::cylinder_of(const model::Test& test) const {
  const auto& kind = test.kind;
  const auto n = kind.size();
  if (!family_.fires_cylinder_one() || n < 2 || kind[n - 2] != '_' || kind[n - 1] < '1' || kind[n - 1] > '9') return 1;
  return kind[n - 1] - '0';
}

bool SpiceBench::can_measure(const model::Test& test) const {
  const int cylinder = cylinder_of(test);
  if (test.reads == model::Reads::finding || !family_.answers(exchanged(test.kind, cylinder))) return false;
  const auto& scene = vehicle_->scenes[static_cast<std::size_t>(test.scene)];
  const auto& setups = vehicle_->setups;
  const auto name = [&](Index setup) { return exchanged(setups[static_cast<std::size_t>(setup)].id, cylinder); };
  if (test.reads == model::Reads::ohms)
    return std::all_of(scene.setups.begin(), scene.setups.end(), [&](Index s) {
      const auto& effects = setups[static_cast<std::size_t>(s)].effects;
      return family_.makes_setup(name(s)) || std::all_of(effects.begin(), effects.end(), [](const model::Effect& e) {
               return e.kind == model::EffectKind::open_node;
             });
    });
  std::vector<std::string> standing;
  for (const Index s : scene.setups) standing.push_back(name(s));
  if (scene.condition < 0) return false;
  return family_.compares(exchanged(vehicle_->conditions[static_cast<std::size_t>(scene.condition)].id, cylinder),
                          standing);
}

Situation SpiceBench::situation(Index scene, const Kick& kick, int cylinder) const {
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
  const auto named = [&](std::string_view id) { return exchanged(id, cylinder); };
  for (std::size_t p = 0; p < v.parameters.size(); ++p) {
    s.value[named(v.parameters[p].id)] = value[p];
    s.typical[named(v.parameters[p].id)] = v.parameters[p].typical;
  }
  for (auto& joint : s.harness.joints) {
    joint.a = named(joint.a);
    joint.b = named(joint.b);
  }
  for (auto& link : s.harness.links) {
    link.id = named(link.id);
    for (auto* end : {&link.from, &link.to}) *end = named(*end);
    for (auto& point : link.points) point = named(point);
  }
  for (auto& shunt : s.shunts) shunt.point = named(shunt.point);
  if (where.condition >= 0) s.condition = named(v.conditions[static_cast<std::size_t>(where.condition)].id);
  for (const Index setup : where.setups) {
    const auto& row = v.setups[static_cast<std::size_t>(setup)];
    if (const auto id = named(row.id); family_.makes_setup(id)) {
      s.setups.push_back(id);
      for (const auto& terminal : family_.unplugs(id)) s.harness.unplug(terminal);
      continue;
    }
    // Set-ups of ohm tests are made by the host, one per test: they unplug what their effects say.
    for (const auto& effect : row.effects) {
      if (effect.kind != model::EffectKind::open_node)
        throw std::runtime_error(fmt::format("the deck knows no set-up '{}'", row.id));
      s.harness.open_at(named(v.nodes[static_cast<std::size_t>(effect.target)].id));
    }
  }
  return s;
}

Measurement SpiceBench::prepare(std::vector<Index> tests, const Kick& kick, std::optional<Index> scene) const {
  const auto& v = *vehicle_;
  Measurement m;
  const auto& first = v.tests[static_cast<std::size_t>(tests.front())];
  const int cylinder = cylinder_of(first);
  m.situation = situation(scene.value_or(first.scene), kick, cylinder);
  const auto point = [&](Index node) {
    return node == model::k_earth ? "earth" : exchanged(v.nodes[static_cast<std::size_t>(node)].id, cylinder);
  };
  if (first.reads == model::Reads::ohms) {
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
      number = meters.size();
      meters.push_back({point(test.node_a), drop ? point(test.node_b) : "earth", input_ohm, rise_});
    }
    m.meter.push_back(number);
  }
  m.deck = family_.deck(m.situation, meters, holds_the_gap(first.kind) ? Gap::holds : Gap::as_fitted);
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
  return family_.read(exchanged(test.kind, cylinder_of(test)), measurement.situation, run, pointer);
}

Shown SpiceBench::measure(Index test, const Kick& kick) const {
  const auto m = prepare({test}, kick);
  return read(m, run_deck(m.deck), 0);
}

}  // namespace lostspark::spice
