// A shop's day from scripts, every command a program of its own, killed with -9 at random moments: an old store that
// comes forward, jobs, readings, repairs, closing, learning, sets, minutes, customers. Beside it the same day runs
// undisturbed. What a command acknowledged (exit code 0) is there afterwards; what was not is there whole or not at
// all; the technician looks, repeats what is missing, and at the end of the day both stores hold the same.
#include <fcntl.h>
#include <signal.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <chrono>
#include <cstdlib>
#include <map>
#include <nlohmann/json.hpp>
#include <random>
#include <regex>
#include <set>
#include <sstream>
#include <thread>

#include "catch_all.hpp"
#include "cli/program.hpp"
#include "history/schema.hpp"
#include "history/sqlite_handle.hpp"

using namespace lostspark;
using namespace lostspark::test;
using nlohmann::json;

namespace {

using Arguments = std::vector<std::string>;

constexpr const char* k_vehicle = "quillmarsh_trail_125";
constexpr const char* k_peak = "exciter_peak@control_module.source";
constexpr const char* k_ohm = "exciter_ohm@stator_connector.exciter_side";

/// J0001 stands in the store of schema 1 that the day begins with.
std::vector<Arguments> the_day() {
  std::vector<Arguments> day{
      {"job", "reading", "J0001", k_peak, "190"},
      {"baseline", "record", k_vehicle, k_peak, "201.5", "--individual", "blue"},
      {"baseline", "record", k_vehicle, k_ohm, "300", "--individual", "blue"},
      {"job", "open", "--vehicle", k_vehicle, "--complaint", "no_spark"},  // J0002
      {"data", "customer", "J0002", "--customer", "Ottilie Quennelworth", "--registration", "QM 77"},
      {"job", "reading", "J0002", k_peak, "60"},
      {"job", "took", "J0002", "14"},
      {"job", "reading", "J0002", k_ohm, "900"},
      {"job", "amend", "J0002", "LAST", "950"},
      {"job", "repaired", "J0002", "exciter.replace"},
      {"job", "took", "J0002", "41"},
      {"job", "reading", "J0002", k_peak, "198"},
      {"job", "check", "J0002", "passed"},
      {"job", "stop", "J0002", "kill_switch", "works"},
      {"job", "stop", "J0002", "key_switch", "works"},
      {"job", "stop", "J0002", "tether_switch", "works"},
      {"job", "close", "J0002", "fixed"},
      {"rates", "exposure", k_vehicle, "120", "--note", "spring"},
      {"rates", "apply", "noon"},
      {"job", "open", "--vehicle", k_vehicle, "--complaint", "no_spark", "--comeback-of", "J0002"},  // J0003
      {"job", "note", "J0003", "came back the same day"},
      {"job", "close", "J0003", "referred_on"},
      {"baseline", "strike", "1"},
      {"job", "close", "J0001", "not_ignition"},
      {"rates", "apply", "evening"},
      {"rates", "set-aside"},
      {"rates", "rollback"},
      {"data", "forget", "J0002"},
      {"rates", "show"},  // and what the kills kept from being learned
  };
  return day;
}

/// One store with what is done to it.
class Shop {
 public:
  explicit Shop(const Folder& folder, std::string store) : program_(folder), store_(std::move(store)) {}
  [[nodiscard]] const std::string& store() const { return store_; }

