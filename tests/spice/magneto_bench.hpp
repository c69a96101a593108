// Flywheel magnetos differ in what their wires are named for: the bench is that of one vehicle.
#pragma once

#include "model/vehicle.hpp"
#include "spice/family_bench.hpp"

namespace lostspark::spice {

/// By block (coil or module) and by what stops the engine.
[[nodiscard]] const FamilyBench& flywheel_magneto_bench(const model::Vehicle& vehicle);

}  // namespace lostspark::spice
