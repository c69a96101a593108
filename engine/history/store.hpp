// Where jobs live: an append-only log per job behind one interface. An entry that append() returned from is on disk.
#pragma once

#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

namespace lostspark::history {

/// Facts of a job fixed when it is opened; replay needs them.
struct JobHeader {
  std::string id;               ///< short, unique: "J0007"
  std::string vehicle, family, family_version;
  std::string network_text;     ///< whole TOML text: the job replays on what it was opened with
  std::string workshop_json;    ///< instruments and rates in force
  std::string opened_at;        ///< ISO 8601, UTC
};

/// One entry of a job's log. `kind` and `body` (JSON) belong to the job room; the store does not look inside.
struct LogEntry {
  std::int64_t sequence = 0;    ///< 1, 2, ... without gaps
  std::string kind;
  std::string body;
  std::string at;               ///< ISO 8601, UTC
};

enum class JobState { open, waiting_for_part, waiting_for_customer, closed };

struct JobSummary {
  JobHeader header;             ///< network_text and workshop_json left empty
  JobState state = JobState::open;
  std::int64_t entries = 0;
  std::string changed_at;
};

/// Thrown (as StoreError) by append when another terminal has written meanwhile.
class Store {
 public:
  virtual ~Store() = default;
  /// Assigns the id. Durable when it returns.
  virtual std::string create_job(JobHeader header) = 0;
  /// Appends with sequence expected_last + 1, and sets the job's state in the same transaction. Throws ConflictError when
  /// the log has grown since. Durable when it returns.
  virtual void append(const std::string& job, std::int64_t expected_last, const std::vector<LogEntry>& entries,
                      JobState state) = 0;
  [[nodiscard]] virtual std::optional<JobHeader> header(const std::string& job) const = 0;
  [[nodiscard]] virtual std::vector<LogEntry> log(const std::string& job) const = 0;
  [[nodiscard]] virtual std::vector<JobSummary> jobs() const = 0;
};

/// Options of the SQLite store; `vfs` names a registered SQLite VFS (tests), empty = default.
struct SqliteOptions {
  std::string vfs;
  bool synchronous_full = true;  ///< off only in the test that proves the power-cut test can fail
  int busy_timeout_ms = 5000;
};

/// Opens or creates the file (WAL, synchronous=FULL, versioned schema, migrated forward). Throws StoreError with one
/// sentence that names file, cause (locked, read-only, full, corrupt, newer version, not a database) and remedy.
[[nodiscard]] std::unique_ptr<Store> open_sqlite(const std::string& path, const SqliteOptions& options = {});
/// Plain in-memory store for tests and `--no-store` demos.
[[nodiscard]] std::unique_ptr<Store> open_memory();
/// $LOSTSPARK_DATA or $XDG_DATA_HOME/lostspark or ~/.local/share/lostspark, plus "/jobs.sqlite3"; makes the folder.
[[nodiscard]] std::string default_store_path();

}  // namespace lostspark::history
