// A harness of any size for the growth table: branches of contacts in series from a source to a load, and a fixed
// number of test points spread over them. No stages: what grows is the number of faults, not the physics.
#pragma once

#include <memory>

#include "model/instrument.hpp"
#include "model/vehicle.hpp"

namespace lostspark::benches {

struct HarnessSize {
  int components = 100;  ///< contacts, one mode each (series resistance)
  int branches = 20;     ///< electrical zones, joined at earth only
  int tests = 200;       ///< volts to earth, spread evenly over the branches
};

/// Valid vehicle; parameters: source volts and load, common to all branches. Group and complaint: CON, no_spark.
[[nodiscard]] std::shared_ptr<const model::Vehicle> synthetic_harness(const HarnessSize& size);
/// One multimeter.
[[nodiscard]] model::Workshop synthetic_workshop();

}  // namespace lostspark::benches
