// The one nodal network of a vehicle, solved for one scene: harness, set-ups, linear elements; stage physics of the
// plugin is called with what it sees of the harness. Both inference and the simulated bench predict readings from here.
#pragma once

#include <cstdint>
#include <memory>
#include <span>
#include <vector>

#include "model/vehicle.hpp"

namespace lostspark::circuit {

using model::Index;

/// A fault present and showing itself, with its severity (0 mild .. 1 severe; tails reach beyond).
struct ActiveMode {
  Index mode = model::k_none;
  double severity = 0.5;
};

/// What one scene holds: stage outputs and the volts of every node per stage.
struct Solution {
  std::vector<double> outputs;       ///< by row of Vehicle::outputs
  std::vector<double> node_volts;    ///< [stage + 1][node]: row 0 the linear solution (magnitudes), row s+1 stage s, signed
};

/// Solves scenes of one vehicle. Not thread-safe: one per thread. Cost: one sparse factorisation (a tree fills nothing)
/// and the stages, whose last results are kept and reused when their inputs repeat.
class Circuit {
 public:
  explicit Circuit(std::shared_ptr<const model::Vehicle> vehicle);
  ~Circuit();
  Circuit(Circuit&&) noexcept;
  Circuit& operator=(Circuit&&) noexcept;

  /// log_shift: natural-log offset of every parameter of the vehicle from its typical value (unknowns of vehicle and
  /// event added up); size = parameters, or empty for none. with_reports: run report-only stages too.
  /// The reference stays valid until the next call.
  const Solution& solve(Index scene, std::span<const ActiveMode> faults, std::span<const double> log_shift,
                        bool with_reports = false);

  /// From now on solve() runs only these stages ([scene][stage], non-zero: wanted; with those that feed them); what the
  /// others would say is stale. For callers that read little of each scene; by default all run.
  void run_only(std::vector<std::vector<char>> wanted);

  /// Resistance an ohmmeter shows for an ohm test, ohms.
  double resistance(Index test, std::span<const ActiveMode> faults, std::span<const double> log_shift);

  /// What a perfect instrument of `meter_ohm` input resistance reads in this solution (unit of the test; volts may be
  /// negative where the polarity is wrong; with further stages the largest magnitude), margins applied: 0 where a margin the test depends on is missed.
  /// Margin words: the margin itself. Findings and ohms: not from here. with_margins = false: what it would show if all
  /// its margins were met.
  [[nodiscard]] double reading(const model::Test& test, const Solution& solution, double meter_ohm = 2e6,
                               bool with_margins = true) const;

  [[nodiscard]] const model::Vehicle& vehicle() const;

 private:
  struct Impl;
  std::unique_ptr<Impl> impl_;
};

/// Factor from SI to the unit a test is read in (kilovolt 1e-3 ...).
[[nodiscard]] double unit_scale(std::string_view unit);

}  // namespace lostspark::circuit
