// Files and folders that cannot be a store, each with the message a person gets: what, where, why, what to do.
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include "catch_all.hpp"
#include "history/sqlite_message.hpp"
#include "history_support.hpp"
#include "support/lying_disk.hpp"

using namespace lostspark;
using namespace lostspark::history;
using namespace lostspark::history::testing;
namespace fs = std::filesystem;

namespace {

const std::string k_remedy_damaged =
    "keep it aside and put the last backup in its place, or save what can be read with 'sqlite3 FILE .recover'";

std::string opening_error(const std::string& path, const SqliteOptions& options = {}) {
  return store_error_of([&] { static_cast<void>(open_sqlite(path, options)); });
}

/// A closed store of some ten pages.
Contents filled(const std::string& path) {
  const auto store = open_sqlite(path);
  const std::string job = store->create_job(example_header());
  for (std::int64_t last = 0; last < 60; last += 10)
    store->append(job, last, example_entries(job, last + 1, 10), JobState::open);
  return contents_of(*store);
}

/// What a user without special rights is told: a child gives the rights up first, for root may write everywhere.
std::string opening_error_without_rights(const std::string& path) {
  Child child([&](const Child::Say& say) {
    if (geteuid() == 0 && (setgid(65534) != 0 || setuid(65534) != 0)) {
      say("(cannot give up the rights of root)");
      return;
    }
    say(opening_error(path));
  });
  return child.next_line();
}

}  // namespace

TEST_CASE("a folder, a missing folder, a pipe and no name are refused by name", "[history][fault]") {
  ScratchFolder folder;
  const std::string inside = folder.file("nowhere/jobs.sqlite3");
  const std::string pipe = folder.file("pipe");
  REQUIRE(mkfifo(pipe.c_str(), 0600) == 0);
  CHECK(opening_error(folder.path.string()) ==
        "cannot open the job store " + folder.path.string() + ": it is a folder, not a file; name a file inside it");
  CHECK(opening_error(inside) == "cannot open the job store " + inside + ": its folder " + folder.file("nowhere") +
                                     " does not exist; make the folder or name another file");
  CHECK(opening_error(pipe) == "cannot open the job store " + pipe + ": it is not an ordinary file; name another file");
  CHECK(opening_error("") == "the job store has no file name; name a file");
}

TEST_CASE("a file that is no database is refused and left as it is", "[history][fault]") {
  ScratchFolder folder;
  const std::string path = folder.file("notes.txt");
  const std::string text = GENERATE(std::string("spark plug gap 0.6 mm\n"), std::string(9000, 'q'));
  write_bytes(path, text);
  CHECK(opening_error(path) ==
        "cannot open the job store " + path + ": it is not a database; check the name, or use another store file");
  CHECK(bytes_of(path) == text);
}

TEST_CASE("an empty file becomes a store, and a name is a file name even where SQLite gives it another sense",
          "[history][unit]") {
  ScratchFolder folder;
  write_bytes(folder.file("empty"), "");
  CHECK(open_sqlite(folder.file("empty"))->create_job(example_header()) == "J0001");
  const fs::path before = fs::current_path();
  fs::current_path(folder.path);
  static_cast<void>(open_sqlite(":memory:")->create_job(example_header()));
  fs::current_path(before);
  CHECK(open_sqlite(folder.file(":memory:"))->jobs().size() == 1);
}

TEST_CASE("a file cut short says how much of it is there", "[history][fault]") {
  ScratchFolder folder;
  const std::string path = folder.file("jobs.sqlite3");
  static_cast<void>(filled(path));
  const std::string whole = bytes_of(path);
  REQUIRE(whole.size() > 20000);
  const std::size_t left =
      GENERATE(std::size_t{50}, std::size_t{100}, std::size_t{4096}, std::size_t{9000}, std::size_t{16384});
  CAPTURE(left);
  write_bytes(path, whole.substr(0, left));
  CHECK(opening_error(path) == "cannot open the job store " + path + ": the file is cut short, " +
                                   std::to_string(left) + " of " + std::to_string(whole.size()) + " bytes are there; " +
                                   k_remedy_damaged);
  CHECK(bytes_of(path).size() == left);
}

