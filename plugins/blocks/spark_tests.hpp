// Readings and looks at the secondary side that every capacitor discharge family offers, cylinder by cylinder.
#pragma once

#include <string>

#include "tables.hpp"

namespace lostspark::blocks {

struct SparkTestSettings {
  std::string suffix;                    ///< "_2": of test ids, stages and components
  std::string number;                    ///< " 2": in titles; "" for the only cylinder
  std::string live;                      ///< margins that must be met before anything fires
  std::string setups;                    ///< alternatives of the spark test, "gap_tester|gap_tester kill_unplugged"
  std::string returns;                   ///< what a spark that comes back under one of them accuses
  std::string cranking, sparking;        ///< cautions: of any reading while the engine turns; of those with a lead off
  std::string at_tester = "S13";         ///< further cautions of the spark at the tester
  std::string tester = "gap_tester";     ///< set-up of the reserve: the tester on this cylinder's lead
  std::string strikes = "spark_margin";  ///< output of fire: this gap gives way, whatever comes of it
  bool cap_resistor = true;              ///< the cap comes off its lead and holds a resistor that can burn away
};
/// plug_kilovolt, spark_current, reserve, spark, lead_ohm and cap_alone_ohm of one cylinder.
void add_spark_tests(plugin::Tables& t, const SparkTestSettings& settings);

/// cap_alone_ohm of one cylinder: what tells a burnt cap from a broken lead. number as in SparkTestSettings.
void add_cap_test(plugin::Tables& t, const std::string& suffix = "", const std::string& number = "");

/// primary_current, primary_ohm, secondary_ohm of one cylinder's discharge; same settings.
void add_discharge_tests(plugin::Tables& t, const SparkTestSettings& settings);

/// plug_look of one cylinder.
void add_plug_look(FindingWriter& f, const std::string& suffix = "", const std::string& number = "");
/// Rows of `mist` for one cylinder's parts; the kind must be the one being written.
void add_mist_rows(FindingWriter& f, const std::string& suffix = "");

/// Fuel, compression, air, starting gear: parts, modes (share: of all complaints booked as ignition, half of it fuel)
/// and the three findings. All shares: engineering judgement.
void add_elsewhere(plugin::Tables& t, double share, const char* other_title, const char* other_how);
void add_elsewhere_findings(FindingWriter& f, const std::string& plug, const char* cranking_cautions);

enum class Steering { none, bars, wheel };
/// Provocations hot, wet, shaken, steering (where something is steered), loaded; wet: where the mist goes.
void add_provocations(plugin::Tables& t, Steering steering, const char* loaded_instruction,
                      const char* wet = "leads, cap, switches and connectors");

}  // namespace lostspark::blocks
