#include "history/schema.hpp"

#include <array>
#include <string>

#include "base/error.hpp"
#include "history/sqlite_message.hpp"

namespace lostspark::history {

namespace {

// The triggers say in the database what the program promises: a log only grows, without gaps, and the facts a job was
// opened with stay. A tool that writes to the file by hand meets the same rules.
constexpr std::string_view k_version_1 = R"sql(
CREATE TABLE jobs (
  number INTEGER PRIMARY KEY,
  id TEXT NOT NULL UNIQUE,
  vehicle TEXT NOT NULL,
  family TEXT NOT NULL,
  family_version TEXT NOT NULL,
  network_text TEXT NOT NULL,
  workshop_json TEXT NOT NULL,
  opened_at TEXT NOT NULL,
  state TEXT NOT NULL DEFAULT 'open'
    CHECK (state IN ('open', 'waiting_for_part', 'waiting_for_customer', 'closed'))
) STRICT;
CREATE TABLE entries (
  job TEXT NOT NULL REFERENCES jobs(id),
  sequence INTEGER NOT NULL,
  kind TEXT NOT NULL,
  body TEXT NOT NULL,
  at TEXT NOT NULL,
  PRIMARY KEY (job, sequence)
) STRICT;
CREATE TRIGGER entries_follow BEFORE INSERT ON entries
  WHEN NEW.sequence <> (SELECT coalesce(max(sequence), 0) + 1 FROM entries WHERE job = NEW.job)
  BEGIN SELECT RAISE(ABORT, 'the entries of a job are numbered 1, 2, ... without gaps'); END;
CREATE TRIGGER entries_stay BEFORE UPDATE ON entries
  BEGIN SELECT RAISE(ABORT, 'an entry is never changed, append a correction'); END;
CREATE TRIGGER entries_remain BEFORE DELETE ON entries
  BEGIN SELECT RAISE(ABORT, 'an entry is never deleted, append a correction'); END;
CREATE TRIGGER jobs_stay
  BEFORE UPDATE OF number, id, vehicle, family, family_version, network_text, workshop_json, opened_at ON jobs
  BEGIN SELECT RAISE(ABORT, 'only the state of a job changes'); END;
CREATE TRIGGER jobs_remain BEFORE DELETE ON jobs
  BEGIN SELECT RAISE(ABORT, 'a job is never deleted'); END;
)sql";

// What the shop learns from (docs/learning.md). No reference to jobs: cases and readings may come from another shop.
// Cases are derived from closed jobs and may be derived again; a healthy reading is struck, not deleted; names of
// customers stand alone, so that they can be left out and deleted.
constexpr std::string_view k_version_2 = R"sql(
CREATE TABLE baselines (
  number INTEGER PRIMARY KEY,
  vehicle TEXT NOT NULL,
  family TEXT NOT NULL,
  test TEXT NOT NULL,
  unit TEXT NOT NULL,
  value REAL NOT NULL CHECK (value > 0),
  individual TEXT NOT NULL,
  condition TEXT NOT NULL,
  hookup TEXT NOT NULL,
  speed TEXT NOT NULL,
  instrument TEXT NOT NULL,
  read_at TEXT NOT NULL,
  note TEXT NOT NULL,
  source TEXT NOT NULL CHECK (source IN ('recorded', 'imported', 'job')),
  job TEXT NOT NULL,
  sequence INTEGER NOT NULL,
  struck INTEGER NOT NULL DEFAULT 0 CHECK (struck IN (0, 1))
) STRICT;
CREATE INDEX baselines_of_vehicle ON baselines (vehicle, number);
CREATE UNIQUE INDEX baselines_of_job ON baselines (job, sequence) WHERE source = 'job';
CREATE TRIGGER baselines_stay BEFORE UPDATE OF number, vehicle, family, test, unit, value, source, job, sequence
  ON baselines BEGIN SELECT RAISE(ABORT, 'a healthy reading is never changed, strike it and record another'); END;
CREATE TABLE cases (
  shop TEXT NOT NULL,
  job TEXT NOT NULL,
  family TEXT NOT NULL,
  vehicle TEXT NOT NULL,
  pattern TEXT NOT NULL,
  confirmed TEXT NOT NULL CHECK (confirmed IN ('', 'proved', 'tested_bad', 'seen')),
  faults TEXT NOT NULL,
  for_nothing TEXT NOT NULL,
  closed_at TEXT NOT NULL,
  entries INTEGER NOT NULL,
  superseded INTEGER NOT NULL DEFAULT 0 CHECK (superseded IN (0, 1)),
  PRIMARY KEY (shop, job)
) STRICT, WITHOUT ROWID;
CREATE INDEX cases_by_pattern ON cases (family, vehicle, pattern) WHERE superseded = 0;
CREATE TABLE vehicle_classes (
  vehicle TEXT NOT NULL,
  family TEXT NOT NULL,
  class TEXT NOT NULL,
  odds REAL NOT NULL CHECK (odds >= 0),
  PRIMARY KEY (vehicle, class)
) STRICT, WITHOUT ROWID;
CREATE TABLE comebacks (
  shop TEXT NOT NULL,
  job TEXT NOT NULL,
  first_job TEXT NOT NULL,
  at TEXT NOT NULL,
  PRIMARY KEY (shop, job)
) STRICT, WITHOUT ROWID;
CREATE TABLE exposures (
  number INTEGER PRIMARY KEY,
  shop TEXT NOT NULL,
  vehicle TEXT NOT NULL,
  family TEXT NOT NULL,
  hours REAL NOT NULL CHECK (hours > 0),
  at TEXT NOT NULL,
  note TEXT NOT NULL
) STRICT;
CREATE TABLE rate_sets (
  name TEXT PRIMARY KEY,
  made_at TEXT NOT NULL,
  note TEXT NOT NULL,
  body TEXT NOT NULL
) STRICT;
CREATE TRIGGER rate_sets_stay BEFORE UPDATE ON rate_sets
  BEGIN SELECT RAISE(ABORT, 'a set is never changed, make another'); END;
CREATE TABLE rate_events (
  number INTEGER PRIMARY KEY,
  action TEXT NOT NULL CHECK (action IN ('applied', 'set_aside', 'rolled_back')),
  name TEXT NOT NULL,
  at TEXT NOT NULL
) STRICT;
CREATE TABLE customers (
  job TEXT PRIMARY KEY,
  name TEXT NOT NULL,
  registration TEXT NOT NULL,
  noted_at TEXT NOT NULL
) STRICT;
)sql";

