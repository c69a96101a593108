// The trail bike and jobs on its simulated bench, drawn by fixed seeds.
#pragma once

#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "inference/posterior.hpp"
#include "model/evidence.hpp"
#include "options.hpp"
#include "planning/advice.hpp"
#include "simulation/bench.hpp"

namespace lostspark::long_checks {

using model::Index;

struct Setting {
  std::shared_ptr<const model::Vehicle> vehicle;
  model::Workshop workshop;
  inference::CompiledPtr compiled;
  std::string fingerprint;  ///< of program, plugin and network: results of different ones never mix
};
/// The trail bike and the demo's workshop. Plugins and networks of this build and tree unless the environment names others.
[[nodiscard]] Setting load_setting(const std::string& id = "quillmarsh_trail_125");

/// One setting a thread, for an instance of a family serves one thread at a time.
class Settings {
 public:
  explicit Settings(const CheckOptions& options);
  [[nodiscard]] const Setting& operator[](int thread) const { return settings_[static_cast<std::size_t>(thread)]; }

 private:
  std::vector<Setting> settings_;
};

/// Seed of one job's own generator.
[[nodiscard]] std::uint64_t job_seed(std::uint64_t seed, int job);

/// Tests whose instruments and tools the workshop owns.
[[nodiscard]] std::vector<Index> possible_tests(const Setting& setting);

/// A reading of `test` as the job room would record it: hook-up, moment and visit of its own.
[[nodiscard]] model::Reading take(simulation::Bench& bench, const model::Vehicle& vehicle, Index test, int number,
                                  bool* mistaken = nullptr);

/// Below the floor, over the range, or a word of the spark: what regimes must explain.
[[nodiscard]] bool is_regime(const model::Vehicle& vehicle, const model::Reading& reading);

struct Recorded {
  model::Evidence evidence;
  simulation::Truth truth;
  std::vector<bool> mistaken;  ///< by event of the evidence
  int readings = 0, regimes = 0;
  std::string text;            ///< what was read, for people
};
/// Complaint no_spark and then `readings` different tests drawn at random among those the shop can do, at least
/// `regimes` of them below, over or words of the spark. Mistakes happen; contacts are not touched.
[[nodiscard]] Recorded recorded_job(const Setting& setting, std::uint64_t seed, int readings, int regimes);

/// "exciter_peak@...: 168 volt".
[[nodiscard]] std::string describe(const model::Vehicle& vehicle, const model::Reading& reading);

/// A job that follows the advice up to the first repair: covers, set-ups and touched contacts as the job room records
/// them. (Whole jobs are run by the job room itself: injection.cpp.)
class Follower {
 public:
  Follower(const Setting& setting, simulation::Bench& bench, Index complaint);
  [[nodiscard]] const inference::Posterior& posterior();
  [[nodiscard]] const planning::Plan& plan();
  /// Takes the advised test; false where the advice is no test.
  bool step();
  [[nodiscard]] const model::Evidence& evidence() const { return evidence_; }
  [[nodiscard]] int readings() const { return number_; }

 private:
  void read(Index test);
  const Setting& setting_;
  simulation::Bench& bench_;
  model::Evidence evidence_;
  planning::BenchState state_;
  std::vector<int> taken_;
  std::optional<inference::Posterior> posterior_;
  std::optional<planning::Plan> plan_;
  int number_ = 0;
};

}  // namespace lostspark::long_checks
