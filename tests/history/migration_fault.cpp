// A file of schema 1 comes forward while the power fails or the program is killed: every job is there afterwards, and
// so is everything the shop has learned that was acknowledged.
#include <sys/wait.h>
#include <unistd.h>

#include <chrono>
#include <csignal>
#include <thread>

#include "catch_all.hpp"
#include "history/knowledge.hpp"
#include "history/schema.hpp"
#include "history_support.hpp"
#include "support/lying_disk.hpp"

using namespace lostspark;
using namespace lostspark::history;
using namespace lostspark::history::testing;
using support::DiskEvent;
using support::LyingDisk;
using support::Unsynced;

namespace {

constexpr std::int64_t k_jobs = 3, k_entries = 4;

/// As the first version left it: made by its own step, a few jobs with entries. `vfs` "": the default disk.
void make_version_1(const std::string& path, const std::string& vfs) {
  const Connection old(path, vfs);
  old.execute("PRAGMA synchronous = FULL; PRAGMA journal_mode = WAL", "make");
  bring_up_to_date(old, schema_steps().first(1));
  for (std::int64_t j = 1; j <= k_jobs; ++j) {
    const std::string id = "J000" + std::to_string(j);
    const auto h = example_header();
    old.execute(
        "INSERT INTO jobs (number, id, vehicle, family, family_version, network_text, workshop_json, opened_at) "
        "VALUES (" +
            std::to_string(j) + ", '" + id + "', '" + h.vehicle + "', '" + h.family + "', '" + h.family_version +
            "', 'text', '{}', '" + h.opened_at + "')",
        "make");
    for (std::int64_t s = 1; s <= k_entries; ++s) {
      Statement insert(old, "INSERT INTO entries VALUES (?1, ?2, ?3, ?4, ?5)", "make");
      const auto e = example_entry(id, s);
      Statement::Run(insert, "make").bind(1, id).bind(2, s).bind(3, e.kind).bind(4, e.body).bind(5, e.at).finish();
    }
  }
}

Baseline reading(std::int64_t n) {
  Baseline b;
  b.vehicle = "quillmarsh_single";
  b.family = "ac_cdi";
  b.test = "peak@a";
  b.unit = "volt";
  b.value = 100.0 + static_cast<double>(n);
  b.read_at = "2026-02-01T10:00:00Z";
  return b;
}

Case closed(std::int64_t n) {
  Case c;
  c.job = "J" + std::to_string(n);
  c.family = "ac_cdi";
  c.vehicle = "quillmarsh_single";
  c.pattern = "a:0 b:" + std::to_string(n % 7);
  c.closed_at = "2026-02-01T11:00:00Z";
  return c;
}

/// One step of a shop's day after the migration: what it adds follows from its number.
void step(Store& store, std::int64_t n) {
  switch (n % 4) {
    case 0:
      store.knowledge().add_baselines({reading(n)});
      break;
    case 1:
      store.knowledge().put_case(closed(n), {{"quillmarsh_single", "ac_cdi", "a", 0.01}});
      break;
    case 2:
      store.knowledge().add_rate_set({"set" + std::to_string(n), "now", "", "{}"});
      break;
    default:
      store.knowledge().add_rate_event({"applied", "set" + std::to_string(n), "now"});
      break;
  }
}

/// How many steps the store holds, and whether they are the first ones without a gap; -1: they are not.
std::int64_t steps_in(const Store& store, Knowledge& k) {
  static_cast<void>(store);
  const auto readings = static_cast<std::int64_t>(k.baselines("").size());
  const auto cases = k.case_summary().cases;
  const auto sets = static_cast<std::int64_t>(k.rate_sets().size());
  const auto events = static_cast<std::int64_t>(k.rate_events().size());
  const std::int64_t n = readings + cases + sets + events;
  const auto share = [n](std::int64_t kind) { return (n + 3 - kind) / 4; };
  return readings == share(0) && cases == share(1) && sets == share(2) && events == share(3) ? n : -1;
}

/// "" when all is there: the jobs of version 1, and between `least` and `most` steps.
std::string judge(const std::string& path, std::int64_t least, std::int64_t most, bool knowledge_only = false) {
  try {
    const auto store = open_sqlite(path);
    if (!knowledge_only) {
      if (store->jobs().size() < k_jobs) return "a job is missing";
      for (std::int64_t j = 1; j <= k_jobs; ++j) {
        const std::string id = "J000" + std::to_string(j);
        if (store->log(id) != example_entries(id, 1, k_entries)) return "the log of " + id + " is not what was written";
      }
    }
    const auto steps = steps_in(*store, store->knowledge());
    if (steps < least || steps > most)
      return std::to_string(steps) + " steps are there, " + std::to_string(least) + " to " + std::to_string(most) +
             " expected";
    if (const auto check = RawDatabase(path).first("PRAGMA integrity_check"); check != "ok") return check;
    store->knowledge().add_baselines({reading(999)});  // it can still be written
    return "";
  } catch (const Error& error) {
    return error.what();
  }
}

void kill_many_times(int kills) {
  const std::uint64_t seed = test_seed("kill -9 in a migration");
  CAPTURE(seed);
  std::mt19937_64 random(seed);
  std::int64_t acknowledged_in_all = 0, killed_in_migration = 0;
  for (int round = 0; round < kills; ++round) {
    ScratchFolder folder;
    const std::string path = folder.file("jobs.sqlite3");
    make_version_1(path, "");
    // Opening and migrating are some forty events; about one kill in six falls into them.
    const int at_event = 1 + static_cast<int>(random() % 250);
    CAPTURE(round, at_event);
    Child child([&](const Child::Say& say) {
      LyingDisk disk;
      int events = 0;
      disk.before_event = [&] {
        if (++events == at_event) kill(getpid(), SIGKILL);
      };
      SqliteOptions options;
      options.vfs = disk.vfs();
      options.checkpoint_pages = 8;
      const auto store = open_sqlite(path, options);
      say("open");
      for (std::int64_t n = 0;; ++n) {
        step(*store, n);
        say(std::to_string(n + 1));
      }
    });
    std::int64_t steps = 0;
    bool opened = false;
    for (const auto& line : child.lines()) {
      if (line == "open")
        opened = true;
      else
        steps = std::stoll(line);
    }
    const int status = child.wait();
    REQUIRE(WIFSIGNALED(status));
    killed_in_migration += opened ? 0 : 1;
    acknowledged_in_all += steps;
    CHECK(judge(path, steps, steps + 1) == "");
  }
  CHECK(killed_in_migration > 0);
  CHECK(acknowledged_in_all > kills);
}

}  // namespace

