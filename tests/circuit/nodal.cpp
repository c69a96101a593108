// The nodal solver against closed forms of circuit theory (Ohm, Kirchhoff; textbook, no source needed) and against dense
// Gaussian elimination on random networks.
#include <cmath>
#include <complex>
#include <random>

#include "catch_all.hpp"
#include "circuit/circuit.hpp"
#include "circuit/zone.hpp"
#include "support/toy_vehicle.hpp"

using namespace lostspark;
using model::Index;

namespace {

/// A vehicle with nodes 1..n and ohm elements; test `k` measures between two nodes.
std::shared_ptr<model::Vehicle> resistors(int nodes, const std::vector<std::tuple<int, int, double>>& elements,
                                          std::vector<std::pair<int, int>> probes) {
  auto v = toy::make_vehicle();
  for (int n = 1; n <= nodes; ++n) v->nodes.push_back({.id = "n" + std::to_string(n)});
  for (auto [a, b, ohm] : elements) v->elements.push_back({.id = "r", .a = a, .b = b, .resistance_ohm = ohm});
  for (auto [a, b] : probes) {
    model::Test test;
    test.id = "ohms";
    test.unit = "ohm";
    test.reads = model::Reads::ohms;
    test.scene = 0;
    test.node_a = a;
    test.node_b = b;
    v->tests.push_back(test);
  }
  return v;
}

std::vector<double> dense_solve(std::vector<std::vector<double>> a, std::vector<double> b) {
  const std::size_t n = b.size();
  for (std::size_t k = 0; k < n; ++k) {
    std::size_t pivot = k;
    for (std::size_t r = k; r < n; ++r)
      if (std::abs(a[r][k]) > std::abs(a[pivot][k])) pivot = r;
    std::swap(a[k], a[pivot]);
    std::swap(b[k], b[pivot]);
    for (std::size_t r = k + 1; r < n; ++r) {
      const double f = a[r][k] / a[k][k];
      for (std::size_t c = k; c < n; ++c) a[r][c] -= f * a[k][c];
      b[r] -= f * b[k];
    }
  }
  for (std::size_t k = n; k-- > 0;) {
    for (std::size_t c = k + 1; c < n; ++c) b[k] -= a[k][c] * b[c];
    b[k] /= a[k][k];
  }
  return b;
}

}  // namespace

TEST_CASE("an ohmmeter reads series, parallel and bridge circuits", "[circuit][oracle]") {
  // 1-2: 10 + 20 in series with 5 across the second: 10 + 4 = 14 ohm to earth; a balanced bridge ignores its arm.
  auto v = resistors(6, {{1, 2, 10}, {2, 0, 20}, {2, 0, 5}, {3, 4, 100}, {3, 5, 200}, {4, 6, 100}, {5, 6, 200}, {4, 5, 77}},
                     {{1, 0}, {3, 6}, {1, 3}});
  circuit::Circuit c(v);
  CHECK(c.resistance(0, {}, {}) == Approx(14).epsilon(1e-6));
  CHECK(c.resistance(1, {}, {}) == Approx(400.0 / 3).epsilon(1e-5));
  CHECK(c.resistance(2, {}, {}) > 1e7);  // no path but the leaks
}

TEST_CASE("an unplugged or broken element opens the path, a chafed wire adds one to earth", "[circuit][unit]") {
  auto v = resistors(3, {{1, 2, 10}, {2, 3, 20}, {3, 0, 30}}, {{1, 0}});
  const auto open = toy::add_mode(*v, "open", 0.01, {{model::ChangeTarget::element_series, 1, model::Operation::set, 1e11, 1e11}});
  const auto chafed = toy::add_mode(*v, "chafed", 0.01, {{model::ChangeTarget::element_shunt, 1, model::Operation::set, 50, 2}});
  circuit::Circuit c(v);
  CHECK(c.resistance(0, {}, {}) == Approx(60).epsilon(1e-6));
  const std::vector<circuit::ActiveMode> broken{{open, 0.5}}, mild{{chafed, 0.0}}, severe{{chafed, 1.0}};
  CHECK(c.resistance(0, broken, {}) > 1e7);
  CHECK(c.resistance(0, mild, {}) == Approx(10 + 1 / (1.0 / 50 + 1.0 / 50)).epsilon(1e-5));
  CHECK(c.resistance(0, severe, {}) == Approx(10 + 1 / (1.0 / 2 + 1.0 / 50)).epsilon(1e-5));
}

