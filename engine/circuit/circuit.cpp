#include "circuit/circuit.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <optional>

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

namespace {

constexpr double k_felt_ohm = 5e3;  ///< a meter of 2 Mohm does not notice less

/// Where one stage's terminal volts enter one zone.
struct Entry {
  std::size_t zone = 0;
  std::vector<std::pair<int, Index>> known;    ///< position in the zone, output
  std::vector<int> unknown;                    ///< terminals (by number) whose volts the stage does not state
  std::vector<std::pair<Index, Index>> shown;  ///< node, output: what a meter on the terminal itself shows
  std::vector<std::pair<int, Index>> ohms;     ///< position in the zone, output: source resistance of the terminal
};

/// One scene's network with its last solution: a change elsewhere leaves it as it stands.
struct SceneState {
  Network network;
  Solution solution;
  std::vector<char> loads_meter;               ///< by zone: a joint in it is large enough for a meter to matter
  std::vector<char> changed;                   ///< by zone, in this solution
  std::vector<std::uint64_t> factored;         ///< by zone: the moment it was factored last
  std::vector<std::uint64_t> gathered;         ///< by stage: the moment behind `terminals`
  std::vector<std::vector<double>> terminals;  ///< by stage: conductances between its terminals, the tail of its inputs
  std::uint64_t moment = 0;
};

}  // namespace

struct Circuit::Impl {
  std::shared_ptr<const model::Vehicle> vehicle;
  Network running_plan, ohms;
  std::vector<std::optional<SceneState>> scenes;
  SceneState* now = nullptr;                           // scene of the last solution
  std::vector<std::vector<Entry>> entries;             // by stage
  std::vector<std::vector<std::vector<int>>> foreign;  // by stage and zone: terminals of other stages only
  Values values;
  std::vector<StageCache> caches;
  std::vector<std::vector<char>> wanted;  // [scene][stage]; empty: all
  std::vector<double> inputs, block;
  mutable std::vector<double> scratch, floating;

  explicit Impl(std::shared_ptr<const model::Vehicle> v)
      : vehicle(std::move(v)),
        running_plan(*vehicle, Network::Analysis::running),
        ohms(*vehicle, Network::Analysis::ohms),
        scenes(vehicle->scenes.size()) {
    std::size_t widest = 1;
    for (const auto& stage : vehicle->stages) {
      caches.emplace_back(stage.input_width(), static_cast<std::size_t>(stage.output_count));
      widest = std::max(widest, stage.input_width());
      entries.push_back(entries_of(stage));
      foreign.push_back(foreign_of(stage));
    }
    inputs.resize(widest);
    scratch.resize(vehicle->nodes.size());
  }

  std::vector<Entry> entries_of(const model::Stage& stage) const {
    std::vector<Entry> out;
    for (std::size_t z = 0; z < running_plan.zones.size(); ++z) {
      const auto& zone = running_plan.zones[z];
      Entry entry{z, {}, {}, {}, {}};
      std::vector<char> stated(static_cast<std::size_t>(zone.plan.terminals()), 0);
      for (Index k = stage.first_output; k < stage.first_output + stage.output_count; ++k) {
        const auto& output = vehicle->outputs[k];
        if (output.node <= model::k_earth || running_plan.zone_of_node[output.node] != static_cast<int>(z)) continue;
        const int position = zone.plan.position(running_plan.local_of_node[output.node]);
        if (output.kind == model::OutputKind::terminal_reading) entry.shown.emplace_back(output.node, k);
        if (output.kind == model::OutputKind::terminal_ohm) entry.ohms.emplace_back(position, k);
        if (output.kind != model::OutputKind::terminal_volts) continue;
        entry.known.emplace_back(position, k);
        if (position >= zone.plan.interior()) stated[static_cast<std::size_t>(position - zone.plan.interior())] = 1;
      }
      if (entry.known.empty()) continue;
      for (int t = 0; t < zone.plan.terminals(); ++t)
        if (!stated[static_cast<std::size_t>(t)]) entry.unknown.push_back(t);
      out.push_back(std::move(entry));
    }
    return out;
  }

