// Capacitor-discharge firing, the cheap half: capacitor volts times gains, against what trigger and gap demand.
#pragma once

#include "discharge_stage.hpp"

namespace lostspark::blocks {

struct FiringInputs {
  double capacitor_volt = 220;
  double gate_volt = 3, gate_threshold_volt = 0.7;
  double demand_volt = 6500;  ///< breakdown of the gap as found
  double break_volt = 0;      ///< further gaps in series: open lead, cap, joint, all together
  double flash_volt = 60e3;   ///< where the insulation flashes over first
  double plug_leak_ohm = 1e10;
  double arc_volt = 600;
  double clamp_ampere = 0.05;  ///< current through the plug's body that a clamp shows
};

/// All > 0 but the margins.
struct FiringOutputs {
  double trigger_margin = 0;        ///< ln(gate / threshold)
  double spark_margin = 0;          ///< ln(reserve / demand)
  double clamp_margin = 0;          ///< spark or leak current against what a clamp shows
  double reserve_volt = 0;          ///< highest gap volts at the plug's end of the lead, gap holding
  double coil_reserve_volt = 0;     ///< the same at the coil's tower
  double plug_volt_spark = 0;       ///< tower volts as the gap breaks
  double primary_current = 0;       ///< ampere, gap firing
  double primary_current_open = 0;  ///< ampere, gap holding
  double coil_out_volt = 0, primary_volt = 0, coil_ground_volt = 0, ground_volt = 0;  ///< as the meter shows them
  double coil_lug_volt = 0, ground_lug_volt = 0;  ///< earth drops beyond the leads' inductance; the module's < 0
  double coil_out_raw_volt = 0, primary_raw_volt = 0;                                 ///< instantaneous
};

FiringOutputs fire(const FiringInputs& in, const DischargeGains& gains);

/// Volts left for the coil of a charged capacitor behind thyristor and diode.
double switched_volt(double capacitor_volt);

}  // namespace lostspark::blocks
