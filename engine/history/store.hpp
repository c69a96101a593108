// Where jobs live: an append-only log per job behind one interface. An entry that append() returned from is on disk.
#pragma once

#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "base/error.hpp"

namespace lostspark::history {

/// Facts of a job fixed when it is opened; replay needs them.
struct JobHeader {
  std::string id;  ///< short, unique: "J0007"
  std::string vehicle, family, family_version;
  std::string network_text;   ///< whole TOML text: the job replays on what it was opened with
  std::string workshop_json;  ///< instruments and rates in force
  std::string opened_at;      ///< ISO 8601, UTC
  bool operator==(const JobHeader&) const = default;
};

/// One entry of a job's log. `kind` and `body` (JSON) belong to the job room; the store does not look inside.
struct LogEntry {
  std::int64_t sequence = 0;  ///< 1, 2, ... without gaps
  std::string kind;
  std::string body;
  std::string at;  ///< ISO 8601, UTC
  bool operator==(const LogEntry&) const = default;
};

class CaseSource;
class Knowledge;
class SharedHistory;

enum class JobState { open, waiting_for_part, waiting_for_customer, closed };

struct JobSummary {
  JobHeader header;  ///< network_text and workshop_json left empty
  JobState state = JobState::open;
  std::int64_t entries = 0;
  std::string changed_at;
  bool operator==(const JobSummary&) const = default;
};

/// Another terminal has written to the job since the caller read it: nothing was saved; read the job again and decide
/// anew.
class ConflictError : public StoreError {
 public:
  using StoreError::StoreError;
};

/// Jobs and their logs. One store object is used by one thread at a time; terminals (threads, processes) each open
/// their own. All functions throw StoreError when the medium fails; a failed call has changed nothing.
class Store {
 public:
  virtual ~Store() = default;
  /// Assigns the id (`header.id` is ignored) and returns it: J0001, J0002, ..., each given once over all terminals. The
  /// job is open and its log holds `first`, numbered from 1: both or neither. Durable when it returns.
  virtual std::string create_job(JobHeader header, const std::vector<LogEntry>& first = {}) = 0;
  /// Appends all entries or none, with sequence expected_last + 1 and on (the entries' own `sequence` is ignored), and
  /// sets the job's state in the same transaction. Without entries only the state is set. Throws ConflictError when the
  /// log's last sequence is not expected_last, StoreError when there is no such job. Any state may follow any: the job
  /// room knows which make sense. Durable when it returns.
  virtual void append(const std::string& job, std::int64_t expected_last, const std::vector<LogEntry>& entries,
                      JobState state) = 0;
  /// The facts the job was opened with; nothing when there is no such job.
  [[nodiscard]] virtual std::optional<JobHeader> header(const std::string& job) const = 0;
  /// The whole log in order; empty when nothing was appended or there is no such job.
  [[nodiscard]] virtual std::vector<LogEntry> log(const std::string& job) const = 0;
  /// All jobs in the order they were opened. `changed_at` is the `at` of the last entry, or `opened_at` before the
  /// first.
  [[nodiscard]] virtual std::vector<JobSummary> jobs() const = 0;
  /// What the shop has learned from, in the same file. Lives as long as the store.
  [[nodiscard]] virtual Knowledge& knowledge() = 0;
  /// The history shared with other shops (history/shared.hpp), null when this store keeps to itself.
  [[nodiscard]] virtual SharedHistory* shared() { return nullptr; }
};

/// Options of the SQLite store; `vfs` names a registered SQLite VFS (tests), empty = default.
struct SqliteOptions {
  std::string vfs;
  bool synchronous_full = true;  ///< off only in the test that proves the power-cut test can fail
  int busy_timeout_ms = 5000;    ///< how long a call waits for another terminal that is writing, in milliseconds
  int checkpoint_pages = 1000;  ///< the log beside the file is moved into it when it holds this many pages (4 KiB each)
};

/// Opens or creates the file (WAL, synchronous=FULL, versioned schema, migrated forward); its folder must exist. Throws
/// StoreError with one sentence that names file, cause (locked, read-only, full, corrupt, newer version, not a
/// database) and remedy. Guarantees and how they are proved: docs/storage.md.
[[nodiscard]] std::unique_ptr<Store> open_sqlite(const std::string& path, const SqliteOptions& options = {});
/// Plain in-memory store for tests and `--no-store` demos.
[[nodiscard]] std::unique_ptr<Store> open_memory();
/// $LOSTSPARK_DATA or $XDG_DATA_HOME/lostspark or ~/.local/share/lostspark, plus "/jobs.sqlite3"; makes the folder.
/// Throws StoreError when it cannot, or when none of the three is known.
[[nodiscard]] std::string default_store_path();

}  // namespace lostspark::history
