// What an opened coil has against what trigger and gap demand: the cheap half of an inductive ignition.
#pragma once

#include "opening_stage.hpp"

namespace lostspark::blocks {

struct InductiveFiringInputs {
  double gate_volt = 3, gate_threshold_volt = 0.8;
  double demand_volt = 6000;   ///< breakdown of the gap as found
  double break_volt = 0;       ///< further gaps in series, all together
  double flash_volt = 60e3;    ///< where the insulation flashes over first
  double clamp_ampere = 0.04;  ///< current through the plug's body that a clamp shows
};

/// All > 0 but the margins.
struct InductiveFiringOutputs {
  double trigger_margin = 0;     ///< ln(gate / threshold)
  double spark_margin = 0;       ///< ln(reserve / demand)
  double clamp_margin = 0;       ///< spark or leak current against what a clamp shows
  double reserve_volt = 0;       ///< highest gap volts at the plug's end of the lead, gap holding
  double coil_reserve_volt = 0;  ///< the same at the coil's tower
  double plug_volt_spark = 0;    ///< tower volts as the gap breaks
  double switch_volt = 0;        ///< crest across the switch as the meter shows it: up to breakdown, or all of it
};

InductiveFiringOutputs fire_coil(const InductiveFiringInputs& in, const Opening& opening);

}  // namespace lostspark::blocks
