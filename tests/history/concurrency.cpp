// Several processes on one file: no lost update, every conflict told, no id given twice.
#include <sys/wait.h>
#include <unistd.h>

#include <memory>
#include <set>

#include "catch_all.hpp"
#include "history_support.hpp"

using namespace lostspark;
using namespace lostspark::history;
using namespace lostspark::history::testing;

namespace {

/// Appends "name-i" whatever others do: reads again after each conflict. Gives the number of conflicts.
int append_stubbornly(Store& store, const std::string& job, const std::string& body) {
  for (int conflicts = 0;; ++conflicts) {
    try {
      store.append(job, static_cast<std::int64_t>(store.log(job).size()), {{0, "note", body, "t"}}, JobState::open);
      return conflicts;
    } catch (const ConflictError&) {
    }
  }
}

/// The bodies that one writer left in the log, in order.
std::vector<std::string> bodies_of(const std::vector<LogEntry>& log, char writer) {
  std::vector<std::string> bodies;
  for (const LogEntry& entry : log)
    if (entry.body.at(0) == writer) bodies.push_back(entry.body);
  return bodies;
}

}  // namespace

TEST_CASE("of two processes that have read the same log, one append succeeds and the other is told of the conflict",
          "[history][fault]") {
  ScratchFolder folder;
  const std::string path = folder.file("jobs.sqlite3");
  constexpr int k_rounds = 40;
  const std::string job = open_sqlite(path)->create_job(example_header());
  const auto terminal = [&](char name) {
    return [&, name](const Child::Say& say) {
      const auto store = open_sqlite(path);
      for (int round = 0; round < k_rounds; ++round) {
        const auto last = static_cast<std::int64_t>(store->log(job).size());
        say("read " + std::to_string(last));
        Child::hear();  // until both have read
        try {
          store->append(job, last, {{0, "note", name + std::to_string(round), "t"}}, JobState::open);
          say("saved");
        } catch (const ConflictError&) {
          say("conflict");
        }
        Child::hear();  // until both have tried
      }
    };
  };
  Child a(terminal('a'));
  Child b(terminal('b'));
  std::vector<std::string> expected;
  for (int round = 0; round < k_rounds; ++round) {
    const std::string read = "read " + std::to_string(round);
    REQUIRE(a.next_line() == read);
    REQUIRE(b.next_line() == read);
    a.tell('g');
    b.tell('g');
    const std::string from_a = a.next_line();
    const std::string from_b = b.next_line();
    REQUIRE(std::set<std::string>{from_a, from_b} == std::set<std::string>{"saved", "conflict"});
    expected.push_back((from_a == "saved" ? 'a' : 'b') + std::to_string(round));
    a.tell('g');
    b.tell('g');
  }
  REQUIRE(a.wait() == 0);
  REQUIRE(b.wait() == 0);
  std::vector<std::string> found;
  for (const LogEntry& entry : open_sqlite(path)->log(job)) found.push_back(entry.body);
  CHECK(found == expected);
}

TEST_CASE("processes that append as fast as they can lose nothing", "[history][fault]") {
  ScratchFolder folder;
  const std::string path = folder.file("jobs.sqlite3");
  constexpr int k_each = 60;
  const std::string job = open_sqlite(path)->create_job(example_header());
  const auto writer = [&](char name) {
    return [&, name](const Child::Say& say) {
      SqliteOptions options;
      options.busy_timeout_ms = 60000;  // a slow machine is no failure here
      options.checkpoint_pages = 20;    // so that checkpoints happen in the middle of it
      const auto store = open_sqlite(path, options);
      for (int i = 0; i < k_each; ++i) append_stubbornly(*store, job, name + std::to_string(i));
      say("done");
    };
  };
  Child a(writer('a'));
  Child b(writer('b'));
  Child c(writer('c'));
  CHECK(a.lines() == std::vector<std::string>{"done"});
  CHECK(b.lines() == std::vector<std::string>{"done"});
  CHECK(c.lines() == std::vector<std::string>{"done"});
  const std::vector<LogEntry> log = open_sqlite(path)->log(job);
  REQUIRE(log.size() == 3 * k_each);
  for (std::size_t i = 0; i < log.size(); ++i) REQUIRE(log[i].sequence == static_cast<std::int64_t>(i) + 1);
  for (const char name : {'a', 'b', 'c'}) {
    std::vector<std::string> expected;
    for (int i = 0; i < k_each; ++i) expected.push_back(name + std::to_string(i));
    CHECK(bodies_of(log, name) == expected);
  }
}

TEST_CASE("opening waits for a writer when the file has yet to be switched to write-ahead logging",
          "[history][fault]") {
  ScratchFolder folder;
  const std::string path = folder.file("jobs.sqlite3");
  static_cast<void>(open_sqlite(path)->create_job(example_header()));
  REQUIRE(RawDatabase(path).first("PRAGMA journal_mode = DELETE") == "delete");
  Child writer([&](const Child::Say& say) {
    const RawDatabase raw(path);
    say(raw.run("BEGIN IMMEDIATE") + "writing");
    Child::hear();
    usleep(150000);  // while the parent is opening; were it slower, the case would only prove less
    say(raw.run("COMMIT") + "done");
  });
  REQUIRE(writer.next_line() == "writing");
  SqliteOptions options;
  options.busy_timeout_ms = 20;
  CHECK(store_error_of([&] { static_cast<void>(open_sqlite(path, options)); }).find("locked by another program") !=
        std::string::npos);
  options.busy_timeout_ms = 60000;
  writer.tell('g');
  CHECK(open_sqlite(path, options)->jobs().size() == 1);
  CHECK(writer.next_line() == "done");
  CHECK(RawDatabase(path).first("PRAGMA journal_mode") == "wal");
}

TEST_CASE("processes that make the file and its jobs at the same moment share one file and no job id",
          "[history][fault]") {
  constexpr int k_terminals = 4;
  constexpr int k_each = 10;
  for (int round = 0; round < 5; ++round) {
    ScratchFolder folder;
    const std::string path = folder.file("jobs.sqlite3");
    std::vector<std::unique_ptr<Child>> terminals;
    for (int i = 0; i < k_terminals; ++i)
      terminals.push_back(std::make_unique<Child>([&](const Child::Say& say) {
        Child::hear();
        SqliteOptions options;
        options.busy_timeout_ms = 60000;
        const auto store = open_sqlite(path, options);
        for (int n = 0; n < k_each; ++n) say(store->create_job(example_header()));
      }));
    for (const auto& terminal : terminals) terminal->tell('g');
    std::set<std::string> ids;
    for (const auto& terminal : terminals)
      for (const std::string& id : terminal->lines()) {
        CAPTURE(id);
        CHECK(ids.insert(id).second);
      }
    CHECK(ids.size() == k_terminals * k_each);
    CHECK(*ids.begin() == "J0001");
    CHECK(*ids.rbegin() == "J0040");
  }
}
