// The vehicles this project ships, on the real family.
#include <algorithm>
#include <cmath>
#include <filesystem>
#include <set>
#include <string>

#include "base/error.hpp"
#include "catch_all.hpp"
#include "sources/demo_workshop.hpp"
#include "sources/load.hpp"
#include "sources/text.hpp"
#include "toy.hpp"

using namespace lostspark;
using model::Index;

namespace {

sources::Folders real_folders() {
  return {{std::filesystem::path(LOSTSPARK_PLUGIN_DIR)}, {std::filesystem::path(LOSTSPARK_SOURCE_DIR) / "networks"}};
}

std::string change_key(const model::Mode& m) {
  std::string key;
  for (const auto& c : m.changes)
    key += std::to_string(static_cast<int>(c.target)) + ":" + std::to_string(c.index) + ":" +
           std::to_string(static_cast<int>(c.operation)) + ":" + sources::number_text(c.mild) + ":" +
           sources::number_text(c.severe) + ";";
  return key;
}

template <class Rows>
bool all_ids_differ(const Rows& rows) {
  std::set<std::string> seen;
  for (const auto& row : rows)
    if (!seen.insert(row.id).second) {
      UNSCOPED_INFO("twice: " << row.id);
      return false;
    }
  return true;
}

}  // namespace

TEST_CASE("the AC-CDI plugin passes every check", "[sources][unit]") {
  const auto problems = sources::check_family(std::filesystem::path(LOSTSPARK_PLUGIN_DIR) / "ac_cdi.so");
  for (const auto& problem : problems) UNSCOPED_INFO(problem);
  CHECK(problems.empty());
}

TEST_CASE("the tests of the trail bike are these", "[sources][golden]") {
  const auto v = sources::load_vehicle(real_folders(), "quillmarsh_trail_125");
  std::string text;
  for (const auto& t : v->tests) text += t.id + '\n';
  test::check_golden("sources_trail_bike_tests.txt", text);
}

TEST_CASE("a shipped vehicle is whole: ids differ, references fit, every mode is its own", "[sources][property]") {
  const std::string id =
      GENERATE("quillmarsh_trail_125", "quillmarsh_atv_pull", "quillmarsh_road_250", "quillmarsh_classic_twin",
               "quillmarsh_utility_quad", "quillmarsh_scooter_110", "quillmarsh_outboard_twin",
               "quillmarsh_outboard_triple", "quillmarsh_saloon_points", "quillmarsh_coupe_v6");
  CAPTURE(id);
  const auto v = sources::load_vehicle(real_folders(), id);
  CHECK(v->id == id);
  CHECK(v->components.size() >= 25);
  CHECK(all_ids_differ(v->tests));
  CHECK(all_ids_differ(v->modes));
  CHECK(all_ids_differ(v->repairs));
  CHECK(all_ids_differ(v->components));
  CHECK(all_ids_differ(v->nodes));
  CHECK(all_ids_differ(v->elements));
  CHECK(all_ids_differ(v->setups));

  std::set<std::string> changes;
  for (const auto& m : v->modes) {
    INFO(m.id);
    CHECK((m.changes.empty() || changes.insert(change_key(m)).second));
    CHECK(m.prior > 0);
    CHECK(m.prior < 0.5);
    REQUIRE(m.repair >= 0);
    CHECK(v->repairs[static_cast<std::size_t>(m.repair)].component == m.component);
    for (const double seen : m.visible) CHECK((seen >= 0 && seen <= 1));
    for (const auto& c : m.changes) {
      const auto rows = c.target == model::ChangeTarget::parameter ? v->parameters.size() : v->elements.size();
      CHECK((c.index >= 0 && static_cast<std::size_t>(c.index) < rows));
      CHECK((c.mild > 0 && c.severe > 0));
    }
  }
  const auto nodes = static_cast<Index>(v->nodes.size());
  for (const auto& e : v->elements) CHECK((e.a >= 0 && e.a < nodes && e.b >= 0 && e.b < nodes && e.a != e.b));
  for (const auto& t : v->tests) {
    INFO(t.id);
    CHECK((t.scene >= 0 && static_cast<std::size_t>(t.scene) < v->scenes.size()));
    CHECK_FALSE(t.title.empty());
    CHECK_FALSE(t.place.empty());
    CHECK(
        (t.reads != model::Reads::node_volts || (t.node_a > 0 && v->nodes[static_cast<std::size_t>(t.node_a)].probe)));
    CHECK((t.reads != model::Reads::finding || t.words.size() >= 2));
    // What covers it includes what must come off before.
  }
}

