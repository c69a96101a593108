// Owner of one connection to PostgreSQL; every failure leaves as a StoreError in plain words.
#pragma once

#include <functional>
#include <memory>
#include <string>
#include <string_view>
#include <vector>

#include "base/error.hpp"

namespace lostspark::history {

/// The server cannot be reached, or not any more: worth trying again later.
class ServerLost : public StoreError {
 public:
  using StoreError::StoreError;
};

/// Used by one thread at a time. A connection that is not answered for some seconds counts as lost.
class Server {
 public:
  using Row = std::vector<std::string>;

  /// Throws ServerLost; a StoreError in a build without libpq.
  explicit Server(const std::string& connection);

  /// Statements without parameters whose rows nobody wants.
  void execute(const std::string& sql);
  /// One statement; parameters are $1, $2, ...; text that PostgreSQL cannot keep (zero bytes, no UTF-8) is refused.
  std::vector<Row> rows(const std::string& sql, const Row& parameters = {});
  /// Streamed: one row at a time. `use` must not call this server.
  void each(const std::string& sql, const Row& parameters, const std::function<void(const Row&)>& use);
  /// First column of the first row; empty when there is none.
  std::string first(const std::string& sql, const Row& parameters = {});

  /// "database D on HOST", without user and password.
  [[nodiscard]] const std::string& where() const noexcept { return where_; }

 private:
  [[noreturn]] void fail(const std::string& detail);
  struct Close {
    void operator()(void* handle) const noexcept;
  };
  std::unique_ptr<void, Close> handle_;  ///< PGconn: only postgres_handle.cpp knows libpq
  std::string where_;
};

/// BEGIN ... COMMIT on the server; rolled back when it goes out of scope uncommitted.
class ServerTransaction {
 public:
  explicit ServerTransaction(Server& server) : server_(server) { server_.execute("BEGIN"); }
  ~ServerTransaction();
  ServerTransaction(const ServerTransaction&) = delete;
  ServerTransaction& operator=(const ServerTransaction&) = delete;
  /// When it throws ServerLost the rows may be there all the same: put them in again, by key.
  void commit();

 private:
  Server& server_;
  bool done_ = false;
};

}  // namespace lostspark::history
