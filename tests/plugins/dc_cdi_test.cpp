// The battery-fed capacitor discharge family: what it describes, and its converter against closed forms.
#include <cmath>

#include "blocks/converter_stage.hpp"
#include "catch_all.hpp"
#include "family_rules.hpp"

using namespace lostspark;
using namespace lostspark::tests;

namespace {

using Settings = std::vector<std::pair<std::string, std::string>>;

FamilyClient family(const Settings& settings = {}) { return FamilyClient(settings, "dc_cdi"); }

const Settings k_plain{{"inhibit", "false"}};

blocks::ConverterInputs fed(double volt, double series_ohm, std::array<double, 3>& packed,
                            std::array<double, 2>& open) {
  packed = {1 / series_ohm, 0, 1e3};  // supply behind series_ohm, ground behind a milliohm
  open = {volt, 0};
  blocks::ConverterInputs in;
  in.harness = packed.data();
  in.open_volt = open.data();
  return in;
}

}  // namespace

TEST_CASE("dc-cdi: shares add up to a thousand complaints and two switches that do not stop", "[plugins][unit]") {
  CHECK(ignition_share(family()) == Approx(1002));
  CHECK(ignition_share(family(k_plain)) == Approx(1002 - 24));
  CHECK(elsewhere_part(family()) == Approx(0.20));
}

TEST_CASE("dc-cdi: whatever is chosen, the tables keep the rules of all families", "[plugins][unit]") {
  for (const auto& settings : {Settings{}, k_plain}) {
    const auto c = family(settings);
    CHECK(unused_parameters(c) == std::set<std::string>{});
    CHECK(indistinct_modes(c) == std::set<std::string>{});
    CHECK(missing_cautions(c) == std::set<std::string>{});
    CHECK(careless_stages(c) == std::set<std::string>{});
  }
}

TEST_CASE("dc-cdi: what interrupts or inhibits is marked as stopping the engine", "[plugins][unit]") {
  const auto c = family();
  std::map<std::string, int> stops;
  for (const auto& part : c.rows<ls_component_v1>(LS_COMPONENTS)) stops[part.id] = part.stops_engine;
  for (const char* part : {"key_switch", "stop_switch", "inhibit_switch", "operator_state"}) {
    INFO(part);
    CHECK(stops[part] == 1);
  }
  CHECK(stops["ignition_coil"] == 0);
}

TEST_CASE("dc-cdi: a complaint of no spark asks supply, permission, trigger and spark in this order",
          "[plugins][unit]") {
  const auto margins = [](const FamilyClient& c) {
    for (const auto& r : c.rows<ls_complaint_v1>(LS_COMPLAINTS))
      if (std::string(r.id) == "no_spark") return std::string(r.margins);
    return std::string();
  };
  CHECK(margins(family()) == "convert.supply_margin convert.permit_margin fire.trigger_margin fire.spark_margin");
  CHECK(margins(family(k_plain)) == "convert.supply_margin fire.trigger_margin fire.spark_margin");
}

TEST_CASE("converter: a joint divides the supply with what the converter is to it", "[plugins][unit]") {
  std::array<double, 3> packed{};
  std::array<double, 2> open{};
  const auto in = fed(10, 1, packed, open);
  const auto r = blocks::convert(in);
  // 10 V over 1 + 5 ohm, and a milliohm of earth: Ohm's law; 1e-4 for the strays.
  CHECK(r.least_volt == Approx(10 * 5 / 6.001).epsilon(1e-4));
  CHECK(r.ground_volt == Approx(10 / 6.001 * 1e-3).epsilon(1e-3));
  auto idle = in;
  idle.draws = 0;
  CHECK(blocks::convert(idle).supply_volt == Approx(10).epsilon(1e-6));
  CHECK(blocks::convert(idle).least_volt == Approx(r.least_volt));  // what it would be: the cut-out asks that
}

TEST_CASE("converter: energy goes with power and time until the end volts are reached", "[plugins][unit]") {
  std::array<double, 3> packed{};
  std::array<double, 2> open{};
  auto in = fed(10, 1e-3, packed, open);
  in.leak_ohm = 1e12;
  in.end_volt = 1e5;
  in.charge_second = 1e-3;
  // C V^2 / 2 = efficiency x 10^2 / 5 x 1 ms: 167 V; 1e-3 for the milliohms before it.
  CHECK(blocks::convert(in).capacitor_volt == Approx(std::sqrt(2 * 0.7 * 100 / 5 * 1e-3 / 1e-6)).epsilon(2e-3));
  in.charge_second = 0.15;
  in.end_volt = 280;
  CHECK(blocks::convert(in).capacitor_volt == Approx(280).epsilon(1e-4));
  // A leak that takes all the power: V^2 = power x leak.
  in.leak_ohm = 500;
  in.charge_second = 1;
  CHECK(blocks::convert(in).capacitor_volt == Approx(std::sqrt(0.7 * 100 / 5 * 500)).epsilon(2e-3));
  in.input_ohm = 1e11;
  CHECK(blocks::convert(in).capacitor_volt < 0.1);
}
