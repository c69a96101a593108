// Simulator in the loop: the program asks, ngspice answers. Bounds: the project's own issue text.
// SPICE_LOOP_RESULTS=FILE: where results are appended (default: spice_loop.jsonl in the build folder); a stopped run
// goes on there. SPICE_LOOP_ONLY=PREFIX: only cases whose name begins so, each judged by itself. SPICE_LOOP_TABLE=FILE
// writes the table of the vehicle (name one test case) that stands in docs/spice-in-the-loop.md.
#include <algorithm>
#include <cstdlib>
#include <fstream>
#include <iostream>

#include "catch_all.hpp"
#include "spice/loop.hpp"

using namespace lostspark::spice;

namespace {

std::filesystem::path results_file() {
  const char* stated = std::getenv("SPICE_LOOP_RESULTS");
  return stated ? stated : LOSTSPARK_BINARY_DIR "/spice_loop.jsonl";
}

bool faulty(const LoopResult& r) { return !r.name.starts_with("healthy") && !r.name.starts_with("slow kick"); }

}  // namespace

TEST_CASE("fed by ngspice, the advice mends a damp kill switch and a corroded coil joint", "[spice][oracle]") {
  const std::vector<LoopCase> sample{{LoopCase::Kind::faulty, "kill_switch.leaks_damp", 0},
                                     {LoopCase::Kind::faulty, "coil_connector.pin_1_corroded", 0}};
  for (const auto& what : sample) {
    const auto r = run_loop(what);
    INFO(r.name << ", complaint " << r.complaint << ": " << r.steps << r.end);
    CHECK(r.readings > 0);
    CHECK(r.right);
  }
}

TEST_CASE("fed by ngspice, a fault of other families is mended by the first part", "[spice][oracle]") {
  const std::vector<std::pair<std::string, std::string>> sample{{"quillmarsh_road_250", "ignition_coil.open_primary"},
                                                                {"quillmarsh_classic_twin", "condenser_2.open"},
                                                                {"quillmarsh_walk_mower", "air_gap.wide"},
                                                                {"quillmarsh_outboard_twin", "trigger_coil_2.open_winding"}};
  for (const auto& [vehicle, mode] : sample) {
    LoopOptions options;
    options.vehicle = vehicle;
    const auto r = run_loop({LoopCase::Kind::faulty, mode, 3}, options);
    INFO(vehicle << ", " << r.name << ", complaint " << r.complaint << ": " << r.steps << r.end);
    CHECK(r.right);
  }
}

namespace {

/// All cases of a vehicle, or the named ones; bounds of the former.
void check_loop(const std::string& vehicle) {
  LoopOptions options;
  options.vehicle = vehicle;
  auto cases = loop_cases(vehicle);
  if (const char* only = std::getenv("SPICE_LOOP_ONLY")) {
    std::erase_if(cases, [&](const LoopCase& c) { return !c.name().starts_with(only); });
    REQUIRE_FALSE(cases.empty());
    for (const auto& r : run_loops(cases, results_file(), options)) {
      std::cout << r.name << ": " << r.steps << r.end << "\n";
      INFO(r.name);
      CHECK(r.right);
    }
    return;
  }
  const auto results = run_loops(cases, results_file(), options);
  if (const char* file = std::getenv("SPICE_LOOP_TABLE")) {
    std::ofstream out(file);
    write_loop_table(out, results);
    REQUIRE(out.good());
  }
  int cured = 0, all = 0;
  for (const auto& r : results) {
    if (faulty(r)) cured += r.right ? 1 : 0;
    all += faulty(r) ? 1 : 0;
    if (faulty(r) && !r.right) std::cout << "not cured: " << r.name << ": " << r.steps << r.end << "\n";
    if (faulty(r)) continue;
    INFO(r.name << ": " << r.steps);
    CHECK(r.right);
  }
  std::cout << vehicle << ", first part right: " << cured << " of " << all << "\n";
  REQUIRE(all == 60);
  CHECK(cured >= 54);
}

}  // namespace

TEST_CASE("fed by ngspice, the first part replaced on the trail bike cures in at least 54 of 60 and sound ones keep theirs",
          "[spice][oracle][slow]") {
  check_loop("quillmarsh_trail_125");
}

TEST_CASE("fed by ngspice, so on the road bike: transistor and coil", "[spice][oracle][slow]") {
  check_loop("quillmarsh_road_250");
}

TEST_CASE("fed by ngspice, so on the utility quad: battery-fed capacitor discharge", "[spice][oracle][slow]") {
  check_loop("quillmarsh_utility_quad");
}

TEST_CASE("fed by ngspice, so on the walk-behind mower: module at the flywheel", "[spice][oracle][slow]") {
  check_loop("quillmarsh_walk_mower");
}

TEST_CASE("fed by ngspice, so on the old mower: points under the flywheel", "[spice][oracle][slow]") {
  check_loop("quillmarsh_points_mower");
}

TEST_CASE("fed by ngspice, so on the classic twin: points and two coils", "[spice][oracle][slow]") {
  check_loop("quillmarsh_classic_twin");
}

TEST_CASE("fed by ngspice, so on the sport bike: four coils on their plugs", "[spice][oracle][slow]") {
  check_loop("quillmarsh_sport_600");
}

TEST_CASE("fed by ngspice, so on the outboard twin: box with charge and trigger coils", "[spice][oracle][slow]") {
  check_loop("quillmarsh_outboard_twin");
}

TEST_CASE("fed by ngspice, so on the cruiser: wasted spark", "[spice][oracle][slow]") {
  check_loop("quillmarsh_cruiser_750");
}
