#include "catch_all.hpp"
#include "cli/program.hpp"

#include <sqlite3.h>

#include <nlohmann/json.hpp>

using namespace lostspark::test;
using nlohmann::json;

namespace {

constexpr const char* k_vehicle = "quillmarsh_trail_125";
constexpr const char* k_test = "exciter_peak@control_module.source";

struct Row {
  std::vector<std::string> arguments;
  int exit_code;
  std::string told;  ///< must stand in the message
};

/// One message that begins with our name, nothing else on either stream.
void check_refused(const Program& program, const Row& row) {
  const auto outcome = program.run(row.arguments);
  std::string line;
  for (const auto& word : row.arguments) line += " " + word;
  CAPTURE(line, outcome.out, outcome.err);
  CHECK(outcome.exit_code == row.exit_code);
  CHECK(outcome.err.rfind("lostspark: ", 0) == 0);
  CHECK(line_count(outcome.err) == 1);
  CHECK(outcome.err.find(row.told) != std::string::npos);
  CHECK(outcome.out.empty());
}

/// A database handle of our own, to hold or damage the store behind the program's back.
class Database {
 public:
  explicit Database(const std::filesystem::path& file) {
    if (sqlite3_open(file.c_str(), &handle_) != SQLITE_OK) throw std::runtime_error("cannot open " + file.string());
  }
  ~Database() { sqlite3_close(handle_); }
  Database(const Database&) = delete;
  Database& operator=(const Database&) = delete;
  void run(const char* sql) {
    if (sqlite3_exec(handle_, sql, nullptr, nullptr, nullptr) != SQLITE_OK)
      throw std::runtime_error(sqlite3_errmsg(handle_));
  }
  /// The schema's version as the file tells it.
  [[nodiscard]] std::string version() {
    std::string told;
    const auto keep = [](void* to, int, char** values, char**) {
      *static_cast<std::string*>(to) = values[0];
      return 0;
    };
    if (sqlite3_exec(handle_, "PRAGMA user_version", keep, &told, nullptr) != SQLITE_OK)
      throw std::runtime_error(sqlite3_errmsg(handle_));
    return told;
  }

 private:
  sqlite3* handle_ = nullptr;
};

}  // namespace

