// The store as text and back: every table, every awkward value, from any earlier schema.
#include "job/archive.hpp"

#include <algorithm>
#include <filesystem>
#include <list>
#include <set>
#include <sstream>

#include "base/error.hpp"
#include "catch_all.hpp"
#include "history/schema.hpp"
#include "support/scratch_folder.hpp"

using namespace lostspark;
using namespace lostspark::job;
using history::Connection;
using history::Statement;

namespace {

/// Of this file alone (docs/storage.md): under which name it is shared, and what waits to be sent. And counts, which
/// follow from the cases.
const std::set<std::string> k_not_exported{"sharing", "outbox", "sqlite_sequence", "case_counts"};

/// Quotes, line ends, commas, umlauts, a zero byte, bytes that are no UTF-8, an empty text, a number as text.
const std::vector<std::string> k_awkward{"say \"no\", it's\r\nnew\nline;",
                                         "gr\xc3\xbc\xc3\x9f\x65",
                                         std::string("a\0b", 3),
                                         "\xff\xfe\x80",
                                         "",
                                         " 007 ",
                                         "null",
                                         "{\"hex\":\"00\"}"};
const std::vector<double> k_numbers{0.1, 1.0 / 3, 205.0, 4.9e-324, 1.7976931348623157e308, 123456789012345.67};

std::vector<std::string> texts(const Connection& c, const std::string& sql) {
  Statement select(c, sql, "read");
  Statement::Run run(select, "read");
  std::vector<std::string> out;
  while (run.row()) out.push_back(run.text(0));
  return out;
}

std::vector<std::string> tables_of(const Connection& c) {
  auto all = texts(c, "SELECT name FROM sqlite_schema WHERE type = 'table' ORDER BY name");
  std::erase_if(all, [](const auto& name) { return k_not_exported.contains(name); });
  return all;
}

/// Every cell of every table with its type.
std::string whole(const Connection& c) {
  std::string out;
  auto tables = tables_of(c);
  tables.emplace_back("case_counts");  // made again by the import
  for (const auto& table : tables) {
    std::string cells;
    for (const auto& column : texts(c, "SELECT name FROM pragma_table_info('" + table + "')"))
      cells += (cells.empty() ? "" : " || ',' || ") + ("typeof(" + column + ") || hex(CAST(" + column + " AS BLOB))") +
               " || CASE typeof(" + column + ") WHEN 'real' THEN printf('%!.20g', " + column + ") ELSE '' END";
    out += table + "\n";
    auto rows = texts(c, "SELECT " + cells + " FROM " + table);
    std::sort(rows.begin(), rows.end());
    for (const auto& row : rows) out += row + "\n";
  }
  return out;
}

/// Three rows or more in every table, whatever its columns are: a new table is filled too.
void fill(const Connection& c) {
  std::size_t turn = 0;
  const auto fill_table = [&](const std::string& table, int rows) {
    Statement columns(c, "SELECT name, type FROM pragma_table_info('" + table + "')", "read");
    std::vector<std::pair<std::string, std::string>> all;
    {
      Statement::Run run(columns, "read");
      while (run.row()) all.emplace_back(run.text(0), run.text(1));
    }
    for (int row = 1; row <= rows; ++row) {
      std::string names, marks;
      for (std::size_t i = 0; i < all.size(); ++i) {
        names += (i > 0 ? ", " : "") + all[i].first;
        marks += (i > 0 ? ", ?" : "?") + std::to_string(i + 1);
      }
      Statement insert(c, "INSERT INTO " + table + " (" + names + ") VALUES (" + marks + ")", "fill");
      std::list<std::string> kept;  // a statement binds texts where they stand
      Statement::Run run(insert, "fill");
      const auto text = [&](int at, std::string value) {
        run.bind(at, std::string_view(kept.emplace_back(std::move(value))));
      };
      for (std::size_t i = 0; i < all.size(); ++i) {
        const auto& [name, type] = all[i];
        const int at = static_cast<int>(i) + 1;
        const std::string id = "J000" + std::to_string(row);
        if (name == "id" || (name == "job" && table != "baselines"))
          text(at, id);
        else if (name == "sequence" && table == "entries")
          run.bind(at, std::int64_t{1});
        else if (name == "state")
          run.bind(at, std::string_view("waiting_for_part"));
        else if (name == "source")
          run.bind(at, std::string_view("imported"));
        else if (name == "confirmed")
          run.bind(at, std::string_view(row == 1 ? "" : "proved"));
        else if (name == "pattern")
          run.bind(at, std::string_view("a:0 b:7"));
        else if (name == "action")
          run.bind(at, std::string_view("set_aside"));
        else if (name == "struck" || name == "superseded")
          run.bind(at, std::int64_t{row % 2});
        else if (type == "INTEGER")
          run.bind(at, std::int64_t{row});
        else if (type == "REAL")
          run.bind(at, k_numbers[turn++ % k_numbers.size()]);
        else if (name == "name" || name == "vehicle" || name == "class")
          text(at, k_awkward[turn++ % k_awkward.size()] + std::to_string(row));
        else
          run.bind(at, k_awkward[turn++ % k_awkward.size()]);
      }
      run.finish();
    }
  };
  fill_table("jobs", 8);
  for (const auto& table : tables_of(c))
    if (table != "jobs") fill_table(table, 8);
}

std::set<std::string> names(const RowCounts& counts) {
  std::set<std::string> out;
  for (const auto& [name, n] : counts)
    if (n > 0) out.insert(name);
  return out;
}

}  // namespace

