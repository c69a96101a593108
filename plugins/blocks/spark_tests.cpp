#include "spark_tests.hpp"

namespace lostspark::blocks {
namespace {

ls_test_kind_v1 output(const std::string& id, const std::string& title, const char* unit, const std::string& subject,
                       const std::string& dead, const char* instrument, double log_sd, const std::string& place,
                       const std::string& cautions) {
  return {.id = id.c_str(),
          .title = title.c_str(),
          .reads = LS_READS_OUTPUT,
          .unit = unit,
          .subject = subject.c_str(),
          .dead_below = dead.c_str(),
          .condition = "cranking",
          .instrument = instrument,
          .log_sd = log_sd,
          .minutes = 4,
          .mistaken = 0.03,
          .place = place.c_str(),
          .cautions = cautions.c_str()};
}

ls_test_kind_v1 ohms(const std::string& id, const std::string& title, const std::string& subject,
                     const std::string& against, double log_sd) {
  return {.id = id.c_str(),
          .title = title.c_str(),
          .reads = LS_READS_OHMS,
          .unit = "ohm",
          .subject = subject.c_str(),
          .against = against.c_str(),
          .condition = "key_off",
          .instrument = "ohmmeter",
          .log_sd = log_sd,
          .minutes = 4,
          .mistaken = 0.03,
          .cautions = "S10"};
}

}  // namespace

void add_spark_tests(plugin::Tables& t, const SparkTestSettings& s) {
  const std::string fire = "fire" + s.suffix, margin = fire + ".spark_margin", clamp = fire + ".clamp_margin",
                    fired = fire + ".plug_volt_spark", held = fire + ".coil_reserve_volt",
                    reserve_of = fire + ".reserve_volt", lead = "ht_lead" + s.suffix, plug = "spark_plug" + s.suffix;
  const std::string kv_id = "plug_kilovolt" + s.suffix, kv_title = "plug kilovolts" + s.number + " as fired";
  auto kv = output(kv_id, kv_title, "kilovolt", fired, s.live, "kv_pickup", 0.20, lead, s.sparking);
  const std::string strikes = fire + "." + s.strikes;
  kv.switch_margin = strikes.c_str();
  kv.switch_output = held.c_str();
  const std::string on_lead = s.number.empty() ? "the lead" : "plug lead" + s.number;
  const std::string kv_how = "capacitive pickup on " + on_lead + ", plug fitted";
  kv.hook_up = kv_how.c_str();
  kv.low_means = "fouled or narrow plug, leak, low compression";
  kv.zero_means = "no ignition";
  kv.high_means = "wide gap, open lead, cap or secondary";
  t.add(kv);
  const std::string clamp_id = "spark_current" + s.suffix, clamp_title = "spark current" + s.number;
  auto current = output(clamp_id, clamp_title, "word", clamp, s.live, "current_pickup", 0.10, lead, s.sparking);
  current.reads = LS_READS_MARGIN_WORD;
  current.minutes = 3;
  current.mistaken = 0.04;
  const std::string clamp_how = "inductive pickup on " + on_lead + ", plug fitted; a fouled plug shows current too";
  current.hook_up = clamp_how.c_str();
  current.low_means = "comes and goes: the reserve hardly covers the demand";
  current.zero_means = "no spark, open lead";
  t.add(current);
  const std::string reserve_id = "reserve" + s.suffix, reserve_title = "reserve" + s.number + " at an adjustable gap";
  auto reserve =
      output(reserve_id, reserve_title, "kilovolt", reserve_of, s.live, "gap_tester", 0.15, plug, s.sparking);
  reserve.setups = s.tester.c_str();
  reserve.hook_up =
      "widen the gap until the spark stays away now and then; state the electrodes, convert by table; no further than "
      "the "
      "coil's rating";
  reserve.low_means = "weak source, resistance in the primary circuit, leak, coil";
  reserve.zero_means = "no spark";
  t.add(reserve);
  const std::string spark_id = "spark" + s.suffix, spark_title = "spark" + s.number + " at the gap tester";
  const std::string hook_up = "tester on the plug's end of " + on_lead + ", fuel off" + s.returns,
                    cautions = s.sparking + " " + s.at_tester;
  auto spark = output(spark_id, spark_title, "word", margin, s.live, "gap_tester", 0.10, plug, cautions);
  spark.reads = LS_READS_MARGIN_WORD;
  spark.setups = s.setups.c_str();
  spark.minutes = 3;
  spark.hook_up = hook_up.c_str();
  spark.low_means = "irregular: the reserve hardly covers the gap";
  spark.zero_means = "no spark";
  t.add(spark);
  const std::string lead_id = s.suffix.empty() ? "lead_ohm" : "lead_ohm_of" + s.suffix,
                    lead_title = "resistance of lead and cap" + s.number, cap_end = "plug_cap" + s.suffix + ".plug_end",
                    coil_end = lead + ".coil_end";
  auto lead_ohm = ohms(lead_id, lead_title, cap_end, coil_end, 0.05);
  lead_ohm.minutes = 3;
  const std::string lead_how = (s.number.empty() ? "lead" : on_lead) + " off its coil, ohmmeter through lead and cap";
  lead_ohm.hook_up = lead_how.c_str();
  lead_ohm.low_means = "wrong cap or plug";
  lead_ohm.high_means = "open or burnt cap, lead or joint";
  t.add(lead_ohm);
  if (s.cap_resistor) add_cap_test(t, s.suffix, s.number);
}

void add_cap_test(plugin::Tables& t, const std::string& suffix, const std::string& number) {
  const std::string cap = "plug_cap" + suffix, id = "cap_alone_ohm" + suffix, plug_end = cap + ".plug_end",
                    lead_end = cap + ".lead_end", title = "resistance of the cap by itself" + number;
  auto ohm = ohms(id, title, plug_end, lead_end, 0.05);
  ohm.hook_up = "cap off its lead, ohmmeter through the cap from end to end";
  ohm.low_means = "wrong cap";
  ohm.high_means = "resistor open or burnt";
  t.add(ohm);
}

void add_discharge_tests(plugin::Tables& t, const SparkTestSettings& s) {
  const std::string fire = "fire" + s.suffix, coil = "ignition_coil" + s.suffix, primary = coil + ".primary",
                    tower = coil + ".ht", ground = coil + ".ground";
  const std::string id = "primary_current" + s.suffix, title = "primary current pulse" + s.number,
                    fired = fire + ".primary_current", held = fire + ".primary_current_open",
                    margin = fire + ".spark_margin";
  auto current = output(id, title, "ampere", fired, s.live, "current_pickup", 0.10, coil, s.cranking);
  current.switch_margin = margin.c_str();
  current.switch_output = held.c_str();
  current.hook_up = "clamp round the wire between module and coil, peak hold";
  current.low_means = "resistance in the coil's circuit or earth, weak source";
  current.zero_means = "open coil circuit, no discharge";
  current.high_means = "shorted turns in the primary";
  t.add(current);
  const std::string of_coil = s.suffix.empty() ? "" : "_of" + s.suffix;
  const std::string primary_id = "primary_ohm" + of_coil, primary_title = "primary resistance" + s.number;
  auto low = ohms(primary_id, primary_title, primary, ground, 0.25);
  low.hook_up = "coil unplugged; short the leads first and take them off: the value is below an ohm";
  low.low_means = "shorted turns (seldom seen this way)";
  low.high_means = "open, or the wrong coil";
  low.cautions = "S10 S15";
  t.add(low);
  const std::string secondary_id = "secondary_ohm" + of_coil, secondary_title = "secondary resistance" + s.number;
  auto high = ohms(secondary_id, secondary_title, tower, ground, 0.05);
  high.hook_up = "lead or cap off, ohmmeter from the tower to the coil's foot";
  high.low_means = "shorted turns";
  high.zero_means = "short";
  high.high_means = "open winding";
  t.add(high);
}

void add_plug_look(FindingWriter& f, const std::string& suffix, const std::string& number) {
  const auto plug = "spark_plug" + suffix;
  f.kind("plug_look" + suffix, number.empty() ? "look at the plug" : "look at plug" + number, plug, "eyes", "key_off",
         8, 0.02, plug, "plug out: colour, wetness, gap, insulator, number; hand-tightness of the plug as it comes out",
         "S05 S09 S15", "tan_and_dry", 0.93);
  f.row(plug + ".fouled_dry", "black_dry", 0.9);
  f.row(plug + ".fouled_wet", "wet", 0.9);
  f.row(plug + ".gap_wide", "gap_wide", 0.9);
  f.row(plug + ".gap_narrow", "gap_narrow", 0.9);
  f.row(plug + ".cracked", "cracked", 0.55);
  f.row(plug + ".loose_in_head", "loose", 0.85);
  f.row(plug + ".wrong_part", "wrong_type", 0.85);
}

void add_mist_rows(FindingWriter& f, const std::string& suffix) {
  f.row("plug_cap" + suffix + ".cracked", "sparks_at_cap" + suffix, 0.75);
  f.row("ht_lead" + suffix + ".insulation_leak", "sparks_at_lead" + suffix, 0.75);
  f.row("ignition_coil" + suffix + ".secondary_leak", "sparks_at_coil" + suffix, 0.6);
  f.row("spark_plug" + suffix + ".cracked", "sparks_at_plug" + suffix, 0.4);
}

void add_elsewhere(plugin::Tables& t, double share, const char* other_title, const char* other_how) {
  PartWriter p(t);
  ModeWriter w(t);
  const double all = 1000.0 * share / (1 - share);
  const auto fault = [&](const char* part, const char* part_title, const char* group, const char* repair,
                         const char* kind, double minutes, int price, const char* title, double part_of,
                         const char* how) {
    p.part(part, part_title, group, price, false, LS_COMPONENT_ELSEWHERE);
    w.of(part);
    w.repair("mend", repair, kind, minutes, 0.9, price);
    w.mode("fault", title, "mend", all * part_of, k_constant, {}, how);
  };
  fault("fuel", "fuel supply", "FUE", "mend the fuel supply", "replace", 45, 2, "fuel supply at fault", 0.5,
        "empty, stale, blocked or flooded");
  fault("compression", "compression and valves", "CMP", "mend valves, rings or gasket", "replace", 180, 5,
        "no compression", 0.15, "valves, rings, gasket");
  fault("air", "air filter, leaks, exhaust", "AIR", "mend the air path", "clean", 30, 2, "air path at fault", 0.15,
        "filter, leak, blocked exhaust");
  fault("other", other_title, "OTH", "mend the starting gear or show the user", "adjust", 30, 2, "something else", 0.2,
        other_how);
}

void add_elsewhere_findings(FindingWriter& f, const std::string& plug, const char* cranking_cautions) {
  f.kind("fuel_at_plug", "fuel at the plug", "", "eyes", "key_off", 3, 0.05, plug,
         "after cranking: damp is right, dry lacks fuel, wet is flooded or lacked a spark", "S03 S05", "damp", 0.8);
  f.row("fuel.fault", "dry", 0.5);
  f.row(plug + ".fouled_wet", "wet", 0.85);
  f.row("other.fault", "dry", 0.3);
  f.kind("compression_gauge", "compression", "", "eyes", "cranking", 10, 0.03, plug,
         "gauge in the plug hole, throttle open, lead on a grounded gap tester; or a thumb for yes or no",
         cranking_cautions, "good", 0.95);
  f.row("compression.fault", "low", 0.9);
  f.kind("air_path", "air path", "", "eyes", "key_off", 5, 0.05, "air", "filter, intake joints, choke, exhaust outlet",
         "", "free", 0.9);
  f.row("air.fault", "blocked_or_leaking", 0.7);
}

void add_provocations(plugin::Tables& t, Steering steering, const char* loaded_instruction, const char* wet) {
  t.add(ls_condition_v1{"hot", "provocation", "hot", "hot",
                        "run 15 to 25 minutes, or warm the one part with a heat gun below 90 celsius", 12,
                        LS_HOLDS_THROUGH_VISIT});
  t.add(ls_condition_v1{"wet", "provocation", "wet", "wet", (std::string("spray water mist on ") + wet).c_str(), 3,
                        LS_HOLDS_THROUGH_VISIT});
  t.add(ls_condition_v1{"shaken", "provocation", "shaken", "shaken",
                        "tap and wiggle one place at a time with the reading in sight", 4, 0});
  if (steering != Steering::none) {
    const std::string what = steering == Steering::bars ? "bars" : "steering";
    t.add(ls_condition_v1{"steering", "provocation", (what + " turned").c_str(), "steering",
                          ("turn the " + what + " from lock to lock with the reading in sight").c_str(), 1, 0});
  }
  t.add(
      ls_condition_v1{"loaded", "provocation", "under load", "loaded", loaded_instruction, 15, LS_NEEDS_COVERS_FITTED});
}

}  // namespace lostspark::blocks