TEST_CASE("the family's shares arrive whole: the harness takes its part of 1000", "[sources][property]") {
  const auto v = sources::load_vehicle(real_folders(), "quillmarsh_trail_125");
  double here = 0, elsewhere = 0;
  for (const auto& m : v->modes)
    (v->components[static_cast<std::size_t>(m.component)].kind == model::ComponentKind::elsewhere ? elsewhere : here) +=
        m.share;
  // 1000 by the family's table; the switch that never closes (3) is not among its complaints.
  CHECK(here == Approx(1003));
  CHECK(elsewhere / (here + elsewhere) == Approx(0.18).epsilon(0.01));
  double priors = 0;
  for (const auto& m : v->modes) priors += m.prior;
  CHECK(priors == Approx(0.08 * (here + elsewhere) / 1000));
}

TEST_CASE("the road bike's shares arrive whole as well", "[sources][property]") {
  const auto v = sources::load_vehicle(real_folders(), "quillmarsh_road_250");
  double here = 0, elsewhere = 0;
  for (const auto& m : v->modes)
    (v->components[static_cast<std::size_t>(m.component)].kind == model::ComponentKind::elsewhere ? elsewhere : here) +=
        m.share;
  CHECK(here == Approx(1002));  // and two for a run switch that never opens
  CHECK(elsewhere / (here + elsewhere) == Approx(0.20).epsilon(0.01));
}

TEST_CASE("each test of a shipped vehicle can be done with the demo's workshop", "[sources][unit]") {
  const std::string id =
      GENERATE("quillmarsh_trail_125", "quillmarsh_atv_pull", "quillmarsh_road_250", "quillmarsh_classic_twin",
               "quillmarsh_utility_quad", "quillmarsh_scooter_110", "quillmarsh_outboard_twin",
               "quillmarsh_outboard_triple", "quillmarsh_cruiser_750", "quillmarsh_pickup");
  const auto v = sources::load_vehicle(real_folders(), id);
  const auto workshop = sources::default_workshop(real_folders());
  for (const auto& t : v->tests) {
    INFO(t.id << " needs " << t.instrument << " reading " << t.unit);
    CHECK(workshop.find(t.instrument, t.unit) != nullptr);
  }
}

TEST_CASE("the kill lead is measured where it was unplugged", "[sources][unit]") {
  const auto v = sources::load_vehicle(real_folders(), "quillmarsh_trail_125");
  const auto row = v->find_test("kill_lead_ohm@kill_connector.kill_switch_side");
  REQUIRE(row.has_value());
  const auto& t = v->tests[static_cast<std::size_t>(*row)];
  REQUIRE(t.covers.size() == 1);
  CHECK(v->covers[static_cast<std::size_t>(t.covers[0])].id == "left_side_panel");
}

TEST_CASE("the switch leads of the trail bike meet in one splice", "[sources][unit]") {
  const auto v = sources::load_vehicle(real_folders(), "quillmarsh_trail_125");
  const auto splice = v->find_node("kill_splice.control_module_side");
  REQUIRE(splice.has_value());
  const auto at_splice = std::count_if(v->elements.begin(), v->elements.end(),
                                       [&](const model::Element& e) { return e.a == *splice || e.b == *splice; });
  CHECK(at_splice == 4);  // kill lead in, splice to the kill switch, key lead, tether lead
}

TEST_CASE("an unknown vehicle is told with the nearest name and the folders", "[sources][unit]") {
  CHECK_THROWS_WITH(sources::load_vehicle(real_folders(), "quillmarsh_trial_125"),
                    Catch::Contains("did you mean 'quillmarsh_trail_125'?") && Catch::Contains("networks"));
  CHECK_THROWS_WITH(sources::load_vehicle(real_folders(), "./nothing.toml"),
                    Catch::Contains("there is no such network file"));
}