// What waits to be sent to a shared history (docs/shared-history.md): a name of each row that was written, in the same
// transaction. The row itself is read when it is sent. Without sharing nothing is noted down.
constexpr std::string_view k_version_3 = R"sql(
CREATE TABLE sharing (
  one INTEGER PRIMARY KEY CHECK (one = 1),
  shop TEXT NOT NULL,
  member TEXT NOT NULL,
  history TEXT NOT NULL,
  customers INTEGER NOT NULL CHECK (customers IN (0, 1))
) STRICT;
CREATE TABLE outbox (
  number INTEGER PRIMARY KEY AUTOINCREMENT,
  of_table TEXT NOT NULL,
  key TEXT NOT NULL,
  key_2 TEXT NOT NULL
) STRICT;
CREATE TRIGGER jobs_added_shared AFTER INSERT ON jobs WHEN EXISTS (SELECT 1 FROM sharing)
  BEGIN INSERT INTO outbox (of_table, key, key_2) VALUES ('jobs', NEW.id, ''); END;
CREATE TRIGGER jobs_changed_shared AFTER UPDATE OF state ON jobs WHEN EXISTS (SELECT 1 FROM sharing)
  BEGIN INSERT INTO outbox (of_table, key, key_2) VALUES ('jobs', NEW.id, ''); END;
CREATE TRIGGER entries_added_shared AFTER INSERT ON entries WHEN EXISTS (SELECT 1 FROM sharing)
  BEGIN INSERT INTO outbox (of_table, key, key_2) VALUES ('entries', NEW.job, NEW.sequence); END;
CREATE TRIGGER baselines_added_shared AFTER INSERT ON baselines WHEN EXISTS (SELECT 1 FROM sharing)
  BEGIN INSERT INTO outbox (of_table, key, key_2) VALUES ('baselines', NEW.number, ''); END;
CREATE TRIGGER baselines_changed_shared AFTER UPDATE ON baselines WHEN EXISTS (SELECT 1 FROM sharing)
  BEGIN INSERT INTO outbox (of_table, key, key_2) VALUES ('baselines', NEW.number, ''); END;
CREATE TRIGGER baselines_removed_shared AFTER DELETE ON baselines WHEN EXISTS (SELECT 1 FROM sharing)
  BEGIN INSERT INTO outbox (of_table, key, key_2) VALUES ('baselines', OLD.number, ''); END;
