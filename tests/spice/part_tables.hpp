// Parameters that plugins of several families share, and the deck values they are.
#pragma once

#include <fmt/format.h>

#include <functional>
#include <map>
#include <stdexcept>
#include <string>

#include "spice/family_bench.hpp"
#include "spice/stages.hpp"
#include "spice/supply_parts.hpp"

namespace lostspark::spice {

template <class P>
using PartTable = std::map<std::string, double P::*, std::less<>>;

/// Coil, lead, cap, plug of a capacitor discharge, ids without the cylinder's suffix.
template <class P>
PartTable<P> discharge_table() {
  return {{"primary_henry", &P::primary_henry},
          {"primary_ohm", &P::primary_ohm},
          {"turns_ratio_one", &P::turns},
          {"secondary_ohm", &P::secondary_ohm},
          {"secondary_meter_ohm", &P::secondary_meter_ohm},
          {"secondary_leak_ohm", &P::secondary_leak_ohm},
          {"secondary_break_volt", &P::secondary_break_volt},
          {"module_output_ohm", &P::output_ohm},
          {"lead_ohm", &P::lead_conductor_ohm},
          {"ht_joint_ohm", &P::lead_joint_ohm},
          {"cap_ohm", &P::cap_ohm},
          {"lead_break_volt", &P::lead_break_volt},
          {"joint_break_volt", &P::joint_break_volt},
          {"cap_break_volt", &P::cap_break_volt},
          {"seat_break_volt", &P::seat_break_volt},
          {"lead_flash_volt", &P::lead_flash_volt},
          {"cap_flash_volt", &P::cap_flash_volt},
          {"plug_flash_volt", &P::plug_flash_volt},
          {"plug_leak_ohm", &P::deposit_ohm},
          {"demand_volt", &P::demand_volt},
          {"arc_volt", &P::arc_volt}};
}

/// Battery, starter, fuse, key, run/stop switch.
template <class P>
PartTable<P> supply_table() {
  return {{"battery_emf_volt", &P::battery_volt},
          {"battery_ohm", &P::battery_ohm},
          {"starter_ohm", &P::starter_ohm},
          {"starter_switch_ohm", &P::starter_switch_ohm},
          {"charge_emf_volt", &P::charge_volt},
          {"charge_ohm", &P::charge_ohm},
          {"fuse_ohm", &P::fuse_ohm},
          {"key_switch_ohm", &P::key_ohm},
          {"key_position_ohm", &P::key_position_ohm},
          {"lighting_ohm", &P::lighting_ohm},
          {"stop_switch_ohm", &P::stop_ohm},
          {"stop_position_ohm", &P::stop_position_ohm},
          {"stop_weld_ohm", &P::stop_weld_ohm},
          {"stop_lead_ohm", &P::stop_lead_ohm}};
}

/// The parameters without an electrical meaning in a deck: the meter's own response, timing.
inline bool is_no_part(std::string_view id) { return id == "timing_shift_degree" || id == "meter_rise_second"; }

/// Sets a part, throws std::runtime_error for a parameter that the deck has no element for.
template <class P>
void set_part(P& parts, const PartTable<P>& table, const std::string& id, double value) {
  const auto found = table.find(id);
  if (found == table.end()) throw std::runtime_error(fmt::format("no deck element for parameter '{}'", id));
  parts.*found->second = value;
}

}  // namespace lostspark::spice
