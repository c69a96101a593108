// From a vehicle to tables (compile), from tables and evidence to a posterior (update). Phases are types: nobody can ask
// a question before the step that answers it. docs/inference.md has the mathematics and what was measured.
#pragma once

#include <memory>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "model/evidence.hpp"
#include "model/instrument.hpp"
#include "model/vehicle.hpp"

namespace lostspark::inference {

using model::Index;

struct Options {
  int severity_nodes = 9;       ///< physics evaluations per mode over its severity range
  int severity_cells = 17;      ///< Gaussian cells per mode
  int pair_nodes = 2;           ///< cells a side of a coarse pair
  bool pairs = true;            ///< two faults at once
  double refine_pairs_above = 1e-4;  ///< posterior mass above which a pair is evaluated with more cells
  double secant_sd = 1.22;      ///< half-width of the secants, in sd of the unknown
  int mistakes = 2;             ///< mistaken readings enumerated per job
  bool operator==(const Options&) const = default;
};

/// Stage tables of one vehicle with one workshop's instruments. Immutable, shareable between threads.
class Compiled;
using CompiledPtr = std::shared_ptr<const Compiled>;
[[nodiscard]] CompiledPtr compile(std::shared_ptr<const model::Vehicle> vehicle, const model::Workshop& workshop,
                                  const Options& options = {});
[[nodiscard]] const model::Vehicle& vehicle_of(const Compiled&);
[[nodiscard]] const model::Workshop& workshop_of(const Compiled&);
[[nodiscard]] const Options& options_of(const Compiled&);

/// What a suspect is: one mode, or one of the two special hypotheses.
struct Suspect {
  Index component = model::k_none;
  Index mode = model::k_none;
  double probability = 0;       ///< that this fault is present now
};

/// Result for one test that could be taken next.
struct Gain {
  Index test = model::k_none;
  double gain_bits = 0;         ///< mutual information of the displayed reading and the set of components at fault now
};

/// Predictive band of a test: what it would show.
struct Prediction {
  double low = 0, median = 0, high = 0;  ///< 5 %, 50 %, 95 % of a number reading, in the test's unit (given it is one)
  double below_floor = 0, over_range = 0;
  std::vector<double> word;     ///< probability of each word
};

/// One line of "why": how one reading moved one suspect.
struct ReadingInfluence {
  std::size_t event = 0;        ///< position in the evidence
  Index mode = model::k_none;
  double likelihood_ratio = 1;  ///< p(evidence | mode) with over without the reading, relative to the whole
};

struct Work {
  std::size_t singles_cells = 0, pairs = 0, refined_pairs = 0, pair_cells = 0;
  std::size_t evaluations = 0;  ///< of ways and mistakes with single faults, at the grade of effort taken
  int effort = 0;  ///< grade at which contradictions were followed: 0 in full, more: fewer ways (docs/inference.md)
};

/// What a test would show, against what would have to be repaired: input of the planner.
struct OutcomeTable {
  std::vector<std::vector<Index>> repairs;  ///< by class: repairs that the faults present now need (empty: none)
  std::vector<int> level;                   ///< by class: range of what the readings share, counted from 0; -1: not split
  std::size_t outcomes = 0;
  std::vector<double> probability;          ///< [class][outcome], sums to 1
  /// By outcome: the readings it stands for, in the unit of the test; the first is below the floor (low 0), the last over
  /// the range (high infinite). Words: empty.
  std::vector<std::pair<double, double>> ranges;
};

/// Posterior over fault sets now, given a job's evidence. Value; keeps Compiled alive.
class Posterior {
 public:
  /// Probability that each component is at fault now; size = components.
  [[nodiscard]] const std::vector<double>& component_probability() const;
  /// Most probable modes, best first; all with probability above `least`.
  [[nodiscard]] std::vector<Suspect> suspects(double least = 1e-4) const;
  /// Probability that nothing is at fault now.
  [[nodiscard]] double nothing_wrong() const;
  /// Estimate (not a bound) of the mass of fault sets not evaluated.
  [[nodiscard]] double unexplored_mass() const;
  /// Natural log of the evidence's probability density.
  [[nodiscard]] double log_evidence() const;
  /// Probability that the reading at this position of the evidence is mistaken; 0 for other events.
  [[nodiscard]] double mistaken(std::size_t event) const;
  /// Predictive tail of the reading given all others (two-sided, 0..1); 1 for other events. Looked at with single faults
  /// first; a tail below 0.01 is computed again with pairs.
  [[nodiscard]] double tail(std::size_t event) const;
  /// Gains of these tests, same order. keep_all: no cell left out or coarsened and fine bins; many times slower, for
  /// checks (the difference stays below 0.01 bit, tests/inference/ranking.cpp).
  [[nodiscard]] std::vector<Gain> gains(std::span<const Index> tests, bool keep_all = false) const;
  /// What the test would show now; given a mode at fault alone if one is named.
  [[nodiscard]] Prediction predict(Index test, Index given_mode = model::k_none) const;
  /// Joint distribution of needed repairs and the outcome of a test, outcomes merged to at most `most` groups of about equal
  /// probability (words and floor stay apart).
  [[nodiscard]] OutcomeTable outcome_table(Index test, std::size_t most = 8) const;
  /// The same for several tests; cheaper than one by one. levels > 1: classes heavier than a hundredth are split by so many
  /// ranges of what the readings of these tests share most, and results given class and level may be multiplied.
  [[nodiscard]] std::vector<OutcomeTable> outcome_tables(std::span<const Index> tests, std::size_t most = 8,
                                                         std::size_t levels = 1) const;
  /// Probability that this repair cures everything that is wrong now, its success included.
  [[nodiscard]] double cures(Index repair) const;
  /// Probability that this repair mends what it is for: as stated, less where it was done in this job already.
  [[nodiscard]] double success(Index repair) const;
  /// Fault sets now, merged over cells and touches, best first: modes (0, 1 or 2) and probability.
  struct FaultSet {
    std::vector<Index> modes;
    double probability = 0;
  };
  [[nodiscard]] std::vector<FaultSet> fault_sets(double least = 1e-6) const;
  /// The same for the faults there were when the job began, repairs and touches since left aside.
  [[nodiscard]] std::vector<FaultSet> first_fault_sets(double least = 1e-6) const;
  [[nodiscard]] const Work& work() const;
  [[nodiscard]] const Compiled& compiled() const;

