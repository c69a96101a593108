// kill -9 at random moments: what append() and create_job() have returned from is there afterwards.
#include <sys/wait.h>
#include <unistd.h>

#include <chrono>
#include <csignal>
#include <sstream>
#include <thread>

#include "catch_all.hpp"
#include "history_support.hpp"
#include "support/lying_disk.hpp"

using namespace lostspark;
using namespace lostspark::history;
using namespace lostspark::history::testing;

namespace {

constexpr std::int64_t k_largest_batch = 3;

/// The child: appends for ever to the newest job, opens another now and then, and says so after each return.
void work_until_killed(const std::string& path, std::uint64_t seed, int kill_at_event, const Child::Say& say) {
  std::mt19937_64 random(seed);
  support::LyingDisk disk;
  int events = 0;
  if (kill_at_event > 0)
    disk.before_event = [&] {
      if (++events == kill_at_event) kill(getpid(), SIGKILL);
    };
  SqliteOptions options;
  options.vfs = disk.vfs();
  options.checkpoint_pages = 8;  // so that kills fall into checkpoints too
  const auto store = open_sqlite(path, options);
  std::string job = store->jobs().empty() ? "" : store->jobs().back().header.id;
  for (;;) {
    if (job.empty() || random() % 10 == 0) {
      job = store->create_job(example_header());
      say(job + " 0");
    }
    const auto last = static_cast<std::int64_t>(store->log(job).size());
    const auto count = static_cast<std::int64_t>(random() % k_largest_batch) + 1;
    store->append(job, last, example_entries(job, last + 1, count), JobState::open);
    say(job + " " + std::to_string(last + count));
  }
}

/// What the dead child has acknowledged, job by job.
void read_acknowledgements(Child& child, std::map<std::string, std::int64_t>& acknowledged) {
  for (const std::string& line : child.lines()) {
    CAPTURE(line);
    REQUIRE(line.substr(0, 1) == "J");
    std::istringstream words(line);
    std::string job;
    std::int64_t last = -1;
    words >> job >> last;
    acknowledged[job] = last;
  }
}

void check_all_there(const std::string& path, const std::map<std::string, std::int64_t>& acknowledged) {
  const auto store = open_sqlite(path);
  std::int64_t more = 0;
  for (const auto& [job, last] : acknowledged) {
    const std::vector<LogEntry> log = store->log(job);
    CAPTURE(job, last, log.size());
    REQUIRE(store->header(job).has_value());
    const auto size = static_cast<std::int64_t>(log.size());
    REQUIRE(size >= last);
    more += size - last;
    REQUIRE(log == example_entries(job, 1, size));
  }
  // Beyond that at most the one batch that was being written, whole, perhaps in a job that was not acknowledged yet.
  REQUIRE(more <= k_largest_batch);
  REQUIRE(store->jobs().size() <= acknowledged.size() + 1);
  REQUIRE(RawDatabase(path).first("PRAGMA integrity_check") == "ok");
}

void kill_many_times(int kills) {
  const std::uint64_t seed = test_seed("kill -9");
  CAPTURE(seed);
  std::mt19937_64 random(seed);
  ScratchFolder folder;
  const std::string path = folder.file("jobs.sqlite3");
  std::map<std::string, std::int64_t> acknowledged;
  for (int round = 0; round < kills; ++round) {
    // By turns at a random moment, and just before a random write, sync, creation or removal.
    const int at_event = round % 2 == 0 ? 0 : 1 + static_cast<int>(random() % 300);
    const auto pause = std::chrono::microseconds(random() % 60000);
    const std::uint64_t child_seed = random();
    CAPTURE(round, at_event, pause.count());
    Child child([&](const Child::Say& say) { work_until_killed(path, child_seed, at_event, say); });
    if (at_event == 0) {
      std::this_thread::sleep_for(pause);
      child.kill_now();
    }
    read_acknowledgements(child, acknowledged);
    const int status = child.wait();
    REQUIRE(WIFSIGNALED(status));
    REQUIRE(WTERMSIG(status) == SIGKILL);
    check_all_there(path, acknowledged);
    for (const JobSummary& job : open_sqlite(path)->jobs()) acknowledged[job.header.id] = job.entries;
  }
  std::int64_t total = 0;
  for (const auto& [job, last] : acknowledged) total += last;
  CHECK(total > kills);  // the children did get to write
}

}  // namespace

TEST_CASE("25 killed programs leave every acknowledged entry and a sound file", "[history][fault]") {
  kill_many_times(25);
}

TEST_CASE("200 killed programs leave every acknowledged entry and a sound file", "[history][fault][slow]") {
  kill_many_times(200);
}
