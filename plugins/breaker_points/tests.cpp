// Conditions, set-ups and test kinds. Ranges, scatter and minutes: common practice and judgement, no source.
#include "blocks/high_tension.hpp"
#include "blocks/spark_tests.hpp"
#include "family.hpp"

namespace lostspark::breaker_points {
namespace {

constexpr const char* k_battery = "S07 S16";
constexpr const char* k_key_on = "S07 S12 S14 S16";
constexpr const char* k_cranking = "S01 S02 S03 S04 S11 S12 S19";
constexpr const char* k_sparking = "S01 S02 S03 S04 S09 S12 S19";
constexpr const char* k_starter = "S01 S02 S03 S04 S07 S12 S19";

void set(plugin::Tables& t, const std::string& owner, const std::string& parameter, double value) {
  blocks::effect(t, owner.c_str(), LS_SET_PARAMETER, parameter.c_str(), value);
}

/// Words that tell one cylinder's or circuit's test from another's.
std::string words(const char* title, const std::string& suffix) {
  return suffix.empty() ? title : std::string(title) + ", cylinder " + suffix.substr(1);
}

}  // namespace

void add_conditions(plugin::Tables& t, const Options& o) {
  t.add(ls_condition_v1{"key_off", "state", "key off", "", "engine stopped, key off", 0, LS_NEEDS_ENGINE_OFF});
  t.add(ls_condition_v1{
      "points_open", "state", "key on, points open", "",
      ("turn the engine until the points are open; " + o.switched_on() + "; off again after the reading").c_str(), 1.5,
      LS_NEEDS_ENGINE_OFF});
  for (int c = 1; c <= o.circuits(); ++c) {
    const auto id = "points" + o.of_circuit(c) + "_closed";
    t.add(
        ls_condition_v1{id.c_str(), "state", words("key on, points closed", o.of_circuit(c)).c_str(), "",
                        ("turn the engine until these points are closed; " + o.switched_on() +
                         ", under a minute: the coil heats")
                            .c_str(),
                        1.5, LS_NEEDS_ENGINE_OFF});
    set(t, "condition:" + id, "points_position_ohm" + o.of_circuit(c), 1e-3);
  }
  t.add(ls_condition_v1{"cranking", "state", "cranking", "",
                        "neutral, chocks, fuel off; instrument connected with the engine still; crank 3 to 5 seconds",
                        1, LS_NEEDS_CRANK});
  t.add(ls_condition_v1{"idle", "state", "running at raised idle", "",
                        "start the engine, with a helping battery where its own is flat; hold it at a raised idle", 3,
                        LS_NEEDS_RUNNING});
  blocks::add_provocations(t, o.distributor ? blocks::Steering::wheel : blocks::Steering::bars,
                           o.distributor ? "read again after driving it under load" : "read again after riding it under load");
  blocks::add_supply_states(t, supply_settings());
  if (o.ballast) set(t, "condition:cranking", "ballast_bypass_ohm", 0.02);
  blocks::effect(t, "condition:idle", LS_SCALE_PARAMETER, "cranking_speed_rpm", 5);
  for (int n = 1; n <= o.cylinders; ++n)
    blocks::effect(t, "condition:idle", LS_SCALE_PARAMETER, ("demand_volt" + o.of_cylinder(n)).c_str(), 1.2);

  for (int c = 1; c <= o.circuits(); ++c) {
    const auto s = o.of_circuit(c);
    const auto setup = [&](const char* stem, const char* title, const char* instruction, double minutes, double moves) {
      const auto id = stem + s;
      t.add(ls_setup_v1{id.c_str(), words(title, s).c_str(), instruction, "", minutes, moves});
      return "setup:" + id;
    };
    set(t,
        setup("load_lamp", "load lamp on the coil's supply",
              "21 watt lamp from the coil's terminal 15 to bare engine metal, points open", 1.5, 0),
        "load_lamp_ohm" + s, 6.9);
    set(t,
        setup(
            "supply_bypassed", "fused lead from the battery to the coil",
            "10 ampere fused lead from battery plus to the coil's terminal 15; fuel off, tester at the plug lead: the "
            "key no longer stops the engine",
            1.5, 0),
        "supply_lead_ohm" + s, 0.05);
    const auto lead = setup("points_lead_off", "points lead off at the points",
                            "take the points lead off at the points' terminal, keep its end clear of metal", 1.5, 1);
    blocks::effect(t, lead.c_str(), LS_OPEN_TERMINAL, ("breaker_points" + s + ".moving").c_str(), 1);
    const auto condenser =
        setup("condenser_substituted", "known good condenser clipped on",
              "lead of the fitted condenser off; a known good one clipped from the points' terminal to the "
              "base plate; refit the old one afterwards",
              4, 0);
    set(t, condenser, "condenser_farad" + s, 0.25e-6);
    set(t, condenser, "condenser_leak_ohm" + s, 1e9);
  }
  t.add(ls_setup_v1{"stop_pressed", o.distributor ? "anti-theft switch off" : "run/stop switch set to stop",
                    o.distributor ? "set the anti-theft switch to off" : "set the run/stop switch to stop", "", 0.3, 0});
  set(t, "setup:stop_pressed", "stop_position_ohm", 1e9);
  for (int n = 1; n <= o.cylinders; ++n) {
    const auto id = "gap_tester" + o.of_cylinder(n);
    t.add(ls_setup_v1{
        id.c_str(), words("gap tester at the plug's end", o.of_cylinder(n)).c_str(),
        "cap off the plug and onto the gap tester, tester earthed to the engine, away from the plug hole; set to "
        "12 kilovolt (about 10 mm between points in air)",
        "gap_tester", 1.5, 0});
    blocks::add_gap_tester_effects(t, ("setup:" + id).c_str(), 12e3, o.of_cylinder(n));
  }
  if (o.cylinders > 1) {
    t.add(ls_setup_v1{
        "gap_testers", "gap testers on every lead",
        "every cap off its plug and onto a gap tester, or one tester from lead to lead while the others are "
        "earthed; testers earthed to the engine, set to 12 kilovolt (about 10 mm between points in air)",
        "gap_tester", 1.5 + o.cylinders * 0.5, 0});
    for (int n = 1; n <= o.cylinders; ++n)
      blocks::add_gap_tester_effects(t, "setup:gap_testers", 12e3, o.of_cylinder(n));
  }
  const auto exchange = [&](const char* owner, std::initializer_list<const char*> stems) {
    for (const char* stem : stems) {
      const auto one = stem + std::string("_1"), two = stem + std::string("_2");
      t.add(ls_effect_v1{owner, LS_EXCHANGE_PARAMETERS, one.c_str(), two.c_str(), 0});
    }
  };
  if (o.circuits() > 1) {
    t.add(ls_setup_v1{"coils_exchanged", "coils of cylinders 1 and 2 exchanged",
                      "exchange the coils of cylinders 1 and 2 with all their leads; change them back afterwards", "",
                      8, 1});
    exchange("setup:coils_exchanged", {"primary_henry", "primary_ohm", "turns_ratio_one", "secondary_ohm",
                                       "secondary_meter_ohm", "secondary_leak_ohm", "secondary_break_volt"});
  }
  if (o.cylinders > 1) {
    t.add(ls_setup_v1{"plugs_exchanged", "plugs of cylinders 1 and 2 exchanged",
                      "exchange the plugs of cylinders 1 and 2; change them back afterwards", "", 8, 0});
    exchange("setup:plugs_exchanged",
             {"demand_volt", "plug_leak_ohm", "plug_flash_volt", "seat_break_volt", "arc_volt"});
  }
}

namespace {

/// Test kinds with what most of them share.
class Kinds {
 public:
  Kinds(plugin::Tables& t, const Options& o) : t_(t), o_(o) {}

