// The store on one SQLite file. The protocol is in the schema (schema.cpp) and in append(); docs/storage.md explains
// both.
#include <unistd.h>

#include <chrono>
#include <filesystem>
#include <memory>
#include <system_error>
#include <thread>
#include <utility>

#include "history/job_text.hpp"
#include "history/knowledge.hpp"
#include "history/schema.hpp"
#include "history/sqlite_handle.hpp"
#include "history/sqlite_message.hpp"
#include "history/store.hpp"

namespace lostspark::history {

namespace {

namespace fs = std::filesystem;

constexpr std::string_view k_opening = "open the job store";
constexpr std::string_view k_reading = "read the job store";
constexpr std::string_view k_saving = "save to the job store";

/// A whole quick_check at every start up to this size; it takes 1 to 2 ms a megabyte (docs/storage.md, "Opening").
constexpr std::int64_t k_quick_check_bytes = 8 << 20;

/// The absolute path, so that no name (":memory:", "file:...") means something else to SQLite. Throws StoreError for
/// what cannot become a store.
std::string checked_path(const std::string& given) {
  if (given.empty()) throw StoreError("the job store has no file name; name a file");
  std::error_code error;
  const fs::path path = fs::absolute(given, error);
  if (error) throw StoreError(store_message(k_opening, given, error.message(), "name the file by its full path"));
  const auto refuse = [&](const std::string& cause, std::string_view remedy) {
    throw StoreError(store_message(k_opening, path.string(), cause, remedy));
  };
  const fs::file_status status = fs::status(path, error);
  if (fs::is_directory(status)) refuse("it is a folder, not a file", "name a file inside it");
  if (fs::exists(status) && !fs::is_regular_file(status)) refuse("it is not an ordinary file", "name another file");
  const std::string folder = path.parent_path().string();
  const bool has_folder = fs::is_directory(folder, error);
  if (error == std::errc::permission_denied)
    refuse("its folder " + folder + " may not be entered", "ask for the right to, or use a store in another folder");
  if (!has_folder) refuse("its folder " + folder + " does not exist", "make the folder or name another file");
  // SQLite would call this "no such file": it tries once more for reading only.
  if (!fs::exists(status) && access(folder.c_str(), W_OK | X_OK) != 0)
    throw StoreError(sqlite_message({k_opening, path.string(), SQLITE_READONLY_DIRECTORY}));
  return path.string();
}

/// Switching a file to WAL writes to it, and SQLite does not wait there for another writer on its own.
void switch_to_wal(const Connection& connection, int timeout_ms) {
  const auto deadline = std::chrono::steady_clock::now() + std::chrono::milliseconds(timeout_ms);
  int code = SQLITE_OK;
  do {
    code = sqlite3_exec(connection.raw(), "PRAGMA journal_mode = WAL", nullptr, nullptr, nullptr);
    if ((code & 0xff) != SQLITE_BUSY) break;
    std::this_thread::sleep_for(std::chrono::milliseconds(5));
  } while (std::chrono::steady_clock::now() < deadline);
  if (code != SQLITE_OK) connection.fail(code, k_opening);
  if (connection.text("PRAGMA journal_mode", k_opening) != "wal")
    throw StoreError(store_message(k_opening, connection.path(),
                                   "its disk does not support write-ahead logging (a network drive?)",
                                   "put the store on a local disk"));
}

void quick_check(const Connection& connection) {
  const std::int64_t bytes =
      connection.number("PRAGMA page_count", k_opening) * connection.number("PRAGMA page_size", k_opening);
  if (bytes == 0 || bytes > k_quick_check_bytes) return;
  std::string finding = connection.text("PRAGMA quick_check(1)", k_opening);
  if (finding == "ok") return;
  finding.erase(0, finding.rfind('\n') + 1);  // above the finding itself there is a line that names the database "main"
  throw StoreError(store_message(k_opening, connection.path(), "the file is damaged (" + printable(finding) + ")",
                                 k_damaged_remedy));
}

Connection opened(const std::string& path, const SqliteOptions& options) {
  Connection connection(checked_path(path), options.vfs);
  sqlite3_busy_timeout(connection.raw(), options.busy_timeout_ms);
  if (sqlite3_db_readonly(connection.raw(), "main") == 1) connection.fail(SQLITE_READONLY, k_opening);
  // Nothing is written before the file is known to be ours (or empty) and sound.
  const std::span<const std::string_view> steps = schema_steps();
  static_cast<void>(schema_version(connection, static_cast<std::int64_t>(steps.size())));
  quick_check(connection);
  connection.execute(options.synchronous_full ? "PRAGMA synchronous = FULL" : "PRAGMA synchronous = OFF", k_opening);
  connection.execute("PRAGMA foreign_keys = ON; PRAGMA trusted_schema = OFF; PRAGMA cell_size_check = ON", k_opening);
  connection.execute("PRAGMA wal_autocheckpoint = " + std::to_string(options.checkpoint_pages), k_opening);
  switch_to_wal(connection, options.busy_timeout_ms);
  bring_up_to_date(connection, steps);
  return connection;
}

class SqliteStore final : public Store {
 public:
  SqliteStore(const std::string& path, const SqliteOptions& options)
      : connection_(opened(path, options)),
        next_number_(connection_, "SELECT coalesce(max(number), 0) + 1 FROM jobs", k_opening),
        insert_job_(connection_,
                    "INSERT INTO jobs (number, id, vehicle, family, family_version, network_text, workshop_json, "
                    "opened_at) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)",
                    k_opening),
        last_(connection_,
              "SELECT (SELECT coalesce(max(sequence), 0) FROM entries WHERE job = id) FROM jobs WHERE id = ?1",
              k_opening),
        insert_entry_(connection_, "INSERT INTO entries (job, sequence, kind, body, at) VALUES (?1, ?2, ?3, ?4, ?5)",
                      k_opening),
        set_state_(connection_, "UPDATE jobs SET state = ?2 WHERE id = ?1", k_opening),
        header_(connection_,
                "SELECT id, vehicle, family, family_version, network_text, workshop_json, opened_at FROM jobs "
                "WHERE id = ?1",
                k_opening),
        log_(connection_, "SELECT sequence, kind, body, at FROM entries WHERE job = ?1 ORDER BY sequence", k_opening),
        jobs_(connection_,
              "SELECT id, vehicle, family, family_version, opened_at, state, coalesce(sequence, 0), "
              "coalesce(at, opened_at) FROM jobs LEFT JOIN entries ON job = id AND sequence = "
              "(SELECT max(sequence) FROM entries WHERE job = id) ORDER BY number",
              k_opening),
        knowledge_(connection_) {}

