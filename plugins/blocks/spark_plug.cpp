#include "spark_plug.hpp"

namespace lostspark::blocks {

void add_spark_plug(plugin::Tables& t, const SparkPlugSettings& s) {
  PartWriter p(t);
  const auto id = [&](const char* stem) { return stem + s.suffix; };
  p.parameter(id("plug_flash_volt"), "volt", 60e3, 0, "where the plug's insulator flashes over");
  p.parameter(id("plug_leak_ohm"), "ohm", 1e10, 0, "deposit across the plug's gap");
  p.parameter(id("seat_break_volt"), "volt", 1, 0, "gap between a loose plug body and the head, added to the demand");
  p.parameter(id("demand_volt"), "volt", s.demand_volt, s.demand_log_sd, "breakdown of the plug's gap while cranking",
              s.demand_event_log_sd);
  p.parameter(id("arc_volt"), "volt", s.arc_volt, 0, "burning volts of the spark");
  p.part(id("spark_plug"), s.title.c_str(), "PLG", 1);
}

void add_spark_plug_modes(plugin::Tables& t, const SparkPlugShares& share, const std::string& suffix,
                          const std::string& resistor) {
  ModeWriter w(t);
  const auto id = [&](const char* stem) { return stem + suffix; };
  w.of(id("spark_plug"));
  const auto plug = suffix.empty() ? std::string("the spark plug") : "spark plug " + suffix.substr(1);
  w.repair("clean", ("clean and gap " + plug).c_str(), "clean", 8, 0.8, 0);
  w.repair("replace", ("replace " + plug).c_str(), "replace", 8, 0.95, 1);
  w.repair("tighten", ("tighten " + plug + " to its torque").c_str(), "adjust", 5, 0.95, 0);
  w.mode("fouled_dry", "fouled with dry carbon", "replace", share.fouled_dry, k_constant,
         {{id("plug_leak_ohm"), 1e6, 5e4}},
         "soot bridges the insulator: rich mixture, cold heat range, long idling");
  w.mode("fouled_wet", "wet with fuel or oil", "replace", share.fouled_wet, k_constant, {{id("plug_leak_ohm"), 2e4, 1e3}},
         "fuel or oil bridges the gap: flooding, or a spark that was missing before");
  w.mode("gap_wide", "gap too wide, electrodes worn", "replace", share.gap_wide, mostly(k_loaded),
         {scale(id("demand_volt"), 1.3, 3)}, "the gap needs more than the coil can give, first under load");
  w.mode("gap_narrow", "gap too narrow or bridged", "clean", share.gap_narrow, k_constant,
         {scale(id("demand_volt"), 0.6, 0.1)}, "a small spark that does not light the mixture");
  w.mode("cracked", "cracked insulator", "replace", share.cracked, wavering(k_hot | k_loaded),
         {{id("plug_flash_volt"), 12e3, 2.5e3}}, "the spark takes the crack to the body instead of the gap");
  w.mode("loose_in_head", "loose in the head", "tighten", share.loose, intermittent(k_shaken),
         {{id("seat_break_volt"), 400, 8e3}}, "poor earth of the body and a gas leak");
  const auto demand = scale(id("demand_volt"), 0.9, 0.7);
  const char* how = "no resistor, wrong heat range or reach";
  if (resistor.empty())
    w.mode("wrong_part", "wrong plug fitted", "replace", share.wrong_plug, k_constant, {demand}, how);
  else
    w.mode("wrong_part", "wrong plug or cap fitted", "replace", share.wrong_plug, k_constant,
           {demand, scale(resistor, 0.3, 0.002)}, how);
}

void add_gap_tester_effects(plugin::Tables& t, const char* setup, double gap_volt, const std::string& suffix) {
  const auto set = [&](const char* stem, double value) {
    effect(t, setup, LS_SET_PARAMETER, (stem + suffix).c_str(), value);
  };
  set("demand_volt", gap_volt);
  set("plug_leak_ohm", 1e10);
  set("plug_flash_volt", 60e3);
  set("seat_break_volt", 1);
}

}  // namespace lostspark::blocks