TEST_CASE("gigaohms are read behind milliohms, and a floating point reads over every meter's range", "[circuit][oracle]") {
  // Four sound switches of a gigaohm each behind wires of a tenth of a milliohm: 250 megohm.
  auto v = resistors(9, {{1, 2, 1e-4}, {2, 3, 1e-4}, {3, 4, 1e-4}, {4, 0, 1e9}, {3, 5, 1e-4}, {5, 0, 1e9},
                         {2, 6, 1e-4}, {6, 0, 1e9}, {1, 7, 1e-4}, {7, 0, 1e9}, {8, 9, 1e-6}},
                     {{1, 0}, {8, 0}, {8, 9}});
  circuit::Circuit c(v);
  CHECK(c.resistance(0, {}, {}) == Approx(2.5e8).epsilon(0.02));
  CHECK(c.resistance(1, {}, {}) > 5e10);
  CHECK(c.resistance(2, {}, {}) < 0.01);
}

TEST_CASE("an inductive source into a resistor divides by the complex impedance", "[circuit][oracle]") {
  auto v = toy::make_vehicle();
  v->parameters.push_back({.id = "emf", .unit = "volt", .typical = 4});
  v->parameters.push_back({.id = "winding", .unit = "ohm", .typical = 200});
  v->parameters.push_back({.id = "inductance", .unit = "henry", .typical = 0.2});
  v->parameters.push_back({.id = "frequency", .unit = "hertz", .typical = 300});
  v->nodes.push_back({.id = "hot"});
  v->elements.push_back({.id = "coil", .a = 1, .b = 0, .resistance_parameter = 4, .inductance_parameter = 5,
                         .emf_parameter = 3, .frequency_parameter = 6});
  v->elements.push_back({.id = "load", .a = 1, .b = 0, .resistance_ohm = 1000});
  model::Test test;
  test.unit = "volt";
  test.reads = model::Reads::node_volts;
  test.scene = 0;
  test.node_a = 1;
  v->tests.push_back(test);
  circuit::Circuit c(v);
  const auto& solution = c.solve(0, {}, {});
  const double w = 2 * 3.14159265358979 * 300;
  const double expected = 4 * 1000 / std::abs(std::complex<double>(1200, w * 0.2));
  CHECK(c.reading(v->tests[0], solution, 1e12) == Approx(expected).epsilon(1e-4));
  CHECK(c.reading(v->tests[0], solution, 1e12) < 4);
}

TEST_CASE("a source is solved alike whether a stage holds terminals in its zone or not", "[circuit][oracle]") {
  // 4 V behind 200 ohm, 1000 ohm to node 2, 300 ohm from there to earth; node 3 hangs on node 2.
  auto v = toy::make_vehicle();
  v->parameters.push_back({.id = "emf", .unit = "volt", .typical = 4});
  v->parameters.push_back({.id = "frequency", .unit = "hertz", .typical = 300});
  for (const char* id : {"hot", "lifted", "beyond"}) v->nodes.push_back({.id = id});
  v->elements.push_back(
      {.id = "coil", .a = 1, .b = 0, .resistance_ohm = 200, .emf_parameter = 3, .frequency_parameter = 4});
  v->elements.push_back({.id = "load", .a = 1, .b = 2, .resistance_ohm = 1000});
  v->elements.push_back({.id = "earth", .a = 2, .b = 0, .resistance_ohm = 300});
  v->elements.push_back({.id = "wire", .a = 2, .b = 3, .resistance_ohm = 0.01});
  model::Test test;
  test.unit = "volt";
  test.reads = model::Reads::node_volts;
  test.scene = 0;
  for (Index node : {1, 2, 3}) {
    test.node_a = node;
    v->tests.push_back(test);
  }
  circuit::Circuit without(v);
  auto w = std::make_shared<model::Vehicle>(*v);
  w->stages.push_back(w->stages[0]);  // its answers do not matter
  w->stages[1].inputs = {{model::StageInput::Kind::terminal, 2, model::k_none},
                         {model::StageInput::Kind::terminal, 3, model::k_none}};
  w->stages[1].scalar_count = 0;
  w->stages[1].terminal_count = 2;
  w->stages[1].first_output = 0;
  circuit::Circuit with(w);
  const double expected[] = {4.0 * 1300 / 1500, 4.0 * 300 / 1500, 4.0 * 300 / 1500};
  for (std::size_t k = 0; k < 3; ++k) {
    CHECK(without.reading(v->tests[k], without.solve(0, {}, {}), 1e12) == Approx(expected[k]).epsilon(1e-6));
    CHECK(with.reading(w->tests[k], with.solve(0, {}, {}), 1e12) == Approx(expected[k]).epsilon(1e-6));
  }
}

