// The outboard capacitor discharge family: what it describes for any number of cylinders, and its charging.
#include <algorithm>
#include <cmath>

#include "catch_all.hpp"
#include "family_rules.hpp"

using namespace lostspark::tests;

namespace {

using Settings = std::vector<std::pair<std::string, std::string>>;

FamilyClient family(const Settings& settings = {}) { return FamilyClient(settings, "outboard_cdi"); }

const std::vector<Settings>& offered() {
  static const std::vector<Settings> all{
      {}, {{"cylinders", "2"}}, {{"cylinders", "2"}, {"start", "recoil"}, {"limiter", "false"}, {"charging", "false"}}};
  return all;
}

/// Every link five milliohm, every trigger three volts.
void build_sound(FamilyClient& c) {
  for (const auto& i : c.rows<ls_stage_input_v1>(LS_STAGE_INPUTS))
    if (i.kind == LS_INPUT_LINEAR_VOLTS) c.linear_volts[std::string(i.a) + "|" + i.b] = 3;
  for (const auto& l : c.rows<ls_link_v1>(LS_LINKS)) c.harness.join(l.from, l.to, 5e-3);
  c.harness.join("charge_low.foot", "earth", c.parameter["exciter_foot_ohm"]);
  c.harness.join("switch_box.source", "switch_box.stop", c.parameter["stop_bridge_ohm"]);
}

}  // namespace

TEST_CASE("outboard: shares add up to a thousand whatever the number of cylinders", "[plugins][unit]") {
  CHECK(ignition_share(family()) == Approx(1003));  // three for a key that no longer stops
  CHECK(ignition_share(family({{"cylinders", "2"}})) == Approx(1003));
  CHECK(ignition_share(family({{"limiter", "false"}, {"charging", "false"}})) == Approx(1003 - 26 - 21));
  CHECK(elsewhere_part(family()) == Approx(0.22));
}

TEST_CASE("outboard: whatever is chosen, the tables keep the rules of all families", "[plugins][unit]") {
  for (const auto& settings : offered()) {
    const auto c = family(settings);
    CHECK(unused_parameters(c) == std::set<std::string>{});
    CHECK(indistinct_modes(c) == std::set<std::string>{});
    CHECK(missing_cautions(c) == std::set<std::string>{});
    CHECK(careless_stages(c) == std::set<std::string>{});
  }
}

TEST_CASE("outboard: complaints name every cylinder, one dead cylinder has an extent", "[plugins][unit]") {
  const auto c = family({{"cylinders", "2"}});
  int dead = 0;
  for (const auto& r : c.rows<ls_complaint_v1>(LS_COMPLAINTS)) {
    const std::string id = r.id, margins = r.margins;
    if (id == "no_spark")
      CHECK(margins == "fire_1.trigger_margin fire_1.spark_margin|fire_2.trigger_margin fire_2.spark_margin");
    if (id != "one_cylinder_dead") continue;
    CHECK(std::string(r.extent) == "one");
    ++dead;
  }
  CHECK(dead == 1);
}

TEST_CASE("outboard: what earths the stop line is marked as stopping the engine", "[plugins][unit]") {
  const auto c = family();
  std::map<std::string, int> stops;
  for (const auto& part : c.rows<ls_component_v1>(LS_COMPONENTS)) stops[part.id] = part.stops_engine;
  for (const char* part : {"key_switch", "lanyard_switch", "remote_plug", "operator_state"}) {
    INFO(part);
    CHECK(stops[part] == 1);
  }
  CHECK(stops["ignition_coil_1"] == 0);
}

TEST_CASE("outboard: a dead output leaves the other cylinders as they were", "[plugins][unit]") {
  auto c = family();
  build_sound(c);
  const auto sound = c.run();
  CHECK(sound.at("fire_1.spark_margin") > 0.5);
  CHECK(sound.at("fire_1.reserve_volt") == Approx(sound.at("fire_3.reserve_volt")));
  c.parameter["module_output_ohm_2"] = 1e6;
  const auto broken = c.run();
  CHECK(broken.at("fire_2.reserve_volt") < 100);
  CHECK(broken.at("fire_1.reserve_volt") == Approx(sound.at("fire_1.reserve_volt")));
  CHECK(broken.at("fire_3.reserve_volt") == Approx(sound.at("fire_3.reserve_volt")));
}

TEST_CASE("outboard: an earthed stop line takes every cylinder's volts, a shorted rectifier a part of them",
          "[plugins][unit]") {
  auto c = family();
  build_sound(c);
  const auto sound = c.run();
  // The winding's EMF is 210 V at the usual speed; the capacitor follows it within a diode's drop and a few percent.
  CHECK(sound.at("charge.capacitor_volt") == Approx(210).epsilon(0.04));
  c.parameter["stator_load_one"] = 0.5;
  CHECK(c.run().at("charge.capacitor_volt") == Approx(sound.at("charge.capacitor_volt") / 2).epsilon(0.02));
  c.parameter["stator_load_one"] = 1;
  c.harness.join("lanyard_switch.lead", "earth", 0.5);
  const auto stopped = c.run();
  CHECK(stopped.at("charge.capacitor_volt") < 2);
  for (const char* margin : {"fire_1.spark_margin", "fire_2.spark_margin", "fire_3.spark_margin"})
    CHECK(stopped.at(margin) < 0);
}

TEST_CASE("outboard: an open coil earth takes nothing off the charge, for the capacitor stands on the box's own earth",
          "[plugins][unit]") {
  auto c = family();
  build_sound(c);
  const double sound = c.run().at("charge.capacitor_volt");
  c.parameter["primary_ohm_1"] = 1e11;
  CHECK(c.run().at("charge.capacitor_volt") == Approx(sound));
  CHECK(c.run().at("fire_1.reserve_volt") < 100);
}