TEST_CASE("every wrong word on the command line is one message with the right exit code", "[cli][fault]") {
  const Folder folder;
  const Program program(folder);
  REQUIRE(program.run({"job", "open", "--vehicle", k_vehicle, "--complaint", "no_spark"}).exit_code == 0);
  const std::vector<Row> rows{
      // unknown names, each with the nearest valid one
      {{"trace", "quillmarsh_trail_12"}, 1, k_vehicle},
      {{"vehicle", "show", "quillmarsh_trial_125"}, 1, k_vehicle},
      {{"job", "open", "--vehicle", k_vehicle, "--complaint", "no_sprak"}, 1, "no_spark"},
      {{"job", "open", "--vehicle", k_vehicle, "--complaint", "no_spark", "--replaced", "exiter"}, 1, "exciter"},
      {{"job", "show", "J0002"}, 1, "J0001"},
      {{"job", "reading", "J0001", "exciter_peak@control_module.sourc", "168"}, 1, k_test},
      {{"job", "why", "J0001", "plug_kilovolts"}, 1, "plug_kilovolt"},
      {{"job", "repaired", "J0001", "kill_switch.replac"}, 1, "kill_switch.replace"},
      {{"job", "stop", "J0001", "kil_switch", "works"}, 1, "kill_switch"},
      {{"job", "covers", "J0001", "--off", "seet"}, 1, "seat"},
      {{"job", "setup", "J0001", "kil_unplugged", "made"}, 1, "kill"},
      {{"family", "show", "ac_cdl"}, 1, "ac_cdi"},
      {{"trace", k_vehicle, "--play", "--fault", "kill_switch.stuck"}, 1, "kill_switch.stuck_to_ground"},
      {{"trace", k_vehicle, "--play", "--complaint", "nospark"}, 1, "no_spark"},
      // readings that cannot be
      {{"job", "reading", "J0001", k_test, "nan"}, 1, "not a number"},
      {{"job", "reading", "J0001", k_test, "-nan"}, 1, "not a number"},
      {{"job", "reading", "J0001", k_test, "-5"}, 1, "-5"},
      {{"job", "reading", "J0001", k_test, "168 ohm"}, 1, "V"},
      {{"job", "reading", "J0001", k_test, "168 kV"}, 1, "100 times"},
      {{"job", "reading", "J0001", k_test, "one hundred"}, 1, "expected"},
      {{"job", "reading", "J0001", k_test, ""}, 1, "expected"},
      {{"job", "reading", "J0001", "state_walk", "purple"}, 1, "expected"},
      {{"job", "amend", "J0001", "99", "168"}, 1, "99"},
      {{"job", "strike", "J0001", "99"}, 1, "99"},
      {{"job", "skip", "J0001", k_test, "tired"}, 1, "not_now"},
      {{"job", "check", "J0001", "perhaps"}, 1, "expected"},
      {{"job", "close", "J0001", "done"}, 1, "fixed"},
      {{"job", "wait", "J0001", "weather"}, 1, "customer"},
      {{"job", "held", "J0001", "cold"}, 1, "hot"},
      {{"job", "stop", "J0001", "kill_switch", "broken"}, 1, "works"},
      {{"family", "check", "/nowhere.so"}, 1, "/nowhere.so"},
      {{"workshop", "show", "--workshop", "/nowhere.toml"}, 1, "/nowhere.toml"},
      // the command line itself
      {{}, 2, "--help"},
      {{"job", "nex", "J0001"}, 2, "next"},
      {{"job", "reading", "J0001"}, 2, "--help"},
      {{"job", "next", "J0001", "--jsn"}, 2, "--help"},
      {{"job", "amend", "J0001", "two", "168"}, 2, "--help"},
      {{"vehicle", "draw", k_vehicle, "--as", "pdf"}, 2, "svg"},
      {{"trace"}, 2, "--job"},
      {{"trace", k_vehicle, "--fault", "kill_switch.stuck_to_ground"}, 2, "--play"},
      // the store
      {{"job", "list", "--store", "/nowhere/at/all.sqlite3"}, 3, "/nowhere/at/all.sqlite3"},
  };
  for (const Row& row : rows) check_refused(program, row);
  // None of it left a trace in the job.
  const json shown = json::parse(program.run({"job", "show", "J0001", "--json"}).out);
  for (const auto& line : shown["history"]) CHECK((line["kind"] == "opened" || line["kind"] == "intake"));
}

TEST_CASE("with --json an error is the one document on standard output", "[cli][unit]") {
  const Folder folder;
  for (const auto& [arguments, code, kind] : std::vector<std::tuple<std::vector<std::string>, int, std::string>>{
           {{"job", "show", "J0001", "--json"}, 1, "input"},
           {{"job", "shw", "--json"}, 2, "usage"},
           {{"job", "list", "--store", "/nowhere/x.sqlite3", "--json"}, 3, "store"}}) {
    const auto outcome = Program(folder).run(arguments);
    CAPTURE(outcome.out, outcome.err);
    CHECK(outcome.exit_code == code);
    const json error = json::parse(outcome.out)["error"];
    CHECK(error["exit_code"] == code);
    CHECK(error["kind"] == kind);
    CHECK("lostspark: " + error["message"].get<std::string>() + "\n" == outcome.err);
  }
}

TEST_CASE("a broken network file is told with file, line and every mistake; the others still work", "[cli][fault]") {
  const Folder folder;
  const std::string good = std::string(LOSTSPARK_SOURCE_DIR) + "/networks/";
  const auto networks = folder.path() / "networks";
  std::string text = read_file(good + k_vehicle + std::string(".toml"));
  write_file(networks / "sound.toml", read_file(good + "quillmarsh_atv_pull.toml"));
  write_file(networks / "broken.toml", "format = 1\nid = \"broken\"\ntitle = \"no end of string\n");
  const Program program = Program(folder).away_from_home().with("LOSTSPARK_NETWORKS", networks.string());
  const auto shown = program.run({"vehicle", "show", (networks / "broken.toml").string()});
  CHECK(shown.exit_code == 1);
  CHECK(shown.err.find("broken.toml:3") != std::string::npos);
  const auto listed = program.run({"vehicle", "list", "--json"});
  CHECK(listed.exit_code == 0);
  CHECK(json::parse(listed.out)["vehicles"].size() == 1);
  CHECK(listed.err.find("broken.toml") != std::string::npos);
  // Two mistakes of one file come in one message.
  const std::size_t at = text.find("family =");
  REQUIRE(at != std::string::npos);
  text.insert(at, "colour = \"red\"\nwheels = 2\n");
  write_file(networks / "two.toml", text);
  const auto two = program.run({"vehicle", "check", (networks / "two.toml").string()});
  CHECK(two.exit_code == 1);
  CHECK(two.err.find("colour") != std::string::npos);
  CHECK(two.err.find("wheels") != std::string::npos);
}

