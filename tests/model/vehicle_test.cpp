#include "model/vehicle.hpp"
#include "catch_all.hpp"
#include "model/evidence.hpp"
#include "model/instrument.hpp"

using namespace lostspark::model;

TEST_CASE("rows are found by their id and by nothing else", "[model][unit]") {
  Vehicle v;
  v.components.resize(2);
  v.components[1].id = "exciter";
  v.tests.resize(1);
  v.tests[0].id = "exciter_peak@exciter.hot";
  CHECK(v.find_component("exciter") == 1);
  CHECK_FALSE(v.find_component("excite").has_value());
  CHECK(v.find_test("exciter_peak@exciter.hot") == 0);
  CHECK_FALSE(v.find_mode("exciter.open").has_value());
}

TEST_CASE("a mode has degrees when any of its changes has", "[model][unit]") {
  Mode m;
  CHECK_FALSE(m.has_severity());
  m.changes.push_back({ChangeTarget::parameter, 0, Operation::set, 1e7, 1e7});
  CHECK_FALSE(m.has_severity());
  m.changes.push_back({ChangeTarget::parameter, 1, Operation::scale, 0.8, 0.3});
  CHECK(m.has_severity());
}

TEST_CASE("a stage takes the triangle of the conductances at its terminals", "[model][property]") {
  Stage s;
  s.scalar_count = 3;
  for (std::size_t m = 0; m < 6; ++m) {
    s.terminal_count = m;
    std::size_t entries = 0;
    for (std::size_t row = 0; row < m; ++row) entries += row + 1;
    CHECK(s.input_width() == 3 + entries);
  }
}

TEST_CASE("the workshop finds an instrument by kind and unit", "[model][unit]") {
  Workshop w;
  w.instruments.push_back({"meter_ohm", "", "multimeter", "ohm"});
  w.instruments.push_back({"meter_volt", "", "multimeter", "volt"});
  REQUIRE(w.find("multimeter", "volt") != nullptr);
  CHECK(w.find("multimeter", "volt")->id == "meter_volt");
  CHECK(w.find("multimeter", "")->id == "meter_ohm");
  CHECK(w.find("multimeter", "rpm") == nullptr);
  CHECK(w.find("peak_voltmeter", "volt") == nullptr);
}

TEST_CASE("an unknown group is rare in a complaint, never impossible", "[model][unit]") {
  Complaint c;
  c.by_group = {{"SRC", 10}};
  CHECK(c.of_group("SRC") == 10);
  CHECK(c.of_group("FUE") == 0.1);
}
