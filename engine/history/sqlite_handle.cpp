#include "history/sqlite_handle.hpp"

#include <array>
#include <cstring>
#include <utility>

#include "base/error.hpp"
#include "history/sqlite_message.hpp"

namespace lostspark::history {

namespace {

/// Says so when the file holds fewer bytes than its own header claims, else "". Asks through SQLite's open file:
/// opening and closing the file again by ourselves would drop the locks this process holds on it (POSIX).
std::string cut_short(sqlite3* handle) {
  sqlite3_file* file = nullptr;
  if (sqlite3_file_control(handle, "main", SQLITE_FCNTL_FILE_POINTER, &file) != SQLITE_OK || !file || !file->pMethods)
    return {};
  constexpr std::string_view magic("SQLite format 3", 16);  // with its zero byte; file format, section 1.3
  std::array<unsigned char, 32> head{};
  sqlite3_int64 size = 0;
  if (file->pMethods->xFileSize(file, &size) != SQLITE_OK || size < static_cast<sqlite3_int64>(head.size())) return {};
  if (file->pMethods->xRead(file, head.data(), static_cast<int>(head.size()), 0) != SQLITE_OK) return {};
  if (std::memcmp(head.data(), magic.data(), magic.size()) != 0) return {};
  std::int64_t page = head[16] << 8 | head[17];
  if (page == 1) page = 65536;
  std::int64_t pages = 0;
  for (std::size_t i = 28; i < 32; ++i) pages = pages << 8 | head[i];
  if (size >= page * pages) return {};
  return "the file is cut short, " + std::to_string(size) + " of " + std::to_string(page * pages) + " bytes are there";
}

}  // namespace

Connection::Connection(std::string path, const std::string& vfs) : path_(std::move(path)) {
  sqlite3* handle = nullptr;
  const int code = sqlite3_open_v2(path_.c_str(), &handle, SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE,
                                   vfs.empty() ? nullptr : vfs.c_str());
  handle_.reset(handle);  // SQLite hands out a handle even when it fails: the message is in it
  if (code != SQLITE_OK) fail(handle ? sqlite3_extended_errcode(handle) : code, "open the job store");
  sqlite3_extended_result_codes(handle, 1);
}

void Connection::fail(int code, std::string_view doing) const {
  const int primary = code & 0xff;
  if (handle_ && (primary == SQLITE_CORRUPT || primary == SQLITE_NOTADB))
    if (const std::string cause = cut_short(handle_.get()); !cause.empty())
      throw StoreError(store_message(doing, path_, cause, k_damaged_remedy));
  throw StoreError(sqlite_message(
      {doing, path_, code, last_errno(), handle_ ? sqlite3_errmsg(handle_.get()) : sqlite3_errstr(code)}));
}

/// errno of the call that failed, as far as SQLite still knows it: for the connection, else for the file or its log.
int Connection::last_errno() const {
  if (!handle_) return 0;
  if (const int code = sqlite3_system_errno(handle_.get()); code != 0) return code;
  for (const int which : {SQLITE_FCNTL_FILE_POINTER, SQLITE_FCNTL_JOURNAL_POINTER}) {
    sqlite3_file* file = nullptr;
    int code = 0;
    if (sqlite3_file_control(handle_.get(), "main", which, &file) == SQLITE_OK && file && file->pMethods &&
        file->pMethods->xFileControl &&
        file->pMethods->xFileControl(file, SQLITE_FCNTL_LAST_ERRNO, &code) == SQLITE_OK && code != 0)
      return code;
  }
  return 0;
}

void Connection::execute(const std::string& sql, std::string_view doing) const {
  const int code = sqlite3_exec(handle_.get(), sql.c_str(), nullptr, nullptr, nullptr);
  if (code != SQLITE_OK) fail(code, doing);
}

std::int64_t Connection::number(const std::string& sql, std::string_view doing) const {
  Statement statement(*this, sql, doing);
  Statement::Run run(statement, doing);
  return run.row() ? run.number(0) : 0;
}

std::string Connection::text(const std::string& sql, std::string_view doing) const {
  Statement statement(*this, sql, doing);
  Statement::Run run(statement, doing);
  return run.row() ? run.text(0) : std::string();
}

Statement::Statement(const Connection& connection, std::string_view sql, std::string_view doing)
    : connection_(&connection) {
  sqlite3_stmt* handle = nullptr;
  const int code = sqlite3_prepare_v3(connection.raw(), sql.data(), static_cast<int>(sql.size()),
                                      SQLITE_PREPARE_PERSISTENT, &handle, nullptr);
  handle_.reset(handle);
  if (code != SQLITE_OK) connection.fail(code, doing);
}

Statement::Run::~Run() {
  sqlite3_reset(statement_.handle_.get());
  sqlite3_clear_bindings(statement_.handle_.get());
}

Statement::Run& Statement::Run::bind(int position, std::string_view text) {
  // An empty view may have a null pointer, which SQLite would take for NULL.
  const int code = sqlite3_bind_text64(statement_.handle_.get(), position, text.empty() ? "" : text.data(), text.size(),
                                       SQLITE_STATIC, SQLITE_UTF8);
  if (code != SQLITE_OK) statement_.connection_->fail(code, doing_);
  return *this;
}

Statement::Run& Statement::Run::bind(int position, std::int64_t value) {
  const int code = sqlite3_bind_int64(statement_.handle_.get(), position, value);
  if (code != SQLITE_OK) statement_.connection_->fail(code, doing_);
  return *this;
}

Statement::Run& Statement::Run::bind(int position, double value) {
  const int code = sqlite3_bind_double(statement_.handle_.get(), position, value);
  if (code != SQLITE_OK) statement_.connection_->fail(code, doing_);
  return *this;
}

bool Statement::Run::row() {
  const int code = sqlite3_step(statement_.handle_.get());
  if (code != SQLITE_ROW && code != SQLITE_DONE) statement_.connection_->fail(code, doing_);
  return code == SQLITE_ROW;
}

void Statement::Run::finish() { ensure(!row(), "a statement gave a row nobody reads"); }

std::string Statement::Run::text(int column) const {
  const auto* data = reinterpret_cast<const char*>(sqlite3_column_text(statement_.handle_.get(), column));
  const auto size = static_cast<std::size_t>(sqlite3_column_bytes(statement_.handle_.get(), column));
  return data ? std::string(data, size) : std::string();
}

std::int64_t Statement::Run::number(int column) const { return sqlite3_column_int64(statement_.handle_.get(), column); }

double Statement::Run::real(int column) const { return sqlite3_column_double(statement_.handle_.get(), column); }

Transaction::Transaction(const Connection& connection, std::string_view doing)
    : connection_(connection), doing_(doing) {
  connection_.execute("BEGIN IMMEDIATE", doing_);
}

Transaction::~Transaction() {
  // SQLite has rolled back by itself after some failures (full disk): then there is nothing to undo.
  if (sqlite3_get_autocommit(connection_.raw()) == 0)
    sqlite3_exec(connection_.raw(), "ROLLBACK", nullptr, nullptr, nullptr);
}

void Transaction::commit() { connection_.execute("COMMIT", doing_); }

}  // namespace lostspark::history
