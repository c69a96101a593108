// Plug lead, its joints, cap and plug: parts of every family. They are resistances for an ohmmeter and numbers for the
// stages: gaps in series (breaks), weak insulation (flash-over), a deposit across the plug's gap.
#pragma once

#include <string>

#include "spark_plug.hpp"

namespace lostspark::blocks {

struct HighTensionSettings {
  std::string suffix;  ///< "_2" for the second cylinder's; "" for the only one
  double cap_ohm = 5000;
  double demand_volt = 6000, demand_log_sd = 0.28, demand_event_log_sd = 0.10;
  double arc_volt = 600;
};

/// Components ht_lead, ht_joint, plug_cap, spark_plug with terminals, resistances and parameters. The coil is the
/// family's; a lead's coil_end is not joined to it, since an ohmmeter reads lead and coil apart.
void add_high_tension(plugin::Tables& t, const HighTensionSettings& settings);

/// Shares per 1000 complaints of one cylinder's parts.
struct HighTensionShares {
  double fouled_dry, fouled_wet, gap_wide, gap_narrow, cracked, loose, wrong_plug;
  double cap_open, cap_cracked, lead_open, lead_leak, joint_loose;
};
void add_high_tension_modes(plugin::Tables& t, const HighTensionShares& shares, const std::string& suffix = "");

}  // namespace lostspark::blocks
