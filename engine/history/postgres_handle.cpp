#include "history/postgres_handle.hpp"

#include "history/sqlite_message.hpp"

#ifdef LOSTSPARK_POSTGRES
#include <libpq-fe.h>
#endif

namespace lostspark::history {

#ifdef LOSTSPARK_POSTGRES

namespace {

constexpr std::string_view k_later = "what was recorded is kept here and sent later";

PGconn* raw(const std::unique_ptr<void, auto>& handle) { return static_cast<PGconn*>(handle.get()); }

struct Clear {
  void operator()(PGresult* result) const noexcept { PQclear(result); }
};
using Result = std::unique_ptr<PGresult, Clear>;

/// Reads on to the end of a query when it goes out of scope.
struct Drain {
  PGconn* connection;
  ~Drain() {
    while (PGresult* rest = PQgetResult(connection)) PQclear(rest);
  }
};

bool good(const PGresult* result) {
  const auto status = PQresultStatus(result);
  return status == PGRES_TUPLES_OK || status == PGRES_SINGLE_TUPLE || status == PGRES_COMMAND_OK;
}

Server::Row row_of(const PGresult* result, int row) {
  Server::Row out;
  for (int i = 0; i < PQnfields(result); ++i)
    out.emplace_back(PQgetvalue(result, row, i), static_cast<std::size_t>(PQgetlength(result, row, i)));
  return out;
}

std::vector<const char*> pointers(const Server::Row& parameters) {
  std::vector<const char*> out;
  for (const auto& p : parameters) {
    if (p.find('\0') != std::string::npos) throw StoreError("the shared history cannot keep text with a zero byte");
    out.push_back(p.c_str());
  }
  return out;
}

}  // namespace

void Server::Close::operator()(void* handle) const noexcept { PQfinish(static_cast<PGconn*>(handle)); }

Server::Server(const std::string& connection) {
  // Ours come first: what the person wrote into the connection string wins.
  const char* const names[] = {"connect_timeout", "tcp_user_timeout", "application_name",
                               "client_encoding", "dbname",           nullptr};
  const char* const values[] = {"3", "5000", "lostspark", "UTF8", connection.c_str(), nullptr};
  handle_.reset(PQconnectdbParams(names, values, 1));
  PGconn* c = raw(handle_);
  const auto text = [](const char* t) { return std::string(t == nullptr ? "" : t); };
  where_ = "database " + text(PQdb(c)) + " on " + text(PQhost(c));
  if (PQstatus(c) != CONNECTION_OK)
    throw ServerLost(store_message("reach the shared history", where_, printable(PQerrorMessage(c)), k_later));
  PQsetNoticeProcessor(
      c, [](void*, const char*) {}, nullptr);
  execute("SET statement_timeout = '60s'; SET lock_timeout = '5s'; SET idle_in_transaction_session_timeout = '60s'");
}

void Server::fail(const std::string& detail) {
  const std::string said = printable(detail);
  { const Drain drain{raw(handle_)}; }
  if (PQstatus(raw(handle_)) != CONNECTION_OK)
    throw ServerLost(store_message("reach the shared history", where_, said, k_later));
  throw StoreError(store_message("use the shared history", where_, said, "ask who looks after the database"));
}

void Server::execute(const std::string& sql) {
  const Result result(PQexec(raw(handle_), sql.c_str()));
  if (!good(result.get())) fail(PQerrorMessage(raw(handle_)));
}

std::vector<Server::Row> Server::rows(const std::string& sql, const Row& parameters) {
  const Result result(PQexecParams(raw(handle_), sql.c_str(), static_cast<int>(parameters.size()), nullptr,
                                   pointers(parameters).data(), nullptr, nullptr, 0));
  if (!good(result.get())) fail(PQerrorMessage(raw(handle_)));
  std::vector<Row> out;
  for (int i = 0; i < PQntuples(result.get()); ++i) out.push_back(row_of(result.get(), i));
  return out;
}

void Server::each(const std::string& sql, const Row& parameters, const std::function<void(const Row&)>& use) {
  PGconn* c = raw(handle_);
  if (PQsendQueryParams(c, sql.c_str(), static_cast<int>(parameters.size()), nullptr, pointers(parameters).data(),
                        nullptr, nullptr, 0) != 1 ||
      PQsetSingleRowMode(c) != 1)
    fail(PQerrorMessage(c));
  const Drain drain{c};  // `use` may throw: the next query must not meet what is left of this one
  while (true) {
    const Result result(PQgetResult(c));
    if (!result) break;
    if (!good(result.get())) fail(PQerrorMessage(c));
    for (int i = 0; i < PQntuples(result.get()); ++i) use(row_of(result.get(), i));
  }
}

#else

void Server::Close::operator()(void*) const noexcept {}

Server::Server(const std::string&) {
  throw StoreError(
      "this lostspark was built without PostgreSQL (package libpq-dev), so it cannot use a shared history; name a "
      "file");
}

void Server::fail(const std::string& detail) { throw InternalError(detail); }
void Server::execute(const std::string&) { fail("built without PostgreSQL"); }
std::vector<Server::Row> Server::rows(const std::string&, const Row&) { fail("built without PostgreSQL"); }
void Server::each(const std::string&, const Row&, const std::function<void(const Row&)>&) {
  fail("built without PostgreSQL");
}

#endif

std::string Server::first(const std::string& sql, const Row& parameters) {
  const auto found = rows(sql, parameters);
  return found.empty() ? std::string() : found[0].at(0);
}

ServerTransaction::~ServerTransaction() {
  if (done_) return;
  try {
    server_.execute("ROLLBACK");
  } catch (const Error&) {  // lost: the server rolls back by itself
  }
}

void ServerTransaction::commit() {
  server_.execute("COMMIT");
  done_ = true;
}

}  // namespace lostspark::history
