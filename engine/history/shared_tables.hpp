// The tables a shop sends, described once: the sender reads these columns from SQLite, the server's tables are made of
// them with the shop in front. A test compares them with the SQLite schema.
#pragma once

#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace lostspark::history {

struct SharedColumn {
  std::string_view name;
  std::string_view type;  ///< PostgreSQL's
  bool key = false;
  std::string_view stripped{};  ///< SQLite expression instead of the column where free text must stay in the shop
};

struct SharedTable {
  std::string_view name;
  std::vector<SharedColumn> columns;
  std::string_view own{};       ///< condition on rows that are this shop's own; empty: all are
  std::string_view rules{};     ///< PostgreSQL statements behind the table: references, indexes, triggers
  bool removable = true;        ///< a row that is gone here goes there
  bool customers_only = false;  ///< only where the shop shares its customers
};

/// In an order in which rows may be put in: jobs before entries.
[[nodiscard]] std::span<const SharedTable> shared_tables();
/// Null when there is none.
[[nodiscard]] const SharedTable* find_shared_table(std::string_view name);

/// Version of the server's schema, and the statements that make it in an empty database.
inline constexpr int k_shared_version = 1;
[[nodiscard]] std::string shared_schema();

/// "SELECT ... FROM table WHERE key": one row from SQLite; keys bound as text at ?1 and ?2.
[[nodiscard]] std::string read_row_sql(const SharedTable& table, bool free_text);
/// $1 is the shop, $2 and on the columns; puts the row in, or in place of the one with its key.
[[nodiscard]] std::string put_row_sql(const SharedTable& table);
/// $1 is the shop, $2 and $3 the keys.
[[nodiscard]] std::string remove_row_sql(const SharedTable& table);
/// Notes all rows of a table in the outbox.
[[nodiscard]] std::string note_all_sql(const SharedTable& table);

}  // namespace lostspark::history
