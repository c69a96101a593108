#include "circuit/circuit.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "base/error.hpp"
#include "circuit/network.hpp"
#include "circuit/stage_cache.hpp"

namespace lostspark::circuit {

double unit_scale(std::string_view unit) {
  if (unit == "kilovolt" || unit == "kiloohm") return 1e-3;
  if (unit == "milliampere" || unit == "millivolt" || unit == "millisecond") return 1e3;
  if (unit == "microsecond") return 1e6;
  return 1.0;
}

struct Circuit::Impl {
  std::shared_ptr<const model::Vehicle> vehicle;
  Network running, ohms;
  Values values;
  Solution solution;
  std::vector<StageCache> caches;
  std::vector<double> inputs, admittance, shunt;
  std::vector<char> loads_meter;        // by zone: a joint in it is large enough for a meter to matter
  mutable std::vector<double> scratch;

  explicit Impl(std::shared_ptr<const model::Vehicle> v)
      : vehicle(std::move(v)), running(*vehicle, Network::Analysis::running), ohms(*vehicle, Network::Analysis::ohms) {
    const auto nodes = vehicle->nodes.size();
    solution.outputs.resize(vehicle->outputs.size());
    solution.node_volts.resize((vehicle->stages.size() + 1) * nodes);
    loads_meter.resize(running.zones.size());
    std::size_t widest = 1;
    for (const auto& stage : vehicle->stages) {
      caches.emplace_back(stage.input_width(), static_cast<std::size_t>(stage.output_count));
      widest = std::max(widest, stage.input_width());
    }
    inputs.resize(widest);
    admittance.resize(vehicle->elements.size() + 1);
    shunt.resize(nodes);
    scratch.resize(nodes);
  }

  void factor(Zone& zone) {
    for (std::size_t k = 0; k < zone.elements.size(); ++k)
      admittance[k] = 1 / std::max(values.resistance[zone.elements[k]], 1e-6);
    for (std::size_t k = 0; k < zone.nodes.size(); ++k) shunt[k] = values.shunt[zone.nodes[k]];
    zone.plan.factor<double>({admittance.data(), zone.elements.size()}, {shunt.data(), zone.nodes.size()},
                             zone.diagonal, zone.lower);
  }

  /// Sources with EMF: all nodes unknown, complex where they alternate. Fills row 0 of node_volts.
  void solve_linear(Zone& zone) {
    using C = std::complex<double>;
    const auto& v = *vehicle;
    auto& x = zone.complex_volts;
    std::fill(x.begin(), x.end(), C{});
    for (std::size_t k = 0; k < zone.nodes.size(); ++k) zone.complex_shunt[k] = values.shunt[zone.nodes[k]];
    double factor_value = 1, frequency = 0;
    for (int e : zone.elements) {
      const auto& element = v.elements[e];
      if (element.emf_parameter < 0) continue;
      factor_value = element.frequency_factor < 0
                         ? 1
                         : values.parameter[element.frequency_factor] / v.parameters[element.frequency_factor].typical;
      if (element.frequency_parameter >= 0) frequency = values.parameter[element.frequency_parameter] * factor_value;
    }
    for (std::size_t k = 0; k < zone.elements.size(); ++k) {
      const auto& element = v.elements[zone.elements[k]];
      C impedance = std::max(values.resistance[zone.elements[k]], 1e-6);
      if (element.inductance_parameter >= 0)
        impedance += C(0, 2 * std::numbers::pi * frequency * values.parameter[element.inductance_parameter]);
      zone.complex_admittance[k] = 1.0 / impedance;
      if (element.emf_parameter >= 0) {
        const C current = values.parameter[element.emf_parameter] * factor_value * zone.complex_admittance[k];
        if (element.a != model::k_earth) x[zone.plan.position(running.local_of_node[element.a])] += current;
        if (element.b != model::k_earth) x[zone.plan.position(running.local_of_node[element.b])] -= current;
      }
    }
    zone.plan.factor<C>(zone.complex_admittance, zone.complex_shunt, zone.complex_diagonal, zone.complex_lower);
    zone.plan.solve<C>(zone.complex_diagonal, zone.complex_lower, x);
    for (Index node : zone.nodes)
      solution.node_volts[node] = std::abs(x[zone.plan.position(running.local_of_node[node])]);
  }

  /// Magnitude between two nodes of the linear solution (0 where no source is).
  double linear_volts(Index a, Index b) const {
    std::complex<double> difference{};
    for (auto [node, sign] : {std::pair{a, 1.0}, std::pair{b, -1.0}}) {
      if (node == model::k_earth) continue;
      const auto& zone = running.zones[running.zone_of_node[node]];
      if (zone.alternating) difference += sign * zone.complex_volts[zone.plan.position(running.local_of_node[node])];
    }
    return std::max(std::abs(difference), 1e-9);
  }

