// What the tests of the store share: a scratch folder, example values, child processes and SQLite by hand.
#pragma once

#include <sqlite3.h>
#include <sys/types.h>

#include <cstdint>
#include <filesystem>
#include <functional>
#include <map>
#include <random>
#include <string>
#include <vector>

#include "history/store.hpp"
#include "support/scratch_folder.hpp"

namespace lostspark::history::testing {

/// A fresh folder under the system's temporary one, readable by everybody; removed at the end.
using test::ScratchFolder;

/// $LOSTSPARK_TEST_SEED, or a new seed; printed, so that a failure can be repeated.
[[nodiscard]] std::uint64_t test_seed(const char* what);

[[nodiscard]] JobHeader example_header(const std::string& vehicle = "quillmarsh_single");
/// The entry a test writes at this place; its text follows from job and sequence, so that it can be checked later.
[[nodiscard]] LogEntry example_entry(const std::string& job, std::int64_t sequence);
/// Entries first ... first + count - 1 of example_entry.
[[nodiscard]] std::vector<LogEntry> example_entries(const std::string& job, std::int64_t first, std::int64_t count);

/// Everything a store knows, in plain values.
struct Contents {
  std::map<std::string, JobHeader> headers;
  std::map<std::string, std::vector<LogEntry>> logs;
  std::vector<JobSummary> summaries;
  bool operator==(const Contents&) const = default;
};
[[nodiscard]] Contents contents_of(const Store& store);

/// The message of the StoreError that `action` throws; a note in brackets when it throws nothing.
[[nodiscard]] std::string store_error_of(const std::function<void()>& action);

/// A forked child that runs `body` and ends; what it writes with `say` comes here line by line. An exception becomes the
/// line "error: ...". The parent must have no store open on the files the child uses (SQLite forbids carrying them over).
class Child {
 public:
  using Say = std::function<void(const std::string&)>;
  explicit Child(const std::function<void(const Say&)>& body);
  ~Child();
  Child(const Child&) = delete;
  Child& operator=(const Child&) = delete;
  void tell(char letter) const;             ///< to hear() in the child
  [[nodiscard]] std::string next_line();    ///< waits; "" at the end
  [[nodiscard]] std::vector<std::string> lines();  ///< all that are left, to the end
  void kill_now() const;
  [[nodiscard]] int wait();                 ///< status of waitpid
  static char hear();                       ///< in the child: waits for the parent's letter; 0 when the parent is gone

 private:
  pid_t pid_ = -1;
  int from_child_ = -1, to_child_ = -1;
  std::string buffer_;
};

/// SQLite by hand, past the store.
class RawDatabase {
 public:
  explicit RawDatabase(const std::string& path);
  ~RawDatabase();
  RawDatabase(const RawDatabase&) = delete;
  RawDatabase& operator=(const RawDatabase&) = delete;
  /// "" or SQLite's error.
  std::string run(const std::string& sql) const;
  [[nodiscard]] std::string first(const std::string& sql) const;

 private:
  sqlite3* handle_ = nullptr;
};

[[nodiscard]] std::string bytes_of(const std::string& path);
void write_bytes(const std::string& path, const std::string& bytes);

}  // namespace lostspark::history::testing