TEST_CASE("all vehicles and families of the project are listed without a problem", "[sources][unit]") {
  std::vector<std::string> problems;
  const auto vehicles = sources::list_vehicles(real_folders(), problems);
  const auto families = sources::list_families(real_folders(), problems);
  CHECK(problems.empty());
  CHECK(std::any_of(vehicles.begin(), vehicles.end(), [](const auto& v) { return v.id == "quillmarsh_atv_pull"; }));
  CHECK(std::any_of(families.begin(), families.end(), [](const auto& f) { return f.id == "ac_cdi"; }));
}

TEST_CASE("the workshop compiled in is the demo's file", "[sources][unit]") {
  const auto file = std::filesystem::path(LOSTSPARK_SOURCE_DIR) / "networks/workshop.toml";
  CHECK(test::file_text(file) == sources::demo_workshop_text());
  const auto without_files = sources::default_workshop({});
  const auto from_file = sources::load_workshop(file);
  CHECK(without_files.instruments.size() == from_file.instruments.size());
  CHECK(without_files.find("peak_voltmeter", "volt")->floor == 0.5);
}

TEST_CASE("an ordinary multimeter cannot be declared a peak voltmeter", "[sources][unit]") {
  const auto file = std::filesystem::temp_directory_path() / "lostspark_workshop_test.toml";
  const auto write = [&](const std::string& text) {
    FILE* out = fopen(file.c_str(), "w");
    REQUIRE(out != nullptr);
    fputs(text.c_str(), out);
    fclose(out);
  };
  write(
      "format = 1\n[[instrument]]\nid = \"meter\"\nkind = \"peak_voltmeter\"\nunit = \"volt\"\nrise_time_second = "
      "0.1\n");
  CHECK_THROWS_WITH(sources::load_workshop(file), Catch::Contains("too slow for a peak voltmeter"));
  write(
      "format = 1\n[workshop]\nhelper = 1\nlabour_rate = 3\n[[instrument]]\nid = \"a\"\nkind = \"eyes\"\nunit = "
      "\"volts\"\n"
      "range = 1\nfloor = 2\n[[instrument]]\nid = \"a\"\nkind = \"eyes\"\nunit = \"word\"\n");
  try {
    (void)sources::load_workshop(file);
    FAIL("the mistakes were not seen");
  } catch (const InputError& error) {
    const std::string text = error.what();
    for (const char* part :
         {"workshop.helper: expected true or false", "labour_rate: unknown key; did you mean 'labour_rate_per_hour'",
          "unit: expected one of volt, ohm", "range: is not above the floor", "'a' is there already"})
      CHECK(text.find(part) != std::string::npos);
  }
  std::filesystem::remove(file);
  CHECK_THROWS_AS(sources::load_workshop(file), InputError);
}

TEST_CASE("folders come from the environment first, in order and once each", "[sources][unit]") {
  const std::string networks = std::string(LOSTSPARK_SOURCE_DIR) + "/networks";
  const char* before = std::getenv("LOSTSPARK_NETWORKS");
  const std::string kept = before == nullptr ? "" : before;
  setenv("LOSTSPARK_NETWORKS", (networks + "::/nonexistent:" + networks).c_str(), 1);
  const auto folders = sources::default_folders();
  if (before == nullptr)
    unsetenv("LOSTSPARK_NETWORKS");
  else
    setenv("LOSTSPARK_NETWORKS", kept.c_str(), 1);
  REQUIRE_FALSE(folders.networks.empty());
  CHECK(folders.networks.front() == std::filesystem::canonical(networks));
  CHECK(std::count(folders.networks.begin(), folders.networks.end(), folders.networks.front()) == 1);
  // The build tree has the shape of an install tree: plugins are found beside the program.
  const auto beside = std::filesystem::canonical(LOSTSPARK_PLUGIN_DIR);
  CHECK(std::count(folders.plugins.begin(), folders.plugins.end(), beside) == 1);
}
