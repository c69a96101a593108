// A vehicle measured by ngspice: faults, unknowns and set-ups go into a deck, a test's reading comes out. What is
// tested (ids, severities, places) is taken from the vehicle; what it shows is the deck's physics alone.
#pragma once

#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "circuit/circuit.hpp"
#include "model/vehicle.hpp"
#include "spice/family_bench.hpp"

namespace lostspark::spice {

using model::Index;

/// The vehicle as it is during one kick.
struct Kick {
  std::vector<circuit::ActiveMode> faults;  ///< present and showing
  std::vector<double> log_shift;            ///< of every parameter; empty: all typical
};

/// A deck to run and how to read tests from its results.
struct Measurement {
  std::string deck;
  std::vector<Index> tests;                       ///< read from this deck
  std::vector<std::optional<std::size_t>> meter;  ///< of each test, where it has one
  Situation situation;
};

/// A reserve is read with a gap that holds: in a deck of its own.
[[nodiscard]] bool holds_the_gap(const std::string& kind);

class SpiceBench {
 public:
  /// network: the vehicle's TOML file, read again here. meter_rise_second: of the peak meter.
  SpiceBench(std::shared_ptr<const model::Vehicle> vehicle, const std::string& network, double meter_rise_second,
             double meter_ohm = 2e6);

  /// Tests a deck can answer: no findings, and none in a state or a set-up that the family has no deck for.
  [[nodiscard]] bool can_measure(const model::Test& test) const;

  /// One deck for tests of one scene (or of scenes that show these tests the same: then name the one to build). A
  /// single test's meter loads the circuit; several do not, for many at once would load it as no technician does.
  [[nodiscard]] Measurement prepare(std::vector<Index> tests, const Kick& kick,
                                    std::optional<Index> scene = std::nullopt) const;
  [[nodiscard]] Shown read(const Measurement& measurement, const Run& run, std::size_t position) const;

  /// Prepares, runs and reads one test.
  [[nodiscard]] Shown measure(Index test, const Kick& kick) const;

  [[nodiscard]] const FamilyBench& family() const { return family_; }

  /// The vehicle with faults and set-ups of a scene. cylinder: where the family's deck fires cylinder 1, the one that
  /// takes its place, 1 taking its.
  [[nodiscard]] Situation situation(Index scene, const Kick& kick, int cylinder = 1) const;

  /// The cylinder whose deck answers a test: the number at the end of its kind, else 1.
  [[nodiscard]] int cylinder_of(const model::Test& test) const;

 private:
  std::shared_ptr<const model::Vehicle> vehicle_;
  const FamilyBench& family_;
  Harness harness_;
  double rise_, meter_ohm_;
};

}  // namespace lostspark::spice
