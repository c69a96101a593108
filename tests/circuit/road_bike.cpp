// The road bike as the circuit computes it: what common practice says of battery ignitions (no source), and that each
// way of losing the supply, the trigger or the earth reads as it does in the workshop.
#include <cmath>

#include "catch_all.hpp"
#include "circuit/circuit.hpp"
#include "sources/load.hpp"

using namespace lostspark;
using model::Index;

namespace {

std::shared_ptr<const model::Vehicle> bike() {
  static const auto vehicle = sources::load_vehicle(sources::default_folders(), "quillmarsh_road_250");
  return vehicle;
}

/// Reads tests of the bike with one fault, or none.
class Bench {
 public:
  explicit Bench(const std::string& mode = "", double severity = 0.5) : circuit_(bike()) {
    if (mode.empty()) return;
    const auto row = bike()->find_mode(mode);
    REQUIRE(row);
    faults_ = {{*row, severity}};
  }
  double read(const std::string& id, double meter_ohm = 1e7) {
    const auto row = bike()->find_test(id);
    INFO(id);
    REQUIRE(row);
    const auto& test = bike()->tests[static_cast<std::size_t>(*row)];
    return circuit_.reading(test, circuit_.solve(test.scene, faults_, {}), meter_ohm);
  }
  double output(const std::string& id, const std::string& of_test) {
    const auto& test = bike()->tests[static_cast<std::size_t>(*bike()->find_test(of_test))];
    return circuit_.solve(test.scene, faults_, {}).outputs[static_cast<std::size_t>(*bike()->find_output(id))];
  }

 private:
  circuit::Circuit circuit_;
  std::vector<circuit::ActiveMode> faults_;
};

constexpr const char* k_battery = "battery_cranking@battery.plus";
constexpr const char* k_coil_15 = "coil_supply@ignition_coil.supply";
constexpr const char* k_coil_15_lamp = "coil_supply_loaded@ignition_coil.supply";
constexpr const char* k_coil_15_cranking = "coil_supply_cranking@ignition_coil.supply";
constexpr const char* k_peak = "primary_peak@module_connector.ignition_coil_side";

}  // namespace

TEST_CASE("a sound battery holds ten volts while cranking, a flat one does not", "[circuit][unit]") {
  CHECK(Bench().read(k_battery) > 10.0);
  CHECK(Bench().read(k_battery) < 11.5);
  CHECK(Bench("battery.discharged", 0.5).read(k_battery) < 9.0);
  CHECK(Bench("battery.discharged", 0.5).read("battery_rest@battery.plus") < 12.3);
}

TEST_CASE("terminal 1 shows the clamp's volts whatever the supply; current and reserve do not", "[circuit][unit]") {
  Bench sound, flat("battery.discharged", 0.4), joint("coil_connector.pin_1_corroded", 0.5);
  CHECK(sound.read(k_peak) > 350);
  for (Bench* weak : {&flat, &joint}) {
    CHECK(weak->read(k_peak) > 0.9 * sound.read(k_peak));
    CHECK(weak->read("primary_current") < 0.8 * sound.read("primary_current"));
    CHECK(weak->read("reserve") < 0.8 * sound.read("reserve"));
  }
}

TEST_CASE("a corroded joint is seen only while current flows", "[circuit][unit]") {
  Bench joint("coil_connector.pin_1_corroded", 0.5), sound;
  CHECK(joint.read(k_coil_15) == Approx(sound.read(k_coil_15)).margin(0.1));  // nothing drawn: the trap
  CHECK(joint.read(k_coil_15_lamp) < sound.read(k_coil_15_lamp) - 1);
  CHECK(joint.read(k_coil_15_cranking) < sound.read(k_coil_15_cranking) - 1);
  // Upstream of it the supply is as it was.
  CHECK(joint.read("coil_supply_loaded@coil_connector.alarm_splice_side") > joint.read(k_coil_15_lamp) + 1);
}

