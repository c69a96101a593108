// The outboard capacitor discharge family against ngspice, at the cranking test points of the triple's first cylinder
// and of what all cylinders share. Source of the bounds: the project's own issue text; of the other side: ngspice 39,
// decks of tests/spice. SPICE_WRITE_OUTBOARD_TABLE=FILE writes the deviation table that stands in
// docs/spice-deviations.md.
#include "catch_all.hpp"
#include "spice/vehicle_cases.hpp"

using namespace lostspark;
using spice::Case;

namespace {

constexpr const char* k_vehicle = "quillmarsh_outboard_triple";

const std::vector<Case>& usual() {
  static const std::vector<Case> cases{
      {"healthy", "", 0, 1},
      {"low-speed winding: shorted turns", "charge_low.shorted_turns", 0.4, 1},
      {"rectifier shorted", "rectifier.shorted", 0.5, 1},
      {"remote plug leaks", "remote_plug.leaks", 0.4, 1},
      {"lanyard switch earthed", "lanyard_switch.earthed", 0.8, 1},
      {"trigger 1 weak", "trigger_coil_1.weak", 0.8, 1},
      {"output 1 dead", "switch_box.output_dead_1", 0.5, 1},
      {"coil 1 connector corroded", "coil_connector_1.pin_1_corroded", 0.4, 1},
      {"coil 1: secondary leak", "ignition_coil_1.secondary_leak", 0.5, 1},
      {"plug 1 gap wide", "spark_plug_1.gap_wide", 0.5, 1},
  };
  return cases;
}

const std::vector<Case>& further() {
  static const std::vector<Case> cases{
      {"slow cranking, 200 rpm", "", 0, 0.5},
      {"magnet ring loose", "flywheel.ring_loose", 0.4, 1},
      {"high-speed winding: shorted turns", "charge_high.shorted_turns", 0.5, 1},
      {"stator connector corroded", "stator_connector.pin_1_corroded", 0.3, 1},
      {"stop lead chafed", "stop_lead.chafed", 0.5, 1},
      {"output 2 dead", "switch_box.output_dead_2", 0.5, 1},
      {"coil 1 mounting bolt corroded", "coil_mount_1.corroded", 0.4, 1},
      {"coil 1: open primary", "ignition_coil_1.open_primary", 0.5, 1},
      {"coil 1: shorted turns in the primary", "ignition_coil_1.shorted_primary", 0.3, 1},
      {"plug 1 dry-fouled", "spark_plug_1.fouled_dry", 0.5, 1},
      {"plug 1 wet", "spark_plug_1.fouled_wet", 0.5, 1},
      {"loom damaged", "wiring_loom.damaged", 0.3, 1},
  };
  return cases;
}

}  // namespace

TEST_CASE("at the test points of the outboard triple the circuit reads what ngspice reads", "[spice][oracle]") {
  spice::check_bounds(spice::compare_vehicle(k_vehicle, usual()), 15);
}

TEST_CASE("further faults of the outboard triple read as in ngspice, and the deviation table can be written",
          "[spice][oracle][slow]") {
  spice::check_all(k_vehicle, usual(), further(), 15, "SPICE_WRITE_OUTBOARD_TABLE");
}
