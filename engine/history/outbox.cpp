#include "history/outbox.hpp"

#include <array>
#include <cstdio>
#include <random>
#include <set>
#include <utility>

#include "history/sqlite_message.hpp"

namespace lostspark::history {

namespace {

constexpr std::string_view k_reading = "read the job store", k_saving = "save to the job store";
constexpr int k_rows_at_once = 500;

std::string random_name() {
  std::random_device source;
  std::string name;
  for (int i = 0; i < 32; ++i) name += "0123456789abcdef"[source() % 16];
  return name;
}

void check_shop(const std::string& shop) {
  const bool good =
      !shop.empty() && shop.size() <= 60 &&
      shop.find_first_not_of("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_-") == std::string::npos;
  if (!good)
    throw StoreError(shop.empty() ? "a shared history needs the name of this shop; set LOSTSPARK_SHOP once, the store "
                                    "keeps it"
                                  : "'" + printable(shop) +
                                        "' is no name for a shop: expected letters, digits, '-' and '_', at most 60; "
                                        "set LOSTSPARK_SHOP to such a name");
}

bool is_utf8(std::string_view text) {
  for (std::size_t i = 0; i < text.size();) {
    const auto lead = static_cast<unsigned char>(text[i]);
    const std::size_t length = lead < 0x80                   ? 1
                               : lead >= 0xC2 && lead < 0xE0 ? 2
                               : lead >= 0xE0 && lead < 0xF0 ? 3
                               : lead >= 0xF0 && lead < 0xF5 ? 4
                                                             : 0;
    if (length == 0 || i + length > text.size()) return false;
    for (std::size_t k = 1; k < length; ++k)
      if ((static_cast<unsigned char>(text[i + k]) & 0xC0) != 0x80) return false;
    const auto second = length > 1 ? static_cast<unsigned char>(text[i + 1]) : 0;
    if ((lead == 0xE0 && second < 0xA0) || (lead == 0xED && second > 0x9F) || (lead == 0xF0 && second < 0x90) ||
        (lead == 0xF4 && second > 0x8F))
      return false;
    i += length;
  }
  return true;
}

/// PostgreSQL keeps no zero bytes and nothing but UTF-8: such a row must not block the others.
std::string sendable(std::string text) {
  if (text.find('\0') == std::string::npos && is_utf8(text)) return text;
  std::string out = "hex:";
  for (const char c : text) {
    const auto byte = static_cast<unsigned char>(c);
    out += "0123456789abcdef"[byte >> 4];
    out += "0123456789abcdef"[byte & 15];
  }
  return out;
}

std::string value_of(const Statement::Run& run, int place, const SharedColumn& column) {
  if (column.type != "double precision") return sendable(run.text(place));
  char text[40];  // SQLite's own text of a number leaves its last digits out
  std::snprintf(text, sizeof text, "%.17g", run.real(place));
  return text;
}

std::int64_t number_of(const std::string& text) { return text.empty() ? 0 : std::stoll(text); }

}  // namespace

Outbox::Outbox(const Connection& local, std::string connection, const SharedOptions& options)
    : local_(local), connection_(std::move(connection)), options_(options) {
  Transaction transaction(local_, k_saving);
  shop_ = local_.text("SELECT shop FROM sharing", k_reading);
  if (shop_.empty()) {
    check_shop(options.shop);
    shop_ = options.shop;
    Statement put(local_, "INSERT INTO sharing (one, shop, member, history, customers) VALUES (1, ?1, ?2, '', 0)",
                  k_saving);
    Statement::Run(put, k_saving).bind(1, shop_).bind(2, random_name()).finish();
    note_all();
  } else if (!options.shop.empty() && options.shop != shop_) {
    throw StoreError("the job store " + local_.path() + " is shared as shop '" + shop_ + "', not as '" +
                     printable(options.shop) + "'; leave LOSTSPARK_SHOP out, or use another store file");
  }
  member_ = local_.text("SELECT member FROM sharing", k_reading);
  // With the switch turned all of them are looked at again: sent, or taken out there.
  if (local_.number("SELECT customers FROM sharing", k_reading) != (options.customers ? 1 : 0)) {
    local_.execute(note_all_sql(*find_shared_table("customers")), k_saving);
    local_.execute(std::string("UPDATE sharing SET customers = ") + (options.customers ? "1" : "0"), k_saving);
  }
  transaction.commit();
}

void Outbox::note_all() const {
  for (const auto& table : shared_tables()) local_.execute(note_all_sql(table), k_saving);
}

void Outbox::send_all_again() {
  Transaction transaction(local_, k_saving);
  note_all();
  transaction.commit();
  not_before_.reset();
}

std::int64_t Outbox::waiting() const { return local_.number("SELECT count(*) FROM outbox", k_reading); }

std::string Outbox::where() const { return server_ ? server_->where() : "a database not reached yet"; }

Server& Outbox::server() const {
  if (server_) return *server_;
  auto fresh = std::make_unique<Server>(connection_);
  become_member(*fresh);
  server_ = std::move(fresh);
  return *server_;
}

void Outbox::become_member(Server& server) const {
  ServerTransaction transaction(server);
  static_cast<void>(server.rows("SELECT pg_advisory_xact_lock(hashtext('lostspark schema'))"));
  if (server.first("SELECT 1 FROM pg_namespace WHERE nspname = 'lostspark'").empty()) {
    server.execute("CREATE SCHEMA lostspark");
    server.execute("SET LOCAL search_path = lostspark");
    server.execute(shared_schema());
    static_cast<void>(server.rows("INSERT INTO about (version, history) VALUES ($1, $2)",
                                  {std::to_string(k_shared_version), random_name()}));
  }
  server.execute("SET search_path = lostspark");
  const auto about = server.rows("SELECT version, history FROM about");
  if (about.size() != 1 || number_of(about[0][0]) > k_shared_version)
    throw StoreError(store_message("use the shared history", server.where(),
                                   about.size() == 1 ? "it has schema version " + about[0][0] +
                                                           ", made by a newer lostspark; this one knows version " +
                                                           std::to_string(k_shared_version)
                                                     : std::string("its schema 'lostspark' is not ours"),
                                   "install the newer lostspark, or use another database"));
  static_cast<void>(
      server.rows("INSERT INTO shops (name, member) VALUES ($1, $2) ON CONFLICT DO NOTHING", {shop_, member_}));
  if (server.first("SELECT member FROM shops WHERE name = $1", {shop_}) != member_)
    throw StoreError(store_message("use the shared history", server.where(),
                                   "another job store shares there as shop '" + shop_ + "' already",
                                   "give every store file its own name, with LOSTSPARK_SHOP and a new store file"));
  transaction.commit();
  if (const std::string before = local_.text("SELECT history FROM sharing", k_reading); before != about[0][1]) {
    Transaction local(local_, k_saving);
    if (!before.empty()) note_all();  // another database than before: it knows nothing of us
    Statement put(local_, "UPDATE sharing SET history = ?1", k_saving);
    Statement::Run(put, k_saving).bind(1, about[0][1]).finish();
    local.commit();
  }
}

void Outbox::send_row(Server& server, const SharedTable& table, const std::string& key,
                      const std::string& key_2) const {
  int keys = 0;
  for (const auto& c : table.columns) keys += c.key ? 1 : 0;
  Server::Row values{shop_};
  if (!table.customers_only || options_.customers) {
    Statement select(local_, read_row_sql(table, options_.customers), k_reading);
    Statement::Run run(select, k_reading);
    run.bind(1, key);
    if (keys > 1) run.bind(2, key_2);
    if (run.row())
      for (int i = 0; i < static_cast<int>(table.columns.size()); ++i)
        values.push_back(value_of(run, i, table.columns[static_cast<std::size_t>(i)]));
  }
  if (values.size() > 1) {
    static_cast<void>(server.rows(put_row_sql(table), values));
  } else if (table.removable) {
    values.push_back(sendable(key));
    if (keys > 1) values.push_back(sendable(key_2));
    static_cast<void>(server.rows(remove_row_sql(table), values));
  }
}

bool Outbox::send_some(Server& server) const {
  if (waiting() == 0) return false;
  ServerTransaction transaction(server);
  // One sender of a shop at a time: what is read now must not be overtaken by an older state of the same row.
  static_cast<void>(server.rows("SELECT pg_advisory_xact_lock(hashtext('lostspark shop'), hashtext($1))", {shop_}));
  std::int64_t last = 0;
  std::vector<std::array<std::string, 3>> names;
  {
    Statement select(local_, "SELECT number, of_table, key, key_2 FROM outbox ORDER BY number LIMIT ?1", k_reading);
    Statement::Run run(select, k_reading);
    run.bind(1, std::int64_t{k_rows_at_once});
    std::set<std::array<std::string, 3>> seen;
    while (run.row()) {
      last = run.number(0);
      if (std::array name{run.text(1), run.text(2), run.text(3)}; seen.insert(name).second) names.push_back(name);
    }
  }
  for (const auto& [of_table, key, key_2] : names)
    if (const auto* table = find_shared_table(of_table)) send_row(server, *table, key, key_2);
  transaction.commit();
  // Numbers are given in the order of commits, so nothing below `last` was left out. When we die here the rows are sent
  // again, onto themselves.
  Transaction local(local_, k_saving);
  Statement remove(local_, "DELETE FROM outbox WHERE number <= ?1", k_saving);
  Statement::Run(remove, k_saving).bind(1, last).finish();
  local.commit();
  return true;
}

void Outbox::send() noexcept {
  try {
    if (waiting() == 0) {
      trouble_.clear();
      return;
    }
    if (not_before_ && std::chrono::steady_clock::now() < *not_before_) return;
    while (send_some(server())) {
    }
    trouble_.clear();
    not_before_.reset();
  } catch (const std::exception& error) {
    trouble_ = error.what();
    server_.reset();
    not_before_ = std::chrono::steady_clock::now() + std::chrono::seconds(options_.retry_after_s);
  }
}

Server& Outbox::up_to_date() const {
  try {
    while (send_some(server())) {
    }
    return server();
  } catch (const ServerLost& lost) {
    server_.reset();
    throw ServerLost(std::string(lost.what()) + "; this shop's jobs alone can be counted (--own)");
  } catch (...) {
    server_.reset();
    throw;
  }
}

}  // namespace lostspark::history
