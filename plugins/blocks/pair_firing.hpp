// What one side of a dual-output coil has against what its gap demands, and whether the loop closes through the other
// side: the cheap half of a wasted-spark ignition.
#pragma once

#include "pair_stage.hpp"

namespace lostspark::blocks {

struct PairFiringInputs {
  double demand_volt = 6000;   ///< breakdown of this side's gap, under compression
  double break_volt = 0;       ///< further gaps in series on this side, all together
  double flash_volt = 60e3;    ///< where this side's insulation flashes over first
  double partner_volt = 1500;  ///< where the other side gives way on its exhaust stroke: gap and breaks, or insulation
  double partner_siemens = 0;  ///< what the other side leads past its gap: deposit, leak of its tower
  double clamp_ampere = 0.04;  ///< current through the plug's body that a clamp shows
};

/// All > 0 but the margins.
struct PairFiringOutputs {
  double strike_margin = 0;  ///< ln(reserve / demand): the gap gives way
  double close_margin = 0;   ///< the other side lets the current through: its gap gives way in turn, or it leaks enough
  double spark_margin =
      0;  ///< both: a gap that gives way with the loop open shows a capacity's spark, which lights nothing
  double clamp_margin = 0;       ///< spark or leak current against what a clamp shows
  double reserve_volt = 0;       ///< highest gap volts at the plug's end of the lead, gap holding
  double coil_reserve_volt = 0;  ///< the same at the coil's tower
  double plug_volt_spark = 0;    ///< tower volts as the gap breaks
  double switch_volt = 0;        ///< crest across the switch as the meter shows it, until this gap breaks
};

/// Gaps strike one after the other. With both holding the towers share the coil's volts; once one conducts the other
/// has nearly all. So this side needs its share alone, or what is left once the partner has given way with its share.
PairFiringOutputs fire_pair(const PairFiringInputs& in, const PairSideOpening& own, const PairSideOpening& partner);

}  // namespace lostspark::blocks
