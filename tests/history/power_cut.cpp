// The power fails after every single write of a short job: what was acknowledged is on the disk, and the file is sound.
#include <optional>

#include "catch_all.hpp"
#include "history_support.hpp"
#include "support/lying_disk.hpp"

using namespace lostspark;
using namespace lostspark::history;
using namespace lostspark::history::testing;
using support::DiskEvent;
using support::LyingDisk;
using support::Unsynced;

namespace {

/// A short job on a recording disk: `states[k]` is what the store holds after its k-th acknowledgement, and
/// `acknowledged_at[k]` the number of disk events by then. State 0 is the empty store, acknowledged before anything.
struct Recording {
  LyingDisk disk;
  std::vector<Contents> states{{}};
  std::vector<std::size_t> acknowledged_at{0};

  void acknowledge(const Store& store) {
    disk.mark("acknowledged");
    acknowledged_at.push_back(disk.events().size());
    states.push_back(contents_of(store));
  }
};

void record_short_job(Recording& recording, const std::string& path, bool synchronous_full) {
  SqliteOptions options;
  options.vfs = recording.disk.vfs();
  options.synchronous_full = synchronous_full;
  options.checkpoint_pages = 10;  // checkpoints, and a log that starts over, within a few entries
  std::string job;
  {
    const auto store = open_sqlite(path, options);
    job = store->create_job(example_header());
    recording.acknowledge(*store);
    for (std::int64_t last = 0; last < 4; ++last) {
      store->append(job, last, example_entries(job, last + 1, 1), JobState::open);
      recording.acknowledge(*store);
    }
    store->append(job, 4, example_entries(job, 5, 3), JobState::waiting_for_part);
    recording.acknowledge(*store);
    store->append(job, 7, {}, JobState::open);
    recording.acknowledge(*store);
  }  // closed: the log is moved into the file and removed
  const auto store = open_sqlite(path, options);
  const std::string second = store->create_job(example_header("quillmarsh_twin"));
  recording.acknowledge(*store);
  store->append(second, 0, example_entries(second, 23, 1), JobState::closed);  // a body over several pages
  recording.acknowledge(*store);
  for (std::int64_t last = 7; last < 12; ++last) {
    store->append(job, last, example_entries(job, last + 1, 1), JobState::closed);
    recording.acknowledge(*store);
  }
}

struct Verdict {
  int images = 0;
  int lost = 0;     ///< an acknowledged state is not there, or the store does not open
  int damaged = 0;  ///< integrity_check is not content, or the store cannot be written afterwards
  std::string first_complaint;
};

void complain(Verdict& verdict, int& counter, const std::string& what) {
  ++counter;
  if (verdict.first_complaint.empty()) verdict.first_complaint = what;
}

/// Lays the image into an empty folder and opens it as after a reboot.
void judge(Verdict& verdict, const support::DiskImage& image, const Recording& recording, std::size_t k,
           const std::string& where) {
  ++verdict.images;
  ScratchFolder folder;
  for (const auto& [name, bytes] : image) write_bytes(folder.file(name), bytes);
  const std::string path = folder.file("jobs.sqlite3");
  SqliteOptions options;
  options.synchronous_full = false;  // this copy need not survive another cut: saves time
  try {
    const auto store = open_sqlite(path, options);
    const Contents found = contents_of(*store);
    // The acknowledged state, or the one that was just being written; never anything between or beside them.
    const bool next = k + 1 < recording.states.size() && found == recording.states[k + 1];
    if (found != recording.states[k] && !next)
      complain(verdict, verdict.lost, where + ": the store holds neither the acknowledged state nor the next");
    if (const std::string check = RawDatabase(path).first("PRAGMA integrity_check"); check != "ok")
      complain(verdict, verdict.damaged, where + ": " + check);
    const std::string id = store->create_job(example_header());
    store->append(id, 0, example_entries(id, 1, 1), JobState::open);
    if (store->log(id) != example_entries(id, 1, 1))
      complain(verdict, verdict.damaged, where + ": cannot write after the cut");
  } catch (const Error& error) {
    complain(verdict, verdict.lost, where + ": " + error.what());
  }
}

/// One image per cut; a cut after an event that is no mark.
Verdict replay_all_cuts(const Recording& recording, Unsynced unsynced, std::uint64_t seed) {
  Verdict verdict;
  const std::vector<DiskEvent>& events = recording.disk.events();
  std::size_t acknowledged = 0;
  for (std::size_t cut = 0; cut <= events.size(); ++cut) {
    while (acknowledged + 1 < recording.states.size() && recording.acknowledged_at[acknowledged + 1] <= cut)
      ++acknowledged;
    std::mt19937_64 random(seed + cut);
    judge(verdict, after_power_cut(events, cut, unsynced, random), recording, acknowledged,
          "cut after event " + std::to_string(cut) + " of " + std::to_string(events.size()));
  }
  return verdict;
}

std::size_t count_of(const LyingDisk& disk, DiskEvent::Kind kind, const std::string& ending) {
  std::size_t count = 0;
  for (const DiskEvent& event : disk.events()) count += event.kind == kind && event.name.ends_with(ending) ? 1 : 0;
  return count;
}

/// Acknowledgements at which some file had writes that were not synced yet, or no sync had happened since the last one.
int premature_acknowledgements(const LyingDisk& disk) {
  std::map<int, int> unsynced;
  bool synced_since = false;
  int premature = 0;
  for (const DiskEvent& event : disk.events()) {
    if (event.kind == DiskEvent::Kind::write || event.kind == DiskEvent::Kind::truncate) ++unsynced[event.file];
    if (event.kind == DiskEvent::Kind::sync) {
      unsynced.erase(event.file);
      synced_since = true;
    }
    if (event.kind == DiskEvent::Kind::remove) unsynced.erase(event.file);
    if (event.kind == DiskEvent::Kind::mark) {
      if (!unsynced.empty() || !synced_since) ++premature;
      synced_since = false;
    }
  }
  return premature;
}

}  // namespace

