#include "high_tension.hpp"

namespace lostspark::blocks {

void add_high_tension(plugin::Tables& t, const HighTensionSettings& s) {
  PartWriter p(t);
  const auto id = [&](const char* stem) { return stem + s.suffix; };
  p.parameter(id("lead_ohm"), "ohm", 1, 0.05, "plug lead, copper");
  p.parameter(id("ht_joint_ohm"), "ohm", 0.2, 0.05, "joints of the lead at coil and cap");
  p.parameter(id("cap_ohm"), "ohm", s.cap_ohm, 0.05, "resistor of the plug cap");
  p.parameter(id("lead_break_volt"), "volt", 1, 0, "gap in a broken lead, added to the demand");
  p.parameter(id("joint_break_volt"), "volt", 1, 0, "gap in a loose lead joint, added to the demand");
  p.parameter(id("cap_break_volt"), "volt", 1, 0, "gap in a burnt cap resistor, added to the demand");
  p.parameter(id("lead_flash_volt"), "volt", 60e3, 0, "where the lead's insulation flashes over");
  p.parameter(id("cap_flash_volt"), "volt", 60e3, 0, "where the cap flashes over");
  p.parameter(id("plug_flash_volt"), "volt", 60e3, 0, "where the plug's insulator flashes over");
  p.parameter(id("plug_leak_ohm"), "ohm", 1e10, 0, "deposit across the plug's gap");
  p.parameter(id("seat_break_volt"), "volt", 1, 0, "gap between a loose plug body and the head, added to the demand");
  p.parameter(id("demand_volt"), "volt", s.demand_volt, s.demand_log_sd, "breakdown of the plug's gap while cranking",
              s.demand_event_log_sd);
  p.parameter(id("arc_volt"), "volt", s.arc_volt, 0, "burning volts of the spark");

  const auto lead = id("ht_lead"), joint = id("ht_joint"), cap = id("plug_cap"), plug = id("spark_plug");
  p.part(lead, "plug lead", "SEC", 2);
  p.part(joint, "joints of the plug lead", "SEC", 1);
  p.part(cap, "plug cap", "SEC", 2);
  p.part(plug, "spark plug", "PLG", 1);
  p.terminal(lead, "coil_end", "4", "lead, coil end");
  p.terminal(lead, "cap_end", "4", "lead, cap end");
  p.terminal(cap, "lead_end", "4", "cap, lead end");
  p.terminal(cap, "plug_end", "", "cap, plug end");
  p.ohm(id("lead_conductor"), lead + ".coil_end", lead + ".cap_end", id("lead_ohm"), LS_IN_OHM_TESTS);
  p.ohm(id("lead_joint"), lead + ".cap_end", cap + ".lead_end", id("ht_joint_ohm"), LS_IN_OHM_TESTS);
  p.ohm(id("cap_resistor"), cap + ".lead_end", cap + ".plug_end", id("cap_ohm"), LS_IN_OHM_TESTS);
}

void add_high_tension_modes(plugin::Tables& t, const HighTensionShares& share, const std::string& suffix) {
  ModeWriter w(t);
  const auto id = [&](const char* stem) { return stem + suffix; };
  w.of(id("spark_plug"));
  w.repair("clean", "clean and gap the spark plug", "clean", 8, 0.8, 0);
  w.repair("replace", "replace the spark plug", "replace", 8, 0.95, 1);
  w.repair("tighten", "tighten the spark plug to its torque", "adjust", 5, 0.95, 0);
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
  w.mode("wrong_part", "wrong plug or cap fitted", "replace", share.wrong_plug, k_constant,
         {scale(id("demand_volt"), 0.9, 0.7), scale(id("cap_ohm"), 0.3, 0.002)},
         "no resistor, wrong heat range or reach");

  w.of(id("plug_cap"));
  w.repair("replace", "replace the plug cap", "replace", 10, 0.95, 2);
  w.mode("resistor_open", "resistor open or burnt", "replace", share.cap_open, k_constant,
         {{id("cap_ohm"), 3e4, 2e7}, {id("cap_break_volt"), 500, 25e3}},
         "the resistor burns away: the spark jumps inside the cap");
  w.mode("cracked", "cracked, tracking to earth", "replace", share.cap_cracked, wavering(k_wet | k_loaded),
         {{id("cap_flash_volt"), 12e3, 2e3}}, "the spark runs down the cap, worst in the wet");
  w.of(id("ht_lead"));
  w.repair("replace", "replace the plug lead", "replace", 15, 0.95, 2);
  w.mode("open_conductor", "conductor open or burnt", "replace", share.lead_open, k_constant,
         {{id("lead_ohm"), 1e5, 5e7}, {id("lead_break_volt"), 2e3, 40e3}},
         "the conductor is broken: the spark jumps inside or stays away");
  w.mode("insulation_leak", "insulation leaks or is chafed", "replace", share.lead_leak, wavering(k_wet),
         {{id("lead_flash_volt"), 12e3, 2e3}}, "the spark leaves the lead for the frame");
  w.of(id("ht_joint"));
  w.repair("clean", "trim the lead and refit its joints", "clean", 10, 0.92, 1);
  w.mode("loose", "loose or corroded", "clean", share.joint_loose, wavering(k_shaken),
         {{id("ht_joint_ohm"), 500, 1e6}, {id("joint_break_volt"), 300, 8e3}}, "the lead sits loose on its screw or spike");
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
