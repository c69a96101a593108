// The engine's circuit and ngspice side by side, at every test point of a vehicle, for one fault or none.
#pragma once

#include <iosfwd>
#include <memory>
#include <string>
#include <vector>

#include "circuit/circuit.hpp"
#include "spice/bench.hpp"

namespace lostspark::spice {

/// What is compared: a mode at a severity (empty: healthy), at a crank speed relative to the usual one.
struct Case {
  std::string title, mode;
  double severity = 0.5;
  double speed = 1;
};

/// One reading of both.
struct Pair {
  std::string test, kind;
  double deck = 0, engine = 0;
  bool word = false;  ///< deck: 1 happens, 0 not; engine: the margin
  [[nodiscard]] double deviation() const { return engine / deck - 1; }
  [[nodiscard]] bool same_word() const { return (deck > 0) == (engine > 0); }
};

struct Comparison {
  Case what;
  const FamilyBench* family = nullptr;
  std::vector<Pair> pairs;
  double deck_spark_second = 0, engine_spark_second = 0;
  double deck_crest_ampere = 0, engine_crest_ampere = 0;
  bool fires_early = false;  ///< the deck's module fires before its pulse: spark times cannot be compared

  /// All pairs of a test kind.
  [[nodiscard]] std::vector<Pair> of(const std::string& kind) const;
  /// The pair of a kind that deviates most; at the sink where all agree.
  [[nodiscard]] Pair worst(const std::string& kind) const;
  /// What breaks the bounds: the family's own (FamilyBench::bounds, 5 % each), spark time 15 % or 5 us, the same words.
  /// Where the deck is dead (its primary under 5 V, its reserve under 0.5 kV) the engine's values must only be as dead.
  /// Empty: all kept.
  [[nodiscard]] std::vector<std::string> broken_bounds() const;
};

/// Runs every test of the vehicle that its family compares, without provocation.
[[nodiscard]] std::vector<Comparison> compare(const std::shared_ptr<const model::Vehicle>& vehicle,
                                              const std::string& network, const std::vector<Case>& cases);

/// The deviation table in Markdown.
void write_table(std::ostream& out, const std::vector<Comparison>& comparisons);

}  // namespace lostspark::spice