  std::vector<std::vector<int>> foreign_of(const model::Stage& stage) const {
    std::vector<std::vector<int>> out(running_plan.zones.size());
    for (std::size_t z = 0; z < out.size(); ++z)
      for (int t = 0; t < running_plan.zones[z].plan.terminals(); ++t) {
        const Index node = running_plan.zones[z].terminals[static_cast<std::size_t>(t)];
        bool own = false;
        for (std::size_t k = stage.inputs.size() - stage.terminal_count; k < stage.inputs.size(); ++k)
          own |= stage.inputs[k].a == node;
        if (!own) out[z].push_back(t);
      }
    return out;
  }

  SceneState& state_of(Index scene) {
    auto& state = scenes[scene];
    if (!state) {
      state.emplace(SceneState{running_plan, {}, {}, {}, {}, {}, {}});
      state->solution.outputs.resize(vehicle->outputs.size());
      state->solution.node_volts.resize((vehicle->stages.size() + 1) * vehicle->nodes.size());
      state->loads_meter.resize(running_plan.zones.size());
      state->changed.resize(running_plan.zones.size());
      state->factored.resize(running_plan.zones.size());
      state->gathered.resize(vehicle->stages.size());
      state->terminals.resize(vehicle->stages.size());
    }
    return *state;
  }

  /// Refactorises a zone when its elements changed; tells whether they did.
  bool factor(Zone& zone) const {
    bool same = !zone.admittance.empty();
    zone.admittance.resize(zone.elements.size());
    zone.shunt.resize(zone.nodes.size());
    for (std::size_t k = 0; k < zone.elements.size(); ++k) {
      const double y = 1 / std::max(values.resistance[zone.elements[k]], 1e-6);
      same &= y == zone.admittance[k];
      zone.admittance[k] = y;
    }
    for (std::size_t k = 0; k < zone.nodes.size(); ++k) {
      same &= values.shunt[zone.nodes[k]] == zone.shunt[k];
      zone.shunt[k] = values.shunt[zone.nodes[k]];
    }
    if (same) return false;
    zone.plan.factor<double>(zone.admittance, zone.shunt, zone.diagonal, zone.lower);
    return true;
  }

  /// Sources with EMF: all nodes unknown, complex where they alternate. Fills row 0 of node_volts; tells whether
  /// anything changed.
  bool solve_linear(Zone& zone, bool elements_changed, Solution& solution) const {
    using C = std::complex<double>;
    const auto& v = *vehicle;
    std::size_t at = 0;
    bool same = !elements_changed;
    const auto key = [&](double value) {
      if (zone.source_key.size() <= at) {
        zone.source_key.push_back(value);
        same = false;
      } else if (zone.source_key[at] != value) {
        zone.source_key[at] = value;
        same = false;
      }
      ++at;
    };
    double frequency = 0, speed = 1;
    for (int e : zone.elements) {
      const auto& element = v.elements[e];
      if (element.inductance_parameter >= 0) key(values.parameter[element.inductance_parameter]);
      if (element.emf_parameter < 0) continue;
      if (element.frequency_factor >= 0)
        speed = values.parameter[element.frequency_factor] / v.parameters[element.frequency_factor].typical;
      if (element.frequency_parameter >= 0) frequency = values.parameter[element.frequency_parameter] * speed;
      key(values.parameter[element.emf_parameter]);
      key(frequency);
      key(speed);
    }
    if (same) return false;
    if (zone.direct) {
      solve_direct(zone, elements_changed, solution);
      return true;
    }
    auto& x = zone.complex_volts;
    std::fill(x.begin(), x.end(), C{});
    for (std::size_t k = 0; k < zone.nodes.size(); ++k) zone.complex_shunt[k] = zone.shunt[k];
    for (std::size_t k = 0; k < zone.elements.size(); ++k) {
      const auto& element = v.elements[zone.elements[k]];
      zone.complex_admittance[k] = zone.admittance[k];
      if (element.inductance_parameter >= 0) {
        const C impedance(1 / zone.admittance[k],
                          2 * std::numbers::pi * frequency * values.parameter[element.inductance_parameter]);
        zone.complex_admittance[k] = std::conj(impedance) / std::norm(impedance);
      }
      if (element.emf_parameter >= 0) {
        const C current = values.parameter[element.emf_parameter] * speed * zone.complex_admittance[k];
        if (element.a != model::k_earth) x[zone.plan.position(running_plan.local_of_node[element.a])] += current;
        if (element.b != model::k_earth) x[zone.plan.position(running_plan.local_of_node[element.b])] -= current;
      }
    }
    zone.plan.factor<C>(zone.complex_admittance, zone.complex_shunt, zone.complex_diagonal, zone.complex_lower, true);
    zone.plan.solve<C>(zone.complex_diagonal, zone.complex_lower, x);
    for (Index node : zone.nodes)
      solution.node_volts[node] = std::abs(x[zone.plan.position(running_plan.local_of_node[node])]);
    return true;
  }

