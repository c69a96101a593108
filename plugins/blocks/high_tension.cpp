#include "high_tension.hpp"

#include "spark_plug.hpp"

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
  add_spark_plug(t, {.suffix = s.suffix,
                     .demand_volt = s.demand_volt,
                     .demand_log_sd = s.demand_log_sd,
                     .demand_event_log_sd = s.demand_event_log_sd,
                     .arc_volt = s.arc_volt});

  const auto lead = id("ht_lead"), joint = id("ht_joint"), cap = id("plug_cap");
  p.part(lead, "plug lead", "SEC", 2);
  p.part(joint, "joints of the plug lead", "SEC", 1);
  p.part(cap, "plug cap", "SEC", 2);
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
  add_spark_plug_modes(t,
                       {.fouled_dry = share.fouled_dry,
                        .fouled_wet = share.fouled_wet,
                        .gap_wide = share.gap_wide,
                        .gap_narrow = share.gap_narrow,
                        .cracked = share.cracked,
                        .loose = share.loose,
                        .wrong_plug = share.wrong_plug},
                       suffix, id("cap_ohm"));
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
         {{id("ht_joint_ohm"), 500, 1e6}, {id("joint_break_volt"), 300, 8e3}},
         "the lead sits loose on its screw or spike");
}

}  // namespace lostspark::blocks
