// A shop that always replaces the coil first (re-seating its contacts on the way) and only measures when that did not
// help, on the trail bike: shares learned from its closed jobs against the true ones of the vehicles that come to it with
// that complaint, whose faults differ from the network file's by known factors (20,000 further draws of the bench). The
// whole way is real: bench, job log, posterior, stored pattern, expectation-maximisation. Bounds of the full run (1,000
// jobs): each class with at least 50 true faults within 20 %; 90 % intervals of classes with at least 50 faults counted
// hold the truth in at least 4 of 5.
#include <algorithm>
#include <cmath>
#include <cstdio>
#include <map>
#include <random>
#include <sstream>

#include "base/error.hpp"
#include "job/auto_run.hpp"
#include "job/fault_class.hpp"
#include "job/memory.hpp"
#include "job/shares.hpp"
#include "options.hpp"
#include "simulation/bench.hpp"
#include "sources/load.hpp"

using namespace lostspark;
using namespace lostspark::long_checks;

namespace {

constexpr int k_jobs = 1000;
constexpr int k_draws = 20000;  ///< of vehicles, for the true shares
constexpr double k_within = 0.20, k_enough = 50;
constexpr const char* k_coil = "ignition_coil.replace";

/// How the shop's bikes differ from the file: rot in the connectors, few coils, many stuck switches.
job::ShareSet truth_set(const model::Vehicle& v) {
  job::ShareSet out;
  out.name = "truth";
  job::ShareSet::Network n{v.family, 1, {}};
  for (const auto& [name, odds] : job::class_odds(v)) {
    double factor = 1;
    if (name == "connector.corroded") factor = 3;
    if (name.starts_with("SEC.") || name.starts_with("PRI.")) factor = 0.4;
    if (name.starts_with("CTL.")) factor = 0.5;
    if (name.starts_with("PLG.")) factor = 1.5;
    n.factors[name] = factor;
  }
  out.networks[v.id] = n;
  return out;
}

struct Setting {
  std::shared_ptr<const model::Vehicle> filed, real;
  model::Workshop workshop;
  inference::CompiledPtr compiled;
  Setting() {
    const auto folders = sources::default_folders();
    filed = sources::load_vehicle(folders, "quillmarsh_trail_125");
    workshop = sources::default_workshop(folders);
    job::Learned learned;
    learned.set = "truth";
    learned.shares = job::shares_of(truth_set(*filed), *filed);
    real = job::with_learned(filed, learned);
    compiled = inference::compile(filed, workshop);
  }
};

struct Outcome {
  std::string truth, pattern;  ///< classes that were really faulty, "+" between; stored pattern
  bool coil_cured = false;
  std::string failure;  ///< of the program; such a job teaches nothing, and fails a full run
};

Outcome one_job(const Setting& setting, std::uint64_t seed) {
  simulation::Bench bench(setting.real, setting.workshop, seed);
  const model::Index complaint = *setting.real->find_complaint("no_spark");
  const auto truth = bench.draw(complaint);
  bench.put(truth);
  Outcome out;
  for (const auto& f : truth.faults)
    out.truth += (out.truth.empty() ? "" : "+") + job::fault_class(*setting.filed, f.mode);
  const auto store = history::open_memory();
  job::Desk desk({[&](const std::string&) { return setting.filed; },
                  [&](const std::string&, const std::string&) { return setting.filed; }},
                 *store, setting.workshop, {.tables = setting.compiled});
  job::Intake intake;
  intake.complaints = {"no_spark"};
  auto job = desk.open("quillmarsh_trail_125", intake);
  const model::Index coil = job.repair(k_coil);
  job.repaired(k_coil);
  bench.touch(
      job::neighbouring_contacts(*setting.real, setting.real->repairs[static_cast<std::size_t>(coil)].component));
  out.coil_cured = bench.repair(coil);
  job.check(out.coil_cured ? "passed" : "failed");
  if (out.coil_cured) {
    if (job.stops_needed())
      for (const auto& stop : job.stops()) job.stop_checked(stop.id);
    job.close(job::Outcome::fixed);
  } else {
    try {
      job::run_simulated(job, bench);
    } catch (const std::exception& error) {
      out.failure =
          "seed " + std::to_string(seed) + ", log of " + std::to_string(job.state().last) + " entries: " + error.what();
      return out;
    }
    if (job.state().state != history::JobState::closed) return out;  // given up after the step limit
  }
  if (const auto taught = job::remember(desk, job)) out.pattern = taught->closed.pattern;
  return out;
}

std::string line_of(const Outcome& o) {
  if (!o.failure.empty()) return "! " + o.failure;
  return (o.coil_cured ? "1 " : "0 ") + (o.truth.empty() ? "-" : o.truth) + " " + o.pattern;
}

Outcome outcome_of(const std::string& line) {
  Outcome o;
  if (line.starts_with("! ")) {
    o.failure = line.substr(2);
    return o;
  }
  std::istringstream in(line);
  in >> o.coil_cured >> o.truth;
  if (o.truth == "-") o.truth.clear();
  std::getline(in >> std::ws, o.pattern);
  return o;
}

/// Shares of the classes among the faults of vehicles that come with the complaint.
std::map<std::string, double> true_shares(const Setting& setting, std::uint64_t seed) {
  simulation::Bench bench(setting.real, setting.workshop, seed);
  const model::Index complaint = *setting.real->find_complaint("no_spark");
  std::map<std::string, double> count;
  double faults = 0;
  for (int k = 0; k < k_draws; ++k)
    for (const auto& f : bench.draw(complaint).faults) {
      ++count[job::fault_class(*setting.filed, f.mode)];
      ++faults;
    }
  for (auto& [name, share] : count) share /= faults;
  return count;
}

int check(const CheckOptions& options) {
  // One a thread: an instance of a family serves one thread at a time.
  const std::vector<Setting> settings(static_cast<std::size_t>(options.threads));
  const auto& setting = settings.front();
  // A whole job takes seconds: a sample only shows that the way is open from bench to share.
  const int jobs = options.full() ? k_jobs : std::max(6, options.jobs(k_jobs) / 3);
  const auto outcomes = resumed_outcomes(
      options, fingerprint(setting.filed->network_text), jobs, outcome_of, line_of,
      [&](int job, int thread) { return one_job(settings[static_cast<std::size_t>(thread)], options.seed * 100003 + static_cast<std::uint64_t>(job)); });
  learning::NetworkCases cases;
  cases.family = setting.filed->family;
  cases.network = setting.filed->id;
  for (const auto& [name, odds] : job::class_odds(*setting.filed)) {
    cases.classes.push_back(name);
    cases.odds.push_back(odds);
  }
  int cured = 0, used = 0, failed = 0;
  std::map<std::string, double> met;
  for (const auto& o : outcomes) {
    cured += o.coil_cured;
    if (!o.failure.empty()) {
      std::printf("the program failed: %s\n", o.failure.c_str());
      ++failed;
      continue;
    }
    std::istringstream words(o.truth);
    for (std::string name; std::getline(words, name, '+');) ++met[name];
    if (o.pattern.empty()) continue;
    ++used;
    cases.add(o.pattern, 1);
  }
  const auto learned = learning::learn_shares({cases}).networks.at(0);
  const auto real = true_shares(setting, options.seed * 7919 + 1);
  std::printf("%d jobs, %d used, the coil seemed to cure %d\n", jobs, used, cured);
  std::printf("%-34s %7s %7s %7s %15s %6s\n", "class", "file", "true", "learned", "90 %", "met");
  int asked = 0, held = 0, off = 0;
  for (const auto& c : learned.classes) {
    const auto found = real.find(c.name);
    const double truth = found == real.end() ? 0 : found->second;
    const bool enough = met[c.name] >= k_enough;
    std::printf("%-34s %7.4f %7.4f %7.4f %7.4f %7.4f %6.0f%s\n", c.name.c_str(), c.file, truth, c.learned, c.low,
                c.high, met[c.name], enough ? " *" : "");
    if (c.count >= k_enough) {
      ++asked;
      held += truth >= c.low && truth <= c.high;
    }
    if (enough && std::abs(c.learned - truth) > k_within * truth) ++off;
  }
  std::printf("classes with %g faults: %d further off than %.0f %%; intervals hold %d of %d\n", k_enough, off,
              100 * k_within, held, asked);
  if (used < (options.full() ? jobs * 9 / 10 : jobs / 2)) {
    std::printf("failed: %d jobs of %d taught nothing\n", jobs - used, jobs);
    return 1;
  }
  if (!options.full()) return 0;
  return failed == 0 && off == 0 && held * 5 >= asked * 4 ? 0 : 1;
}

}  // namespace

int main(int argc, char** argv) { return run_check(argc, argv, "learned_shares", check); }
