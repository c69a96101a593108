// What the transistor inductive family describes: shares, distinct modes, references, cautions.
#include <cmath>
#include <set>
#include <tuple>

#include "catch_all.hpp"
#include "family_client.hpp"

using namespace lostspark::tests;

namespace {

using Settings = std::vector<std::pair<std::string, std::string>>;

FamilyClient family(const Settings& settings = {{"alarm", "true"}}) {
  return FamilyClient(settings, "transistor_inductive");
}

bool is_elsewhere(const std::string& component) {
  return component == "fuel" || component == "compression" || component == "air" || component == "other";
}

double ignition_share(const FamilyClient& c) {
  double sum = 0;
  for (const auto& m : c.rows<ls_mode_v1>(LS_MODES))
    if (!is_elsewhere(m.component)) sum += m.share;
  for (const auto& l : c.rows<ls_link_v1>(LS_LINKS)) sum += l.corroded_share + l.open_share + l.chafed_share;
  return sum;
}

}  // namespace

TEST_CASE("inductive: shares add up to a thousand complaints and two switches that do not stop", "[plugins][unit]") {
  CHECK(ignition_share(family()) == Approx(1002));
  CHECK(ignition_share(family({{"alarm", "false"}})) == Approx(1002 - 15));
  CHECK(ignition_share(family({})) == Approx(1002 - 15));
  double elsewhere = 0;
  const auto c = family();
  for (const auto& m : c.rows<ls_mode_v1>(LS_MODES))
    if (is_elsewhere(m.component)) elsewhere += m.share;
  CHECK(elsewhere / (elsewhere + 1000) == Approx(0.20));
}

TEST_CASE("inductive: every parameter is used by a stage or an element", "[plugins][unit]") {
  const auto c = family();
  std::set<std::string> used;
  for (const auto& i : c.rows<ls_stage_input_v1>(LS_STAGE_INPUTS))
    if (i.kind == LS_INPUT_PARAMETER) used.insert(i.a);
  for (const auto& e : c.rows<ls_element_v1>(LS_ELEMENTS))
    for (const char* p : {e.resistance_ohm, e.inductance_henry, e.emf_volt, e.frequency_hertz, e.frequency_factor})
      if (*p != '\0') used.insert(p);
  for (const auto& [id, value] : c.parameter) {
    INFO(id);
    CHECK(used.count(id) == 1);
    CHECK(value > 0);
  }
}

TEST_CASE("inductive: no two modes change the same parameters in the same way", "[plugins][unit]") {
  const auto c = family();
  std::map<std::string, std::set<std::tuple<std::string, int, double, double>>> changes;
  for (const auto& change : c.rows<ls_change_v1>(LS_CHANGES))
    changes[change.mode].insert({change.parameter, change.operation, change.mild, change.severe});
  std::map<std::set<std::tuple<std::string, int, double, double>>, std::string> seen;
  for (const auto& m : c.rows<ls_mode_v1>(LS_MODES)) {
    const std::string id = std::string(m.component) + "." + m.id;
    INFO(id);
    if (is_elsewhere(m.component)) continue;
    CHECK_FALSE(changes[id].empty());
    const auto [other, fresh] = seen.emplace(changes[id], id);
    INFO("the same as " << other->second);
    CHECK(fresh);
  }
}

TEST_CASE("inductive: what interrupts is marked as stopping the engine", "[plugins][unit]") {
  const auto c = family();
  std::map<std::string, int> stops;
  for (const auto& part : c.rows<ls_component_v1>(LS_COMPONENTS)) stops[part.id] = part.stops_engine;
  for (const char* part : {"key_switch", "stop_switch", "interlock_relay", "side_stand_switch", "neutral_switch",
                           "operator_state", "alarm_splice"}) {
    INFO(part);
    CHECK(stops[part] == 1);
  }
  CHECK(stops["ignition_coil"] == 0);
}

TEST_CASE("inductive: cautions exist; cranking, sparking, bypassing and ohms warn of what they should",
          "[plugins][unit]") {
  const auto c = family();
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
      for (const char* needed : {"S01", "S02", "S03", "S04", "S12", "S19"}) CHECK(has(cautions, needed));
    if (setups.find("gap_tester") != std::string::npos) CHECK(has(cautions, "S09"));
    if (setups.find("bypassed") != std::string::npos || setups == "stop_pressed") CHECK(has(cautions, "S13"));
    if (kind.reads == LS_READS_OHMS) CHECK(has(cautions, "S10"));
    if (id.rfind("battery", 0) == 0) CHECK(has(cautions, "S07"));
  }
}

TEST_CASE("inductive: stages refuse nought by name and answer wild inputs with finite numbers", "[plugins][fault]") {
  const auto c = family();
  const auto inputs = c.rows<ls_stage_input_v1>(LS_STAGE_INPUTS);
  const auto stages = c.rows<ls_stage_v1>(LS_STAGES);
  for (std::size_t s = 0; s < stages.size(); ++s) {
    std::vector<double> row;
    std::size_t terminals = 0, first_parameter = 1000;
    for (const auto& i : inputs) {
      if (std::string(i.stage) != stages[s].id) continue;
      if (i.kind == LS_INPUT_TERMINAL) {
        ++terminals;
        continue;
      }
      if (i.kind == LS_INPUT_PARAMETER && first_parameter == 1000) first_parameter = row.size();
      row.push_back(i.kind == LS_INPUT_PARAMETER ? c.parameter.at(i.a) : 1.0);
    }
    const std::size_t scalars = row.size();
    for (std::size_t i = 0; i < terminals; ++i)
      for (std::size_t j = 0; j <= i; ++j) row.push_back(i == j ? 10.0 : 0.0);
    std::vector<double> out(64);
    for (const double volts : {1e-9, 1.0, 12.0, 1e4}) {
      auto in = row;
      for (std::size_t k = 0, at = 0; k < inputs.size(); ++k) {
        if (std::string(inputs[k].stage) != stages[s].id || inputs[k].kind == LS_INPUT_TERMINAL) continue;
        if (inputs[k].kind != LS_INPUT_PARAMETER) in[at] = volts;
        ++at;
      }
      REQUIRE_NOTHROW(c.evaluate(static_cast<std::int32_t>(s), in, out));
      for (double v : out) CHECK(std::isfinite(v));
    }
    auto nought = row;
    if (first_parameter < scalars) {
      nought[first_parameter] = 0;
      INFO(stages[s].id);
      CHECK_THROWS(c.evaluate(static_cast<std::int32_t>(s), nought, out));
    }
  }
}