namespace {

/// A source of 100 V at terminal 1 and -40 V at terminal 3, 6 megohm behind the first; a meter on terminal 3 shows 55 V.
/// The next stage has 70 V at terminal 1 and 10 V at terminal 3.
class Sources : public model::StagePhysics {
 public:
  void evaluate(Index stage, std::size_t, std::span<const double>, std::span<double> out) const override {
    const std::vector<double> first{100, -40, 6e6, 55}, second{70, 10};
    const auto& row = stage == 0 ? first : second;
    std::copy(row.begin(), row.end(), out.begin());
  }
};

std::shared_ptr<model::Vehicle> two_sources() {
  using Kind = model::OutputKind;
  auto v = resistors(4, {{1, 2, 10}, {2, 3, 30}, {2, 4, 1e7}}, {});
  v->stages.clear();
  v->outputs.clear();
  const std::vector<std::vector<std::pair<Kind, Index>>> rows{
      {{Kind::terminal_volts, 1}, {Kind::terminal_volts, 3}, {Kind::terminal_ohm, 1}, {Kind::terminal_reading, 3}},
      {{Kind::terminal_volts, 1}, {Kind::terminal_volts, 3}}};
  for (const auto& outputs : rows) {
    model::Stage stage{.id = "s"};
    for (Index terminal : {1, 3}) stage.inputs.push_back({model::StageInput::Kind::terminal, terminal, model::k_none});
    stage.terminal_count = 2;
    stage.first_output = static_cast<Index>(v->outputs.size());
    for (const auto& [kind, node] : outputs) {
      model::Output output{.id = "s.out", .unit = "volt", .stage = static_cast<Index>(v->stages.size())};
      output.kind = kind;
      output.node = node;
      v->outputs.push_back(output);
      ++stage.output_count;
    }
    v->stages.push_back(stage);
  }
  v->physics = std::make_shared<Sources>();
  return v;
}

model::Test volts_at(Index node, Index stage, std::vector<Index> further = {}) {
  model::Test test;
  test.unit = "volt";
  test.reads = model::Reads::node_volts;
  test.scene = 0;
  test.node_a = node;
  test.stage = stage;
  test.further_stages = std::move(further);
  return test;
}

}  // namespace

TEST_CASE("a meter works against the source resistance a stage states, shared out as the volts are", "[circuit][oracle]") {
  auto v = two_sources();
  circuit::Circuit c(v);
  const auto& s = c.solve(0, {}, {});
  const auto reads = [&](Index node, double meter) { return c.reading(volts_at(node, 0), s, meter); };
  // Node 2 lies a quarter of the way from 100 V to -40 V; it has three quarters of terminal 1's resistance.
  CHECK(reads(1, 1e15) == Approx(100).epsilon(1e-6));
  CHECK(reads(2, 1e15) == Approx(65).epsilon(1e-6));
  CHECK(reads(1, 2e6) == Approx(100 * 2.0 / (2 + 6)).epsilon(1e-6));
  CHECK(reads(2, 2e6) == Approx(65 * 2.0 / (2 + 4.5)).epsilon(1e-4));
  CHECK(reads(4, 2e6) == Approx(65 * 2.0 / (2 + 4.5 + 10)).epsilon(1e-3));  // and the joint on its way
  CHECK(c.reading(volts_at(1, 1), c.solve(0, {}, {}), 2e6) == Approx(70).epsilon(1e-6));  // nothing stated there
}

