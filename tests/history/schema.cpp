// The schema: what it forbids by itself, how an older file comes forward, which files are refused.
#include "history/schema.hpp"

#include "catch_all.hpp"
#include "history/knowledge.hpp"
#include "history_support.hpp"

using namespace lostspark;
using namespace lostspark::history;
using namespace lostspark::history::testing;

namespace {

/// Versions that do not exist: the real ones, then an added column, then an added table filled from the old ones.
const std::vector<std::string_view> k_future = [] {
  std::vector<std::string_view> steps(schema_steps().begin(), schema_steps().end());
  steps.emplace_back("ALTER TABLE jobs ADD COLUMN bay TEXT NOT NULL DEFAULT 'none'");
  steps.emplace_back(
      "CREATE TABLE visits (job TEXT PRIMARY KEY, entries INTEGER); "
      "INSERT INTO visits SELECT id, (SELECT count(*) FROM entries WHERE job = id) FROM jobs");
  return steps;
}();
const auto k_present = static_cast<std::int64_t>(schema_steps().size());
const auto k_later = static_cast<std::int64_t>(k_future.size());

Contents filled(const std::string& path) {
  const auto store = open_sqlite(path);
  const std::string job = store->create_job(example_header());
  store->append(job, 0, example_entries(job, 1, 7), JobState::waiting_for_part);
  store->create_job(example_header("quillmarsh_twin"));
  return contents_of(*store);
}

}  // namespace

TEST_CASE("a new file carries our application id and schema version 4", "[history][unit]") {
  ScratchFolder folder;
  static_cast<void>(open_sqlite(folder.file("jobs.sqlite3")));
  const RawDatabase raw(folder.file("jobs.sqlite3"));
  CHECK(raw.first("PRAGMA application_id") == std::to_string(0x4C53504B));
  CHECK(raw.first("PRAGMA user_version") == "4");
  CHECK(raw.first("PRAGMA journal_mode") == "wal");
}

TEST_CASE("the database itself refuses to change, delete, skip or orphan what was written", "[history][unit]") {
  ScratchFolder folder;
  const Contents before = filled(folder.file("jobs.sqlite3"));
  {
    const RawDatabase raw(folder.file("jobs.sqlite3"));
    CHECK(raw.run("UPDATE entries SET body = '' WHERE sequence = 1") ==
          "an entry is never changed, append a correction");
    CHECK(raw.run("DELETE FROM entries WHERE sequence = 7") == "an entry is never deleted, append a correction");
    CHECK(raw.run("INSERT INTO entries VALUES ('J0001', 9, '', '', '')") ==
          "the entries of a job are numbered 1, 2, ... without gaps");
    CHECK(raw.run("INSERT INTO entries VALUES ('J0002', 0, '', '', '')") ==
          "the entries of a job are numbered 1, 2, ... without gaps");
    CHECK(raw.run("PRAGMA foreign_keys = ON; INSERT INTO entries VALUES ('J0077', 1, '', '', '')") ==
          "FOREIGN KEY constraint failed");
    CHECK(raw.run("UPDATE jobs SET network_text = ''") == "only the state of a job changes");
    CHECK(raw.run("UPDATE jobs SET state = 'lost'") ==
          "CHECK constraint failed: state IN ('open', 'waiting_for_part', 'waiting_for_customer', 'closed')");
    CHECK(raw.run("DELETE FROM jobs WHERE id = 'J0002'") == "a job is never deleted");
  }
  CHECK(contents_of(*open_sqlite(folder.file("jobs.sqlite3"))) == before);
}

TEST_CASE("a file comes forward over several versions with all its entries", "[history][unit]") {
  ScratchFolder folder;
  const std::string path = folder.file("jobs.sqlite3");
  const Contents before = filled(path);
  const Connection connection(path, "");
  REQUIRE(schema_version(connection, k_later) == k_present);
  bring_up_to_date(connection, k_future);
  CHECK(schema_version(connection, k_later) == k_later);
  CHECK(connection.text("SELECT bay FROM jobs WHERE id = 'J0001'", "test") == "none");
  CHECK(connection.number("SELECT entries FROM visits WHERE job = 'J0001'", "test") == 7);
  CHECK(connection.number("SELECT count(*) FROM entries", "test") == 7);
  CHECK(connection.text("SELECT body FROM entries WHERE sequence = 7", "test") == before.logs.at("J0001").at(6).body);
  bring_up_to_date(connection, k_future);  // again: nothing left to do
  CHECK(schema_version(connection, k_later) == k_later);
}

