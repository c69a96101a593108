// What the AC-CDI family describes: shares, visibility, distinct modes, tests that find each mode, references, words.
#include <cmath>
#include <set>
#include <tuple>

#include "catch_all.hpp"
#include "family_client.hpp"

using namespace lostspark::tests;

namespace {

bool is_elsewhere(const std::string& component) {
  return component == "fuel" || component == "compression" || component == "air" || component == "other";
}

/// Parameters that some stage or element reads.
std::set<std::string> used_parameters(const FamilyClient& c) {
  std::set<std::string> used;
  for (const auto& i : c.rows<ls_stage_input_v1>(LS_STAGE_INPUTS))
    if (i.kind == LS_INPUT_PARAMETER) used.insert(i.a);
  for (const auto& e : c.rows<ls_element_v1>(LS_ELEMENTS))
    for (const char* p : {e.resistance_ohm, e.inductance_henry, e.emf_volt, e.frequency_hertz, e.frequency_factor})
      if (*p != '\0') used.insert(p);
  return used;
}

double ignition_share(const FamilyClient& c) {
  double sum = 0;
  for (const auto& m : c.rows<ls_mode_v1>(LS_MODES))
    if (!is_elsewhere(m.component)) sum += m.share;
  for (const auto& l : c.rows<ls_link_v1>(LS_LINKS)) sum += l.corroded_share + l.open_share + l.chafed_share;
  return sum;
}

}  // namespace

TEST_CASE("shares add up to a thousand ignition complaints and three switches that do not stop", "[plugins][unit]") {
  CHECK(ignition_share(FamilyClient()) == Approx(1003));
  // A switch that is not fitted takes its share with it; the chafed kill lead then lies elsewhere.
  using Settings = std::vector<std::pair<std::string, std::string>>;
  const FamilyClient no_key(Settings{{"key_switch", "false"}});
  const FamilyClient neither(Settings{{"key_switch", "false"}, {"tether_switch", "false"}});
  CHECK(ignition_share(no_key) == Approx(1003 - 13));
  CHECK(ignition_share(neither) == Approx(1003 - 13 - 11));
}

TEST_CASE("eighteen of a hundred complaints are not ignition", "[plugins][unit]") {
  FamilyClient c;
  std::map<std::string, double> share;
  double elsewhere = 0;
  for (const auto& m : c.rows<ls_mode_v1>(LS_MODES))
    if (is_elsewhere(m.component)) elsewhere += share[m.component] = m.share;
  CHECK(elsewhere / (elsewhere + 1000) == Approx(0.18));
  CHECK(share["fuel"] / elsewhere == Approx(0.5));
  CHECK(share["compression"] == share["air"]);
  CHECK(share["other"] / elsewhere == Approx(0.2));
}

TEST_CASE("every option value makes a family, and every parameter it states is used", "[plugins][unit]") {
  for (const auto& settings :
       std::vector<std::vector<std::pair<std::string, std::string>>>{{},
                                                                     {{"start", "recoil"}},
                                                                     {{"start", "starter"}},
                                                                     {{"key_switch", "false"}},
                                                                     {{"tether_switch", "false"}}}) {
    FamilyClient c(settings);
    const auto used = used_parameters(c);
    for (const auto& [id, value] : c.parameter) {
      INFO(id);
      CHECK(used.count(id) == 1);
      CHECK(value > 0);
    }
  }
  CHECK(FamilyClient(std::vector<std::pair<std::string, std::string>>{{"start", "starter"}})
            .parameter["cranking_speed_rpm"] < FamilyClient().parameter["cranking_speed_rpm"]);
}

TEST_CASE("no two modes change the same parameters in the same way", "[plugins][unit]") {
  FamilyClient c;
  std::map<std::string, std::set<std::tuple<std::string, int, double, double>>> changes;
  for (const auto& change : c.rows<ls_change_v1>(LS_CHANGES))
    changes[change.mode].insert({change.parameter, change.operation, change.mild, change.severe});
  std::map<std::set<std::tuple<std::string, int, double, double>>, std::string> seen;
  for (const auto& m : c.rows<ls_mode_v1>(LS_MODES)) {
    const std::string id = std::string(m.component) + "." + m.id;
    INFO(id);
    if (is_elsewhere(m.component)) {
      CHECK(changes[id].empty());
      continue;
    }
    CHECK_FALSE(changes[id].empty());
    const auto [other, fresh] = seen.emplace(changes[id], id);
    INFO("the same as " << other->second);
    CHECK(fresh);
  }
}

TEST_CASE("every mode moves a stage or an ohm reading by three percent, or a finding names it", "[plugins][property]") {
  FamilyClient reader;
  std::set<std::string> found, ohm_parameters;
  for (const auto& f : reader.rows<ls_finding_v1>(LS_FINDINGS)) found.insert(f.mode);
  for (const auto& e : reader.rows<ls_element_v1>(LS_ELEMENTS))
    if ((e.used_in & LS_IN_OHM_TESTS) != 0) ohm_parameters.insert(e.resistance_ohm);
  build_healthy_harness(reader);
  const auto healthy = reader.run();
  const auto changes = reader.rows<ls_change_v1>(LS_CHANGES);
  for (const auto& m : reader.rows<ls_mode_v1>(LS_MODES)) {
    const std::string id = std::string(m.component) + "." + m.id;
    bool moves = found.count(id) == 1;
    FamilyClient c;
    build_healthy_harness(c);
    for (const auto& change : changes) {
      if (change.mode != id) continue;
      const double middle = std::sqrt(change.mild * change.severe);
      double& p = c.parameter[change.parameter];
      const double before = p;
      p = change.operation == LS_SET ? middle : p * middle;
      moves |= ohm_parameters.count(change.parameter) == 1 && std::abs(std::log(p / before)) > 0.03;
    }
    const auto now = c.run();
    for (const auto& [name, value] : healthy) {
      if (name.rfind("fire.", 0) != 0 && name.rfind("charge.", 0) != 0) continue;
      const bool margin = name.find("margin") != std::string::npos;
      moves |= std::abs(margin ? now.at(name) - value : std::log(now.at(name) / value)) > 0.03;
    }
    INFO(id);
    CHECK(moves);
  }
}