TEST_CASE("export and import bring every cell of every table back, as JSON lines and as CSV", "[job][property]") {
  const auto store = history::open_memory();
  const auto& c = store->knowledge().connection();
  fill(c);
  const auto tables = tables_of(c);
  const std::set<std::string> expected(tables.begin(), tables.end());
  const std::string before = whole(c);
  for (const auto& table : expected)
    CHECK(c.number("SELECT count(*) FROM " + table, "count") == 8);  // the fixture itself

  std::stringstream lines;
  CHECK(names(export_lines(store->knowledge(), lines, Customers::taken_along)) == expected);  // no table is forgotten
  const auto from_lines = history::open_memory();
  CHECK(names(import_lines(from_lines->knowledge(), lines, "lines")) == expected);
  CHECK(whole(from_lines->knowledge().connection()) == before);

  const test::ScratchFolder scratch;
  const std::string folder = (scratch.path / "csv").string();
  CHECK(names(export_csv(store->knowledge(), folder, Customers::taken_along)) == expected);
  const auto from_csv = history::open_memory();
  CHECK(names(import_csv(from_csv->knowledge(), folder)) == expected);
  CHECK(whole(from_csv->knowledge().connection()) == before);

  // Customers stay out unless asked for, and nothing else does.
  std::stringstream without;
  auto kept = expected;
  kept.erase("customers");
  CHECK(names(export_lines(store->knowledge(), without, Customers::left_out)) == kept);
  CHECK(without.str().find("\"customers\"") == std::string::npos);
}

TEST_CASE("an export of an earlier schema comes in; one row that does not fit leaves the store empty", "[job][fault]") {
  const auto store = history::open_memory();
  std::stringstream old(
      "{\"lostspark_export\":1,\"schema\":1}\n"
      "{\"table\":\"jobs\",\"row\":{\"number\":1,\"id\":\"J0001\",\"vehicle\":\"v\",\"family\":\"f\",\"family_"
      "version\":"
      "\"1\",\"network_text\":\"\",\"workshop_json\":\"{}\",\"opened_at\":\"then\",\"state\":\"closed\"}}\n"
      "{\"table\":\"entries\",\"row\":{\"job\":\"J0001\",\"sequence\":1,\"kind\":\"note\",\"body\":\"{}\",\"at\":"
      "\"then\"}}\n");
  import_lines(store->knowledge(), old, "old");
  CHECK(store->knowledge().connection().number("SELECT count(*) FROM entries WHERE job = 'J0001'", "count") == 1);

  const auto whole_or_not = history::open_memory();
  std::stringstream bad(
      "{\"lostspark_export\":1,\"schema\":1}\n"
      "{\"table\":\"exposures\",\"row\":{\"number\":1,\"shop\":\"\",\"vehicle\":\"v\",\"family\":\"f\",\"hours\":2.5,"
      "\"at\":\"\",\"note\":\"\"}}\n"
      "{\"table\":\"exposures\",\"row\":{\"number\":2,\"shop\":\"\",\"vehicle\":\"v\",\"family\":\"f\",\"hours\":-1,"
      "\"at\":\"\",\"note\":\"\"}}\n");
  CHECK_THROWS_AS(import_lines(whole_or_not->knowledge(), bad, "bad"), InputError);
  CHECK(whole_or_not->knowledge().exposures().empty());
  std::stringstream newer("{\"lostspark_export\":1,\"schema\":" + std::to_string(history::schema_steps().size() + 1) +
                          "}\n");
  CHECK_THROWS_AS(import_lines(whole_or_not->knowledge(), newer, "newer"), InputError);
}