TEST_CASE("a terminal shows its own reading, the harness beyond it what it sees there", "[circuit][unit]") {
  auto v = two_sources();
  circuit::Circuit c(v);
  const auto& s = c.solve(0, {}, {});
  CHECK(c.reading(volts_at(3, 0), s, 1e15) == 55);
  CHECK(c.reading(volts_at(2, 0), s, 1e15) == Approx(100 - 140.0 / 4).epsilon(1e-6));
}

TEST_CASE("a test of several stages shows the largest magnitude", "[circuit][unit]") {
  auto v = two_sources();
  circuit::Circuit c(v);
  const auto& s = c.solve(0, {}, {});
  CHECK(c.reading(volts_at(1, 1, {0}), s, 1e15) == Approx(100).epsilon(1e-6));
  CHECK(c.reading(volts_at(3, 1, {0}), s, 1e15) == Approx(55).epsilon(1e-6));
  v->outputs[3].kind = model::OutputKind::value;  // no reading of its own: -40 V, by magnitude
  circuit::Circuit plain(v);
  CHECK(plain.reading(volts_at(3, 1, {0}), plain.solve(0, {}, {}), 1e15) == Approx(40).epsilon(1e-6));
}

namespace {

/// Two stages on one zone: stage 0 sees node 1 only, stage 1 sees node 3 only; each reports the conductance it is given.
class Conductances : public model::StagePhysics {
 public:
  void evaluate(Index, std::size_t n, std::span<const double> in, std::span<double> out) const override {
    for (std::size_t k = 0; k < n; ++k) {
      out[k] = in[k];
    }
  }
};

}  // namespace

TEST_CASE("a stage sees the terminals of other stages as carrying no current", "[circuit][oracle]") {
  // 1 -10- 2 -20- 3 -30- earth: from node 1 the path is 60 ohm, from node 3 30 ohm (1 and 2 lead nowhere else).
  auto v = resistors(3, {{1, 2, 10}, {2, 3, 20}, {3, 0, 30}}, {});
  v->stages.clear();
  v->outputs.clear();
  for (Index terminal : {1, 3}) {
    model::Stage stage{.id = "s"};
    stage.inputs = {{model::StageInput::Kind::terminal, terminal, model::k_none}};
    stage.terminal_count = 1;
    stage.first_output = static_cast<Index>(v->outputs.size());
    stage.output_count = 1;
    v->outputs.push_back({.id = "s.out", .unit = "one", .stage = static_cast<Index>(v->stages.size())});
    v->stages.push_back(stage);
  }
  v->physics = std::make_shared<Conductances>();
  circuit::Circuit c(v);
  const auto& solution = c.solve(0, {}, {});
  CHECK(solution.outputs[0] == Approx(1.0 / 60).epsilon(1e-5));
  CHECK(solution.outputs[1] == Approx(1.0 / 30).epsilon(1e-5));
}

