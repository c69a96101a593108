// What the transistor inductive family describes: shares, distinct modes, references, cautions.
#include <set>

#include "catch_all.hpp"
#include "family_rules.hpp"

using namespace lostspark::tests;

namespace {

using Settings = std::vector<std::pair<std::string, std::string>>;

FamilyClient family(const Settings& settings = {{"alarm", "true"}}) {
  return FamilyClient(settings, "transistor_inductive");
}

}  // namespace

TEST_CASE("inductive: shares add up to a thousand complaints and two switches that do not stop", "[plugins][unit]") {
  CHECK(ignition_share(family()) == Approx(1002));
  CHECK(ignition_share(family({{"alarm", "false"}})) == Approx(1002 - 15));
  CHECK(ignition_share(family({})) == Approx(1002 - 15));
  CHECK(elsewhere_part(family()) == Approx(0.20));
}

TEST_CASE("inductive: the tables keep the rules of all families", "[plugins][unit]") {
  const auto c = family();
  CHECK(unused_parameters(c) == std::set<std::string>{});
  CHECK(indistinct_modes(c) == std::set<std::string>{});
  CHECK(missing_cautions(c) == std::set<std::string>{});
  CHECK(careless_stages(c) == std::set<std::string>{});
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
