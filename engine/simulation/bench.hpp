// The simulated vehicle: answers any test for a hidden fault straight from the circuit, never from inference's tables.
#pragma once

#include <cstdint>
#include <memory>
#include <random>
#include <vector>

#include "circuit/circuit.hpp"
#include "model/evidence.hpp"
#include "model/instrument.hpp"

namespace lostspark::simulation {

using model::Index;

/// The truth behind a simulated job.
struct Truth {
  std::vector<circuit::ActiveMode> faults;
  std::vector<double> log_shift;       ///< vehicle unknowns, one per parameter
  std::vector<double> calibration;     ///< log error of each workshop instrument
  Index complaint = model::k_none;
};

struct BenchOptions {
  bool mistakes = true;                ///< some readings are false, with each test's probability
  bool touches_cure = true;            ///< moving contacts may cure or hide a contact fault
};

/// One vehicle on the simulated bench.
class Bench {
 public:
  Bench(std::shared_ptr<const model::Vehicle> vehicle, model::Workshop workshop, std::uint64_t seed,
        BenchOptions options = {});

  /// Draws fault set, severities, unknowns from the priors until the drawn complaint is `complaint`
  /// (k_none: any complaint); at most `tries` draws, else InputError.
  Truth draw(Index complaint = model::k_none, int tries = 200000);
  /// Draws unknowns and severities for given modes (severity in the stated range).
  Truth draw_with(const std::vector<Index>& modes);
  void put(Truth truth);
  [[nodiscard]] const Truth& truth() const { return truth_; }
  [[nodiscard]] const std::vector<circuit::ActiveMode>& present() const { return present_; }

  /// Takes a reading now; the value as the instrument shows it. `mistaken` (optional) tells whether it was false.
  model::Value read(Index test, model::Provocation provocation = model::Provocation::none, bool* mistaken = nullptr);
  void touch(const std::vector<Index>& components);
  /// Carries out the repair; true if the vehicle passes the functional check afterwards (spark steady, nothing left).
  bool repair(Index repair);
  [[nodiscard]] bool healthy() const { return present_.empty(); }

 private:
  std::shared_ptr<const model::Vehicle> vehicle_;
  model::Workshop workshop_;
  circuit::Circuit circuit_;
  std::mt19937_64 random_;
  BenchOptions options_;
  Truth truth_;
  std::vector<circuit::ActiveMode> present_;
  std::vector<Index> done_;  // repairs since the faults were put in
  std::vector<std::vector<int>> visible_now_;  ///< per fault and provocation: -1 not drawn, 0 hidden, 1 showing
};

}  // namespace lostspark::simulation
