// What the coil on plug family describes, for any number of cylinders; openings between the currents of its grid.
#include <cmath>
#include <set>

#include "blocks/laws.hpp"
#include "blocks/opening_stage.hpp"
#include "catch_all.hpp"
#include "family_client.hpp"

using namespace lostspark::tests;

namespace {

using Settings = std::vector<std::pair<std::string, std::string>>;



bool is_elsewhere(const std::string& component) {
  return component == "fuel" || component == "compression" || component == "air" || component == "other";
}

/// Ten and a half volts everywhere, every joint sound.
void build_running(FamilyClient& c) {
  for (const auto& i : c.rows<ls_stage_input_v1>(LS_STAGE_INPUTS)) {
    if (i.kind != LS_INPUT_LINEAR_VOLTS) continue;
    const std::string a = i.a;
    double volts = 10.5;
    if (a == "control_unit.ground" || a == "control_unit.stand" || a == "control_unit.tip") volts = 1e-3;
    if (a == "control_unit.gate") volts = 3;
    if (a == "control_unit.sensor_supply" || a == "cam_sensor.supply" || a == "crank_sensor.supply") volts = 4.8;
    c.linear_volts[a + "|" + i.b] = volts;
  }
  c.harness.join("control_unit.supply", "earth", 0.1);
  c.harness.join("control_unit.ground", "earth", 0.02);
  for (int n = 1; c.parameter.count("primary_ohm_" + std::to_string(n)) == 1; ++n) {
    const auto digit = std::to_string(n), coil = "ignition_coil_" + digit;
    c.harness.join(coil + ".supply", "earth", 0.1);
    c.harness.join(coil + ".supply", coil + ".primary", c.parameter["primary_ohm_" + digit]);
    c.harness.join(coil + ".primary", "control_unit.driver_" + digit, 0.05);
  }
}

}  // namespace

TEST_CASE("shares of coil on plug add up to a thousand whatever the number of cylinders", "[plugins][unit]") {
  for (const char* cylinders : {"1", "2", "3", "4", "8"}) {
    const FamilyClient c(Settings{{"cylinders", cylinders}}, "coil_on_plug");
    double sum = 0, elsewhere = 0;
    for (const auto& m : c.rows<ls_mode_v1>(LS_MODES)) (is_elsewhere(m.component) ? elsewhere : sum) += m.share;
    for (const auto& l : c.rows<ls_link_v1>(LS_LINKS)) sum += l.corroded_share + l.open_share + l.chafed_share;
    INFO(cylinders << " cylinders");
    CHECK(sum == Approx(1002));  // two for a run switch that no longer stops
    CHECK(elsewhere / (elsewhere + 1000) == Approx(0.25));
  }
}

TEST_CASE("every option of coil on plug makes a family, and every parameter it states is used", "[plugins][unit]") {
  for (const Settings& settings : std::vector<Settings>{{},
                                                        {{"crank_sensor", "hall"}},
                                                        {{"cam_sensor", "false"}},
                                                        {{"stand_switch", "false"}, {"tip_sensor", "false"}},
                                                        {{"immobiliser", "false"}},
                                                        {{"cylinders", "1"}},
                                                        {{"cylinders", "8"}, {"cam_sensor", "false"}}}) {
    FamilyClient c(settings, "coil_on_plug");
    std::set<std::string> used{"timing_shift_degree"};  // findings only
    for (const auto& i : c.rows<ls_stage_input_v1>(LS_STAGE_INPUTS))
      if (i.kind == LS_INPUT_PARAMETER) used.insert(i.a);
    for (const auto& e : c.rows<ls_element_v1>(LS_ELEMENTS))
      for (const char* p : {e.resistance_ohm, e.inductance_henry, e.emf_volt, e.frequency_hertz, e.frequency_factor})
        used.insert(p);
    for (const auto& [id, value] : c.parameter) {
      INFO(id);
      CHECK(used.count(id) == 1);
      CHECK(value > 0);
    }
    build_running(c);
    for (const auto& [name, value] : c.run(true)) {
      INFO(name);
      CHECK(std::isfinite(value));
    }
    CHECK(c.outputs().at("fire_1.spark_margin") > 0.5);
    CHECK(c.outputs().at("start.permit_margin") > 0.2);
  }
}

TEST_CASE("an opening read between two currents of the grid is that of the current itself", "[plugins][oracle]") {
  using namespace lostspark::blocks;
  FamilyClient c(Settings{}, "coil_on_plug");
  build_running(c);
  for (double dwell = 0.2e-3; dwell < 6e-3; dwell *= 1.11) {
    c.parameter["dwell_second"] = dwell;
    const auto& out = c.run();
    OpeningInputs in;
    in.current = out.at("dwell_2.current");
    in.primary_henry = c.parameter["primary_henry_2"];
    in.primary_ohm = c.parameter["primary_ohm_2"];
    in.turns = c.parameter["turns_ratio_one_2"];
    in.secondary_ohm = c.parameter["secondary_ohm"];
    in.lead_ohm = c.parameter["boot_ohm_2"];
    const auto exact = open_coil({}, {12, 0.1, 1, 0, 1e-9}, in);
    INFO(in.current << " ampere");
    CHECK(out.at("fire_2.reserve_volt") == Approx(lesser(exact.plug_volt, 60e3)).epsilon(0.005));
  }
}

TEST_CASE("what trades places takes the same things along in both directions", "[plugins][unit]") {
  for (const char* cylinders : {"2", "4", "5"}) {
    const FamilyClient c(Settings{{"cylinders", cylinders}}, "coil_on_plug");
    std::set<std::string> moved;
    for (const auto& e : c.rows<ls_effect_v1>(LS_EFFECTS)) {
      if (e.operation != LS_EXCHANGE_PARAMETERS) continue;
      const std::string a = e.target, b = e.other;
      CHECK(a.substr(0, a.rfind('_')) == b.substr(0, b.rfind('_')));
      CHECK(a != b);
      for (const auto& one : {a, b}) CHECK(moved.insert(std::string(e.owner) + " " + one).second);  // moves once
    }
    CHECK(moved.count("setup:coils_exchanged primary_ohm_1") == 1);
    CHECK(moved.count("setup:plugs_exchanged demand_volt_1") == 1);
    CHECK(moved.count("setup:coils_exchanged demand_volt_1") == 0);
  }
}