  /// The same without frequency: real arithmetic, and the factors of an unchanged zone serve again.
  void solve_direct(Zone& zone, bool elements_changed, Solution& solution) const {
    const auto& v = *vehicle;
    if (elements_changed || zone.whole_lower.empty()) {
      zone.whole_diagonal.resize(zone.nodes.size());
      zone.whole_lower.resize(zone.plan.entries());
      zone.plan.factor<double>(zone.admittance, zone.shunt, zone.whole_diagonal, zone.whole_lower, true);
    }
    std::fill(zone.volts.begin(), zone.volts.end(), 0.0);
    for (std::size_t k = 0; k < zone.elements.size(); ++k) {
      const auto& element = v.elements[zone.elements[k]];
      if (element.emf_parameter < 0) continue;
      const double current = values.parameter[element.emf_parameter] * zone.admittance[k];
      if (element.a != model::k_earth) zone.volts[zone.plan.position(running_plan.local_of_node[element.a])] += current;
      if (element.b != model::k_earth) zone.volts[zone.plan.position(running_plan.local_of_node[element.b])] -= current;
    }
    zone.plan.solve<double>(zone.whole_diagonal, zone.whole_lower, zone.volts);
    for (Index node : zone.nodes) {
      const int position = zone.plan.position(running_plan.local_of_node[node]);
      zone.complex_volts[position] = zone.volts[position];
      solution.node_volts[node] = std::abs(zone.volts[position]);
    }
  }

  /// Volts of the linear solution that stay under a stage's currents: those of a battery. 0 elsewhere (an alternating
  /// source passes at other moments).
  static double standing(const Zone& zone, int position) {
    return zone.direct ? zone.complex_volts[static_cast<std::size_t>(position)].real() : 0.0;
  }

  /// Magnitude between two nodes of the linear solution (0 where no source is).
  double linear_volts(Index a, Index b) const {
    std::complex<double> difference{};
    for (auto [node, sign] : {std::pair{a, 1.0}, std::pair{b, -1.0}}) {
      if (node == model::k_earth) continue;
      const auto& zone = now->network.zones[running_plan.zone_of_node[node]];
      if (zone.sourced) difference += sign * zone.complex_volts[zone.plan.position(running_plan.local_of_node[node])];
    }
    return std::max(std::abs(difference), 1e-9);
  }

  /// Conductances between a zone's terminals as a stage sees them, into `block`: terminals that belong to other stages
  /// only carry no current for this one, so they are eliminated too.
  void reduce(const std::vector<int>& gone, const Zone& zone) {
    const auto count = static_cast<std::size_t>(zone.plan.terminals());
    block.resize(count * count);
    for (std::size_t r = 0; r < count; ++r)
      for (std::size_t c = 0; c <= r; ++c)
        block[r * count + c] = block[c * count + r] =
            zone.plan.schur(zone.diagonal, zone.lower, static_cast<int>(r), static_cast<int>(c));
    for (int row : gone) {
      const auto g = static_cast<std::size_t>(row);
      for (std::size_t r = 0; r < count; ++r) {
        if (r == g) continue;
        const double share = block[r * count + g] / block[g * count + g];
        for (std::size_t c = 0; c < count; ++c)
          if (c != g) block[r * count + c] -= share * block[g * count + c];
      }
    }
  }