CREATE TRIGGER cases_added_shared AFTER INSERT ON cases WHEN EXISTS (SELECT 1 FROM sharing)
  BEGIN INSERT INTO outbox (of_table, key, key_2) VALUES ('cases', NEW.job, ''); END;
CREATE TRIGGER cases_changed_shared AFTER UPDATE ON cases WHEN EXISTS (SELECT 1 FROM sharing)
  BEGIN INSERT INTO outbox (of_table, key, key_2) VALUES ('cases', NEW.job, ''); END;
CREATE TRIGGER cases_removed_shared AFTER DELETE ON cases WHEN EXISTS (SELECT 1 FROM sharing)
  BEGIN INSERT INTO outbox (of_table, key, key_2) VALUES ('cases', OLD.job, ''); END;
CREATE TRIGGER customers_added_shared AFTER INSERT ON customers WHEN EXISTS (SELECT 1 FROM sharing)
  BEGIN INSERT INTO outbox (of_table, key, key_2) VALUES ('customers', NEW.job, ''); END;
CREATE TRIGGER customers_changed_shared AFTER UPDATE ON customers WHEN EXISTS (SELECT 1 FROM sharing)
  BEGIN INSERT INTO outbox (of_table, key, key_2) VALUES ('customers', NEW.job, ''); END;
CREATE TRIGGER customers_removed_shared AFTER DELETE ON customers WHEN EXISTS (SELECT 1 FROM sharing)
  BEGIN INSERT INTO outbox (of_table, key, key_2) VALUES ('customers', OLD.job, ''); END;
CREATE TRIGGER vehicle_classes_added_shared AFTER INSERT ON vehicle_classes WHEN EXISTS (SELECT 1 FROM sharing)
  BEGIN INSERT INTO outbox (of_table, key, key_2) VALUES ('vehicle_classes', NEW.vehicle, NEW.class); END;
CREATE TRIGGER vehicle_classes_changed_shared AFTER UPDATE ON vehicle_classes WHEN EXISTS (SELECT 1 FROM sharing)
  BEGIN INSERT INTO outbox (of_table, key, key_2) VALUES ('vehicle_classes', NEW.vehicle, NEW.class); END;
CREATE TRIGGER comebacks_added_shared AFTER INSERT ON comebacks WHEN EXISTS (SELECT 1 FROM sharing)
  BEGIN INSERT INTO outbox (of_table, key, key_2) VALUES ('comebacks', NEW.job, ''); END;
CREATE TRIGGER comebacks_changed_shared AFTER UPDATE ON comebacks WHEN EXISTS (SELECT 1 FROM sharing)
  BEGIN INSERT INTO outbox (of_table, key, key_2) VALUES ('comebacks', NEW.job, ''); END;
CREATE TRIGGER exposures_added_shared AFTER INSERT ON exposures WHEN EXISTS (SELECT 1 FROM sharing)
  BEGIN INSERT INTO outbox (of_table, key, key_2) VALUES ('exposures', NEW.number, ''); END;
)sql";

// Minutes that steps of closed jobs really took: derived from the job like its case, this shop's own, never shared. And
// cases are counted as they are written: learning reads what they say once for each different pattern, however many
// there are. The counts follow from the cases; no export holds them.
constexpr std::string_view k_version_4 = R"sql(
CREATE TABLE step_minutes (
  job TEXT NOT NULL,
  sequence INTEGER NOT NULL,
  family TEXT NOT NULL,
  vehicle TEXT NOT NULL,
  items TEXT NOT NULL,
  taken REAL NOT NULL CHECK (taken > 0),
  PRIMARY KEY (job, sequence)
) STRICT, WITHOUT ROWID;
CREATE INDEX step_minutes_by_items ON step_minutes (family, vehicle, items, taken);
CREATE TABLE case_counts (
  family TEXT NOT NULL,
  vehicle TEXT NOT NULL,
  pattern TEXT NOT NULL,
  jobs INTEGER NOT NULL CHECK (jobs >= 0),
  PRIMARY KEY (family, vehicle, pattern)
) STRICT, WITHOUT ROWID;
INSERT INTO case_counts SELECT family, vehicle, pattern, count(*) FROM cases INDEXED BY cases_by_pattern
  WHERE superseded = 0 GROUP BY family, vehicle, pattern;