  void gather(const model::Stage& stage) {
    std::size_t at = 0;
    const std::size_t first_terminal = stage.inputs.size() - stage.terminal_count;
    for (std::size_t k = 0; k < first_terminal; ++k) {
      const auto& input = stage.inputs[k];
      inputs[at++] = input.kind == model::StageInput::Kind::parameter ? values.parameter[input.a]
                     : input.kind == model::StageInput::Kind::output  ? solution.outputs[input.a]
                                             : linear_volts(input.a, input.b);
    }
    for (std::size_t i = 0; i < stage.terminal_count; ++i)
      for (std::size_t j = 0; j <= i; ++j) {
        const Index a = stage.inputs[first_terminal + i].a, b = stage.inputs[first_terminal + j].a;
        double value = 0;
        if (a != model::k_earth && b != model::k_earth && running.zone_of_node[a] == running.zone_of_node[b]) {
          const auto& zone = running.zones[running.zone_of_node[a]];
          value = zone.plan.schur(zone.diagonal, zone.lower,
                                  zone.plan.position(running.local_of_node[a]) - zone.plan.interior(),
                                  zone.plan.position(running.local_of_node[b]) - zone.plan.interior());
        }
        inputs[at++] = value;
      }
  }

  /// Volts of all nodes of the zones that this stage's terminals touch, from its terminal volts.
  void spread(std::size_t stage_index) {
    const auto& v = *vehicle;
    const auto& stage = v.stages[stage_index];
    const std::span<double> row{&solution.node_volts[(stage_index + 1) * v.nodes.size()], v.nodes.size()};
    bool any = false;
    for (Index k = 0; k < stage.output_count; ++k) {
      const auto& output = v.outputs[stage.first_output + k];
      any |= output.kind == model::OutputKind::terminal_volts;
    }
    if (!any) return;
    std::fill(row.begin(), row.end(), 0.0);
    for (auto& zone : running.zones) {
      if (zone.plan.terminals() == 0) continue;
      bool known_here = false;
      std::fill(zone.volts.begin(), zone.volts.end(), 0.0);
      for (Index k = 0; k < stage.output_count; ++k) {
        const auto& output = v.outputs[stage.first_output + k];
        if (output.kind != model::OutputKind::terminal_volts) continue;
        if (output.node == model::k_earth || &running.zones[running.zone_of_node[output.node]] != &zone) continue;
        zone.volts[zone.plan.position(running.local_of_node[output.node])] = solution.outputs[stage.first_output + k];
        known_here = true;
      }
      if (!known_here) continue;
      relax_unknown_terminals(zone, stage);
      zone.plan.back_substitute(zone.lower, zone.volts);
      for (Index node : zone.nodes) row[node] = zone.volts[zone.plan.position(running.local_of_node[node])];
    }
  }

  /// Terminals of the zone whose volts this stage does not state float: Gauss-Seidel on the small Schur block, which is
  /// diagonally dominant; a handful of unknowns.
  void relax_unknown_terminals(Zone& zone, const model::Stage& stage) {

    const int first = zone.plan.interior(), count = zone.plan.terminals();
    for (int sweep = 0; sweep < 40; ++sweep) {
      double moved = 0;
      for (int i = 0; i < count; ++i) {
        bool known = false;
        for (Index k = 0; k < stage.output_count; ++k) {
          const auto& output = vehicle->outputs[stage.first_output + k];
          known |= output.kind == model::OutputKind::terminal_volts && output.node == zone.terminals[i];
        }
        if (known) continue;
        double sum = 0;
        for (int j = 0; j < count; ++j)
          if (j != i) sum -= zone.plan.schur(zone.diagonal, zone.lower, i, j) * zone.volts[first + j];
        const double value = sum / zone.plan.schur(zone.diagonal, zone.lower, i, i);
        moved = std::max(moved, std::abs(value - zone.volts[first + i]));
        zone.volts[first + i] = value;
      }
      if (moved < 1e-12) break;
    }
  }

  void find_large_joints() {
    for (std::size_t z = 0; z < running.zones.size(); ++z) {
      double largest = 0;
      for (int e : running.zones[z].elements) {
        const auto& element = vehicle->elements[e];
        if (element.a != model::k_earth && element.b != model::k_earth)
          largest = std::max(largest, values.resistance[e]);
      }
      loads_meter[z] = largest > 5e3;  // a meter of 2 Mohm does not notice less
    }
  }