  struct Impl;
  explicit Posterior(std::shared_ptr<const Impl> impl) : impl_(std::move(impl)) {}

 private:
  /// Tail of a reading that is not in the evidence.
  [[nodiscard]] double tail_of(const model::Reading& reading) const;
  std::shared_ptr<const Impl> impl_;
};

/// Computes the posterior of the evidence from nothing; the order of readings between two touches does not matter.
[[nodiscard]] Posterior update(const CompiledPtr& compiled, const model::Evidence& evidence);

/// The same with single faults only, whatever the options: several times cheaper, for first looks.
[[nodiscard]] Posterior update_singles(const CompiledPtr& compiled, const model::Evidence& evidence);

/// Likelihood ratios of every reading for the leading suspects (leave one out).
[[nodiscard]] std::vector<ReadingInfluence> influences(const CompiledPtr& compiled, const model::Evidence& evidence,
                                                       std::span<const Index> modes);

/// Pairs of modes (single faults) that no offered test separates by more than one standard deviation; printed by
/// `vehicle check`.
struct Ambiguity {
  Index mode_a = model::k_none, mode_b = model::k_none;
};
[[nodiscard]] std::vector<Ambiguity> ambiguities(const Compiled&);
/// Modes that move no test by more than one standard deviation.
[[nodiscard]] std::vector<Index> invisible_modes(const Compiled&);

/// Healthy band of a test on this vehicle before any reading.
[[nodiscard]] Prediction healthy_band(const Compiled&, Index test);

}  // namespace lostspark::inference
