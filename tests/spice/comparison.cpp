#include "spice/comparison.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <ostream>
#include <stdexcept>

namespace lostspark::spice {

namespace {

std::size_t at(Index row) { return static_cast<std::size_t>(row); }

Kick kick_of(const model::Vehicle& v, const Case& what) {
  Kick kick;
  kick.log_shift.assign(v.parameters.size(), 0.0);
  kick.log_shift[at(*v.find_parameter("cranking_speed_rpm"))] = std::log(what.speed);
  if (what.mode.empty()) return kick;
  const auto mode = v.find_mode(what.mode);
  if (!mode) throw std::runtime_error(fmt::format("the vehicle has no mode '{}'", what.mode));
  kick.faults = {{*mode, what.severity}};
  return kick;
}

/// A meter of two megohms is felt where a joint or winding is near open: then each point gets a deck of its own.
bool meter_is_felt(const model::Vehicle& v, const FamilyBench& family, const Case& what) {
  if (what.mode.empty()) return false;
  const auto& mode = v.modes[at(*v.find_mode(what.mode))];
  return std::any_of(mode.changes.begin(), mode.changes.end(), [&](const model::Change& c) {
    const bool large = c.operation == model::Operation::set && std::max(c.mild, c.severe) > 1e4;
    if (c.target == model::ChangeTarget::element_series) return large;
    return large && family.meter_feels(v.parameters[at(c.index)].id);
  });
}

/// The scene whose deck shows this test too: with the gap tester fitted as well, where the test cannot tell.
Index same_scene(const model::Vehicle& v, const FamilyBench& family, const model::Test& test) {
  if (!family.blind_to_gap(test.kind)) return test.scene;
  const auto tester = v.find_setup("gap_tester");
  auto setups = v.scenes[at(test.scene)].setups;
  if (!tester || setups.empty()) return test.scene;
  setups.push_back(*tester);
  std::sort(setups.begin(), setups.end());
  for (std::size_t s = 0; s < v.scenes.size(); ++s)
    if (v.scenes[s].condition == v.scenes[at(test.scene)].condition && v.scenes[s].setups == setups)
      return static_cast<Index>(s);
  return test.scene;
}

struct Planned {
  std::size_t comparison = 0;
  Measurement measurement;
};

/// A reserve is what comes while the gap holds: of the only cylinder or of one of several.
/// Every margin that the test needs is met.
bool lives(const model::Test& test, const circuit::Solution& solution) {
  return std::all_of(test.dead_below.begin(), test.dead_below.end(),
                     [&](Index margin) { return solution.outputs[at(margin)] > 0; });
}

}  // namespace

std::vector<Pair> Comparison::of(const std::string& kind) const {
  std::vector<Pair> out;
  for (const auto& p : pairs)
    if (p.kind == kind) out.push_back(p);
  return out;
}

Pair Comparison::worst(const std::string& kind) const {
  const auto all = of(kind);
  if (all.empty()) throw std::runtime_error(fmt::format("nothing compared for test kind '{}'", kind));
  const auto miss = [](const Pair& p) { return std::abs(std::log((std::abs(p.engine) + 1e-3) / (p.deck + 1e-3))); };
  auto found = all.back();
  for (const auto& p : all)
    if (miss(p) > miss(found) + 1e-3) found = p;
  return found;
}

std::vector<std::string> Comparison::broken_bounds() const {
  std::vector<std::string> broken;
  const auto say = [&](const Pair& p, const std::string& bound) {
    broken.push_back(fmt::format("{}: deck {:.4g}, engine {:.4g} ({:+.1f} %, bound {})", p.test, p.deck, p.engine,
                                 100 * p.deviation(), bound));
  };
  bool dead = false;
  for (const auto& [kind, limit] : family->dead_limits()) dead |= worst(kind).deck < limit;
  for (const auto& p : pairs) {
    if (p.word) {
      if (!p.same_word())
        broken.push_back(
            fmt::format("{}: deck {}, engine's margin {:.3f}", p.test, p.deck > 0 ? "fires" : "does not", p.engine));
      continue;
    }
    for (const auto& bound : family->bounds()) {
      if (bound.kind != p.kind) continue;
      if (dead && p.deck < bound.dead) {
        if (p.engine >= bound.dead) say(p, fmt::format("dead: below {:g}", bound.dead));
      } else if (std::abs(p.engine - p.deck) > std::max(bound.relative * p.deck, bound.floor)) {
        say(p, fmt::format("{:g} %", 100 * bound.relative));
      }
    }
  }
  const double off = std::abs(engine_spark_second - deck_spark_second);
  if (!fires_early && off > std::max(family->spark_time_relative() * deck_spark_second, 5e-6))
    broken.push_back(fmt::format("spark time: deck {:.1f} us, engine {:.1f} us", 1e6 * deck_spark_second,
                                 1e6 * engine_spark_second));
  return broken;
}

std::vector<Comparison> compare(const std::shared_ptr<const model::Vehicle>& vehicle, const std::string& network,
                                const std::vector<Case>& cases) {
  const auto& v = *vehicle;
  const SpiceBench bench(vehicle, network, v.parameters[at(*v.find_parameter("meter_rise_second"))].typical);
  const auto& family = bench.family();
  std::vector<Planned> planned;
  std::vector<std::string> decks;
  for (std::size_t c = 0; c < cases.size(); ++c) {
    const auto kick = kick_of(v, cases[c]);
    // Tests of one scene share a deck; the reserve has one of its own, its gap must hold. What the exciter gives with
    // the kill lead off does not depend on the gap: one deck serves both scenes.
    std::map<std::pair<Index, bool>, std::vector<Index>> groups;
    for (std::size_t t = 0; t < v.tests.size(); ++t) {
      const auto& test = v.tests[t];
      if (test.provocation != model::Provocation::none || !bench.can_measure(test) ||
          test.reads == model::Reads::ohms || bench.cylinder_of(test) != 1)
        continue;
      groups[{same_scene(v, family, test), holds_the_gap(test.kind)}].push_back(static_cast<Index>(t));
    }
    for (auto& [key, tests] : groups) {
      const bool felt = meter_is_felt(v, family, cases[c]);
      std::vector<std::vector<Index>> parts;
      if (felt) {
        std::vector<Index> rest;
        for (const Index t : tests)
          if (v.tests[at(t)].reads == model::Reads::node_volts)
            parts.push_back({t});
          else
            rest.push_back(t);
        if (!rest.empty()) parts.push_back(rest);
      } else {
        parts.push_back(tests);
      }
      for (auto& part : parts) {
        planned.push_back({c, bench.prepare(std::move(part), kick, key.first)});
        decks.push_back(planned.back().measurement.deck);
      }
    }
  }
  const auto runs = run_decks(decks);
  std::vector<Comparison> out;
  for (const auto& what : cases) out.push_back({what, &family, {}, 0, 0, 0, 0, false});
  circuit::Circuit circuit(vehicle);
  for (std::size_t k = 0; k < planned.size(); ++k) {
    auto& comparison = out[planned[k].comparison];
    const auto& m = planned[k].measurement;
    const auto kick = kick_of(v, comparison.what);
    for (std::size_t i = 0; i < m.tests.size(); ++i) {
      const auto& test = v.tests[at(m.tests[i])];
      const auto& solution = circuit.solve(test.scene, kick.faults, kick.log_shift, true);
      const auto shown = bench.read(m, runs[k], i);
      Pair pair{test.id, test.kind, shown.value, circuit.reading(test, solution), test.is_word()};
      if (pair.word) pair.deck = shown.happens ? 1 : 0;
      if (pair.word && !lives(test, solution)) pair.engine = -1;  // dead: the word is "none"
      comparison.pairs.push_back(pair);
      const bool only = test.kind == "plug_kilovolt";  // of one cylinder; else the first one's
      if (!only && test.kind != "plug_kilovolt_1") continue;
      comparison.deck_spark_second = shown.happens ? runs[k].at("spark_second") : 0;
      comparison.fires_early = runs[k].at("spark_turn_second") > 1.05 * runs[k].at("spark_second") + 1e-6;
      comparison.deck_crest_ampere = runs[k].at("arc_ampere");
      const auto output = [&](const char* id) { return solution.outputs[at(*v.find_output(id))]; };
      const bool triggered = lives(test, solution);
      comparison.engine_spark_second = triggered ? output(only ? "spark.spark_second" : "spark_1.spark_second") : 0;
      comparison.engine_crest_ampere = triggered ? output(only ? "spark.spark_ampere" : "spark_1.spark_ampere") : 0;
    }
  }
  return out;
}

void write_table(std::ostream& out, const std::vector<Comparison>& comparisons) {
  if (comparisons.empty()) return;
  const auto& columns = comparisons.front().family->columns();
  out << "| case |";
  for (const auto& [head, kind] : columns) out << ' ' << head << " |";
  out << " spark us | crest mA | spark |\n|---|";
  for (std::size_t k = 0; k < columns.size(); ++k) out << "--:|";
  out << "--:|--:|---|\n";
  for (const auto& c : comparisons) {
    out << "| " << c.what.title << " |";
    for (const auto& [head, kind] : columns) {
      const auto p = c.worst(kind);
      const bool small = p.deck < 0.05 && p.engine < 0.05;
      out << (small ? fmt::format(" {:.2g} / {:.2g} |", p.deck, p.engine)
                    : fmt::format(" {:.4g} / {:.4g} ({:+.1f} %) |", p.deck, p.engine, 100 * p.deviation()));
    }
    bool same = true;
    for (const auto& p : c.pairs) same &= !p.word || p.same_word();
    auto spark = c.of("spark");
    if (spark.empty()) spark = c.of("spark_1");  // families of several cylinders
    const char* verdict = spark.empty() ? "" : spark.front().deck > 0 ? "fires" : "none";
    const auto early = c.fires_early
                           ? std::string("fires early")
                           : fmt::format("{:.1f} / {:.1f}", 1e6 * c.deck_spark_second, 1e6 * c.engine_spark_second);
    out << fmt::format(" {} | {:.0f} / {:.0f} | {}, {} |\n", early, 1e3 * c.deck_crest_ampere,
                       1e3 * c.engine_crest_ampere, verdict, same ? "same" : "DIFFERENT");
  }
}

}  // namespace lostspark::spice
