// The disk fills up or fails at any write: nothing acknowledged is lost, nothing half is left, one message says why.
#include <sys/resource.h>

#include <algorithm>
#include <csignal>

#include "catch_all.hpp"
#include "history_support.hpp"
#include "support/lying_disk.hpp"

using namespace lostspark;
using namespace lostspark::history;
using namespace lostspark::history::testing;

namespace {

const std::string k_full =
    ": the disk is full, or a quota or file size limit is reached; free some space and enter it again, nothing of it "
    "was "
    "saved";

/// Opens, creates a job, appends; stops at the first error. Gives what was acknowledged and the error.
struct Attempt {
  std::int64_t acknowledged = -1;  ///< -1: not even the job
  std::string error = "(nothing thrown)";
};
Attempt attempt(const std::string& path, const SqliteOptions& options) {
  Attempt result;
  result.error = store_error_of([&] {
    const auto store = open_sqlite(path, options);
    const std::string job = store->create_job(example_header());
    result.acknowledged = 0;
    for (std::int64_t last = 0; last < 6; last += 2) {
      store->append(job, last, example_entries(job, last + 1, 2), JobState::open);
      result.acknowledged = last + 2;
    }
  });
  return result;
}

}  // namespace

TEST_CASE("a disk that fills up at any write says so and loses nothing that was acknowledged", "[history][fault]") {
  bool finished = false;
  int failures = 0;
  for (int room = 0; !finished; ++room) {
    CAPTURE(room);
    REQUIRE(room < 400);
    ScratchFolder folder;
    const std::string path = folder.file("jobs.sqlite3");
    support::LyingDisk disk;
    SqliteOptions options;
    options.vfs = disk.vfs();
    options.checkpoint_pages = 6;
    disk.faults.writes_until_full = room;
    const Attempt result = attempt(path, options);
    finished = result.acknowledged == 6;
    if (!finished) {
      ++failures;
      CAPTURE(result.error);
      CHECK((result.error == "cannot open the job store " + path + k_full ||
             result.error == "cannot save to the job store " + path + k_full ||
             result.error == "cannot bring to schema version 1 the job store " + path + k_full));
    }
    disk.faults = {};  // space was made
    const auto store = open_sqlite(path, options);
    const std::string job = result.acknowledged < 0 ? store->create_job(example_header()) : "J0001";
    const std::int64_t last = std::max<std::int64_t>(result.acknowledged, 0);
    CHECK(store->jobs().size() == 1);
    CHECK(store->log(job) == example_entries(job, 1, last));
    store->append(job, last, example_entries(job, last + 1, 1), JobState::closed);
    CHECK(store->log(job) == example_entries(job, 1, last + 1));
  }
  CHECK(failures > 10);
}

TEST_CASE("the store goes on where it stood when space is made without closing it", "[history][fault]") {
  ScratchFolder folder;
  support::LyingDisk disk;
  SqliteOptions options;
  options.vfs = disk.vfs();
  const auto store = open_sqlite(folder.file("jobs.sqlite3"), options);
  const std::string job = store->create_job(example_header());
  store->append(job, 0, example_entries(job, 1, 3), JobState::open);
  const Contents before = contents_of(*store);
  disk.faults.writes_until_full = 1;
  CHECK(store_error_of([&] { store->append(job, 3, example_entries(job, 4, 3), JobState::closed); }) ==
        "cannot save to the job store " + folder.file("jobs.sqlite3") + k_full);
  CHECK(contents_of(*store) == before);
  disk.faults = {};
  store->append(job, 3, example_entries(job, 4, 3), JobState::closed);
  CHECK(store->log(job) == example_entries(job, 1, 6));
}

TEST_CASE("a file that may not grow any more is called a full disk by the system's own limit", "[history][fault]") {
  ScratchFolder folder;
  const std::string path = folder.file("jobs.sqlite3");
  Child child([&](const Child::Say& say) {
    // Beyond the limit the system sends a signal, and without it EFBIG, which SQLite reports as an input/output error.
    std::signal(SIGXFSZ, SIG_IGN);
    const rlimit limit{200000, 200000};  // the tables of a new store take half of it
    if (setrlimit(RLIMIT_FSIZE, &limit) != 0) throw std::runtime_error("cannot set the limit");
    std::int64_t acknowledged = 0;
    const std::string error = store_error_of([&] {
      const auto store = open_sqlite(path);
      const std::string job = store->create_job(example_header());
      for (; acknowledged < 1000; ++acknowledged)
        store->append(job, acknowledged, example_entries(job, acknowledged + 1, 1), JobState::open);
    });
    say(error);
    say(std::to_string(acknowledged));
  });
  CHECK(child.next_line() == "cannot save to the job store " + path + k_full);
  const std::string acknowledged = child.next_line();
  static_cast<void>(child.wait());
  const std::int64_t last = std::stoll(acknowledged);
  CHECK(last > 0);
  CHECK(last < 1000);
  CHECK(open_sqlite(path)->log("J0001") == example_entries("J0001", 1, last));
}

TEST_CASE("an entry whose sync fails is not acknowledged", "[history][fault]") {
  ScratchFolder folder;
  support::LyingDisk disk;
  SqliteOptions options;
  options.vfs = disk.vfs();
  const auto store = open_sqlite(folder.file("jobs.sqlite3"), options);
  const std::string job = store->create_job(example_header());
  disk.faults.sync_fails = true;
  const std::string message =
      store_error_of([&] { store->append(job, 0, example_entries(job, 1, 1), JobState::open); });
  CAPTURE(message);
  CHECK(message.find("cannot save to the job store " + folder.file("jobs.sqlite3") + ": the disk reported an error") ==
        0);
  CHECK(store->log(job).empty());
  disk.faults = {};
  store->append(job, 0, example_entries(job, 1, 2), JobState::open);
  CHECK(store->log(job) == example_entries(job, 1, 2));
}