TEST_CASE("every way of interrupting the supply leaves nothing at the coil and no spark", "[circuit][unit]") {
  for (const char* mode : {"main_fuse.blown", "operator_state.left_off", "interlock_relay.does_not_pull",
                           "side_stand_switch.open", "neutral_switch.open", "ignition_feed.open"}) {
    INFO(mode);
    Bench b(mode);
    CHECK(b.read(k_coil_15) < 0.05);
    CHECK(b.read(k_peak) == 0);
    CHECK(b.read("primary_current") == 0);
  }
  CHECK(Bench().read("coil_supply_stopped@ignition_coil.supply") < 0.05);
  CHECK(Bench("stop_switch.never_opens").read("coil_supply_stopped@ignition_coil.supply") > 10);
}

TEST_CASE("a lead past the span brings the supply back only where the span is guilty", "[circuit][unit]") {
  const std::string spark = "spark+gap_tester";
  Bench run_switch("stop_switch.dirty", 0.8), relay("interlock_relay.does_not_pull");
  CHECK(run_switch.read("spark") != Approx(run_switch.read("spark+gap_tester+stop_bypassed")));
  CHECK(run_switch.output("dwell.supply_margin", "spark+gap_tester+stop_bypassed") > 0);
  CHECK(relay.output("dwell.supply_margin", "spark+gap_tester+stop_bypassed") < 0);
  CHECK(relay.output("dwell.supply_margin", "spark+gap_tester+supply_bypassed") > 0);
  CHECK(Bench("frame_earth.corroded", 0.6).output("dwell.supply_margin", "spark+gap_tester+module_earthed") > 0);
}

TEST_CASE("without a trigger nothing switches and the supply shows no load", "[circuit][unit]") {
  Bench dead("pulse_coil.open_winding"), sound;
  CHECK(dead.read(k_peak) == 0);
  CHECK(dead.read(k_coil_15_cranking) > sound.read(k_coil_15_cranking) + 0.5);
  CHECK(dead.read("pulse_peak@module_connector.pulse_coil_side", 2e6) < 0.05);
  // An open return leaves volts on the return wire and none between the module's pins.
  Bench open("return_lead.open");
  CHECK(open.output("fire.trigger_margin", "primary_current") < 0);
  CHECK(sound.output("fire.trigger_margin", "primary_current") > 0.7);
}

TEST_CASE("a bad module earth lifts the module and robs it of its supply", "[circuit][unit]") {
  Bench bad("frame_earth.corroded", 0.3), sound;
  CHECK(sound.read("module_earth_cranking@module_connector.earth_side") < 0.3);
  CHECK(bad.read("module_earth_cranking@module_connector.earth_side") > 1);
  CHECK(bad.output("dwell.supply_margin", "primary_current") < sound.output("dwell.supply_margin", "primary_current"));
}

TEST_CASE("with the key on terminal 1 proves primary and coil wire", "[circuit][unit]") {
  const std::string module_side = "coil_wire_volts@module_connector.ignition_coil_side";
  const std::string coil = "coil_wire_volts@ignition_coil.primary";
  CHECK(Bench().read(module_side) > 12);
  CHECK(Bench("ignition_coil.open_primary").read(coil) < 0.1);
  Bench wire("coil_lead.open");
  CHECK(wire.read(coil) > 12);
  CHECK(wire.read(module_side) < 0.1);
  CHECK(Bench("coil_lead.chafed", 0.5).read(coil) < 8);  // current flows all the time
}

TEST_CASE("an open lead drives the tower to the reserve; a fouled plug takes current and no spark", "[circuit][unit]") {
  Bench open("ht_lead.open_conductor", 0.95), sound, fouled("spark_plug.fouled_wet", 0.3);
  CHECK(open.read("plug_kilovolt") > 3 * sound.read("plug_kilovolt"));
  CHECK(open.output("fire.spark_margin", "plug_kilovolt") < 0);
  CHECK(fouled.output("fire.spark_margin", "plug_kilovolt") < 0);
  CHECK(fouled.output("fire.clamp_margin", "plug_kilovolt") > 0);
}

TEST_CASE("charging reads as the regulator does", "[circuit][unit]") {
  CHECK(Bench().read("charging@battery.plus") == Approx(14.2).margin(0.3));
  CHECK(Bench("regulator.no_charge", 0.9).read("charging@battery.plus") < 12.8);
  CHECK(Bench("regulator.overcharges", 0.5).read("charging@battery.plus") > 15);
}