  void battery() {
    const auto post = [&](const char* id, const char* title, const char* condition, double log_sd, double minutes,
                          const char* how, const char* cautions) {
      auto k = output(id, title, "volt", "battery.post_volt", condition, "multimeter", log_sd, minutes, "battery");
      k.hook_up = how;
      k.cautions = cautions;
      return k;
    };
    auto rest = post("battery_rest", "battery at rest", "key_off", 0.004, 1,
                     "multimeter on the battery posts themselves, key off for some minutes", k_battery);
    rest.low_means = "discharged; 12.4 volt is three quarters, 12.0 a quarter, 10.5 one cell gone";
    t_.add(rest);
    auto crank = post("battery_cranking", "battery while cranking", "cranking", 0.015, 2,
                      "multimeter holding its least reading, on the posts themselves; crank 3 seconds", k_starter);
    crank.low_means = "under 10 volt: battery weak or starter drags";
    t_.add(crank);
    auto charge = post("charging", "charging", "idle", 0.01, 3,
                       "multimeter on the battery posts, engine at a raised idle", "S04 S05 S06 S07");
    charge.low_means = "under 13.2 volt: regulator, winding, or their joints";
    charge.high_means = "over 15 volt: regulator";
    t_.add(charge);
    auto cable = link("cable_cranking", "battery cable while cranking", LS_READS_HARNESS_DROP, "battery_plus",
                      "cranking", "multimeter", 0.10, 2);
    cable.hook_up =
        "multimeter from the post itself to the far end of the cable, holding its highest reading; crank 3 seconds";
    cable.high_means = "over 0.2 volt: loose or corroded post";
    cable.cautions = k_starter;
    t_.add(cable);
    auto earth = link("earth_cable_cranking", "battery earth cable while cranking", LS_READS_HARNESS_DROP,
                      "battery_minus", "cranking", "multimeter", 0.10, 2);
    earth.hook_up =
        "multimeter from the minus post itself to bare engine metal, holding its highest reading; crank 3 seconds";
    earth.high_means = "over 0.2 volt: corroded minus post or engine strap";
    earth.cautions = k_starter;
    t_.add(earth);
  }