TEST_CASE("Schur complements and back substitution equal dense elimination on random networks", "[circuit][property]") {
  std::mt19937 random(42);
  std::uniform_real_distribution<double> unit(0, 1);
  for (int trial = 0; trial < 60; ++trial) {
    const int n = 4 + trial % 9, terminals = 2 + trial % 3;
    std::vector<circuit::Branch> branches;
    std::vector<double> admittance, shunt(n);
    for (int i = 1; i < n; ++i) branches.push_back({i, static_cast<int>(random() % i), static_cast<int>(branches.size())});
    for (int extra = 0; extra < n / 2; ++extra) {
      const int a = static_cast<int>(random() % n), b = static_cast<int>(random() % n);
      if (a != b) branches.push_back({a, b, static_cast<int>(branches.size())});
    }
    for (std::size_t k = 0; k < branches.size(); ++k) admittance.push_back(std::pow(10, 4 * unit(random) - 2));
    for (double& s : shunt) s = 1e-3 * unit(random) + 1e-6;
    std::vector<bool> is_terminal(n, false);
    for (int t = 0; t < terminals; ++t) is_terminal[t] = true;
    const circuit::ZonePlan plan(n, is_terminal, branches);
    std::vector<double> diagonal(n), lower(plan.entries()), x(n);
    plan.factor<double>(admittance, shunt, diagonal, lower);

    // Full matrix; fix the terminals' volts, solve the interior densely.
    std::vector<std::vector<double>> full(n, std::vector<double>(n, 0.0));
    for (int i = 0; i < n; ++i) full[i][i] += shunt[i];
    for (const auto& b : branches) {
      full[b.a][b.a] += admittance[b.element];
      full[b.b][b.b] += admittance[b.element];
      full[b.a][b.b] -= admittance[b.element];
      full[b.b][b.a] -= admittance[b.element];
    }
    std::vector<double> volts(n, 0.0);
    for (int t = 0; t < terminals; ++t) volts[t] = unit(random) * 100;
    const int m = n - terminals;
    std::vector<std::vector<double>> inner(m, std::vector<double>(m));
    std::vector<double> right(m, 0.0);
    for (int i = 0; i < m; ++i) {
      for (int j = 0; j < m; ++j) inner[i][j] = full[terminals + i][terminals + j];
      for (int t = 0; t < terminals; ++t) right[i] -= full[terminals + i][t] * volts[t];
    }
    const auto solved = dense_solve(inner, right);
    for (int i = 0; i < m; ++i) volts[terminals + i] = solved[i];
    for (int t = 0; t < terminals; ++t) x[plan.position(t)] = volts[t];
    plan.back_substitute(lower, x);
    INFO("trial " << trial);
    for (int i = 0; i < n; ++i) CHECK(x[plan.position(i)] == Approx(volts[i]).epsilon(1e-9).margin(1e-9));
    // Currents into the terminals: S v = full row times volts.
    for (int t = 0; t < terminals; ++t) {
      double direct = 0, reduced = 0;
      for (int j = 0; j < n; ++j) direct += full[t][j] * volts[j];
      for (int u = 0; u < terminals; ++u)
        reduced += plan.schur(diagonal, lower, plan.position(t) - plan.interior(), plan.position(u) - plan.interior()) * volts[u];
      CHECK(reduced == Approx(direct).epsilon(1e-8).margin(1e-8));
    }
    // Driving-point resistance of an interior node.
    if (m > 0) {
      std::vector<double> unit_current(m, 0.0), scratch(n);
      unit_current[0] = 1;
      const double expected = dense_solve(inner, unit_current)[0];
      CHECK(plan.driving_point(diagonal, lower, plan.position(terminals), scratch) == Approx(expected).epsilon(1e-9));
    }
  }
}

namespace {

/// One output: the volts of its terminal, as a parameter states them.
class StatedVolts : public model::StagePhysics {
 public:
  void evaluate(Index, std::size_t n, std::span<const double> in, std::span<double> out) const override {
    for (std::size_t k = 0; k < n; ++k) out[k] = in[2 * k];  // one scalar, one entry of the matrix
  }
};

/// A battery of 12 V behind 0.5 ohm at node 1; 1 ohm to node 2, where a lamp of 10 ohm hangs; 2 ohm to the stage's
/// terminal, node 3. `hertz`: what feeds is no battery but an alternating source.
std::shared_ptr<model::Vehicle> behind_a_battery(bool alternating) {
  auto v = toy::make_vehicle(0);
  v->parameters = {{.id = "stage_volt", .unit = "volt", .typical = 6},
                   {.id = "battery_emf_volt", .unit = "volt", .typical = 12},
                   {.id = "source_hertz", .unit = "hertz", .typical = 50}};
  for (int n = 1; n <= 3; ++n) v->nodes.push_back({.id = "n" + std::to_string(n)});
  v->elements = {{.id = "battery", .a = 1, .b = 0, .resistance_ohm = 0.5, .emf_parameter = 1},
                 {.id = "wire", .a = 1, .b = 2, .resistance_ohm = 1},
                 {.id = "lamp", .a = 2, .b = 0, .resistance_ohm = 10},
                 {.id = "joint", .a = 2, .b = 3, .resistance_ohm = 2}};
  if (alternating) v->elements[0].frequency_parameter = 2;
  model::Stage stage{.id = "stage", .title = "stage"};
  stage.inputs = {{model::StageInput::Kind::parameter, 0, model::k_none}, {model::StageInput::Kind::terminal, 3}};
  stage.scalar_count = stage.terminal_count = 1;
  stage.output_count = 1;
  v->stages = {stage};
  v->outputs = {{.id = "stage.volt", .unit = "volt", .stage = 0, .kind = model::OutputKind::terminal_volts, .node = 3}};
  v->physics = std::make_shared<StatedVolts>();
  return v;
}

}  // namespace