DROP INDEX cases_by_pattern;
CREATE TRIGGER cases_counted AFTER INSERT ON cases WHEN NEW.superseded = 0
  BEGIN
    INSERT INTO case_counts (family, vehicle, pattern, jobs) VALUES (NEW.family, NEW.vehicle, NEW.pattern, 1)
      ON CONFLICT DO UPDATE SET jobs = jobs + 1;
  END;
CREATE TRIGGER cases_counted_anew AFTER UPDATE OF family, vehicle, pattern, superseded ON cases
  WHEN OLD.family <> NEW.family OR OLD.vehicle <> NEW.vehicle OR OLD.pattern <> NEW.pattern
    OR OLD.superseded <> NEW.superseded
  BEGIN
    UPDATE case_counts SET jobs = jobs - 1 WHERE OLD.superseded = 0 AND family = OLD.family AND vehicle = OLD.vehicle
      AND pattern = OLD.pattern;
    INSERT INTO case_counts (family, vehicle, pattern, jobs) SELECT NEW.family, NEW.vehicle, NEW.pattern, 1
      WHERE NEW.superseded = 0 ON CONFLICT DO UPDATE SET jobs = jobs + 1;
    DELETE FROM case_counts WHERE family = OLD.family AND vehicle = OLD.vehicle AND pattern = OLD.pattern AND jobs = 0;
  END;
CREATE TRIGGER cases_not_counted AFTER DELETE ON cases WHEN OLD.superseded = 0
  BEGIN
    UPDATE case_counts SET jobs = jobs - 1 WHERE family = OLD.family AND vehicle = OLD.vehicle AND pattern = OLD.pattern;
    DELETE FROM case_counts WHERE family = OLD.family AND vehicle = OLD.vehicle AND pattern = OLD.pattern AND jobs = 0;
  END;
)sql";

constexpr std::array<std::string_view, 4> k_steps{k_version_1, k_version_2, k_version_3, k_version_4};

constexpr std::string_view k_doing = "open the job store";

/// While it lives everything is read from one state of the file: another terminal may be making the tables this moment.
class Snapshot {
 public:
  explicit Snapshot(const Connection& connection) : connection_(connection) {
    connection_.execute("SAVEPOINT snapshot", k_doing);
  }
  ~Snapshot() { sqlite3_exec(connection_.raw(), "RELEASE snapshot", nullptr, nullptr, nullptr); }
  Snapshot(const Snapshot&) = delete;
  Snapshot& operator=(const Snapshot&) = delete;

 private:
  const Connection& connection_;
};

}  // namespace

std::int64_t schema_version(const Connection& connection, std::int64_t known) {
  const Snapshot snapshot(connection);
  const std::int64_t owner = connection.number("PRAGMA application_id", k_doing);
  const std::int64_t version = connection.number("PRAGMA user_version", k_doing);
  const bool has_tables = connection.number("SELECT count(*) FROM sqlite_schema", k_doing) > 0;
  const bool ours = owner == k_application_id;
  const bool empty = owner == 0 && version == 0 && !has_tables;
  if (!empty && (!ours || version < 1))
    throw StoreError(store_message(k_doing, connection.path(), "it is a database of another program",
                                   "name another file; this one was left as it is"));
  if (version > known)
    throw StoreError(store_message(k_doing, connection.path(),
                                   "it has schema version " + std::to_string(version) +
                                       ", written by a newer lostspark; this one knows versions up to " +
                                       std::to_string(known),
                                   "install the newer lostspark, or use another store file"));
  return version;
}

std::span<const std::string_view> schema_steps() { return k_steps; }

void bring_up_to_date(const Connection& connection, std::span<const std::string_view> steps) {
  const auto wanted = static_cast<std::int64_t>(steps.size());
  if (schema_version(connection, wanted) == wanted) return;
  Transaction transaction(connection, k_doing);
  const std::int64_t version = schema_version(connection, wanted);  // another terminal may have been faster
  for (std::int64_t step = version; step < wanted; ++step)
    connection.execute(std::string(steps[static_cast<std::size_t>(step)]),
                       "bring to schema version " + std::to_string(step + 1) + " the job store");
  connection.execute("PRAGMA application_id = " + std::to_string(k_application_id), k_doing);
  connection.execute("PRAGMA user_version = " + std::to_string(wanted), k_doing);
  transaction.commit();
}

}  // namespace lostspark::history