TEST_CASE("a file of every earlier version opens as the present one with all it held", "[history][unit]") {
  for (std::size_t version = 1; version < schema_steps().size(); ++version) {
    CAPTURE(version);
    ScratchFolder folder;
    const std::string path = folder.file("jobs.sqlite3");
    {
      // As that version left it: made by its own steps, then filled past the store.
      const Connection old(path, "");
      bring_up_to_date(old, schema_steps().first(version));
      const auto h = example_header();
      old.execute(
          "INSERT INTO jobs (number, id, vehicle, family, family_version, network_text, workshop_json, opened_at, "
          "state) VALUES (1, 'J0001', '" +
              h.vehicle + "', '" + h.family + "', '1', 'text', '{}', '" + h.opened_at + "', 'closed')",
          "fill");
      for (int i = 1; i <= 5; ++i)
        old.execute("INSERT INTO entries VALUES ('J0001', " + std::to_string(i) + ", 'note', '{}', 'then')", "fill");
      for (int i = 1; i <= 4 && version >= 2; ++i)  // cases came with version 2; the fourth came back
        old.execute(
            "INSERT INTO cases (shop, job, family, vehicle, pattern, confirmed, faults, for_nothing, closed_at, "
            "entries, superseded) VALUES ('', 'J000" +
                std::to_string(i) + "', 'f', 'v', '" + (i == 1 ? "a:0" : "b:0") + "', '', '', '', '', 1, " +
                (i == 4 ? "1" : "0") + ")",
            "fill");
    }
    const auto store = open_sqlite(path);
    CHECK(store->log("J0001").size() == 5);
    REQUIRE(store->jobs().size() == 1);
    CHECK(store->jobs()[0].state == JobState::closed);
    store->append("J0001", 5, example_entries("J0001", 6, 1), JobState::open);
    CHECK(store->knowledge().baselines("").empty());
    CHECK(store->knowledge().case_summary().cases == (version >= 2 ? 4 : 0));
    std::string counts;
    store->knowledge().each_pattern([&](const PatternCount& g) {
      counts += g.family + g.vehicle + g.pattern + "=" + std::to_string(g.jobs) + " ";
    });
    CHECK(counts == (version >= 2 ? "fva:0=1 fvb:0=2 " : ""));
    const RawDatabase raw(path);
    CHECK(raw.first("PRAGMA user_version") == std::to_string(schema_steps().size()));
    CHECK(raw.first("PRAGMA integrity_check") == "ok");
    // The same tables as a file that began with the present version.
    static_cast<void>(open_sqlite(folder.file("new.sqlite3")));
    const std::string tables = "SELECT group_concat(sql, ';') FROM (SELECT sql FROM sqlite_schema ORDER BY name)";
    CHECK(raw.first(tables) == RawDatabase(folder.file("new.sqlite3")).first(tables));
  }
}

TEST_CASE("a step that fails leaves the old version and its data, and the message names the step", "[history][fault]") {
  ScratchFolder folder;
  const std::string path = folder.file("jobs.sqlite3");
  const Contents before = filled(path);
  {
    std::vector<std::string_view> steps = k_future;
    steps.back() = "CREATE TABLE visits (job TEXT); INSERT INTO nowhere VALUES (1)";
    const Connection connection(path, "");
    const std::string message = store_error_of([&] { bring_up_to_date(connection, steps); });
    CAPTURE(message);
    CHECK(message.find("schema version " + std::to_string(k_later)) != std::string::npos);
    CHECK(message.find(path) != std::string::npos);
    CHECK(message.find("nowhere") != std::string::npos);
    CHECK(schema_version(connection, k_later) == k_present);
    CHECK(connection.number("SELECT count(*) FROM sqlite_schema WHERE name = 'visits'", "test") == 0);
  }
  CHECK(contents_of(*open_sqlite(path)) == before);
}

TEST_CASE("two programs that open an old file at once migrate it once", "[history][fault]") {
  for (int round = 0; round < 10; ++round) {
    ScratchFolder folder;
    const std::string path = folder.file("jobs.sqlite3");
    static_cast<void>(filled(path));
    const auto migrate = [&](const Child::Say& say) {
      const Connection connection(path, "");
      sqlite3_busy_timeout(connection.raw(), 10000);
      say("ready");
      Child::hear();
      bring_up_to_date(connection, k_future);
      say("version " + std::to_string(schema_version(connection, k_later)));
    };
    Child first(migrate);
    Child second(migrate);
    REQUIRE(first.next_line() == "ready");
    REQUIRE(second.next_line() == "ready");
    first.tell('g');
    second.tell('g');
    CHECK(first.next_line() == "version " + std::to_string(k_later));
    CHECK(second.next_line() == "version " + std::to_string(k_later));
    CHECK(first.wait() == 0);
    CHECK(second.wait() == 0);
    CHECK(RawDatabase(path).first("SELECT count(*) FROM visits") == "2");
  }
}

TEST_CASE("a file of a newer version is refused with both numbers and left as it is", "[history][fault]") {
  ScratchFolder folder;
  const std::string path = folder.file("jobs.sqlite3");
  static_cast<void>(filled(path));
  bring_up_to_date(Connection(path, ""), k_future);
  const std::string before = bytes_of(path);
  CHECK(store_error_of([&] { static_cast<void>(open_sqlite(path)); }) ==
        "cannot open the job store " + path + ": it has schema version " + std::to_string(k_later) +
            ", written by a newer lostspark; this one knows versions up to " + std::to_string(k_present) +
            "; install the newer lostspark, or use another store file");
  CHECK(bytes_of(path) == before);
}

TEST_CASE("a database of another program is refused and left as it is", "[history][fault]") {
  ScratchFolder folder;
  const std::string path = folder.file("ledger.sqlite3");
  // A table only; another application id only; our own version number without our id.
  const std::string sql = GENERATE(std::string("CREATE TABLE bills (amount)"), std::string("PRAGMA application_id = 7"),
                                   std::string("PRAGMA user_version = 1"),
                                   std::string("PRAGMA application_id = 0x4C53504B; CREATE TABLE bills (amount)"));
  CAPTURE(sql);
  REQUIRE(RawDatabase(path).run(sql) == "");
  const std::string before = bytes_of(path);
  CHECK(store_error_of([&] { static_cast<void>(open_sqlite(path)); }) ==
        "cannot open the job store " + path +
            ": it is a database of another program; name another file; this one was left as it is");
  CHECK(bytes_of(path) == before);
}