TEST_CASE("every acknowledgement comes after a sync of all that was written", "[history][fault]") {
  ScratchFolder folder;
  Recording recording;
  record_short_job(recording, folder.file("jobs.sqlite3"), true);
  REQUIRE(recording.states.size() == 15);
  CHECK(premature_acknowledgements(recording.disk) == 0);
  // The recording is worth replaying: it has a log that was synced, checkpoints into the file, a removal at closing.
  CHECK(count_of(recording.disk, DiskEvent::Kind::sync, "-wal") >= 14);
  CHECK(count_of(recording.disk, DiskEvent::Kind::sync, ".sqlite3") >= 3);
  CHECK(count_of(recording.disk, DiskEvent::Kind::remove, "-wal") >= 1);
}

TEST_CASE("without synchronous=FULL acknowledgements come before the sync", "[history][fault]") {
  ScratchFolder folder;
  Recording recording;
  record_short_job(recording, folder.file("jobs.sqlite3"), false);
  CHECK(premature_acknowledgements(recording.disk) == 14);
}

TEST_CASE("a power cut after any write keeps every acknowledged entry, whatever part of the rest reached the disk",
          "[history][fault]") {
  const std::uint64_t seed = test_seed("power cut");
  CAPTURE(seed);
  ScratchFolder folder;
  Recording recording;
  record_short_job(recording, folder.file("jobs.sqlite3"), true);
  for (const Unsynced unsynced :
       {Unsynced::dropped, Unsynced::kept, Unsynced::log_kept, Unsynced::database_kept, Unsynced::scattered}) {
    const Verdict verdict = replay_all_cuts(recording, unsynced, seed);
    CAPTURE(static_cast<int>(unsynced), verdict.first_complaint);
    CHECK(verdict.lost == 0);
    CHECK(verdict.damaged == 0);
    CHECK(verdict.images == static_cast<int>(recording.disk.events().size()) + 1);
  }
}

TEST_CASE("twenty scattered versions of every power cut keep every acknowledged entry", "[history][fault][slow]") {
  const std::uint64_t seed = test_seed("power cut, scattered");
  ScratchFolder folder;
  Recording recording;
  record_short_job(recording, folder.file("jobs.sqlite3"), true);
  for (std::uint64_t version = 0; version < 20; ++version) {
    const Verdict verdict = replay_all_cuts(recording, Unsynced::scattered, seed + version * 1000003);
    CAPTURE(seed, version, verdict.first_complaint);
    CHECK(verdict.lost + verdict.damaged == 0);
  }
}

TEST_CASE("the replay can fail: without synchronous=FULL a power cut loses acknowledged entries", "[history][fault]") {
  ScratchFolder folder;
  Recording recording;
  record_short_job(recording, folder.file("jobs.sqlite3"), false);
  const Verdict dropped = replay_all_cuts(recording, Unsynced::dropped, 1);
  CHECK(dropped.lost > 0);
  // Nothing was lost that the system still held: the same writes survive the death of the program alone.
  const Verdict kept = replay_all_cuts(recording, Unsynced::kept, 1);
  CAPTURE(kept.first_complaint);
  CHECK(kept.lost == 0);
}

TEST_CASE("the replay can fail: on a disk that lies about syncs even synchronous=FULL loses acknowledged entries",
          "[history][fault]") {
  ScratchFolder folder;
  Recording recording;
  recording.disk.faults.sync_lies = true;
  record_short_job(recording, folder.file("jobs.sqlite3"), true);
  CHECK(replay_all_cuts(recording, Unsynced::dropped, 1).lost > 0);
}
