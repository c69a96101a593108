// Shared parents of faults: what wets, shakes or gnaws one contact does so to its neighbours.
#pragma once

#include "model/vehicle.hpp"

namespace lostspark::model {

/// Common causes of a vehicle from what provokes its modes: water over contacts that suffer wet, vibration over contacts and
/// wires that suffer shaking, rodents over wires. Probabilities are engineering judgement (docs/model.md): about as many
/// pairs again as independent faults give.
[[nodiscard]] std::vector<CommonCause> common_causes(const Vehicle& vehicle);

}  // namespace lostspark::model