  /// Resistance of a node against the held terminals, ohms; 0 where a meter does not matter.
  double node_ohm(Index node) const {
    if (node == model::k_earth) return 0;
    const int z = running.zone_of_node[node];
    if (!loads_meter[z]) return 0;
    const auto& zone = running.zones[z];
    const int position = zone.plan.position(running.local_of_node[node]);
    return position < zone.plan.interior() ? zone.plan.driving_point(zone.diagonal, zone.lower, position, scratch) : 0;
  }
};

Circuit::Circuit(std::shared_ptr<const model::Vehicle> vehicle) : impl_(std::make_unique<Impl>(std::move(vehicle))) {}
Circuit::~Circuit() = default;
Circuit::Circuit(Circuit&&) noexcept = default;
Circuit& Circuit::operator=(Circuit&&) noexcept = default;

const model::Vehicle& Circuit::vehicle() const { return *impl_->vehicle; }

const Solution& Circuit::solve(Index scene, std::span<const ActiveMode> faults, std::span<const double> log_shift,
                               bool with_reports) {
  auto& s = *impl_;
  const auto& v = *s.vehicle;
  apply(v, scene, faults, log_shift, s.values);
  for (auto& zone : s.running.zones) {
    s.factor(zone);
    if (zone.alternating) s.solve_linear(zone);
  }
  s.find_large_joints();
  for (std::size_t k = 0; k < v.stages.size(); ++k) {
    const auto& stage = v.stages[k];
    if (stage.report_only && !with_reports) continue;
    s.gather(stage);
    const std::span<const double> in{s.inputs.data(), stage.input_width()};
    bool hit = false;
    const auto slot = s.caches[k].find(in, hit);
    const auto out = s.caches[k].outputs(slot);
    if (!hit) {
      v.physics->evaluate(static_cast<Index>(k), 1, in, out, {&s.caches[k].regime(slot), 1});
      s.caches[k].filled(slot);
    }
    std::copy(out.begin(), out.end(), s.solution.outputs.begin() + stage.first_output);
    s.spread(k);
  }
  s.solution.regime = static_cast<std::int32_t>(v.regimes.size()) - 1;
  for (std::size_t r = 0; r < v.regimes.size(); ++r)
    if (v.regimes[r].margin >= 0 && s.solution.outputs[v.regimes[r].margin] < 0) {
      s.solution.regime = static_cast<std::int32_t>(r);
      break;
    }
  return s.solution;
}

double Circuit::resistance(Index test, std::span<const ActiveMode> faults, std::span<const double> log_shift) {
  auto& s = *impl_;
  const auto& v = *s.vehicle;
  const auto& wanted = v.tests[test];
  apply(v, wanted.scene, faults, log_shift, s.values);
  double ohms = 0;
  const Index a = wanted.node_a, b = wanted.node_b;
  const int zone_a = a == model::k_earth ? -1 : s.ohms.zone_of_node[a];
  const int zone_b = b == model::k_earth ? -1 : s.ohms.zone_of_node[b];
  for (int number : {zone_a, zone_b}) {
    if (number < 0 || (number == zone_b && zone_a == zone_b && ohms != 0)) continue;
    auto& zone = s.ohms.zones[number];
    s.factor(zone);
    std::fill(zone.volts.begin(), zone.volts.end(), 0.0);
    const auto position = [&](Index node) { return zone.plan.position(s.ohms.local_of_node[node]); };
    if (zone_a == number) zone.volts[position(a)] += 1;
    if (zone_b == number) zone.volts[position(b)] -= 1;
    zone.plan.solve<double>(zone.diagonal, zone.lower, zone.volts);
    if (zone_a == number) ohms += zone.volts[position(a)];
    if (zone_b == number) ohms -= zone.volts[position(b)];
  }
  return std::max(ohms, 1e-3);
}

double Circuit::reading(const model::Test& test, const Solution& solution, double meter_ohm,
                        bool with_regimes) const {
  const auto& v = *impl_->vehicle;
  for (Index margin : test.dead_below)
    if (with_regimes && solution.outputs[margin] < 0) return 0;
  const auto row = static_cast<std::size_t>(test.stage + 1) * v.nodes.size();
  const auto volts = [&](Index node) {
    return solution.node_volts[row + node] * meter_ohm / (meter_ohm + impl_->node_ohm(node));
  };
  const double to_unit = unit_scale(test.unit);
  switch (test.reads) {
    case model::Reads::node_volts: return volts(test.node_a) * to_unit;
    case model::Reads::drop_volts: return std::abs(volts(test.node_a) - volts(test.node_b)) * to_unit;
    case model::Reads::margin_word: return solution.outputs[test.output];
    case model::Reads::output: {
      const bool other = with_regimes && test.switch_margin >= 0 && solution.outputs[test.switch_margin] < 0;
      const Index output = other ? test.switch_output : test.output;
      return solution.outputs[output] * to_unit / unit_scale(v.outputs[output].unit);
    }
    default: ensure(false, "this test is not read from a running scene");
  }
  return 0;
}

}  // namespace lostspark::circuit
