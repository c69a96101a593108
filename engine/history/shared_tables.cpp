#include "history/shared_tables.hpp"

#include <algorithm>

namespace lostspark::history {

namespace {

// What a person typed freely may hold a name: the customer's words, a note.
constexpr std::string_view k_body_stripped =
    "CASE WHEN kind IN ('intake', 'note') AND json_valid(body) THEN json_replace(body, '$.words', '', '$.text', '') "
    "ELSE body END";

constexpr std::string_view k_entry_rules = R"sql(
ALTER TABLE entries ADD FOREIGN KEY (shop, job) REFERENCES jobs (shop, id);
CREATE FUNCTION entries_refuse() RETURNS trigger LANGUAGE plpgsql AS
  $$ BEGIN RAISE EXCEPTION 'an entry is never changed or deleted, append a correction'; END $$;
CREATE TRIGGER entries_stay BEFORE UPDATE OR DELETE ON entries FOR EACH ROW EXECUTE FUNCTION entries_refuse();
)sql";

std::vector<SharedTable> described() {
  std::vector<SharedTable> all;
  all.push_back({"jobs",
                 {{"number", "bigint"},
                  {"id", "text", true},
                  {"vehicle", "text"},
                  {"family", "text"},
                  {"family_version", "text"},
                  {"network_text", "text"},
                  {"workshop_json", "text"},
                  {"opened_at", "text"},
                  {"state", "text"}},
                 "",
                 "",
                 false});
  all.push_back({"entries",
                 {{"job", "text", true},
                  {"sequence", "bigint", true},
                  {"kind", "text"},
                  {"body", "text", false, k_body_stripped},
                  {"at", "text"}},
                 "",
                 k_entry_rules,
                 false});
  all.push_back({"baselines",
                 {{"number", "bigint", true},
                  {"vehicle", "text"},
                  {"family", "text"},
                  {"test", "text"},
                  {"unit", "text"},
                  {"value", "double precision"},
                  {"individual", "text", false, "''"},
                  {"condition", "text"},
                  {"hookup", "text"},
                  {"speed", "text"},
                  {"instrument", "text"},
                  {"read_at", "text"},
                  {"note", "text", false, "''"},
                  {"source", "text"},
                  {"job", "text"},
                  {"sequence", "bigint"},
                  {"struck", "bigint"}}});
  all.push_back({"cases",
                 {{"job", "text", true},
                  {"family", "text"},
                  {"vehicle", "text"},
                  {"pattern", "text"},
                  {"confirmed", "text"},
                  {"faults", "text"},
                  {"for_nothing", "text"},
                  {"closed_at", "text"},
                  {"entries", "bigint"},
                  {"superseded", "bigint"}},
                 "shop = ''",
                 "CREATE INDEX cases_by_pattern ON cases (family, vehicle, pattern) WHERE superseded = 0;\n"});
  all.push_back(
      {"vehicle_classes",
       {{"vehicle", "text", true}, {"family", "text"}, {"class", "text", true}, {"odds", "double precision"}}});
  all.push_back({"comebacks", {{"job", "text", true}, {"first_job", "text"}, {"at", "text"}}, "shop = ''"});
  all.push_back({"exposures",
                 {{"number", "bigint", true},
                  {"vehicle", "text"},
                  {"family", "text"},
                  {"hours", "double precision"},
                  {"at", "text"},
                  {"note", "text", false, "''"}},
                 "shop = ''"});
  all.push_back({"customers",
                 {{"job", "text", true}, {"name", "text"}, {"registration", "text"}, {"noted_at", "text"}},
                 "",
                 "",
                 true,
                 true});
  return all;
}

std::vector<std::string> keys_of(const SharedTable& table) {
  std::vector<std::string> keys;
  for (const auto& c : table.columns)
    if (c.key) keys.emplace_back(c.name);
  return keys;
}

std::string joined(const std::vector<std::string>& parts, std::string_view between) {
  std::string out;
  for (const auto& part : parts) out.append(out.empty() ? "" : between).append(part);
  return out;
}

}  // namespace

std::span<const SharedTable> shared_tables() {
  static const std::vector<SharedTable> all = described();
  return all;
}

const SharedTable* find_shared_table(std::string_view name) {
  const auto all = shared_tables();
  const auto found = std::find_if(all.begin(), all.end(), [&](const auto& t) { return t.name == name; });
  return found == all.end() ? nullptr : &*found;
}

std::string shared_schema() {
  // What PostgreSQL sorts is sorted byte by byte, as SQLite does it, whatever language the server speaks.
  std::string sql =
      "CREATE TABLE about (version bigint NOT NULL, history text NOT NULL);\n"
      "CREATE TABLE shops (name text PRIMARY KEY, member text NOT NULL);\n";
  for (const auto& table : shared_tables()) {
    sql.append("CREATE TABLE ").append(table.name).append(" (shop text COLLATE \"C\" NOT NULL REFERENCES shops (name)");
    for (const auto& c : table.columns)
      sql.append(", ")
          .append(c.name)
          .append(" ")
          .append(c.type)
          .append(c.type == "text" ? " COLLATE \"C\"" : "")
          .append(" NOT NULL");
    sql.append(", PRIMARY KEY (shop, ").append(joined(keys_of(table), ", ")).append("));\n").append(table.rules);
  }
  return sql;
}

std::string read_row_sql(const SharedTable& table, bool free_text) {
  std::vector<std::string> columns, conditions;
  int place = 0;
  for (const auto& c : table.columns) {
    columns.emplace_back(!free_text && !c.stripped.empty() ? c.stripped : c.name);
    if (c.key) conditions.push_back(std::string(c.name) + " = ?" + std::to_string(++place));
  }
  if (!table.own.empty()) conditions.emplace_back(table.own);
  return "SELECT " + joined(columns, ", ") + " FROM " + std::string(table.name) + " WHERE " +
         joined(conditions, " AND ");
}

std::string put_row_sql(const SharedTable& table) {
  std::vector<std::string> columns, marks, updates;
  int place = 1;
  for (const auto& c : table.columns) {
    columns.emplace_back(c.name);
    marks.push_back("$" + std::to_string(++place));
    if (!c.key) updates.push_back(std::string(c.name) + " = excluded." + std::string(c.name));
  }
  return "INSERT INTO " + std::string(table.name) + " (shop, " + joined(columns, ", ") + ") VALUES ($1, " +
         joined(marks, ", ") + ") ON CONFLICT (shop, " + joined(keys_of(table), ", ") + ") DO " +
         (table.name == "entries" ? "NOTHING" : "UPDATE SET " + joined(updates, ", "));
}

std::string remove_row_sql(const SharedTable& table) {
  std::string sql = "DELETE FROM " + std::string(table.name) + " WHERE shop = $1";
  int place = 1;
  for (const auto& key : keys_of(table)) sql += " AND " + key + " = $" + std::to_string(++place);
  return sql;
}

std::string note_all_sql(const SharedTable& table) {
  const auto keys = keys_of(table);
  return "INSERT INTO outbox (of_table, key, key_2) SELECT '" + std::string(table.name) + "', " + keys[0] + ", " +
         (keys.size() > 1 ? keys[1] : "''") + " FROM " + std::string(table.name) +
         (table.own.empty() ? "" : " WHERE " + std::string(table.own)) + " ORDER BY " + joined(keys, ", ");
}

}  // namespace lostspark::history