  /// Volts along the line with the points of the first circuit closed: what the coil draws makes a drop true.
  void supply_line() {
    struct Part {
      const char *id, *title, *link;
    };
    const std::string after_key = "supply between key and " + o_.cut_off(),
                      open_before = "open before this point: fuse, key, " + o_.cut_off() + ", wire";
    std::vector<Part> parts{{"fuse_supply", "supply before the fuse", "main_feed"},
                            {"key_supply", "supply before the key", "key_feed"},
                            {"stop_supply", after_key.c_str(), "stop_feed"}};
    if (o_.ballast) parts.push_back({"ballast_supply", "supply before the ballast", "ballast_feed"});
    for (const auto& part : parts) {
      auto k = link(part.id, part.title, LS_READS_HARNESS_VOLTS, part.link, closed(1).c_str(), "multimeter", 0.01, 2);
      k.hook_up = "back-probe, black lead on bare engine metal, points closed: compare the points one after the other";
      k.low_means = "the joint lies between this point and the last good one";
      k.zero_means = open_before.c_str();
      k.cautions = k_key_on;
      t_.add(k);
    }
  }

  void stop() {
    const std::string title = "supply at 15, " + o_.cut_off() + (o_.distributor ? " off" : " in stop"),
                      how = "key ON, " + o_.cut_off() + (o_.distributor ? " off" : " in STOP") + ": nothing may be left at the coil";
    auto k = link("supply_in_stop", title.c_str(), LS_READS_HARNESS_VOLTS,
                  "coil_supply" + o_.of_circuit(1), "points_open", "multimeter", 0.02, 1.5);
    k.setups = "stop_pressed";
    k.hook_up = how.c_str();
    k.zero_means = "as it must be";
    k.high_means = "the switch does not interrupt: UNSAFE, the engine cannot be stopped";
    k.cautions = "S07 S12 S13";
    t_.add(k);
  }