TEST_CASE("intermittent modes hide unprovoked and show under their own provocation", "[plugins][unit]") {
  FamilyClient c;
  std::map<std::string, ls_visibility_v1> visible;
  for (const auto& m : c.rows<ls_mode_v1>(LS_MODES)) {
    const std::string id = std::string(m.component) + "." + m.id;
    visible[id] = m.visible;
    INFO(id);
    for (double v : {m.visible.hot, m.visible.wet, m.visible.shaken, m.visible.steering, m.visible.loaded}) {
      CHECK(v >= m.visible.unprovoked);
      CHECK(v <= 1);
    }
  }
  CHECK(visible["exciter.opens_hot"].unprovoked == Approx(0.1));
  CHECK(visible["exciter.opens_hot"].hot == Approx(0.75));
  CHECK(visible["exciter.opens_hot"].wet == Approx(0.1));
  CHECK(visible["control_module.fails_hot"].shaken == Approx(0.75));
  CHECK(visible["kill_switch.leaks_damp"].wet == 1);
  CHECK(visible["kill_switch.leaks_damp"].unprovoked == Approx(0.9));
  CHECK(visible["exciter.open_winding"].unprovoked == 1);
}

TEST_CASE("the trigger's volts follow the pulse coil and the gap decides the spark", "[plugins][unit]") {
  FamilyClient c;
  build_healthy_harness(c);
  c.linear_volts["control_module.gate|control_module.ground"] = 0.4;
  c.run();
  CHECK(c.outputs().at("fire.trigger_margin") == Approx(std::log(0.4 / 0.7)));
  c.linear_volts["control_module.gate|control_module.ground"] = 1.4;
  c.run();
  CHECK(c.outputs().at("fire.trigger_margin") > 0);
  CHECK(c.outputs().at("fire.spark_margin") > 0);
  c.parameter["demand_volt"] = 40e3;
  c.run();
  CHECK(c.outputs().at("fire.trigger_margin") > 0);
  CHECK(c.outputs().at("fire.spark_margin") < 0);
}

TEST_CASE("a fouled plug carries clamp current without a spark; an open lead carries none", "[plugins][unit]") {
  FamilyClient fouled, open;
  build_healthy_harness(fouled);
  build_healthy_harness(open);
  fouled.parameter["plug_leak_ohm"] = 5e3;
  open.parameter["lead_break_volt"] = 40e3;
  CHECK(fouled.run().at("fire.spark_margin") < 0);
  CHECK(fouled.outputs().at("fire.clamp_margin") > 0.5);
  CHECK(open.run().at("fire.spark_margin") < 0);
  CHECK(open.outputs().at("fire.clamp_margin") < -0.5);
}

TEST_CASE("every caution a test names exists, and sparking tests warn of fuel, kick-back and open secondaries",
          "[plugins][unit]") {
  FamilyClient c;
  std::set<std::string> known;
  for (const auto& caution : c.rows<ls_caution_v1>(LS_CAUTIONS)) known.insert(caution.id);
  const auto has = [](const std::string& list, const std::string& id) {
    return (" " + list + " ").find(" " + id + " ") != std::string::npos;
  };
  for (const auto& kind : c.rows<ls_test_kind_v1>(LS_TEST_KINDS)) {
    const std::string id = kind.id, cautions = kind.cautions, condition = kind.condition, setups = kind.setups;
    INFO(id << ": " << cautions);
    std::string word;
    for (char letter : cautions + " ") {
      if (letter != ' ') {
        word += letter;
        continue;
      }
      if (!word.empty()) CHECK(known.count(word) == 1);
      word.clear();
    }
    if (condition == "cranking")
      for (const char* needed : {"S01", "S02", "S03", "S04", "S12", "S19", "S22"}) CHECK(has(cautions, needed));
    if (setups.find("gap_tester") != std::string::npos) CHECK(has(cautions, "S09"));
    if (setups.find("kill_unplugged") != std::string::npos && id == "spark") CHECK(has(cautions, "S13"));
    if (id.rfind("kill_lead", 0) == 0) {
      CHECK(has(cautions, "S23"));
      CHECK(std::string(kind.hook_up).find("FIRST a voltmeter") != std::string::npos);
    }
    if (kind.reads == LS_READS_OHMS) CHECK(has(cautions, "S10"));
  }
}

TEST_CASE("a gap tester takes the plug out of the circuit and puts its own gap in", "[plugins][unit]") {
  FamilyClient c;
  build_healthy_harness(c);
  c.parameter["plug_leak_ohm"] = 3e3;  // wet
  CHECK(c.run().at("fire.spark_margin") < 0);
  for (const auto& e : c.rows<ls_effect_v1>(LS_EFFECTS))
    if (std::string(e.owner) == "setup:gap_tester") c.parameter[e.target] = e.value;
  CHECK(c.run().at("fire.spark_margin") > 0.5);
}
