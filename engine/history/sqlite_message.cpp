#include "history/sqlite_message.hpp"

#include <sqlite3.h>

#include <cerrno>
#include <cstring>

namespace lostspark::history {

const std::string_view k_damaged_remedy =
    "keep it aside and put the last backup in its place, or save what can be read with 'sqlite3 FILE .recover'";

namespace {

struct Advice {
  std::string cause;
  std::string_view remedy;
};

/// Some full disks reach SQLite as a plain input/output error: quota, file size limit, the shared-memory file.
bool is_out_of_space(const SqliteFailure& failure) {
  const int primary = failure.code & 0xff;
  if (primary == SQLITE_FULL) return true;
  return primary == SQLITE_IOERR &&
         (failure.system_errno == ENOSPC || failure.system_errno == EDQUOT || failure.system_errno == EFBIG);
}

Advice advice_for(const SqliteFailure& failure) {
  if (is_out_of_space(failure))
    return {"the disk is full, or a quota or file size limit is reached",
            "free some space and enter it again, nothing of it was saved"};
  switch (failure.code) {
    case SQLITE_READONLY_DIRECTORY:
      return {"its folder is read-only", "ask for the right to write there, or use a store in another folder"};
    case SQLITE_READONLY_DBMOVED:
      return {"the file was moved, replaced or deleted while it was open",
              "put it back, start the program again and enter the last step again"};
    case SQLITE_CANTOPEN_ISDIR:
      return {"it is a folder, not a file", "name a file inside it"};
    default:
      break;
  }
  switch (failure.code & 0xff) {
    case SQLITE_BUSY:
    case SQLITE_LOCKED:
      return {"it is locked by another program that is writing to it",
              "wait a moment or close that program, then try again"};
    case SQLITE_READONLY:
    case SQLITE_PERM:
      return {"the file or its folder is read-only", "ask for the right to write there, or use another store file"};
    case SQLITE_CORRUPT:
      return {"the file is damaged (" + printable(failure.detail) + ")", k_damaged_remedy};
    case SQLITE_NOTADB:
      return {"it is not a database", "check the name, or use another store file"};
    case SQLITE_CANTOPEN:
      if (failure.system_errno == EACCES || failure.system_errno == EPERM || failure.system_errno == EROFS)
        return {"the file or its folder may not be read or written",
                "ask for the right to write there, or use another store file"};
      return {
          "the file, or one beside it (-wal, -shm), cannot be opened" +
              (failure.system_errno ? std::string(" (") + std::strerror(failure.system_errno) + ")" : std::string()),
          "check that its folder exists and may be written to, or use another store file"};
    case SQLITE_IOERR:
      return {
          "the disk reported an error" +
              (failure.system_errno ? std::string(" (") + std::strerror(failure.system_errno) + ")" : std::string()),
          "check the disk and its cable or network, then enter it again, nothing of it was saved"};
    case SQLITE_NOMEM:
      return {"there is no memory left", "close other programs and try again"};
    default:
      return {printable(failure.detail) + " (SQLite " + std::to_string(failure.code) + ")",
              "check the file with 'sqlite3 FILE \"PRAGMA integrity_check\"' and report this"};
  }
}

}  // namespace

std::string printable(std::string_view text) {
  constexpr std::size_t k_longest = 120;
  std::string line;
  for (const char letter : text) {
    const bool shown = letter > ' ' && letter <= '~';  // bytes of a damaged file turn up in SQLite's words about it
    if (shown || (!line.empty() && line.back() != ' ')) line += shown ? letter : ' ';
    if (line.size() > k_longest) break;
  }
  if (line.size() > k_longest) {
    const auto space = line.rfind(' ', k_longest);
    line.resize(space == std::string::npos ? k_longest : space);
    return line + " ...";
  }
  if (line.ends_with(' ')) line.pop_back();
  return line;
}

std::string store_message(std::string_view doing, std::string_view path, std::string_view cause,
                          std::string_view remedy) {
  std::string message = "cannot ";
  message.append(doing).append(" ").append(path).append(": ").append(cause).append("; ").append(remedy);
  return message;
}

std::string sqlite_message(const SqliteFailure& failure) {
  const Advice advice = advice_for(failure);
  return store_message(failure.doing, failure.path, advice.cause, advice.remedy);
}

}  // namespace lostspark::history