  void circuit(int c) {
    const auto s = o_.of_circuit(c), coil = "ignition_coil" + s, points = "breaker_points" + s;
    const std::string joints = "a joint before it: key, fuse, " + o_.cut_off() + ", connector, or the battery",
                      open = "open: fuse, key, " + o_.cut_off() + ", wire",
                      lost = "over half a volt: key, fuse, " + o_.cut_off() + " or a joint; then point by point";
    auto k = link("coil_supply_volts" + s, words("supply at 15, points closed", s), LS_READS_HARNESS_VOLTS,
                  "coil_supply" + s, closed(c), "multimeter", 0.01, 2);
    k.hook_up = "back-probe, black lead on bare engine metal";
    k.low_means = joints.c_str();
    k.zero_means = open.c_str();
    k.high_means = "as high as the battery: no current flows, look at coil, points and their lead";
    k.cautions = k_key_on;
    t_.add(k);
    const auto lamp = "load_lamp" + s;
    auto loaded = link("coil_supply_lamp" + s, words("supply at 15, lamp burning", s), LS_READS_HARNESS_VOLTS,
                       "coil_supply" + s, "points_open", "multimeter", 0.01, 2);
    loaded.setups = lamp.c_str();
    loaded.hook_up = "lamp from the coil's terminal 15 to bare engine metal, points open; multimeter beside it";
    loaded.low_means = "a joint before it; the coil and the points take no part in this reading";
    loaded.zero_means = open.c_str();
    loaded.cautions = k_key_on;
    t_.add(loaded);
    auto drop = output("supply_drop" + s, words("lost on the way to the coil, points closed", s), "volt",
                       "steady" + s + ".supply_drop_volt", closed(c), "multimeter", 0.05, 2, coil);
    drop.hook_up = "multimeter from battery plus to the coil's terminal 15, key on, points closed";
    drop.low_means = "none at all: no current flows";
    drop.high_means = lost.c_str();
    drop.cautions = k_key_on;
    t_.add(drop);
    auto peak = output("supply_drop_peak" + s, words("peak lost on the way to the coil, cranking", s), "volt",
                       "dwell" + s + ".supply_drop_volt", "cranking", "peak_voltmeter", 0.10, 3, coil);
    peak.hook_up =
        "PEAK meter from battery plus to the coil's terminal 15 while cranking; an ordinary multimeter averages: the "
        "points are closed a quarter of the time and a bad joint passes";
    peak.high_means = "a joint in the supply";
    peak.cautions = k_starter;
    t_.add(peak);

    auto contact = output("points_drop" + s, words("drop over the closed points", s), "volt",
                          "steady" + s + ".contact_volt", closed(c), "multimeter", 0.10, 2, points);
    contact.hook_up = "multimeter from the points' terminal to the base plate, key on, points closed";
    contact.zero_means = "no current flows: coil, its supply or the points lead";
    contact.high_means = "over 0.3 volt: dirty or burnt faces; battery volts: the points do not close";
    contact.cautions = k_key_on;
    t_.add(contact);
    auto one = link("terminal_1_open" + s, words("terminal 1, points open", s), LS_READS_HARNESS_VOLTS,
                    "points_lead" + s, "points_open", "multimeter", 0.01, 2);
    const auto off = "|points_lead_off" + s;
    one.setups = off.c_str();
    one.hook_up = "black lead on bare engine metal, points open; then with the points lead off at the points";
    one.low_means =
        "something draws current: condenser, insulating washer, a chafed lead; back with the lead off: condenser or "
        "washer";
    one.zero_means = "points never open, condenser shorted, lead chafed; or no supply, coil open";
    one.cautions = k_key_on;
    t_.add(one);
    auto lead = link("points_lead_drop" + s, words("terminal 1 to earth, points closed", s), LS_READS_HARNESS_VOLTS,
                     "points_lead" + s, closed(c), "multimeter", 0.10, 2);
    lead.hook_up =
        "black lead on bare engine metal, points closed: what lead, points, plate and its earth keep together";
    lead.zero_means = "no current flows: coil or its supply";
    lead.high_means = "points, their lead, the plate's earth: next over the points alone, then at the plate";
    lead.cautions = k_key_on;
    t_.add(lead);
    auto current = output("primary_current" + s, words("primary current, points closed", s), "ampere",
                          "steady" + s + ".current", closed(c), "current_pickup", 0.05, 3, coil);
    current.hook_up = "direct-current clamp round the coil's supply wire, key on, points closed";
    current.low_means = "resistance in the primary circuit, weak battery";
    current.zero_means = "open: supply, coil, points lead, points";
    current.high_means = "shorted turns, or the wrong coil";
    current.cautions = k_key_on;
    t_.add(current);

    auto primary = output("primary_ohm" + s, words("primary resistance", s), "ohm", "winding" + s + ".primary_ohm",
                          "key_off", "ohmmeter", 0.03, 3, coil);
    primary.hook_up = "leads off the coil; copper rises 0.4 percent per degree: both coils warm read high together";
    primary.low_means = "shorted turns (often inside tolerance), or the wrong coil";
    primary.high_means = "open, or the wrong coil";
    primary.cautions = "S10";
    t_.add(primary);
    auto secondary = output("secondary_ohm" + s, words("secondary resistance", s), "ohm",
                            "winding" + s + ".secondary_ohm", "key_off", "ohmmeter", 0.03, 3, coil);
    secondary.hook_up = "lead off the tower, ohmmeter from the tower to terminal 15";
    secondary.low_means = "shorted turns";
    secondary.high_means = "open winding";
    secondary.cautions = "S10";
    t_.add(secondary);
    auto leak =
        ohms("points_ohm_open" + s, words("points to earth, open", s), points + ".moving", "points_plate.plate");
    leak.hook_up = "points lead off, points open: ohmmeter from the points' terminal to the base plate";
    leak.low_means = "leaking condenser: take its lead off and read again";
    leak.zero_means = "condenser shorted, insulating washer wrong, points never open";
    t_.add(leak);

    auto degrees = output("dwell" + s, words("dwell", s), "degree", "dwell" + s + ".dwell_degree", "idle",
                          "dwell_meter", 0.02, 4, coil);
    degrees.hook_up = "dwell meter on terminal 1, engine idling; degrees of the cam";
    degrees.low_means = "gap wide";
    degrees.high_means = "gap closed up";
    degrees.cautions = "S01 S02 S04 S05 S06";
    t_.add(degrees);
  }

