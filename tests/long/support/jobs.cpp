#include "jobs.hpp"

#include <algorithm>
#include <cstdio>
#include <cstdlib>

#include "base/error.hpp"
#include "sources/load.hpp"

namespace lostspark::long_checks {
namespace {

constexpr int k_enough_readings = 2;  // of one test between two repairs; the job room offers it no further

bool has(const std::vector<Index>& list, Index wanted) {
  return std::find(list.begin(), list.end(), wanted) != list.end();
}

/// Connectors whose contacts move when the harness is taken off the terminals of an ohm test.
std::vector<Index> unplugged(const model::Vehicle& v, const model::Test& test) {
  std::vector<Index> out;
  if (test.reads != model::Reads::ohms) return out;
  for (const Index node : {test.node_a, test.node_b}) {
    if (node == model::k_none || node == model::k_earth) continue;
    for (const auto& e : v.elements)
      if ((e.a == node || e.b == node) && e.component >= 0 &&
          v.components[static_cast<std::size_t>(e.component)].kind == model::ComponentKind::connector && !has(out, e.component))
        out.push_back(e.component);
  }
  return out;
}

}  // namespace

Setting load_setting(const std::string& id) {
  ::setenv("LOSTSPARK_PLUGINS", LOSTSPARK_PLUGIN_DIR, 0);
  ::setenv("LOSTSPARK_NETWORKS", LOSTSPARK_SOURCE_DIR "/networks", 0);
  const auto folders = sources::default_folders();
  Setting out;
  out.vehicle = sources::load_vehicle(folders, id);
  out.workshop = sources::default_workshop(folders);
  out.compiled = inference::compile(out.vehicle, out.workshop);
  std::string text = out.vehicle->network_text + out.vehicle->family + out.vehicle->family_version;
  for (const auto& i : out.workshop.instruments)
    text += i.id + " " + std::to_string(i.accuracy_log_sd) + " " + std::to_string(i.floor) + " " + std::to_string(i.range) + ";";
  std::vector<std::string> problems;
  for (const auto& family : sources::list_families(folders, problems))
    if (family.id == out.vehicle->family) text += file_fingerprint(family.library.string());
  out.fingerprint = fingerprint(text);
  return out;
}

Settings::Settings(const CheckOptions& options) {
  for (int thread = 0; thread < options.threads; ++thread) settings_.push_back(load_setting(options.vehicle));
}

std::uint64_t job_seed(std::uint64_t seed, int job) {
  // splitmix64: neighbouring jobs get unrelated generators.
  std::uint64_t z = seed * 0x9E3779B97F4A7C15ULL + static_cast<std::uint64_t>(job) * 0xD1B54A32D192ED03ULL + 0x632BE59BD9B4E019ULL;
  z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9ULL;
  z = (z ^ (z >> 27)) * 0x94D049BB133111EBULL;
  return z ^ (z >> 31);
}

std::vector<Index> possible_tests(const Setting& setting) {
  const auto& v = *setting.vehicle;
  std::vector<Index> out;
  for (std::size_t t = 0; t < v.tests.size(); ++t) {
    const auto& test = v.tests[t];
    bool possible = setting.workshop.find(test.instrument, test.is_word() ? "" : test.unit) != nullptr;
    if (test.scene >= 0)
      for (Index setup : v.scenes[static_cast<std::size_t>(test.scene)].setups) {
        const auto& tool = v.setups[static_cast<std::size_t>(setup)].tool;
        possible &= tool.empty() || setting.workshop.find(tool, "") != nullptr;
      }
    if (possible) out.push_back(static_cast<Index>(t));
  }
  return out;
}

model::Reading take(simulation::Bench& bench, const model::Vehicle& vehicle, Index test, int number, bool* mistaken) {
  model::Reading out;
  out.test = test;
  out.provocation = vehicle.tests[static_cast<std::size_t>(test)].provocation;
  out.moment = out.hookup = number;
  out.value = bench.read(test, out.provocation, mistaken);
  return out;
}

bool is_regime(const model::Vehicle& vehicle, const model::Reading& reading) {
  if (vehicle.tests[static_cast<std::size_t>(reading.test)].reads == model::Reads::margin_word) return true;
  return reading.value.kind == model::ValueKind::below_floor || reading.value.kind == model::ValueKind::over_range;
}

std::string describe(const model::Vehicle& vehicle, const model::Reading& reading) {
  const auto& test = vehicle.tests[static_cast<std::size_t>(reading.test)];
  char number[64];
  std::snprintf(number, sizeof number, "%.4g %s", reading.value.number, test.unit.c_str());
  switch (reading.value.kind) {
    case model::ValueKind::below_floor: return test.id + ": below";
    case model::ValueKind::over_range: return test.id + ": over";
    case model::ValueKind::word: return test.id + ": " + test.words[reading.value.word];
    default: return test.id + ": " + number;
  }
}

Recorded recorded_job(const Setting& setting, std::uint64_t seed, int readings, int regimes) {
  const auto& v = *setting.vehicle;
  const auto complaint = v.find_complaint("no_spark");
  ensure(complaint.has_value(), "the vehicle knows the complaint no_spark");
  const auto possible = possible_tests(setting);
  std::mt19937_64 random(seed);
  for (int attempt = 0; attempt < 10000; ++attempt) {
    simulation::BenchOptions options;
    options.touches_cure = false;
    simulation::Bench bench(setting.vehicle, setting.workshop, random(), options);
    Recorded out;
    out.truth = bench.draw(*complaint);
    bench.put(out.truth);
    out.evidence.push_back(model::Complained{*complaint});
    out.mistaken.push_back(false);
    auto left = possible;
    std::shuffle(left.begin(), left.end(), random);
    for (int k = 0; k < readings; ++k) {
      bool mistaken = false;
      const auto reading = take(bench, v, left[static_cast<std::size_t>(k)], k + 1, &mistaken);
      out.regimes += is_regime(v, reading) ? 1 : 0;
      out.text += (k ? ", " : "") + describe(v, reading) + (mistaken ? " (mistaken)" : "");
      out.evidence.push_back(reading);
      out.mistaken.push_back(mistaken);
    }
    out.readings = readings;
    if (out.regimes >= regimes) return out;
  }
  throw InternalError("no job with " + std::to_string(regimes) + " words, floors or ranges was drawn");
}

Follower::Follower(const Setting& setting, simulation::Bench& bench, Index complaint)
    : setting_(setting), bench_(bench) {
  evidence_.push_back(model::Complained{complaint});
  taken_.assign(setting_.vehicle->tests.size(), 0);
  state_.helper = setting_.workshop.helper;
}

const inference::Posterior& Follower::posterior() {
  if (!posterior_) posterior_ = inference::update(setting_.compiled, evidence_);
  return *posterior_;
}

const planning::Plan& Follower::plan() {
  if (!plan_) plan_ = planning::advise(posterior(), state_);
  return *plan_;
}

void Follower::read(Index index) {
  const auto& v = *setting_.vehicle;
  const auto& test = v.tests[static_cast<std::size_t>(index)];
  for (Index cover : planning::covers_to_open(v, test.covers, state_.covers_off)) state_.covers_off.push_back(cover);
  const auto wanted = test.scene >= 0 ? v.scenes[static_cast<std::size_t>(test.scene)].setups : std::vector<Index>{};
  auto moved = unplugged(v, test);
  for (Index setup : wanted)
    if (!has(state_.setups_standing, setup) && v.setups[static_cast<std::size_t>(setup)].moves_contacts)
      for (Index c : v.setups[static_cast<std::size_t>(setup)].touches)
        if (!has(moved, c)) moved.push_back(c);
  state_.setups_standing = wanted;
  if (!moved.empty()) {
    bench_.touch(moved);
    evidence_.push_back(model::Touched{moved});
  }
  evidence_.push_back(take(bench_, v, index, ++number_));
  if (++taken_[static_cast<std::size_t>(index)] >= k_enough_readings) state_.not_available.push_back(index);
}

bool Follower::step() {
  const auto& steps = plan().steps;
  if (steps.empty() || steps.front().kind != planning::StepKind::test) return false;
  read(steps.front().test);
  posterior_.reset();
  plan_.reset();
  return true;
}

}  // namespace lostspark::long_checks