  void gather(std::size_t stage_index) {
    const auto& stage = vehicle->stages[stage_index];
    std::size_t at = 0;
    const std::size_t first_terminal = stage.inputs.size() - stage.terminal_count;
    for (std::size_t k = 0; k < first_terminal; ++k) {
      const auto& input = stage.inputs[k];
      inputs[at++] = input.kind == model::StageInput::Kind::parameter ? values.parameter[input.a]
                     : input.kind == model::StageInput::Kind::output  ? now->solution.outputs[input.a]
                                                                      : linear_volts(input.a, input.b);
    }
    // Where no zone of this stage was factored since, its terminals look into the harness as they did.
    auto& kept = now->terminals[stage_index];
    if (!kept.empty() || stage.terminal_count == 0) {
      bool same = true;
      for (std::size_t i = 0; i < stage.terminal_count && same; ++i) {
        const Index node = stage.inputs[first_terminal + i].a;
        same = node == model::k_earth ||
               now->factored[static_cast<std::size_t>(running_plan.zone_of_node[node])] <= now->gathered[stage_index];
      }
      if (same) {
        std::copy(kept.begin(), kept.end(), inputs.begin() + static_cast<std::ptrdiff_t>(at));
        return;
      }
    }
    const std::size_t tail = at;
    int reduced = -1;  // zone whose terminals `block` holds
    for (std::size_t i = 0; i < stage.terminal_count; ++i)
      for (std::size_t j = 0; j <= i; ++j) {
        const Index a = stage.inputs[first_terminal + i].a, b = stage.inputs[first_terminal + j].a;
        double value = 0;
        if (a != model::k_earth && b != model::k_earth &&
            running_plan.zone_of_node[a] == running_plan.zone_of_node[b]) {
          const int number = running_plan.zone_of_node[a];
          const auto& zone = now->network.zones[number];
          if (number != reduced) reduce(foreign[stage_index][number], zone);
          reduced = number;
          const int row = zone.plan.position(running_plan.local_of_node[a]) - zone.plan.interior(),
                    column = zone.plan.position(running_plan.local_of_node[b]) - zone.plan.interior();
          value = block[static_cast<std::size_t>(row * zone.plan.terminals() + column)];
        }
        inputs[at++] = value;
      }
    kept.assign(inputs.begin() + static_cast<std::ptrdiff_t>(tail), inputs.begin() + static_cast<std::ptrdiff_t>(at));
    now->gathered[stage_index] = now->moment;
  }

  /// Volts of all nodes of the zones that this stage's terminals touch, from its terminal volts. Where a battery feeds
  /// the zone its volts and what the stage's currents add are superposed: the addition alone has no source inside.
  void spread(std::size_t stage_index, bool outputs_changed) {
    double* row = &now->solution.node_volts[(stage_index + 1) * vehicle->nodes.size()];
    for (const auto& entry : entries[stage_index]) {
      if (!outputs_changed && !now->changed[entry.zone]) continue;
      auto& zone = now->network.zones[entry.zone];
      std::fill(zone.volts.begin(), zone.volts.end(), 0.0);
      for (const auto& [position, output] : entry.known)
        zone.volts[position] = now->solution.outputs[output] - standing(zone, position);
      if (!entry.unknown.empty()) relax(zone, entry);
      zone.plan.back_substitute(zone.lower, zone.volts);
      for (std::size_t k = 0; k < zone.nodes.size(); ++k) {
        const int position = zone.plan.position(static_cast<int>(k));
        row[zone.nodes[k]] = zone.volts[static_cast<std::size_t>(position)] + standing(zone, position);
      }
      for (const auto& [node, output] : entry.shown) row[node] = now->solution.outputs[output];
    }
  }