  /// The check after a repair, too: no cylinder may be left behind.
  void every_cylinder() {
    if (o_.cylinders == 1) return;
    auto k = word("spark_all", "spark at gap testers on every lead", "all.spark_margin", "gap_tester",
                  2 + 0.5 * o_.cylinders, 0.03, "spark_plug" + o_.of_cylinder(1));
    k.setups = "gap_testers";
    k.hook_up = "testers on the plugs' ends of all leads, fuel off; the word is that of the worst cylinder";
    k.low_means = "one of them irregular: the reserve hardly covers the gap";
    k.zero_means = "no spark on one lead or on all: then lead by lead";
    t_.add(k);
  }

  void cylinder(int n) {
    const auto s = o_.of_cylinder(n);
    const int c = o_.circuit_of(n);
    const auto sc = o_.of_circuit(c), coil = "ignition_coil" + sc;
    if (!o_.distributor || n == 1) {
      auto peak = link("primary_peak" + sc, words("terminal 1 peak", sc), LS_READS_HARNESS_VOLTS, "points_lead" + sc,
                       "cranking", "peak_voltmeter", 0.10, 3);
      const auto source = "peak" + s;
      peak.source = source.c_str();
      peak.hook_up = "peak meter from terminal 1 to bare engine metal, positive peaks; clear the hold, crank";
      peak.low_means = "low primary current, condenser, leak, a plug that needs little";
      peak.zero_means = "no current, points never open, condenser shorted";
      peak.high_means = "open lead or wide gap; with an open condenser a spike of microseconds, and no spark";
      peak.cautions = k_cranking;
      t_.add(peak);
      auto plate = link("plate_lift" + sc, words("earth of the points plate, points closed", sc),
                        LS_READS_HARNESS_VOLTS, "plate_earth", closed(c), "multimeter", 0.10, 2);
      plate.hook_up = "multimeter from the base plate to bare engine metal, key on, points closed";
      plate.high_means = "over 0.1 volt: earth of the plate";
      plate.cautions = k_key_on;
      if (c == 1) t_.add(plate);
    }
    auto lead = ohms("lead_ohm" + s, words("resistance of lead and cap", s), "plug_cap" + s + ".plug_end",
                     "ht_lead" + s + ".coil_end");
    lead.hook_up = "lead off its tower, ohmmeter through lead and cap";
    lead.low_means = "wrong cap or plug";
    lead.high_means = "open or burnt cap, lead or joint";
    t_.add(lead);
    blocks::add_cap_test(t_, s, words("", s));
    const auto tester = "gap_tester" + s;
    const auto ht = "ht_lead" + s, plug = "spark_plug" + s;
    auto kilovolt = output("plug_kilovolt" + s, words("plug kilovolts as fired", s), "kilovolt",
                           "fire" + s + ".plug_volt_spark", "cranking", "kv_pickup", 0.20, 4, ht);
    const auto margin = "fire" + s + ".spark_margin", reserve = "fire" + s + ".coil_reserve_volt";
    const std::string plugs = o_.cylinders > 1 && n <= 2 ? "|plugs_exchanged" : "";
    kilovolt.setups = plugs.c_str();
    kilovolt.switch_margin = margin.c_str();
    kilovolt.switch_output = reserve.c_str();
    kilovolt.hook_up = "capacitive pickup on the lead, plug fitted";
    kilovolt.low_means = "fouled or narrow plug, leak, arcing points, low compression";
    kilovolt.zero_means = "no ignition";
    kilovolt.high_means = "wide gap, open lead, cap or secondary";
    kilovolt.cautions = k_sparking;
    t_.add(kilovolt);
    auto clamp = word("spark_current" + s, words("spark current", s), "fire" + s + ".clamp_margin", "current_pickup", 3,
                      0.04, ht);
    clamp.setups = plugs.c_str();
    clamp.hook_up = "inductive pickup on the lead, plug fitted; a fouled plug shows current too";
    clamp.low_means = "comes and goes: the reserve hardly covers the demand";
    clamp.zero_means = "no spark, open lead";
    t_.add(clamp);
    auto spark = word("spark" + s, words("spark at the gap tester", s), margin, "gap_tester", 3, 0.03, plug);
    std::string setups = tester + "|" + tester + " supply_bypassed" + sc + "|" + tester + " condenser_substituted" + sc;
    if (o_.circuits() > 1 && n <= 2) setups += "|" + tester + " coils_exchanged";
    spark.setups = setups.c_str();
    spark.hook_up =
        "tester on the plug's end of the lead, fuel off; a spark that comes back with something bypassed, substituted "
        "or exchanged accuses that";
    spark.low_means = "irregular: the reserve hardly covers the gap";
    spark.zero_means = "no spark";
    spark.cautions = "S01 S02 S03 S04 S09 S12 S13 S19";
    t_.add(spark);
    auto most = output("reserve" + s, words("reserve at an adjustable gap", s), "kilovolt",
                       "fire" + s + ".reserve_volt", "cranking", "gap_tester", 0.15, 4, plug);
    most.setups = tester.c_str();
    most.hook_up = "widen the gap until the spark stays away now and then; state the electrodes, convert by table";
    most.low_means = "low primary current, condenser, arcing points, leak, coil";
    most.zero_means = "no spark";
    most.cautions = k_sparking;
    t_.add(most);
  }

