// What a distributor adds to the tests: the coil by itself at the king lead, the king lead's ohms, the rotor, mist on
// the cap. Probabilities, minutes and scatter: common practice and judgement, no source.
#include "blocks/high_tension.hpp"
#include "blocks/tables.hpp"
#include "family.hpp"

namespace lostspark::breaker_points {
namespace {

constexpr const char* k_sparking = "S01 S02 S03 S04 S09 S12 S19";

// The tester hangs on the king lead: cap, rotor, plug lead and plug take no part. Reached through the parameters of the
// first cylinder, which then stands for the coil and the king lead alone.
void king_tester(plugin::Tables& t, const std::string& s) {
  t.add(ls_setup_v1{"king_tester", "gap tester at the king lead",
                    "king lead out of the middle of the distributor cap and onto the gap tester, tester earthed to the "
                    "engine; set to 12 kilovolt (about 10 mm between points in air)",
                    "gap_tester", 1.5, 0});
  const std::string owner = "setup:king_tester";
  blocks::add_gap_tester_effects(t, owner.c_str(), 12e3, s);
  const auto set = [&](const std::string& parameter, double value) {
    blocks::effect(t, owner.c_str(), LS_SET_PARAMETER, parameter.c_str(), value);
  };
  for (const char* gap : {"distributor_break_volt", "rotor_gap_volt"}) set(gap, 1);
  for (const char* flash : {"distributor_flash_volt", "rotor_flash_volt"}) set(flash, 60e3);
  for (const char* gap : {"lead_break_volt", "joint_break_volt", "cap_break_volt"}) set(gap + s, 1);
  for (const char* flash : {"lead_flash_volt", "cap_flash_volt"}) set(flash + s, 60e3);
  set("lead_ohm" + s, 1);
  set("ht_joint_ohm" + s, 0.2);
  set("cap_ohm" + s, 1);
}

}  // namespace

void add_distributor_tests(plugin::Tables& t, const Options& o) {
  const auto s = o.of_cylinder(1), fire = "fire" + s;
  king_tester(t, s);
  t.add(ls_test_kind_v1{.id = "king_spark",
                        .title = "spark at the king lead",
                        .reads = LS_READS_MARGIN_WORD,
                        .unit = "word",
                        .subject = t.keep(fire + ".spark_margin"),
                        .condition = "cranking",
                        .setups = "king_tester|king_tester condenser_substituted",
                        .instrument = "gap_tester",
                        .log_sd = 0.10,
                        .minutes = 2,
                        .mistaken = 0.03,
                        .place = "king_lead",
                        .hook_up = "tester on the king lead instead of the cap: what coil, points and condenser give",
                        .low_means = "irregular: primary current, condenser, coil, king lead",
                        .zero_means = "no spark before the distributor: go back to coil and points",
                        .cautions = k_sparking});
  t.add(
      ls_test_kind_v1{.id = "king_reserve",
                      .title = "reserve at the king lead",
                      .reads = LS_READS_OUTPUT,
                      .unit = "kilovolt",
                      .subject = t.keep(fire + ".reserve_volt"),
                      .condition = "cranking",
                      .setups = "king_tester",
                      .instrument = "gap_tester",
                      .log_sd = 0.15,
                      .minutes = 3,
                      .mistaken = 0.03,
                      .place = "king_lead",
                      .hook_up = "widen the gap until the spark stays away now and then; then the same at a plug lead",
                      .low_means = "low here and at every plug: coil side; low at the plugs alone: cap, rotor, leads",
                      .zero_means = "no spark before the distributor",
                      .cautions = k_sparking});
  t.add(ls_test_kind_v1{.id = "king_lead_ohm",
                        .title = "resistance of the king lead",
                        .reads = LS_READS_OHMS,
                        .unit = "ohm",
                        .subject = "king_lead.coil_end",
                        .against = "king_lead.cap_end",
                        .condition = "key_off",
                        .instrument = "ohmmeter",
                        .log_sd = 0.05,
                        .minutes = 1.5,
                        .mistaken = 0.03,
                        .hook_up = "king lead out at both ends",
                        .high_means = "open or burnt conductor",
                        .cautions = "S10"});
  blocks::FindingWriter f(t);
  f.kind(
      "rotor_check", "rotor against its shaft", "rotor", "eyes", "cranking", 3, 0.04, "rotor",
      "cap off, king lead's end held by insulated pliers 5 mm over the rotor's middle: a spark into the rotor goes to "
      "the shaft",
      "S01 S02 S03 S04 S12 S19", "no_spark_to_it", 0.95);
  f.row("rotor.leaks", "spark_to_it", 0.85);
  f.kind("mist_distributor", "dark and mist test of the distributor", "distributor_cap", "eyes", "idle", 4, 0.03,
         "distributor_cap", "in the dark, water mist on cap, king lead and coil: glow, sparks or stumbling",
         "S01 S02 S03 S04 S06 S12", "no_glow", 0.95);
  f.row("distributor_cap.tracking", "sparks_at_cap", 0.75);
  f.row("king_lead.insulation_leak", "sparks_at_king_lead", 0.75);
  f.row("ignition_coil.secondary_leak", "sparks_at_coil", 0.3);
}

}  // namespace lostspark::breaker_points
