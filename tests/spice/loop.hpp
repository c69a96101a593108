// The program's main job on input that its own model did not make: it asks, ngspice answers.
#pragma once

#include <cstdint>
#include <filesystem>
#include <memory>
#include <random>
#include <string>
#include <vector>

#include "model/evidence.hpp"
#include "model/instrument.hpp"
#include "spice/bench.hpp"

namespace lostspark::spice {

/// One vehicle of the check: a mode, or none (healthy), or a slow kick on a healthy one.
struct LoopCase {
  enum class Kind { faulty, healthy, slow_kick } kind = Kind::faulty;
  std::string mode;
  int draw = 0;
  [[nodiscard]] std::string name() const;
};

/// Twelve modes x five draws, five healthy; on a kick starter five slow kicks too. Throws std::runtime_error for a vehicle
/// that has no list of modes.
[[nodiscard]] std::vector<LoopCase> loop_cases(const std::string& vehicle);

/// How one job went.
struct LoopResult {
  std::string name, complaint;
  double severity = 0, rpm = 0;
  int readings = 0, wrong_repairs = 0;  ///< wrong_repairs: without a part, before the end
  std::string first_part;               ///< repair that replaced the first part, or that cured without one; "" none
  std::string end;                      ///< "cured", "wrong part", "referred", "step limit"
  bool right = false;                   ///< cured; or, nothing being wrong, no part of the ignition replaced
  std::string steps;                    ///< what was read, for people
};

/// The hidden truth behind a job and the instruments' errors; one seed, one course.
class SpiceVehicle {
 public:
  SpiceVehicle(std::shared_ptr<const model::Vehicle> vehicle, const model::Workshop& workshop,
               const std::string& network, const LoopCase& what, std::uint64_t seed);
  /// What the instrument shows for this test: the deck's value times calibration and scatter, rounded, cut at floor and
  /// range. Words of a spark: three kicks, speed and demand redrawn at each. Findings: drawn from the test's table.
  model::Value read(Index test);
  /// Findings, and what a deck can answer.
  [[nodiscard]] bool can_read(Index test) const;
  /// The functional check: three kicks with the plugs fitted. "" when every one sparks on every cylinder, else what
  /// Job::check() is told.
  std::string check();
  [[nodiscard]] const std::string& complaint() const { return complaint_; }
  [[nodiscard]] double severity() const { return severity_; }
  [[nodiscard]] double rpm() const;
  /// The repair (or the replacement of the whole component) cures it.
  [[nodiscard]] bool cured_by(Index repair) const;

 private:
  [[nodiscard]] Kick kick();
  int sparks(Index test, int kicks);
  void draw(const LoopCase& what);

  std::shared_ptr<const model::Vehicle> vehicle_;
  model::Workshop workshop_;
  SpiceBench bench_;
  std::mt19937_64 random_;
  std::vector<Index> spark_tests_;  ///< of each cylinder
  std::vector<circuit::ActiveMode> faults_;
  std::vector<double> log_shift_, calibration_;
  double severity_ = 0;
  std::string complaint_;
};

struct LoopOptions {
  std::string vehicle = "quillmarsh_trail_125";
  std::uint64_t seed = 1;
  int step_limit = 30;
};

/// Runs one job through the job room.
[[nodiscard]] LoopResult run_loop(const LoopCase& what, const LoopOptions& options = {});

/// Runs the cases and appends each result to `file` as it comes; those already there, from the same program, plugin and
/// network, are not run again.
[[nodiscard]] std::vector<LoopResult> run_loops(const std::vector<LoopCase>& cases, const std::filesystem::path& file,
                                                const LoopOptions& options = {});

/// The results as a Markdown table, a row for each fault.
void write_loop_table(std::ostream& out, const std::vector<LoopResult>& results);

}  // namespace lostspark::spice