  void rest() {
    auto speed = output("cranking_speed", "cranking speed", "rpm", "dwell" + o_.of_circuit(1) + ".speed_rpm",
                        "cranking", "timing_light", 0.05, 2, "points_cam");
    speed.hook_up = "tachometer, or the period of the peak meter's pulses";
    speed.low_means = "weak battery, dragging starter";
    speed.cautions = k_starter;
    t_.add(speed);
  }

 private:
  [[nodiscard]] std::string closed(int c) const { return "points" + o_.of_circuit(c) + "_closed"; }
  const char* keep(const std::string& text) { return t_.keep(text); }

  ls_test_kind_v1 output(const std::string& id, const std::string& title, const char* unit, const std::string& subject,
                         const std::string& condition, const char* instrument, double log_sd, double minutes,
                         const std::string& place) {
    return {.id = keep(id),
            .title = keep(title),
            .reads = LS_READS_OUTPUT,
            .unit = unit,
            .subject = keep(subject),
            .condition = keep(condition),
            .instrument = instrument,
            .log_sd = log_sd,
            .minutes = minutes,
            .mistaken = 0.03,
            .place = keep(place)};
  }
  ls_test_kind_v1 link(const std::string& id, const std::string& title, std::int32_t reads, const std::string& subject,
                       const std::string& condition, const char* instrument, double log_sd, double minutes) {
    return {.id = keep(id),
            .title = keep(title),
            .reads = reads,
            .unit = "volt",
            .subject = keep(subject),
            .condition = keep(condition),
            .instrument = instrument,
            .log_sd = log_sd,
            .minutes = minutes,
            .mistaken = 0.03};
  }
  ls_test_kind_v1 ohms(const std::string& id, const std::string& title, const std::string& subject,
                       const std::string& against) {
    return {.id = keep(id),
            .title = keep(title),
            .reads = LS_READS_OHMS,
            .unit = "ohm",
            .subject = keep(subject),
            .against = keep(against),
            .condition = "key_off",
            .instrument = "ohmmeter",
            .log_sd = 0.05,
            .minutes = 3,
            .mistaken = 0.03,
            .cautions = "S10"};
  }
  ls_test_kind_v1 word(const std::string& id, const std::string& title, const std::string& subject,
                       const char* instrument, double minutes, double mistaken, const std::string& place) {
    return {.id = keep(id),
            .title = keep(title),
            .reads = LS_READS_MARGIN_WORD,
            .unit = "word",
            .subject = keep(subject),
            .condition = "cranking",
            .instrument = instrument,
            .log_sd = 0.10,
            .minutes = minutes,
            .mistaken = mistaken,
            .place = keep(place),
            .cautions = k_sparking};
  }

  plugin::Tables& t_;
  const Options& o_;
};

}  // namespace

void add_tests(plugin::Tables& t, const Options& o) {
  Kinds kinds(t, o);
  kinds.battery();
  kinds.supply_line();
  for (int c = 1; c <= o.circuits(); ++c) kinds.circuit(c);
  kinds.every_cylinder();
  for (int n = 1; n <= o.cylinders; ++n) kinds.cylinder(n);
  kinds.stop();
  kinds.rest();
}

}  // namespace lostspark::breaker_points