TEST_CASE("a job whose plugin is missing or another version is refused by name, and unharmed", "[cli][fault]") {
  const Folder folder;
  const Program program(folder);
  REQUIRE(program.run({"job", "open", "--vehicle", k_vehicle, "--complaint", "no_spark"}).exit_code == 0);
  const auto empty = folder.path() / "no_plugins";
  std::filesystem::create_directories(empty);
  const auto missing =
      Program(folder).away_from_home().with("LOSTSPARK_PLUGINS", empty.string()).run({"job", "next", "J0001"});
  CAPTURE(missing.err);
  CHECK(missing.exit_code == 3);
  CHECK(missing.err.find("ac_cdi") != std::string::npos);
  CHECK(line_count(missing.err) == 1);

  // The same plugin, calling itself another version.
  std::string library = read_file(std::string(LOSTSPARK_PLUGIN_DIR) + "/ac_cdi.so");
  const std::string version = json::parse(program.run({"family", "show", "ac_cdi", "--json"}).out)["family"]["version"];
  std::string other = version;
  other.back() = other.back() == '7' ? '8' : '7';
  std::size_t changed = 0;
  const std::string stored = version + '\0', wanted = other + '\0';
  for (std::size_t at = 0; (at = library.find(stored, at)) != std::string::npos; at += stored.size(), ++changed)
    library.replace(at, stored.size(), wanted);
  REQUIRE(changed >= 1);
  const auto plugins = folder.path() / "other_plugins";
  write_file(plugins / "ac_cdi.so", library);
  const auto refused = Program(folder).with("LOSTSPARK_PLUGINS", plugins.string()).run({"job", "next", "J0001"});
  CAPTURE(refused.err);
  CHECK(refused.exit_code == 3);
  CHECK(refused.err.find(version) != std::string::npos);
  CHECK(refused.err.find(other) != std::string::npos);
  CHECK(program.run({"job", "show", "J0001"}).exit_code == 0);
}

TEST_CASE("a store that is locked, corrupt, newer or no database is one message and exit code 3", "[cli][fault]") {
  const Folder folder;
  const Program program(folder);
  REQUIRE(program.run({"job", "open", "--vehicle", k_vehicle, "--complaint", "no_spark"}).exit_code == 0);
  const std::string test_before = program.run({"job", "show", "J0001"}).out;
  const auto refused = [&](const std::vector<std::string>& arguments, const std::string& told) {
    const auto outcome = program.run(arguments);
    CAPTURE(outcome.err, told);
    CHECK(outcome.exit_code == 3);
    CHECK(line_count(outcome.err) == 1);
    CHECK(outcome.err.find(told) != std::string::npos);
  };
  {
    Database other(program.store());
    other.run("BEGIN EXCLUSIVE");
    refused({"job", "note", "J0001", "hello"}, "jobs.sqlite3");
    other.run("ROLLBACK");
  }
  CHECK(program.run({"job", "show", "J0001"}).out == test_before);  // nothing lost, nothing added
  std::string present;
  {
    Database other(program.store());
    present = other.version();
    other.run("PRAGMA user_version = 999");
  }
  refused({"job", "list"}, "999");
  {
    Database other(program.store());
    other.run(("PRAGMA user_version = " + present).c_str());
  }
  CHECK(program.run({"job", "show", "J0001"}).out == test_before);
  write_file(folder.path() / "words.sqlite3", "This is a letter, not a database. It is long enough to be looked at.\n");
  refused({"job", "list", "--store", (folder.path() / "words.sqlite3").string()}, "words.sqlite3");
  std::string bytes = read_file(program.store());
  for (std::size_t at = 4096; at < bytes.size(); at += 7) bytes[at] = static_cast<char>(~bytes[at]);
  write_file(folder.path() / "torn.sqlite3", bytes);
  refused({"job", "list", "--store", (folder.path() / "torn.sqlite3").string()}, "torn.sqlite3");
}