TEST_CASE("what a stage draws from a battery and the battery's own volts are superposed", "[circuit][oracle]") {
  const auto v = behind_a_battery(false);
  circuit::Circuit c(v);
  const auto at = [&](const circuit::Solution& s, int row, int node) {
    return s.node_volts[static_cast<std::size_t>(row) * v->nodes.size() + static_cast<std::size_t>(node)];
  };
  // Kirchhoff at node 2, the terminal held at 6 V: (12 - u)/1.5 = u/10 + (u - 6)/2.
  const double u = (12 / 1.5 + 3) / (1 / 1.5 + 0.1 + 0.5);
  const auto& s = c.solve(0, {}, {});
  CHECK(at(s, 1, 3) == Approx(6).epsilon(1e-9));
  CHECK(at(s, 1, 2) == Approx(u).epsilon(1e-6));
  CHECK(at(s, 1, 1) == Approx(12 - 0.5 * (12 - u) / 1.5).epsilon(1e-6));
  CHECK(at(s, 0, 3) == Approx(12 * 10 / 11.5).epsilon(1e-6));  // nothing drawn: the lamp's current alone
  // A weak battery with the terminal where it was: only the source has moved.
  const std::vector<double> weak{0.0, std::log(0.75), 0.0};
  const auto& t = c.solve(0, {}, weak);
  const double lower = (9 / 1.5 + 3) / (1 / 1.5 + 0.1 + 0.5);
  CHECK(at(t, 1, 2) == Approx(lower).epsilon(1e-6));
}

TEST_CASE("a meter on a battery's line is loaded through everything behind it, at a stage's terminal too",
          "[circuit][oracle]") {
  auto v = behind_a_battery(false);
  v->elements[1].resistance_ohm = 1e6;  // the wire
  v->elements[2].resistance_ohm = 4e6;  // the lamp's place: 4 Mohm in parallel with the meter's way
  for (int node : {2, 3}) {
    model::Test test;
    test.id = test.kind = "volts";
    test.unit = "volt";
    test.reads = model::Reads::node_volts;
    test.scene = 0;
    test.node_a = node;
    v->tests.push_back(test);
  }
  circuit::Circuit c(v);
  const auto& s = c.solve(0, {}, {});
  // Voltage divider: 12 V behind 1 Mohm, 4 Mohm and the meter's 2 Mohm to earth (4/3 Mohm); the joint of 2 ohm is nothing.
  const double shown = 12 * (4.0 / 3) / (1 + 4.0 / 3);
  CHECK(c.reading(v->tests[0], s, 2e6) == Approx(shown).epsilon(1e-4));
  CHECK(c.reading(v->tests[1], s, 2e6) == Approx(shown).epsilon(1e-4));
}

TEST_CASE("an alternating source is not added to what a stage states: it passes at other moments", "[circuit][unit]") {
  const auto v = behind_a_battery(true);
  circuit::Circuit c(v);
  const auto& s = c.solve(0, {}, {});
  const double u = 3 / (1 / 1.5 + 0.1 + 0.5);
  CHECK(s.node_volts[v->nodes.size() + 2] == Approx(u).epsilon(1e-6));
}

TEST_CASE("a battery and an alternating source in one zone are refused by name", "[circuit][fault]") {
  auto v = behind_a_battery(false);
  v->elements.push_back({.id = "pulse", .a = 3, .b = 0, .resistance_ohm = 100, .emf_parameter = 1,
                         .frequency_parameter = 2});
  CHECK_THROWS_WITH(circuit::Circuit(v), Catch::Contains("n1"));
}
