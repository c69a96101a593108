// Loading plugins: the honest one, and one for each kind of lie.
#include <algorithm>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <string>
#include <vector>

#include "base/error.hpp"
#include "catch_all.hpp"
#include "sources/family_instance.hpp"
#include "sources/library.hpp"
#include "sources/load.hpp"
#include "toy.hpp"

using namespace lostspark;
using test::bad_plugin;

namespace {

std::string refusal(const std::filesystem::path& file) {
  try {
    (void)sources::Library::open(file);
  } catch (const PluginError& error) {
    return error.what();
  }
  return "accepted";
}

// Asking the loader would load it; the kernel's list of mappings does not.
bool is_loaded(const std::filesystem::path& file) {
  std::ifstream maps("/proc/self/maps");
  for (std::string line; std::getline(maps, line);)
    if (line.ends_with(std::filesystem::canonical(file).string())) return true;
  return false;
}

bool contains(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

}  // namespace

TEST_CASE("an honest plugin passes every check", "[sources][unit]") {
  const auto problems = sources::check_family(test::toy_folders().plugins.front() / "toy.so");
  CAPTURE(problems);
  CHECK(problems.empty());
}

TEST_CASE("a library that cannot be a plugin is refused with file and cause", "[sources][fault]") {
  const auto [lie, cause] = GENERATE(table<std::string, std::string>(
      {{"lie_missing_symbol", "has no symbol 'lostspark_entry'"},
       {"lie_other_major", "was built for plugin interface version 8, this program has 1"},
       {"lie_truncated_entry", "its entry table is truncated"},
       {"lie_truncated_family", "its family table is truncated"},
       {"lie_no_interface", "does not offer the interface lostspark.family/1"},
       {"lie_null_function", "has a null function"},
       {"lie_bad_id", "the family id 'Toy Family' is not lower_snake_case"},
       {"throws_in_query", "query() threw an exception: thrown by query"}}));
  const auto message = refusal(bad_plugin(lie));
  CAPTURE(lie, message);
  CHECK(contains(message, lie + ".so"));
  CHECK(contains(message, cause));
  CHECK_FALSE(contains(message, "Illegal seek"));
}

TEST_CASE("a file that is no library, and none at all, are told apart", "[sources][fault]") {
  const auto text = std::filesystem::temp_directory_path() / "lostspark_not_a_library.so";
  std::ofstream(text) << "this is no library\n";
  CHECK(contains(refusal(text), "cannot be loaded as a shared library"));
  std::filesystem::remove(text);
  CHECK(contains(refusal(text), "there is no such file"));
}

TEST_CASE("what a plugin says is checked, and the lie is named", "[sources][fault]") {
  const auto [lie, cause] = GENERATE(table<std::string, std::string>(
      {{"lie_nan_typical", "parameter row 0: typical is not a finite number"},
       {"lie_nan_share", "mode row 0: share is not a finite number"},
       {"lie_negative_share", "mode 'source.open': share is -39, expected 0 to 1000"},
       {"lie_negative_spread", "parameter 'emf_volt': log_sd is -0.1, expected 0 to 5"},
       {"lie_visibility", "mode 'source.open': visible is 1.5, expected 0 to 1"},
       {"lie_probability", "finding of 'look': probability is 1.2, expected 0 to 1"},
       {"lie_duplicate_id", "component 'source' appears twice"},
       {"lie_unknown_terminal", "link 'source_lead': unknown terminal 'consumer.input'; did you mean 'consumer.in'?"},
       {"lie_unknown_repair", "mode 'source.open': unknown repair 'replaces'"},
       {"lie_unknown_parameter", "unknown parameter 'need_volts'; did you mean 'need_volt'?"},
       {"lie_unknown_caution", "test kind 'works': unknown caution 'S99'"},
       {"lie_terminals_first", "stage 'work': terminals must be its last inputs"},
       {"lie_option_default", "option 'mood': the default 'sour' does not fit: expected one of calm, merry"},
       {"lie_complaint_table", "complaint row 1: table is not a finite number"},
       {"lie_not_utf8", "mode row 0: title is not UTF-8"},
       {"lie_null_text", "mode row 0: title is a null pointer"},
       {"lie_endless_text", "mode row 0: title does not end within 4096 bytes"},
       {"lie_changing_count", "complaint table: count() changed between calls"},
       {"lie_negative_count", "complaint table: count() answers -3"},
       {"lie_failing_row", "stage row 0: row() failed: out of ideas"},
       {"lie_refuses", "refuses the options: the moon is in the wrong quarter"},
       {"lie_evaluate_fails", "evaluate() of stage 'work' failed: the consumer is on strike"},
       {"lie_evaluate_nan", "evaluate() of stage 'work' gave an output that is not a finite number"},
       {"lie_evaluate_lazy", "evaluate() of stage 'work' gave an output that is not a finite number"},
       {"lie_evaluate_moody", "output 'work.force' changes between calls with the same inputs"},
       {"lie_evaluate_negative", "output 'work.force' is -1e-09, but its logarithm is needed"},
       {"throws_in_create", "create() threw an exception: thrown by create"},
       {"throws_in_evaluate", "evaluate() of stage 'work' threw an exception: thrown by evaluate"}}));
  const auto problems = sources::check_family(bad_plugin(lie));
  CAPTURE(lie, problems);
  CHECK(std::any_of(problems.begin(), problems.end(), [&](const auto& p) { return contains(p, cause); }));
}

TEST_CASE("a lying plugin stops one vehicle with one sentence naming file and cause", "[sources][fault]") {
  auto folders = test::toy_folders();
  const auto own = std::filesystem::temp_directory_path() / "lostspark_lying_folder";
  std::filesystem::create_directories(own);
  std::filesystem::copy_file(bad_plugin("lie_negative_share"), own / "toy.so",
                             std::filesystem::copy_options::overwrite_existing);
  folders.plugins.insert(folders.plugins.begin(), own);
  std::string message;
  try {
    (void)sources::load_vehicle_text(folders, test::toy_network(), "toy.toml");
  } catch (const PluginError& error) {
    message = error.what();
  }
  std::filesystem::remove_all(own);
  CHECK(contains(message, "toy.so: mode 'source.open': share is -39"));
  CHECK_FALSE(contains(message, "\n"));
}

TEST_CASE("the host goes on with the other plugins of a folder", "[sources][fault]") {
  auto folders = test::toy_folders();
  folders.plugins.insert(folders.plugins.begin(), bad_plugin("").parent_path());
  std::vector<std::string> problems;
  const auto families = sources::list_families(folders, problems);
  CHECK(std::any_of(families.begin(), families.end(), [](const auto& f) { return f.id == "toy"; }));
  // Libraries that already fail at opening, one line each.
  CHECK(problems.size() == 8);
  for (const auto& problem : problems) CHECK_FALSE(contains(problem, "\n"));
}

TEST_CASE("copies of the tables outlive the library", "[sources][fault]") {
  const auto file = test::toy_folders().plugins.front() / "toy.so";
  std::vector<std::string> problems;
  sources::FamilyTables tables;
  {
    const auto library = sources::Library::open(file);
    const sources::Instance instance(library, {{"switches", "1"}});
    tables = instance.read_tables(problems);
    CHECK(is_loaded(file));
  }
  CHECK_FALSE(is_loaded(file));  // unloaded for good: pointers into it would now be wild
  CHECK(problems.empty());
  REQUIRE(tables.modes.size() == 6);
  CHECK(tables.modes.front().how_it_fails == "the wire is broken");
  CHECK(tables.complaints.front().by_group.front() == std::pair<std::string, double>{"FUE", 0.1});
}

TEST_CASE("a vehicle keeps its plugin loaded and lets it go with the last copy", "[sources][fault]") {
  const auto file = test::toy_folders().plugins.front() / "toy.so";
  auto vehicle = test::load_toy(test::toy_network());
  auto physics = vehicle->physics;
  const std::string title = vehicle->title;
  vehicle.reset();
  REQUIRE(is_loaded(file));
  const double in[] = {60, 120};
  double out[2];
  physics->evaluate(0, 1, in, out);
  CHECK(out[1] == Approx(std::log(2.0)));
  physics.reset();
  CHECK_FALSE(is_loaded(file));
  CHECK(title == "toy bench");
}

TEST_CASE("stage physics refuses what the plugin must not answer", "[sources][fault]") {
  const auto library = sources::Library::open(bad_plugin("lie_evaluate_nan"));
  const sources::Instance instance(library, {});
  const double in[] = {60, 200};
  double out[2];
  CHECK_THROWS_AS(instance.evaluate(0, "work", 1, in, out), PluginError);
  CHECK_THROWS_WITH(instance.evaluate(4, "other", 1, in, out),
                    Catch::Contains("evaluate() of stage 'other' failed: no such stage"));
}

TEST_CASE("entry symbols of two plugins do not mix", "[sources][fault]") {
  const auto a = sources::Library::open(test::toy_folders().plugins.front() / "toy.so");
  const auto b = sources::Library::open(bad_plugin("throws_in_evaluate"));
  CHECK(a->id() == "toy");
  CHECK(b->id() == "rude");
  CHECK(a->version() == "0.9.1");
}
