#include "job/archive.hpp"

#include <sqlite3.h>

#include <array>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>
#include <sstream>

#include "base/error.hpp"
#include "history/schema.hpp"
#include "job/csv.hpp"
#include "job/shares.hpp"
#include "learning/pattern.hpp"

namespace lostspark::job {
namespace {

using Json = nlohmann::ordered_json;
using history::Connection;
using history::Statement;

constexpr std::string_view k_reading = "read the job store", k_saving = "save to the job store";

struct Table {
  const char* name;
  const char* order;
};
// In the order in which rows may be put in again: jobs before their entries, entries by number.
constexpr std::array<Table, 11> k_tables{{{"jobs", "number"},
                                          {"entries", "job, sequence"},
                                          {"baselines", "number"},
                                          {"step_minutes", "job, sequence"},
                                          {"cases", "shop, job"},
                                          {"vehicle_classes", "vehicle, class"},
                                          {"comebacks", "shop, job"},
                                          {"exposures", "number"},
                                          {"rate_sets", "made_at, name"},
                                          {"rate_events", "number"},
                                          {"customers", "job"}}};

std::int64_t schema() { return static_cast<std::int64_t>(history::schema_steps().size()); }

/// One state of the store for as long as it lives, whoever writes meanwhile.
class Snapshot {
 public:
  explicit Snapshot(const Connection& c) : c_(c) { c_.execute("BEGIN", k_reading); }
  ~Snapshot() { sqlite3_exec(c_.raw(), "ROLLBACK", nullptr, nullptr, nullptr); }
  Snapshot(const Snapshot&) = delete;
  Snapshot& operator=(const Snapshot&) = delete;

