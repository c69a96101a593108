// What the breaker points family describes: shares, options, references, words.
#include <cstring>
#include <set>
#include <string>

#include "catch_all.hpp"
#include "family_rules.hpp"

using namespace lostspark::tests;

namespace {

using Settings = std::vector<std::pair<std::string, std::string>>;

FamilyClient family(const Settings& settings) { return FamilyClient(settings, "breaker_points"); }

const std::vector<Settings>& offered() {
  static const std::vector<Settings> all{{},
                                         {{"cylinders", "2"}},
                                         {{"cylinders", "4"}, {"distributor", "true"}},
                                         {{"cylinders", "4"}, {"distributor", "true"}, {"ballast", "true"}},
                                         {{"cylinders", "8"}, {"distributor", "true"}},
                                         {{"ballast", "true"}}};
  return all;
}

}  // namespace

TEST_CASE("points: shares do not depend on how many cylinders share them", "[plugins][unit]") {
  const double one = ignition_share(family({}));
  CHECK(ignition_share(family({{"cylinders", "2"}})) == Approx(one));
  CHECK(ignition_share(family({{"cylinders", "4"}})) == Approx(one));
  // Distributor and ballast bring their own faults: king lead 18, cap 60, rotor 24, crossed leads 11; ballast 25.
  CHECK(ignition_share(family({{"cylinders", "4"}, {"distributor", "true"}})) == Approx(one + 113));
  CHECK(ignition_share(family({{"ballast", "true"}})) == Approx(one + 25));
  CHECK(ignition_share(family({{"cylinders", "4"}, {"distributor", "true"}, {"ballast", "true"}})) ==
        Approx(1000).epsilon(0.03));  // the table's thousand, with what four links add
}

TEST_CASE("points: whatever is chosen, every parameter is used and no two modes do the same", "[plugins][unit]") {
  for (const auto& settings : offered()) {
    const auto c = family(settings);
    CHECK(unused_parameters(c) == std::set<std::string>{});
    CHECK(indistinct_modes(c) == std::set<std::string>{});
  }
}

TEST_CASE("points: complaints name every cylinder, one dead cylinder has an extent", "[plugins][unit]") {
  const auto c = family({{"cylinders", "2"}});
  int dead = 0;
  for (const auto& r : c.rows<ls_complaint_v1>(LS_COMPLAINTS)) {
    const std::string id = r.id, margins = r.margins;
    if (id == "no_spark") CHECK(margins == "fire_1.spark_margin|fire_2.spark_margin");
    if (id == "one_cylinder_dead") {
      CHECK(std::string(r.extent) == "one");
      ++dead;
    }
  }
  CHECK(dead == 1);
  const auto single = family({});  // its rows hold pointers into it
  for (const auto& r : single.rows<ls_complaint_v1>(LS_COMPLAINTS)) CHECK(std::string(r.id) != "one_cylinder_dead");
}

TEST_CASE("points: coils that trade places take every value of the coil along, plugs every value of the plug",
          "[plugins][unit]") {
  const auto c = family({{"cylinders", "2"}});
  std::map<std::string, std::set<std::string>> moved;
  for (const auto& r : c.rows<ls_effect_v1>(LS_EFFECTS))
    if (r.operation == LS_EXCHANGE_PARAMETERS) {
      moved[r.owner].insert(r.target);
      CHECK(std::string(r.other) == std::string(r.target, std::strlen(r.target) - 1) + "2");
    }
  for (const auto& r : c.rows<ls_change_v1>(LS_CHANGES)) {
    const std::string mode = r.mode, parameter = r.parameter;
    INFO(mode << " " << parameter);
    if (mode.starts_with("ignition_coil_1.") && mode != "ignition_coil_1.reversed")
      CHECK(moved["setup:coils_exchanged"].count(parameter) == 1);  // reversed leads stay with the harness
    if (mode.starts_with("spark_plug_1.") && parameter != "cap_ohm_1")
      CHECK(moved["setup:plugs_exchanged"].count(parameter) == 1);
  }
}

TEST_CASE("points: a tester at the king lead leaves out what lies behind it, and nothing before it",
          "[plugins][unit]") {
  const auto c = family({{"cylinders", "4"}, {"distributor", "true"}});
  std::set<std::string> taken;
  for (const auto& r : c.rows<ls_effect_v1>(LS_EFFECTS))
    if (std::string(r.owner) == "setup:king_tester") taken.insert(r.target);
  REQUIRE_FALSE(taken.empty());
  std::set<std::string> behind, before;
  for (const auto& r : c.rows<ls_change_v1>(LS_CHANGES)) {
    const std::string mode = r.mode, parameter = r.parameter, component = mode.substr(0, mode.find('.'));
    for (const char* part : {"distributor_cap", "rotor", "ht_lead_1", "ht_joint_1", "plug_cap_1", "spark_plug_1"})
      if (component == part) behind.insert(parameter);
    // Reversed leads are told by the plug alone: they change its demand.
    for (const char* part : {"king_lead", "ignition_coil", "breaker_points", "condenser", "battery"})
      if (component == part && mode != "ignition_coil.reversed") before.insert(parameter);
  }
  CHECK(behind.size() > 10);
  for (const auto& parameter : behind) {
    INFO(parameter);
    CHECK(taken.contains(parameter));
  }
  for (const auto& parameter : before) {
    INFO(parameter);
    CHECK_FALSE(taken.contains(parameter));
  }
}