  Outcome run(Arguments arguments) const { return program_.run(with_store(std::move(arguments))); }
  json ask(Arguments arguments) const {
    arguments.emplace_back("--json");
    const auto outcome = run(std::move(arguments));
    INFO(outcome.out << outcome.err);
    REQUIRE(outcome.exit_code == 0);
    return json::parse(outcome.out);
  }
  /// Starts the command, kills it after `pause`. Exit code, or nothing when the kill came first.
  [[nodiscard]] std::optional<int> run_and_kill(Arguments arguments, std::chrono::microseconds pause) const {
    arguments = with_store(std::move(arguments));
    std::vector<char*> words{const_cast<char*>("lostspark")};
    for (auto& a : arguments) words.push_back(a.data());
    words.push_back(nullptr);
    const std::string path = program_path();
    const pid_t child = ::fork();
    REQUIRE(child >= 0);
    if (child == 0) {
      const int nothing = ::open("/dev/null", O_RDWR);
      for (int stream = 0; stream < 3; ++stream) ::dup2(nothing, stream);
      ::execv(path.c_str(), words.data());
      ::_exit(127);
    }
    std::this_thread::sleep_for(pause);
    ::kill(child, SIGKILL);
    int status = 0;
    REQUIRE(::waitpid(child, &status, 0) == child);
    if (WIFEXITED(status)) return WEXITSTATUS(status);
    return std::nullopt;
  }
  /// Rows by table, times of the clock blotted out, in the order of the export.
  [[nodiscard]] std::map<std::string, std::vector<std::string>> rows() const {
    const std::string file = store_ + ".jsonl";
    std::filesystem::remove(file);
    ask({"data", "export", file, "--with-customers"});
    std::map<std::string, std::vector<std::string>> out;
    std::istringstream lines(read_file(file));
    static const std::regex clock("20[0-9]{2}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}Z");
    for (std::string line; std::getline(lines, line);) {
      const auto j = json::parse(line);
      if (j.contains("table"))
        out[j["table"].get<std::string>()].push_back(std::regex_replace(j["row"].dump(), clock, "then"));
    }
    for (auto& [table, all] : out) std::sort(all.begin(), all.end());
    return out;
  }

