#include "circuit/network.hpp"

#include <algorithm>
#include <cmath>

#include "base/error.hpp"

namespace lostspark::circuit {
namespace {

bool in_analysis(const model::Element& element, Network::Analysis analysis) {
  if (element.use == model::ElementUse::always) return true;
  return (element.use == model::ElementUse::running_only) == (analysis == Network::Analysis::running);
}

bool is_harness(model::ComponentKind kind) {
  using enum model::ComponentKind;
  return kind == wire || kind == connector || kind == splice || kind == earth_point;
}

}  // namespace

Network::Network(const model::Vehicle& vehicle, Analysis analysis)
    : zone_of_node(vehicle.nodes.size(), -1), local_of_node(vehicle.nodes.size(), -1) {
  const auto n = vehicle.nodes.size();
  std::vector<std::vector<int>> at(n);
  for (std::size_t e = 0; e < vehicle.elements.size(); ++e) {
    if (!in_analysis(vehicle.elements[e], analysis)) continue;
    at[vehicle.elements[e].a].push_back(static_cast<int>(e));
    at[vehicle.elements[e].b].push_back(static_cast<int>(e));
  }
  std::vector<bool> is_terminal(n, false);
  if (analysis == Analysis::running)
    for (const auto& stage : vehicle.stages)
      for (const auto& input : stage.inputs)
        if (input.kind == model::StageInput::Kind::terminal) is_terminal[input.a] = true;

  for (std::size_t seed = 1; seed < n; ++seed) {
    if (zone_of_node[seed] >= 0) continue;
    const int number = static_cast<int>(zones.size());
    std::vector<Index> nodes{static_cast<Index>(seed)};
    std::vector<int> elements;
    zone_of_node[seed] = number;
    for (std::size_t k = 0; k < nodes.size(); ++k) {
      local_of_node[nodes[k]] = static_cast<int>(k);
      for (int e : at[nodes[k]]) {
        if (std::find(elements.begin(), elements.end(), e) == elements.end()) elements.push_back(e);
        for (Index other : {vehicle.elements[e].a, vehicle.elements[e].b})
          if (other != model::k_earth && zone_of_node[other] < 0) {
            zone_of_node[other] = number;
            nodes.push_back(other);
          }
      }
    }
    std::vector<Branch> branches;
    bool sourced = false, alternating = false, direct = false;
    const auto local = [&](Index node) { return node == model::k_earth ? -1 : local_of_node[node]; };
    for (std::size_t k = 0; k < elements.size(); ++k) {
      const auto& element = vehicle.elements[elements[k]];
      branches.push_back({local(element.a), local(element.b), static_cast<int>(k)});
      if (element.emf_parameter == model::k_none) continue;
      sourced = true;
      (element.frequency_parameter == model::k_none ? direct : alternating) = true;
    }
    if (direct && alternating)
      throw PluginError("the part of the network around '" + vehicle.nodes[nodes.front()].id +
                        "' has a battery and an alternating source: one solution cannot hold both; part them (a pulse "
                        "coil's input that touches the supply nowhere but at engine metal)");
    std::vector<bool> terminal;
    for (Index node : nodes) terminal.push_back(is_terminal[node]);
    Zone zone{nodes, elements, ZonePlan(static_cast<int>(nodes.size()), terminal, branches), {}, sourced, direct,
              {},    {},       {},    {}, {}, {}, {}, {}, {}, {}, {}};
    zone.terminals.resize(zone.plan.terminals());
    for (std::size_t k = 0; k < nodes.size(); ++k)
      if (terminal[k]) zone.terminals[zone.plan.position(static_cast<int>(k)) - zone.plan.interior()] = nodes[k];
    zone.diagonal.resize(nodes.size());
    zone.volts.resize(nodes.size());
    zone.lower.resize(zone.plan.entries());
    if (sourced) {
      zone.complex_diagonal.resize(nodes.size());
      zone.complex_volts.resize(nodes.size());
      zone.complex_shunt.resize(nodes.size());
      zone.complex_lower.resize(zone.plan.entries());
      zone.complex_admittance.resize(elements.size());
    }
    zones.push_back(std::move(zone));
  }
}

void apply(const model::Vehicle& vehicle, Index scene, std::span<const ActiveMode> faults,
           std::span<const double> log_shift, Values& values) {
  values.parameter.resize(vehicle.parameters.size());
  for (std::size_t p = 0; p < vehicle.parameters.size(); ++p) {
    values.parameter[p] = vehicle.parameters[p].typical;
    if (!log_shift.empty() && log_shift[p] != 0) values.parameter[p] *= std::exp(log_shift[p]);
  }
  const auto on_parameter = [&](const model::Effect& effect) {
    if (effect.kind == model::EffectKind::set_parameter) values.parameter[effect.target] = effect.value;
    if (effect.kind == model::EffectKind::scale_parameter) values.parameter[effect.target] *= effect.value;
    if (effect.kind == model::EffectKind::exchange_parameters)
      std::swap(values.parameter[effect.target], values.parameter[effect.other]);
  };
  const auto& where = vehicle.scenes[scene];
  if (where.condition >= 0)
    for (const auto& effect : vehicle.conditions[where.condition].effects) on_parameter(effect);
  const auto at_severity = [](const model::Change& change, double severity) {
    if (change.mild == change.severe) return change.mild;
    return std::exp(std::log(change.mild) + severity * std::log(change.severe / change.mild));
  };
  for (const auto& fault : faults)
    for (const auto& change : vehicle.modes[fault.mode].changes) {
      if (change.target != model::ChangeTarget::parameter) continue;
      const double value = at_severity(change, fault.severity);
      double& parameter = values.parameter[change.index];
      parameter = change.operation == model::Operation::set ? value : parameter * value;
    }
  // A set-up stands over fault and state: what is unplugged or replaced no longer matters.
  for (Index setup : where.setups)
    for (const auto& effect : vehicle.setups[setup].effects) on_parameter(effect);

  values.resistance.resize(vehicle.elements.size());
  for (std::size_t e = 0; e < vehicle.elements.size(); ++e) {
    const auto& element = vehicle.elements[e];
    values.resistance[e] = element.resistance_parameter >= 0 ? values.parameter[element.resistance_parameter]
                                                             : element.resistance_ohm;
  }
  values.shunt.assign(vehicle.nodes.size(), k_leak_siemens);
  values.shunt[model::k_earth] = 0;
  for (const auto& fault : faults)
    for (const auto& change : vehicle.modes[fault.mode].changes) {
      if (change.target == model::ChangeTarget::parameter) continue;
      const double value = at_severity(change, fault.severity);
      const auto& element = vehicle.elements[change.index];
      if (change.target == model::ChangeTarget::element_shunt) {
        // A chafed wire touches metal along its run: the node at its source end carries the path to earth.
        values.shunt[element.a != model::k_earth ? element.a : element.b] += 1 / value;
      } else if (change.operation == model::Operation::set) {
        values.resistance[change.index] = std::max(value, values.resistance[change.index]);
      } else {
        values.resistance[change.index] *= value;
      }
    }
  for (Index setup : where.setups)
    for (const auto& effect : vehicle.setups[setup].effects) {
      if (effect.kind != model::EffectKind::open_node) continue;
      for (std::size_t e = 0; e < vehicle.elements.size(); ++e) {
        const auto& element = vehicle.elements[e];
        if ((element.a == effect.target || element.b == effect.target) && element.component >= 0 &&
            is_harness(vehicle.components[element.component].kind))
          values.resistance[e] = model::k_open_ohm;
      }
    }
}

}  // namespace lostspark::circuit