  Knowledge& knowledge() override { return knowledge_; }

  std::string create_job(JobHeader header, const std::vector<LogEntry>& first) override {
    refuse_moved_file();
    Transaction transaction(connection_, k_saving);
    const std::int64_t number = next_number();
    header.id = job_id(number);
    Statement::Run(insert_job_, k_saving)
        .bind(1, number)
        .bind(2, header.id)
        .bind(3, header.vehicle)
        .bind(4, header.family)
        .bind(5, header.family_version)
        .bind(6, header.network_text)
        .bind(7, header.workshop_json)
        .bind(8, header.opened_at)
        .finish();
    insert_entries(header.id, 0, first);
    transaction.commit();
    return header.id;
  }

  void append(const std::string& job, std::int64_t expected_last, const std::vector<LogEntry>& entries,
              JobState state) override {
    refuse_moved_file();
    Transaction transaction(connection_, k_saving);  // no other terminal writes between the check and the commit
    check_expected(job, last_sequence(job), expected_last);
    insert_entries(job, expected_last, entries);
    Statement::Run(set_state_, k_saving).bind(1, job).bind(2, text_of(state)).finish();
    transaction.commit();
  }

  std::optional<JobHeader> header(const std::string& job) const override {
    Statement::Run run(header_, k_reading);
    if (!run.bind(1, job).row()) return std::nullopt;
    return JobHeader{run.text(0), run.text(1), run.text(2), run.text(3), run.text(4), run.text(5), run.text(6)};
  }

  std::vector<LogEntry> log(const std::string& job) const override {
    std::vector<LogEntry> entries;
    Statement::Run run(log_, k_reading);
    run.bind(1, job);
    while (run.row()) entries.push_back({run.number(0), run.text(1), run.text(2), run.text(3)});
    return entries;
  }

  std::vector<JobSummary> jobs() const override {
    std::vector<JobSummary> all;
    Statement::Run run(jobs_, k_reading);
    while (run.row())
      all.push_back({{run.text(0), run.text(1), run.text(2), run.text(3), "", "", run.text(4)},
                     state_of(run.text(5)),
                     run.number(6),
                     run.text(7)});
    return all;
  }

 private:
  void insert_entries(const std::string& job, std::int64_t sequence, const std::vector<LogEntry>& entries) {
    for (const LogEntry& entry : entries)
      Statement::Run(insert_entry_, k_saving)
          .bind(1, job)
          .bind(2, ++sequence)
          .bind(3, entry.kind)
          .bind(4, entry.body)
          .bind(5, entry.at)
          .finish();
  }

  /// SQLite goes on writing to a file that was deleted or replaced under it: that would acknowledge what nobody can
  /// find.
  void refuse_moved_file() const {
    int moved = 0;
    if (sqlite3_file_control(connection_.raw(), "main", SQLITE_FCNTL_HAS_MOVED, &moved) == SQLITE_OK && moved != 0)
      connection_.fail(SQLITE_READONLY_DBMOVED, k_saving);
  }

  std::int64_t next_number() {
    Statement::Run run(next_number_, k_saving);
    ensure(run.row(), "an aggregate gave no row");
    return run.number(0);
  }

  std::int64_t last_sequence(const std::string& job) {
    Statement::Run run(last_, k_saving);
    if (!run.bind(1, job).row()) throw_no_such_job(job, connection_.path());
    return run.number(0);
  }

  Connection connection_;  ///< first: closed after its statements
  Statement next_number_, insert_job_, last_, insert_entry_, set_state_;
  mutable Statement header_, log_, jobs_;  ///< running a query moves the statement, never the data
  Knowledge knowledge_;
};

}  // namespace

std::unique_ptr<Store> open_sqlite(const std::string& path, const SqliteOptions& options) {
  return std::make_unique<SqliteStore>(path, options);
}

}  // namespace lostspark::history
