// The generative model of docs/model.md restated for the long checks: likelihood of a job's evidence at one point of
// severities and unknowns, straight from the nonlinear circuit. It shares no code with engine/inference.
#pragma once

#include <array>
#include <map>
#include <memory>
#include <span>
#include <vector>

#include "circuit/circuit.hpp"
#include "model/evidence.hpp"
#include "model/instrument.hpp"
#include "proposal.hpp"

namespace lostspark::long_checks {

using model::Index;

/// One reading (or the computed complaint) as the model judges it.
struct Judged {
  Index test = model::k_none;         ///< k_none: the complaint
  Index scene = model::k_none;
  Index margin = model::k_none;       ///< complaint: output the word speaks of
  std::vector<Index> dead_below;
  model::Value value;
  bool word = false, finding = false;
  const model::Instrument* instrument = nullptr;
  int calibration = -1;               ///< coordinate, -1: none
  int first_event = -1;               ///< coordinate of its moment's first event unknown, -1: none
  double log_sd = 0, mistaken = 0, mistaken_density = 0;
  int hookup = 0;
  model::Provocation provocation = model::Provocation::none;
  int visit = 0;
};

/// How a fault's presence ran through a job: readings at which it was there, whether it is there now.
struct Life {
  std::uint64_t present = 0;
  bool now = true;
  double probability = 1;
};

/// One job ready to be judged. Not thread-safe (owns a circuit).
class JobModel {
 public:
  JobModel(std::shared_ptr<const model::Vehicle> vehicle, const model::Workshop& workshop, const model::Evidence& evidence);

  [[nodiscard]] const model::Vehicle& vehicle() const { return *vehicle_; }
  /// Coordinates shared by all fault sets: unknowns of the vehicle, calibrations, unknowns of the events.
  [[nodiscard]] std::size_t common() const { return common_; }
  /// Ways the presence of this mode ran through the job.
  [[nodiscard]] std::vector<Life> lives(Index mode) const;
  /// Prior of exactly these faults (at most two), relative to independent faults' "none": each by itself or brought by a
  /// common cause; intake weights included, complaint tables apart.
  [[nodiscard]] double odds(std::span<const Index> modes) const;
  /// Likelihood of complaints that are no margin word.
  [[nodiscard]] double complaint_table(std::span<const Index> modes) const;
  /// Probability of all findings, given the faults and when they were there.
  [[nodiscard]] double findings(std::span<const Index> modes, std::span<const std::uint64_t> present) const;
  /// True if this fault alone changes nothing that any reading of the job could depend on.
  [[nodiscard]] bool inert(Index mode);

  /// Likelihood of the readings that are no findings, at x = common coordinates and then the severities of `modes` that
  /// have one; mistakes (up to two) and visibility summed. One value per combination of lives, the last mode's fastest.
  void likelihood(std::span<const Index> modes, std::span<const std::vector<Life>> lives, std::span<const double> x,
                  std::span<double> out);
  [[nodiscard]] std::size_t severities(std::span<const Index> modes) const;

  /// Judged readings, and further solutions of the circuit so far.
  [[nodiscard]] const std::vector<Judged>& readings() const { return readings_; }
  [[nodiscard]] std::uint64_t solved() const { return solved_; }

 private:
  struct Group {                      // readings that share one draw of visibility
    model::Provocation provocation = model::Provocation::none;
    bool complaint = false;
    std::vector<std::size_t> readings;
  };
  double judge(std::size_t reading, std::span<const circuit::ActiveMode> faults, std::span<const double> x);
  void place(std::span<const double> x, std::size_t reading);
  double chance_to_show(Index mode, const Group& group) const;
  std::vector<double> trace(std::size_t reading, std::span<const circuit::ActiveMode> faults);

  std::shared_ptr<const model::Vehicle> vehicle_;
  model::Workshop workshop_;
  model::Evidence evidence_;
  circuit::Circuit circuit_;
  std::vector<Judged> readings_;
  std::vector<std::size_t> position_;        // of each reading in the evidence
  std::vector<Group> groups_;
  std::vector<Index> vehicle_unknown_, event_unknown_;
  std::vector<double> base_shift_, shift_, odds_, weight_;
  std::vector<Index> table_complaints_;
  std::size_t common_ = 0;
  std::uint64_t solved_ = 0;
};

}  // namespace lostspark::long_checks