TEST_CASE("a power cut at any moment of a migration, and of learning after it, loses nothing acknowledged",
          "[history][fault]") {
  const std::uint64_t seed = test_seed("power cut in a migration");
  CAPTURE(seed);
  ScratchFolder folder;
  const std::string path = folder.file("jobs.sqlite3");
  LyingDisk disk;
  make_version_1(path, disk.vfs());
  disk.mark("version 1");
  const std::size_t begin = disk.events().size();
  std::vector<std::size_t> acknowledged_at;
  {
    SqliteOptions options;
    options.vfs = disk.vfs();
    options.checkpoint_pages = 10;
    const auto store = open_sqlite(path, options);
    for (std::int64_t n = 0; n < 12; ++n) {
      step(*store, n);
      disk.mark("acknowledged");
      acknowledged_at.push_back(disk.events().size());
    }
  }
  REQUIRE(disk.events().size() > begin + 40);
  int images = 0;
  for (const Unsynced unsynced :
       {Unsynced::dropped, Unsynced::kept, Unsynced::log_kept, Unsynced::database_kept, Unsynced::scattered}) {
    std::int64_t steps = 0;
    for (std::size_t cut = begin; cut <= disk.events().size(); ++cut) {
      while (static_cast<std::size_t>(steps) < acknowledged_at.size() &&
             acknowledged_at[static_cast<std::size_t>(steps)] <= cut)
        ++steps;
      std::mt19937_64 random(seed + cut);
      ScratchFolder after;
      for (const auto& [name, bytes] : after_power_cut(disk.events(), cut, unsynced, random))
        write_bytes(after.file(name), bytes);
      CAPTURE(static_cast<int>(unsynced), cut, disk.events().size());
      CHECK(judge(after.file("jobs.sqlite3"), steps, steps + 1) == "");
      ++images;
    }
  }
  CHECK(images > 200);
}

TEST_CASE("25 programs killed while they migrate or learn leave every job and every acknowledged step",
          "[history][fault]") {
  kill_many_times(25);
}

TEST_CASE("200 programs killed while they migrate or learn leave every job and every acknowledged step",
          "[history][fault][slow]") {
  kill_many_times(200);
}

TEST_CASE("two terminals that learn at once lose no case and no reading", "[history][fault]") {
  ScratchFolder folder;
  const std::string path = folder.file("jobs.sqlite3");
  static_cast<void>(open_sqlite(path));
  const auto work = [&](std::int64_t from) {
    return [&path, from](const Child::Say& say) {
      const auto store = open_sqlite(path);
      for (std::int64_t n = from; n < from + 30; ++n) {
        store->knowledge().add_baselines({reading(n)});
        store->knowledge().put_case(closed(n), {});
      }
      say("done");
    };
  };
  Child first(work(1000)), second(work(2000));
  CHECK(first.next_line() == "done");
  CHECK(second.next_line() == "done");
  CHECK(first.wait() == 0);
  CHECK(second.wait() == 0);
  const auto store = open_sqlite(path);
  CHECK(store->knowledge().baselines("").size() == 60);
  CHECK(store->knowledge().case_summary().cases == 60);
}