  /// Terminals whose volts the stage does not state float: they carry no current. Gauss elimination on the small Schur
  /// block; sweeping it converged too slowly where two of them hang together (another coil's primary, its points open).
  void relax(Zone& zone, const Entry& entry) const {
    const auto count = entry.unknown.size();
    const int first = zone.plan.interior();
    const auto schur = [&](int i, int j) { return zone.plan.schur(zone.diagonal, zone.lower, i, j); };
    floating.assign(count * (count + 1), 0.0);
    const auto row = [&](std::size_t i) { return floating.begin() + static_cast<std::ptrdiff_t>(i * (count + 1)); };
    for (std::size_t i = 0; i < count; ++i) {
      for (std::size_t j = 0; j < count; ++j)
        row(i)[static_cast<std::ptrdiff_t>(j)] = schur(entry.unknown[i], entry.unknown[j]);
      double sum = 0;
      for (int j = 0; j < zone.plan.terminals(); ++j)
        if (std::find(entry.unknown.begin(), entry.unknown.end(), j) == entry.unknown.end())
          sum -= schur(entry.unknown[i], j) * zone.volts[static_cast<std::size_t>(first + j)];
      row(i)[static_cast<std::ptrdiff_t>(count)] = sum;
    }
    const auto end = static_cast<std::ptrdiff_t>(count);
    for (std::ptrdiff_t k = 0; k < end; ++k) {
      const auto pivot = row(static_cast<std::size_t>(k));
      for (std::ptrdiff_t i = k + 1; i < end; ++i) {
        const auto below = row(static_cast<std::size_t>(i));
        const double factor = below[k] / pivot[k];
        if (factor == 0) continue;
        for (std::ptrdiff_t j = k; j <= end; ++j) below[j] -= factor * pivot[j];
      }
    }
    for (std::ptrdiff_t k = end; k-- > 0;) {
      const auto here = row(static_cast<std::size_t>(k));
      double sum = here[end];
      for (std::ptrdiff_t j = k + 1; j < end; ++j)
        sum -= here[j] * zone.volts[static_cast<std::size_t>(first + entry.unknown[static_cast<std::size_t>(j)])];
      zone.volts[static_cast<std::size_t>(first + entry.unknown[static_cast<std::size_t>(k)])] = sum / here[k];
    }
  }

  bool has_large_joint(const Zone& zone) const {
    double largest = 0;
    for (int e : zone.elements) {
      const auto& element = vehicle->elements[e];
      if (element.a != model::k_earth && element.b != model::k_earth) largest = std::max(largest, values.resistance[e]);
    }
    return largest > k_felt_ohm;
  }

  /// Resistance behind a node in the linear solution, where no stage holds its terminals.
  double through_all(const Zone& zone, int position) const {
    return zone.plan.whole_driving_point(zone.whole_diagonal, zone.whole_lower, position, scratch);
  }

