// Readings of a battery and of the line behind it: what every battery ignition is asked in the same words.
#pragma once

#include <vector>

#include "tables.hpp"

namespace lostspark::blocks {

/// Defaults of a steady reading along a link: a multimeter, its scatter, its minutes.
ls_test_kind_v1 steady_volts(const char* id, const char* title, const char* link, const char* condition);
/// Defaults of a resistance: an ohmmeter with the key off.
ls_test_kind_v1 unplugged_ohms(const char* id, const char* title, const char* subject, const char* against,
                               double log_sd);

/// battery_rest, battery_cranking, earth_cable_cranking, charging. Links battery_plus, battery_minus; states key_off,
/// cranking, idle.
void add_battery_tests(plugin::Tables& t);

/// A point of the line: tests ID_supply and ID_loaded on this link.
struct SupplyPoint {
  const char *id, *title, *link;
};
/// Each point with nothing drawn and with the set-up load_lamp. idle_words, zero_means: of the first kind.
void add_supply_line_tests(plugin::Tables& t, const std::vector<SupplyPoint>& points, const char* idle_words,
                           const char* zero_means);

/// pulse_peak, pulse_return_peak, pulse_ohm: links pulse_wire and pulse_return, component pulse_coil.
void add_pickup_tests(plugin::Tables& t, const char* cautions);

/// Findings of a charging system: regulator_diodes and stator_phases, at the regulator.
void add_charging_findings(FindingWriter& f);

}  // namespace lostspark::blocks