TEST_CASE("a damaged page is found when the file is opened", "[history][fault]") {
  ScratchFolder folder;
  const std::string path = folder.file("jobs.sqlite3");
  static_cast<void>(filled(path));
  std::string bytes = bytes_of(path);
  const std::size_t pages = bytes.size() / 4096;
  REQUIRE(pages > 5);
  for (std::size_t page = 1; page < pages; ++page) {
    CAPTURE(page);
    std::string damaged = bytes;
    damaged.replace(page * 4096, 64, std::string(64, '\xff'));
    write_bytes(path, damaged);
    const std::string message = opening_error(path);
    // An overflow page holds text only: there the store opens, and the text differs (docs/storage.md, weaknesses).
    if (message == "(nothing thrown)") {
      CHECK(bytes.compare(page * 4096 + 8, 8, "xxxxxxxx") == 0);
      continue;
    }
    CHECK(message.find("cannot open the job store " + path + ": the file is damaged (") == 0);
    CHECK(message.find(k_remedy_damaged) != std::string::npos);
  }
}

TEST_CASE("any flipped bytes give a StoreError or an answer, nothing else", "[history][fault]") {
  const std::uint64_t seed = test_seed("flipped bytes");
  std::mt19937_64 random(seed);
  ScratchFolder folder;
  const std::string path = folder.file("jobs.sqlite3");
  static_cast<void>(filled(path));
  const std::string whole = bytes_of(path);
  int refused = 0;
  for (int round = 0; round < 300; ++round) {
    std::string bytes = whole;
    for (std::uint64_t n = 1 + random() % 20; n > 0; --n)
      bytes[random() % (round % 2 == 0 ? 4096 : bytes.size())] = static_cast<char>(random());
    write_bytes(path, bytes);
    fs::remove(path + "-wal");
    fs::remove(path + "-shm");
    CAPTURE(seed, round);
    const std::string message = store_error_of([&] {
      const auto store = open_sqlite(path);
      static_cast<void>(contents_of(*store));
      static_cast<void>(store->create_job(example_header()));
    });
    CAPTURE(message);
    CHECK(message.find("(not a StoreError") == std::string::npos);
    CHECK(message.find('\n') == std::string::npos);
    refused += message == "(nothing thrown)" ? 0 : 1;
  }
  CHECK(refused > 0);
}

TEST_CASE("a store that another process is writing to is called locked, and can be used when that one is done",
          "[history][fault]") {
  ScratchFolder folder;
  const std::string path = folder.file("jobs.sqlite3");
  const Contents before = filled(path);
  Child other([&](const Child::Say& say) {
    const RawDatabase raw(path);
    say(raw.run("BEGIN IMMEDIATE") + "locked");
    Child::hear();
    say(raw.run("COMMIT") + "free");
  });
  REQUIRE(other.next_line() == "locked");
  SqliteOptions hasty;
  hasty.busy_timeout_ms = 30;
  const auto store = open_sqlite(path, hasty);
  CHECK(contents_of(*store) == before);  // reading goes on
  const std::string told =
      "cannot save to the job store " + path +
      ": it is locked by another program that is writing to it; wait a moment or close that program, "
      "then try again";
  CHECK(store_error_of([&] { store->append("J0001", 60, example_entries("J0001", 61, 1), JobState::open); }) == told);
  CHECK(store_error_of([&] { static_cast<void>(store->create_job(example_header())); }) == told);
  other.tell('g');
  REQUIRE(other.next_line() == "free");
  CHECK(contents_of(*store) == before);
  store->append("J0001", 60, example_entries("J0001", 61, 1), JobState::open);
  CHECK(store->log("J0001").size() == 61);
}

TEST_CASE("a store that another process keeps to itself cannot be opened and is called locked", "[history][fault]") {
  ScratchFolder folder;
  const std::string path = folder.file("jobs.sqlite3");
  static_cast<void>(filled(path));
  Child other([&](const Child::Say& say) {
    const RawDatabase raw(path);
    say(raw.run("PRAGMA locking_mode = EXCLUSIVE; BEGIN EXCLUSIVE") + "locked");
    Child::hear();
  });
  REQUIRE(other.next_line() == "locked");
  SqliteOptions hasty;
  hasty.busy_timeout_ms = 30;
  CHECK(opening_error(path, hasty) == "cannot open the job store " + path +
                                          ": it is locked by another program that is writing to it; wait a moment or "
                                          "close that program, then try again");
}

