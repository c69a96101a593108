// Owners of SQLite's two handles and of one transaction; every failure leaves as a StoreError in plain words.
#pragma once

#include <sqlite3.h>

#include <cstdint>
#include <memory>
#include <string>
#include <string_view>

namespace lostspark::history {

/// One connection to one file. Move-only; used by one thread at a time.
class Connection {
 public:
  /// Opens or creates; `path` is absolute. Throws StoreError.
  Connection(std::string path, const std::string& vfs);

  /// Runs one or more statements that give no rows the caller wants. `doing` completes "cannot ...", for messages.
  void execute(const std::string& sql, std::string_view doing) const;
  /// First column of the first row as a number or as text; 0 or "" when there is no row.
  [[nodiscard]] std::int64_t number(const std::string& sql, std::string_view doing) const;
  [[nodiscard]] std::string text(const std::string& sql, std::string_view doing) const;

  [[nodiscard]] sqlite3* raw() const noexcept { return handle_.get(); }
  [[nodiscard]] const std::string& path() const noexcept { return path_; }
  /// Throws the StoreError for what SQLite says now.
  [[noreturn]] void fail(int code, std::string_view doing) const;

 private:
  [[nodiscard]] int last_errno() const;
  struct Close {
    void operator()(sqlite3* handle) const noexcept { sqlite3_close_v2(handle); }
  };
  std::string path_;
  std::unique_ptr<sqlite3, Close> handle_;
};

/// One prepared statement, kept for the life of its connection (declare it after the connection).
class Statement {
 public:
  Statement(const Connection& connection, std::string_view sql, std::string_view doing);

  /// One execution: binds, steps, and gives the statement back (reset, values released) when it goes out of scope.
  /// Bound text is not copied: it must outlive the run.
  class Run {
   public:
    Run(Statement& statement, std::string_view doing) : statement_(statement), doing_(doing) {}
    ~Run();
    Run(const Run&) = delete;
    Run& operator=(const Run&) = delete;
    Run& bind(int position, std::string_view text);
    Run& bind(int position, std::int64_t value);
    Run& bind(int position, double value);
    /// True when there is a row to read.
    [[nodiscard]] bool row();
    /// Steps a statement that gives no row.
    void finish();
    [[nodiscard]] std::string text(int column) const;
    [[nodiscard]] std::int64_t number(int column) const;
    [[nodiscard]] double real(int column) const;
    [[nodiscard]] sqlite3_stmt* raw() const noexcept { return statement_.handle_.get(); }

   private:
    Statement& statement_;
    std::string_view doing_;
  };

 private:
  struct Finalize {
    void operator()(sqlite3_stmt* statement) const noexcept { sqlite3_finalize(statement); }
  };
  const Connection* connection_;
  std::unique_ptr<sqlite3_stmt, Finalize> handle_;
};

/// BEGIN IMMEDIATE ... COMMIT: the write lock is taken at once, so what is read inside still holds when it is written.
/// Rolls back when it goes out of scope uncommitted.
class Transaction {
 public:
  Transaction(const Connection& connection, std::string_view doing);
  ~Transaction();
  Transaction(const Transaction&) = delete;
  Transaction& operator=(const Transaction&) = delete;
  /// On disk when it returns.
  void commit();

 private:
  const Connection& connection_;
  std::string doing_;
};

}  // namespace lostspark::history