  /// Resistance of a node as a meter feels it, ohms: its way to the terminals, and what the stage (its row in
  /// node_volts) states as resistance behind those, shared out as the volts are. 0 where a meter does not matter.
  double node_ohm(Index node, std::size_t row) const {
    if (node == model::k_earth) return 0;
    const int z = running_plan.zone_of_node[node];
    const auto& zone = now->network.zones[z];
    const int position = zone.plan.position(running_plan.local_of_node[node]);
    if (row == 0 && zone.direct) return now->loads_meter[z] ? through_all(zone, position) : 0;
    double felt = 0;
    if (now->loads_meter[z] && position < zone.plan.interior())
      felt = zone.plan.driving_point(zone.diagonal, zone.lower, position, scratch);
    if (row == 0) return felt;
    for (const auto& entry : entries[row - 1]) {
      if (entry.zone != static_cast<std::size_t>(z)) continue;
      const auto large = [&](const std::pair<int, Index>& t) { return now->solution.outputs[t.second] > k_felt_ohm; };
      if (std::none_of(entry.ohms.begin(), entry.ohms.end(), large)) continue;
      std::fill(scratch.begin(), scratch.end(), 0.0);
      for (const auto& [at, output] : entry.ohms) scratch[static_cast<std::size_t>(at)] = now->solution.outputs[output];
      zone.plan.back_substitute(zone.lower, scratch);
      felt += scratch[static_cast<std::size_t>(position)];
    }
    return felt;
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
  auto& here = s.state_of(scene);
  s.now = &here;
  apply(v, scene, faults, log_shift, s.values);
  ++here.moment;
  for (std::size_t z = 0; z < here.network.zones.size(); ++z) {
    auto& zone = here.network.zones[z];
    here.changed[z] = s.factor(zone);
    if (here.changed[z]) {
      here.factored[z] = here.moment;
      here.loads_meter[z] = s.has_large_joint(zone);
    }
    if (!zone.sourced) continue;
    const bool moved = s.solve_linear(zone, here.changed[z] != 0, here.solution);
    if (zone.direct && moved) here.changed[z] = 1;  // the stages' volts stand on the battery's
  }
  for (std::size_t k = 0; k < v.stages.size(); ++k) {
    const auto& stage = v.stages[k];
    if (stage.report_only && !with_reports) continue;
    if (!s.wanted.empty() && !s.wanted[static_cast<std::size_t>(scene)][k]) continue;
    s.gather(k);
    const std::span<const double> in{s.inputs.data(), stage.input_width()};
    bool hit = false;
    const auto slot = s.caches[k].find(in, hit);
    const auto out = s.caches[k].outputs(slot);
    if (!hit) {
      v.physics->evaluate(static_cast<Index>(k), 1, in, out);
      s.caches[k].filled(slot);
    }
    double* kept = &here.solution.outputs[stage.first_output];
    const bool changed = !std::equal(out.begin(), out.end(), kept);
    std::copy(out.begin(), out.end(), kept);
    s.spread(k, changed);
  }
  return here.solution;
}

void Circuit::run_only(std::vector<std::vector<char>> wanted) {
  auto& s = *impl_;
  ensure(wanted.size() == s.vehicle->scenes.size(), "wanted stages need one row a scene");
  for (auto& row : wanted) {
    ensure(row.size() == s.vehicle->stages.size(), "wanted stages need one entry a stage");
    // Stages take from earlier ones only.
    for (std::size_t k = row.size(); k-- > 0;)
      for (const auto& input : s.vehicle->stages[k].inputs)
        if (row[k] && input.kind == model::StageInput::Kind::output)
          row[static_cast<std::size_t>(s.vehicle->outputs[static_cast<std::size_t>(input.a)].stage)] = 1;
  }
  s.wanted = std::move(wanted);
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

double Circuit::reading(const model::Test& test, const Solution& solution, double meter_ohm, bool with_margins) const {
  const auto& v = *impl_->vehicle;
  for (Index margin : test.dead_below)
    if (with_margins && solution.outputs[margin] < 0) return 0;
  const auto volts = [&](Index stage, Index node) {
    const auto row = static_cast<std::size_t>(stage + 1);
    const double open = solution.node_volts[row * v.nodes.size() + static_cast<std::size_t>(node)];
    return open == 0 ? 0 : open * meter_ohm / (meter_ohm + impl_->node_ohm(node, row));
  };
  const bool drop = test.reads == model::Reads::drop_volts;
  const auto between = [&](Index stage) {
    return drop ? std::abs(volts(stage, test.node_a) - volts(stage, test.node_b)) : volts(stage, test.node_a);
  };
  const double to_unit = unit_scale(test.unit);
  switch (test.reads) {
    case model::Reads::node_volts:
    case model::Reads::drop_volts: {
      double value = between(test.stage);
      for (Index stage : test.further_stages) value = std::max(std::abs(value), std::abs(between(stage)));
      return value * to_unit;
    }
    case model::Reads::margin_word:
      return solution.outputs[test.output];
    case model::Reads::output: {
      const bool other = with_margins && test.switch_margin >= 0 && solution.outputs[test.switch_margin] < 0;
      const Index output = other ? test.switch_output : test.output;
      return solution.outputs[output] * to_unit / unit_scale(v.outputs[output].unit);
    }
    default:
      ensure(false, "this test is not read from a running scene");
  }
  return 0;
}

}  // namespace lostspark::circuit
