#include "toy.hpp"

#include <fstream>
#include <sstream>

#include "base/error.hpp"
#include "catch_all.hpp"

namespace lostspark::test {

namespace fs = std::filesystem;

sources::Folders toy_folders() {
  return {{fs::path(LOSTSPARK_BINARY_DIR) / "tests/plugins_toy"}, {fs::path(LOSTSPARK_SOURCE_DIR) / "networks"}};
}

fs::path bad_plugin(const std::string& name) {
  return fs::path(LOSTSPARK_BINARY_DIR) / "tests/plugins_bad" / (name + ".so");
}

std::string toy_network() {
  return R"toml(format = 1

[vehicle]
id = "toy_bench"
title = "toy bench"
family = "toy"
kind = "bench"

[options]
switches = 2

[[parameter]]
id = "emf_volt"
value_volt = 120
log_sd = 0.2
origin = "shop"
note = "three benches measured"

[[cover]]
id = "seat"
remove_min = 2
refit_min = 2

[[cover]]
id = "tank"
remove_min = 6
refit_min = 8
first = ["seat"]
may_run_without = false

[[component]]
id = "source"
place = "behind the flywheel"
probe = false

[[component]]
id = "stop_switch"
place = "on the handlebar"

[[component]]
id = "consumer"
place = "under the seat"
covers = ["seat"]

[[component]]
id = "lead"
place = "under the tank"
covers = ["tank"]

[[connector]]
id = "source_connector"
title = "2-pole white connector"
place = "behind the side panel"
pins = ["1", "2"]
zones = ["wet"]
blind_min = 2

[[connector]]
id = "consumer_connector"
title = "3-pole black connector"
place = "under the seat"
covers = ["seat"]
pins = ["a", "b", "c"]

[[splice]]
id = "stop_splice"
place = "in the loom at the headstock"
covers = ["tank"]
zones = ["vibration", "steering"]

[[earth_point]]
id = "frame_earth"
place = "on the frame behind the headstock"
covers = ["tank"]
strap = "engine_strap"

[[earth_point]]
id = "engine_strap"
place = "from frame to engine"

[[chain]]
link = "source_lead"
items = [
  { wire = "source_pigtail", colour = "BKRD", ohm = 0.1 },
  { connector = "source_connector", pin = "1" },
  { wire = "source_wire", colour = "BKRD" },
  { connector = "consumer_connector", pin = "a" },
]

[[chain]]
link = "stop_lead"
items = [
  { connector = "consumer_connector", pin = "b" },
  { wire = "stop_wire", colour = "BKWH", zones = ["steering"] },
  { splice = "stop_splice" },
  { wire = "switch_wire", colour = "BKWH" },
]

[[chain]]
link = "consumer_earth"
items = [
  { connector = "consumer_connector", pin = "c" },
  { wire = "earth_wire", colour = "GN" },
  { earth_point = "frame_earth" },
]

[[chain]]
link = "source_earth"
items = [ { earth_point = "engine_strap" } ]

[[chain]]
link = "switch_earth"
items = [ { wire = "switch_earth_wire" }, { joins = "consumer_connector.c.earth_side" } ]

[[healthy]]
test = "input_peak@*"
low = 60
high = 150
origin = "service_data"
)toml";
}

std::string toy_network_with(const std::string& from, const std::string& to) {
  auto text = toy_network();
  const auto at = text.find(from);
  REQUIRE(at != std::string::npos);
  return text.replace(at, from.size(), to);
}

std::shared_ptr<const model::Vehicle> load_toy(const std::string& text) {
  return sources::load_vehicle_text(toy_folders(), text, "toy.toml");
}

std::string mistakes_of(const std::string& text) {
  try {
    (void)load_toy(text);
  } catch (const InputError& error) {
    return error.what();
  }
  return "no mistake was found";
}

std::string file_text(const fs::path& file) {
  std::ifstream in(file, std::ios::binary);
  std::ostringstream text;
  text << in.rdbuf();
  return text.str();
}

void check_golden(const std::string& name, const std::string& text) {
  const auto golden = fs::path(LOSTSPARK_SOURCE_DIR) / "tests/golden" / name;
  const auto fresh = fs::path(LOSTSPARK_BINARY_DIR) / "golden" / name;
  INFO("golden file " << golden << ", accept changes with tests/accept_golden.sh");
  if (text != file_text(golden)) {
    fs::create_directories(fresh.parent_path());
    std::ofstream(fresh, std::ios::binary) << text;
  }
  CHECK(text == file_text(golden));
}

}  // namespace lostspark::test
