// The spark plug: a gap that demands volts, a deposit across it, an insulator that may flash over, a seat in the head.
#pragma once

#include <string>

#include "tables.hpp"

namespace lostspark::blocks {

struct SparkPlugSettings {
  std::string suffix;  ///< of ids: "_2" for the second cylinder's; "" for the only one
  std::string title = "spark plug";
  double demand_volt = 6000, demand_log_sd = 0.28, demand_event_log_sd = 0.10;
  double arc_volt = 600;
};

/// Component spark_plug and its parameters: demand_volt, arc_volt, plug_leak_ohm, plug_flash_volt, seat_break_volt.
void add_spark_plug(plugin::Tables& t, const SparkPlugSettings& settings);

/// Shares per 1000 complaints of one plug.
struct SparkPlugShares {
  double fouled_dry, fouled_wet, gap_wide, gap_narrow, cracked, loose, wrong_plug;
};
/// resistor: parameter of the cap's resistor, which a wrong plug or cap lacks; "" where no ohmmeter sees it.
void add_spark_plug_modes(plugin::Tables& t, const SparkPlugShares& shares, const std::string& suffix,
                          const std::string& resistor);

/// A gap tester fitted in place of the plug: what set-up `setup` does ("setup:gap_tester").
void add_gap_tester_effects(plugin::Tables& t, const char* setup, double gap_volt, const std::string& suffix = "");

}  // namespace lostspark::blocks