 private:
  [[nodiscard]] Arguments with_store(Arguments arguments) const {
    arguments.insert(arguments.end(), {"--store", store_});
    return arguments;
  }
  Program program_;
  std::string store_;
};

using Rows = std::map<std::string, std::vector<std::string>>;

/// The store as the first version left it, with one real job: made by its own step, filled past the program.
void make_version_1(const Shop& scratch, const std::string& path) {
  scratch.ask({"job", "open", "--vehicle", k_vehicle, "--complaint", "no_spark"});
  const history::Connection old(path, "");
  old.execute("PRAGMA synchronous = FULL; PRAGMA journal_mode = WAL", "make");
  history::bring_up_to_date(old, history::schema_steps().first(1));
  old.execute("ATTACH '" + scratch.store() +
                  "' AS scratch; INSERT INTO jobs SELECT * FROM scratch.jobs; INSERT INTO entries SELECT * FROM "
                  "scratch.entries",
              "make");
}

/// Does every row of `part` stand in `whole`?
bool contains(const std::vector<std::string>& whole, const std::vector<std::string>& part) {
  return std::includes(whole.begin(), whole.end(), part.begin(), part.end());
}

/// What of a day's state a command writes first, in one transaction; the rest follows from it or is made up for later.
bool main_part_equal(const Rows& a, const Rows& b) {
  for (const char* table : {"jobs", "entries", "exposures", "rate_sets", "rate_events", "customers"}) {
    const auto x = a.find(table), y = b.find(table);
    if ((x == a.end() ? std::vector<std::string>{} : x->second) !=
        (y == b.end() ? std::vector<std::string>{} : y->second))
      return false;
  }
  // Readings taken over from a job at its closing are made up for by the next `rates`; recorded ones are not.
  const auto recorded = [](const Rows& rows) {
    std::vector<std::string> out;
    if (const auto found = rows.find("baselines"); found != rows.end())
      for (const auto& row : found->second)
        if (json::parse(row)["source"] != "job") out.push_back(row);
    return out;
  };
  return recorded(a) == recorded(b);
}

/// Number of the last reading: what `job amend` is about.
Arguments filled_in(const Shop& shop, Arguments arguments) {
  for (auto& word : arguments) {
    if (word != "LAST") continue;
    const json job = shop.ask({"job", "show", arguments[2]});
    for (const auto& line : job["history"])
      if (line["kind"] == "reading") word = std::to_string(line["sequence"].get<int>());
  }
  return arguments;
}

void kill_through_days(int kills) {
  std::uint64_t seed = 20260105;
  if (const char* given = std::getenv("LOSTSPARK_TEST_SEED")) seed = std::strtoull(given, nullptr, 10);
  CAPTURE(seed);
  std::mt19937_64 random(seed);
  const auto day = the_day();
  const Folder folder;
  const auto file = [&](const std::string& name) { return (folder.path() / name).string(); };
  make_version_1(Shop(folder, file("scratch.sqlite3")), file("version_1.sqlite3"));

  // The undisturbed day: the state after each command, and how long each took.
  std::filesystem::copy_file(file("version_1.sqlite3"), file("calm.sqlite3"));
  const Shop calm(folder, file("calm.sqlite3"));
  std::vector<Rows> after;
  std::vector<std::chrono::microseconds> took;
  for (const auto& command : day) {
    const auto arguments = filled_in(calm, command);
    const auto begin = std::chrono::steady_clock::now();
    const auto outcome = calm.run(arguments);
    took.push_back(std::chrono::duration_cast<std::chrono::microseconds>(std::chrono::steady_clock::now() - begin));
    CAPTURE(arguments, outcome.out, outcome.err);
    REQUIRE(outcome.exit_code == 0);
    after.push_back(calm.rows());
  }
  REQUIRE(after.back().at("step_minutes").size() == 2);
  REQUIRE(after.back().at("rate_sets").size() == 2);
  REQUIRE(after.back().at("cases").size() == 3);

  std::filesystem::copy_file(file("version_1.sqlite3"), file("start.sqlite3"));
  const Rows start = Shop(folder, file("start.sqlite3")).rows();

  int killed = 0, before_effect = 0, after_effect = 0, in_migration = 0;
  for (int number = 0; killed < kills; ++number) {
    const std::string store = file("day" + std::to_string(number) + ".sqlite3");
    std::filesystem::copy_file(file("version_1.sqlite3"), store);
    const Shop shop(folder, store);
    Rows known = start;  // what has been acknowledged, or looked at since
    for (std::size_t i = 0; i < day.size(); ++i) {
      bool done = false;
      // Two commands of five die once or more, the first (which brings the store forward) more often.
      while (!done && killed < kills && random() % 5 < (i == 0 ? 4U : 2U)) {
        const auto arguments = filled_in(shop, day[i]);
        const std::chrono::microseconds pause(
            static_cast<std::int64_t>(random() % static_cast<std::uint64_t>(took[i].count() * 5 / 4 + 1)));
        CAPTURE(number, i, arguments, pause.count());
        const auto ended = shop.run_and_kill(arguments, pause);
        killed += ended ? 0 : 1;
        if (ended) REQUIRE(*ended == 0);
        if (i == 0 && !ended && history::Connection(store, "").number("PRAGMA user_version", "look") == 1)
          ++in_migration;
        REQUIRE(shop.ask({"data", "check"})["sound"] == true);
        Rows now = shop.rows();
        done = main_part_equal(now, after[i]);
        if (ended) REQUIRE(done);  // it was acknowledged
        if (!ended) ++(done ? after_effect : before_effect);
        if (done && now["comebacks"] != Rows(after[i])["comebacks"]) {
          // The job was opened, the link to the first one not made: the technician says it again.
          REQUIRE_FALSE(ended);
          shop.ask({"job", "comeback", "J0003", "J0002"});
          now = shop.rows();
        }
        if (done) {
          // Nothing is there that does not belong there; what follows from closed jobs may come later.
          for (const auto& [table, rows] : now) {
            CAPTURE(table);
            CHECK(contains(Rows(after[i])[table], rows));
          }
        } else {
          CHECK(main_part_equal(now, known));
          for (const char* table : {"cases", "step_minutes", "vehicle_classes", "comebacks", "baselines"}) {
            CAPTURE(table);
            CHECK(contains(now[table], known[table]));
          }
        }
        known = now;
      }
      if (done) continue;
      const auto arguments = filled_in(shop, day[i]);
      const auto outcome = shop.run(arguments);
      CAPTURE(number, i, arguments, outcome.out, outcome.err);
      REQUIRE(outcome.exit_code == 0);
      known = shop.rows();
    }
    CHECK(known == after.back());
    std::filesystem::remove(store);
  }
  std::ostringstream told;
  told << killed << " kills: " << before_effect << " times the command had done nothing, " << after_effect
       << " times it was done; " << in_migration << " left the old schema; seed " << seed;
  WARN(told.str());
  CHECK(before_effect > 0);
}

}  // namespace

TEST_CASE("six commands of a day killed at random moments lose nothing acknowledged", "[cli][fault]") {
  kill_through_days(6);
}

TEST_CASE("200 commands of scripted days killed at random moments lose nothing acknowledged", "[cli][fault][slow]") {
  kill_through_days(200);
}