 private:
  const Connection& c_;
};

template <class Row>
void each_row(const Connection& c, const Table& table, const Row& use) {
  Statement select(c, std::string("SELECT * FROM ") + table.name + " ORDER BY " + table.order, k_reading);
  Statement::Run run(select, k_reading);
  while (run.row()) use(run);
}

bool is_utf8(const std::string& text) {
  try {
    static_cast<void>(Json(text).dump());
    return true;
  } catch (const Json::exception&) {
    return false;
  }
}

std::string hex_of(const std::string& text) {
  std::string out;
  char pair[3];
  for (const unsigned char c : text) {
    std::snprintf(pair, sizeof pair, "%02x", static_cast<unsigned>(c));
    out += pair;
  }
  return out;
}

std::string from_hex(const std::string& hex) {
  std::string out;
  for (std::size_t i = 0; i + 1 < hex.size(); i += 2)
    out += static_cast<char>(std::stoi(hex.substr(i, 2), nullptr, 16));
  return out;
}

std::string real_text(double value) {
  char text[40];
  std::snprintf(text, sizeof text, "%.17g", value);
  return text;
}

Json cell_json(const Statement::Run& run, int column) {
  switch (sqlite3_column_type(run.raw(), column)) {
    case SQLITE_INTEGER:
      return run.number(column);
    case SQLITE_FLOAT:
      return run.real(column);
    default:
      break;
  }
  const std::string text = run.text(column);
  return is_utf8(text) ? Json(text) : Json{{"hex", hex_of(text)}};
}

void must_be_empty(const Connection& c) {
  for (const auto& table : k_tables)
    if (c.number(std::string("SELECT count(*) FROM ") + table.name, k_reading) > 0)
      throw InputError("the store " + c.path() + " holds " + table.name +
                       " already; an export is imported into an empty store (--store NEWFILE)");
}

const Table* table_named(const std::string& name) {
  for (const auto& t : k_tables)
    if (t.name == name) return &t;
  return nullptr;
}

void count(RowCounts& counts, const std::string& table) {
  for (auto& [name, n] : counts)
    if (name == table) {
      ++n;
      return;
    }
  counts.emplace_back(table, 1);
}

/// Inserts one row; the tables are strict, so text that is a number becomes one and other text is refused.
void insert(const Connection& c, const std::string& table, const std::vector<std::string>& columns,
            const std::vector<std::string>& values, const std::string& where) {
  std::string sql = "INSERT INTO " + table + " (", marks;
  for (std::size_t i = 0; i < columns.size(); ++i) {
    for (const char letter : columns[i])
      if ((letter < 'a' || letter > 'z') && letter != '_')
        throw InputError(where + ": '" + columns[i] + "' is no column of " + table);
    sql += (i > 0 ? ", " : "") + columns[i];
    marks += (i > 0 ? ", ?" : "?") + std::to_string(i + 1);
  }
  try {
    Statement statement(c, sql + ") VALUES (" + marks + ")", k_saving);
    Statement::Run run(statement, k_saving);
    for (std::size_t i = 0; i < values.size(); ++i) run.bind(static_cast<int>(i) + 1, std::string_view(values[i]));
    run.finish();
  } catch (const StoreError& error) {
    throw InputError(where + ": this row does not go into the table " + table + " (" + error.what() + ")");
  }
}

/// Entries and baselines hold what triggers refuse to change; whole logs come in as they were written.
template <class Rows>
RowCounts all_or_nothing(const Connection& c, const Rows& rows) {
  history::Transaction transaction(c, k_saving);
  must_be_empty(c);
  RowCounts counts;
  rows(counts);
  transaction.commit();
  return counts;
}

}  // namespace

RowCounts export_lines(const history::Knowledge& knowledge, std::ostream& out, Customers customers) {
  const auto& c = knowledge.connection();
  const Snapshot snapshot(c);
  RowCounts counts;
  out << Json{{"lostspark_export", 1}, {"schema", schema()}}.dump() << '\n';
  for (const auto& table : k_tables) {
    if (customers == Customers::left_out && std::string_view(table.name) == "customers") continue;
    counts.emplace_back(table.name, 0);
    each_row(c, table, [&](const Statement::Run& run) {
      Json row = Json::object();
      for (int i = 0; i < sqlite3_column_count(run.raw()); ++i)
        row[sqlite3_column_name(run.raw(), i)] = cell_json(run, i);
      out << Json{{"table", table.name}, {"row", std::move(row)}}.dump() << '\n';
      ++counts.back().second;
    });
  }
  out.flush();
  if (!out) throw InputError("the export cannot be written whole: is the disk full? Nothing of it was kept");
  return counts;
}

RowCounts export_csv(const history::Knowledge& knowledge, const std::string& folder, Customers customers) {
  namespace fs = std::filesystem;
  std::error_code error;
  fs::create_directories(folder, error);
  if (error) throw InputError(folder + ": the folder cannot be made (" + error.message() + ")");
  const auto& c = knowledge.connection();
  const Snapshot snapshot(c);
  RowCounts counts;
  /// Takes back what was written unless all was.
  struct Written {
    std::vector<fs::path> files;
    ~Written() {
      std::error_code ignored;
      for (const auto& f : files) fs::remove(f, ignored);
    }
  } written;
  for (const auto& table : k_tables) {
    if (customers == Customers::left_out && std::string_view(table.name) == "customers") continue;
    const fs::path file = fs::path(folder) / (std::string(table.name) + ".csv");
    if (fs::exists(file)) throw InputError(file.string() + ": is there already; name an empty folder");
    written.files.push_back(file);
    std::ofstream out(file, std::ios::binary);
    counts.emplace_back(table.name, 0);
    Statement select(c, std::string("SELECT * FROM ") + table.name + " ORDER BY " + table.order, k_reading);
    Statement::Run run(select, k_reading);
    const int columns = sqlite3_column_count(run.raw());
    for (int i = 0; i < columns; ++i) out << (i > 0 ? "," : "") << sqlite3_column_name(run.raw(), i);
    out << '\n';
    while (run.row()) {
      for (int i = 0; i < columns; ++i) {
        if (i > 0) out << ',';
        const int type = sqlite3_column_type(run.raw(), i);
        if (type == SQLITE_INTEGER) {
          out << run.number(i);
        } else if (type == SQLITE_FLOAT) {
          out << real_text(run.real(i));
        } else {
          out << '"';
          for (const char letter : run.text(i)) out << (letter == '"' ? "\"\"" : std::string(1, letter));
          out << '"';
        }
      }
      out << '\n';
      ++counts.back().second;
    }
    out.close();
    if (!out)
      throw InputError(file.string() + ": cannot be written whole: is the disk full? Nothing of the export was kept");
  }
  written.files.clear();
  return counts;
}

RowCounts import_lines(const history::Knowledge& knowledge, std::istream& in, const std::string& file) {
  const auto& c = knowledge.connection();
  return all_or_nothing(c, [&](RowCounts& counts) {
    std::string line;
    std::int64_t number = 0;
    while (std::getline(in, line)) {
      const std::string where = file + ", line " + std::to_string(++number);
      try {
        const Json j = Json::parse(line);
        if (number == 1) {
          if (j.value("lostspark_export", 0) != 1) throw InputError(where + ": this is no export of lostspark");
          if (j.at("schema").get<std::int64_t>() > schema())
            throw InputError(where + ": it was written by a newer lostspark (schema " + j.at("schema").dump() +
                             ", this one knows " + std::to_string(schema()) + "); install that one");
          continue;
        }
        const auto name = j.at("table").get<std::string>();
        if (table_named(name) == nullptr) throw InputError(where + ": there is no table '" + name + "'");
        std::vector<std::string> columns, values;
        for (const auto& [column, value] : j.at("row").items()) {
          columns.push_back(column);
          values.push_back(value.is_object()           ? from_hex(value.at("hex").get<std::string>())
                           : value.is_string()         ? value.get<std::string>()
                           : value.is_number_float()   ? real_text(value.get<double>())
                           : value.is_number_integer() ? std::to_string(value.get<std::int64_t>())
                                                       : value.dump());
        }
        insert(c, name, columns, values, where);
        count(counts, name);
      } catch (const Json::exception& error) {
        throw InputError(where + ": it cannot be read (" + error.what() + ")");
      }
    }
    if (number == 0) throw InputError(file + ": it is empty, or cannot be read");
  });
}

RowCounts import_csv(const history::Knowledge& knowledge, const std::string& folder) {
  namespace fs = std::filesystem;
  const auto& c = knowledge.connection();
  if (!fs::exists(fs::path(folder) / "jobs.csv"))
    throw InputError(folder + ": there is no jobs.csv in it; name the folder of `lostspark data export --csv`");
  return all_or_nothing(c, [&](RowCounts& counts) {
    for (const auto& table : k_tables) {
      const fs::path file = fs::path(folder) / (std::string(table.name) + ".csv");
      if (!fs::exists(file)) continue;  // customers were left out
      std::ifstream in(file, std::ios::binary);
      std::ostringstream text;
      text << in.rdbuf();
      if (!in) throw InputError(file.string() + ": cannot be read");
      const auto rows = read_csv(text.str(), file.string());
      for (std::size_t i = 1; i < rows.size(); ++i) {
        const std::string where = file.string() + ", row " + std::to_string(i + 1);
        if (rows[i].size() != rows[0].size())
          throw InputError(where + ": it has " + std::to_string(rows[i].size()) + " fields where the first row has " +
                           std::to_string(rows[0].size()));
        insert(c, table.name, rows[0], rows[i], where);
        count(counts, table.name);
      }
    }
  });
}

void backup(const history::Knowledge& knowledge, const std::string& file) {
  namespace fs = std::filesystem;
  std::error_code error;
  const fs::path path = fs::absolute(file, error);
  if (error || fs::exists(path)) throw InputError(file + ": is there already; name a file that is not");
  try {
    const Connection copy(path.string(), "");
    sqlite3_backup* work = sqlite3_backup_init(copy.raw(), "main", knowledge.connection().raw(), "main");
    if (work == nullptr) copy.fail(sqlite3_extended_errcode(copy.raw()), "make the backup");
    const int code = sqlite3_backup_step(work, -1);
    sqlite3_backup_finish(work);
    if (code != SQLITE_DONE) copy.fail(code, "make the backup");
    if (const auto finding = copy.text("PRAGMA quick_check(1)", "check the backup"); finding != "ok")
      throw StoreError("the backup " + path.string() + " is damaged (" + finding + "); make another on a sound disk");
  } catch (...) {
    fs::remove(path, error);
    throw;
  }
}

StoreCheck check_store(const history::Knowledge& knowledge) {
  const auto& c = knowledge.connection();
  const Snapshot snapshot(c);
  StoreCheck out;
  out.schema = c.number("PRAGMA user_version", k_reading);
  {
    Statement check(c, "PRAGMA integrity_check(20)", k_reading);
    Statement::Run run(check, k_reading);
    while (run.row())
      if (run.text(0) != "ok") out.problems.push_back("damaged: " + run.text(0));
  }
  {
    Statement check(c, "PRAGMA foreign_key_check", k_reading);
    Statement::Run run(check, k_reading);
    while (run.row()) out.problems.push_back("a row of " + run.text(0) + " belongs to no job");
  }
  {
    Statement gaps(c, "SELECT job FROM entries GROUP BY job HAVING max(sequence) <> count(*) OR min(sequence) <> 1",
                   k_reading);
    Statement::Run run(gaps, k_reading);
    while (run.row()) out.problems.push_back("the log of job " + run.text(0) + " has a gap");
  }
  const auto differ = [&](const char* one, const char* other) {
    return c.number("SELECT EXISTS (" + std::string(one) + " EXCEPT " + other + ")", k_reading) != 0;
  };
  constexpr const char* k_counted =
      "SELECT family, vehicle, pattern, count(*) FROM cases WHERE superseded = 0 GROUP BY family, vehicle, pattern";
  constexpr const char* k_kept = "SELECT family, vehicle, pattern, jobs FROM case_counts";
  if (differ(k_counted, k_kept) || differ(k_kept, k_counted))
    out.problems.push_back(
        "the counts of cases do not agree with the cases; export and import into a new store counts them anew");
  for (const auto& table : k_tables)
    out.rows.emplace_back(table.name, c.number(std::string("SELECT count(*) FROM ") + table.name, k_reading));
  const auto readable = [&](const auto& read) {
    try {
      read();
    } catch (const Error& error) {
      out.problems.emplace_back(error.what());
    }
  };
  knowledge.each_pattern(
      [&](const history::PatternCount& group) { readable([&] { (void)learning::read_pattern(group.pattern); }); });
  for (const auto& set : knowledge.rate_sets()) readable([&] { (void)named_set(knowledge, set.name); });
  readable([&] { (void)set_in_use(knowledge); });
  return out;
}

}  // namespace lostspark::job