TEST_CASE("a read-only file or folder is called so to a user without rights", "[history][fault]") {
  ScratchFolder folder;
  const std::string path = folder.file("jobs.sqlite3");
  static_cast<void>(filled(path));
  fs::create_directories(folder.path / "closed/inner");
  fs::permissions(path, fs::perms(0444));
  const std::string file_message = opening_error_without_rights(path);
  fs::permissions(path, fs::perms(0666));
  fs::permissions(folder.path, fs::perms(0555));
  const std::string folder_message = opening_error_without_rights(path);
  const std::string new_file_message = opening_error_without_rights(folder.file("new.sqlite3"));
  fs::permissions(folder.path / "closed", fs::perms(0000));
  const std::string closed_message = opening_error_without_rights(folder.file("closed/inner/jobs.sqlite3"));
  fs::permissions(folder.path / "closed", fs::perms(0755));
  fs::permissions(path, fs::perms(0600));
  const std::string hidden_message = geteuid() == 0 ? opening_error_without_rights(path) : "";
  fs::permissions(folder.path, fs::perms(0755));
  if (file_message == "(cannot give up the rights of root)") {
    WARN("skipped: this process may not become another user; the simulated read-only disk covers it");
    SUCCEED();
    return;
  }
  CHECK(file_message == "cannot open the job store " + path +
                            ": the file or its folder is read-only; ask for the right to write there, or use another "
                            "store file");
  const std::string no_folder =
      ": its folder is read-only; ask for the right to write there, or use a store in another folder";
  CHECK(folder_message == "cannot open the job store " + path + no_folder);
  CHECK(new_file_message == "cannot open the job store " + folder.file("new.sqlite3") + no_folder);
  CHECK(closed_message == "cannot open the job store " + folder.file("closed/inner/jobs.sqlite3") + ": its folder " +
                              folder.file("closed/inner") +
                              " may not be entered; ask for the right to, or use a store in another folder");
  const std::string denied =
      ": the file or its folder may not be read or written; ask for the right to write there, or use another store "
      "file";
  if (geteuid() == 0) CHECK(hidden_message == "cannot open the job store " + path + denied);
}

TEST_CASE("a disk that turns read-only is called so", "[history][fault]") {
  // Root passes over permission bits, so the disk below SQLite refuses instead.
  ScratchFolder folder;
  const std::string path = folder.file("jobs.sqlite3");
  const Contents before = filled(path);
  support::LyingDisk disk;
  SqliteOptions options;
  options.vfs = disk.vfs();
  disk.faults.file_read_only = true;
  CHECK(opening_error(path, options) ==
        "cannot open the job store " + path +
            ": the file or its folder is read-only; ask for the right to write there, or use another store file");
  disk.faults = {};
  disk.faults.folder_read_only = true;
  CHECK(opening_error(path, options) ==
        "cannot open the job store " + path +
            ": its folder is read-only; ask for the right to write there, or use a store in another folder");
  disk.faults = {};
  CHECK(contents_of(*open_sqlite(path, options)) == before);
}

TEST_CASE("a file that was deleted or replaced while open takes no more entries", "[history][fault]") {
  ScratchFolder folder;
  const std::string path = folder.file("jobs.sqlite3");
  static_cast<void>(filled(path));
  const auto store = open_sqlite(path);
  fs::rename(path, folder.file("elsewhere.sqlite3"));
  const std::string told =
      "cannot save to the job store " + path +
      ": the file was moved, replaced or deleted while it was open; put it back, start the program "
      "again and enter the last step again";
  CHECK(store_error_of([&] { store->append("J0001", 60, {}, JobState::closed); }) == told);
  write_bytes(path, "");
  CHECK(store_error_of([&] { static_cast<void>(store->create_job(example_header())); }) == told);
}

TEST_CASE("foreign words fit on one line and are cut between words", "[history][unit]") {
  CHECK(printable("no such table") == "no such table");
  CHECK(printable("refused\n\tIs the server\x01 there?\n") == "refused Is the server there?");
  std::string words;
  for (int k = 0; k < 40; ++k) words += "words ";
  const auto cut = printable(words);
  CHECK(cut.size() <= 124);
  CHECK(cut.ends_with("words ..."));
  CHECK(printable(std::string(300, 'x')) == std::string(120, 'x') + " ...");
}
