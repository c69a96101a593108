// A disk that remembers everything and can be cut off: an SQLite VFS over the default one that records each write, sync,
// creation and removal, makes chosen calls fail, and builds the files a power cut would have left at any moment.
#pragma once

#include <sqlite3.h>

#include <cstdint>
#include <functional>
#include <map>
#include <random>
#include <string>
#include <vector>

namespace lostspark::support {

struct DiskEvent {
  enum class Kind { create, write, truncate, sync, remove, mark };
  Kind kind = Kind::mark;
  int file = -1;             ///< number of the file's content: a file removed and created again is another one
  std::string name;          ///< without folder; of a mark: its note
  std::int64_t offset = 0;   ///< write: first byte; truncate: new size
  std::string bytes;         ///< write
  bool syncs_folder = false; ///< sync, remove: the folder's names are durable too afterwards
};

/// What happens to the calls from now on; the default is an honest, healthy disk.
struct DiskFaults {
  int writes_until_full = -1;  ///< after this many more writes each one fails with SQLITE_FULL; -1: never
  bool sync_fails = false;     ///< every sync fails with SQLITE_IOERR_FSYNC
  bool sync_lies = false;      ///< a sync reports success and is not recorded: nothing becomes durable by it
  bool file_read_only = false; ///< the database file opens for reading only, as without the right to write
  bool folder_read_only = false;  ///< no file can be created
};

/// Which of the writes that were not yet synced a power cut leaves on the disk.
enum class Unsynced {
  dropped,        ///< none: the least a disk that obeys sync may keep
  kept,           ///< all, in order: a killed process, or a disk with a battery
  log_kept,       ///< those to the write-ahead log, no others
  database_kept,  ///< those to everything but the write-ahead log
  scattered       ///< any 512-byte sectors of any of them, names in order up to some point
};

/// Files by name, without folder.
using DiskImage = std::map<std::string, std::string>;

class LyingDisk {
 public:
  LyingDisk();   ///< registers the VFS
  ~LyingDisk();  ///< close all stores on it first
  LyingDisk(const LyingDisk&) = delete;
  LyingDisk& operator=(const LyingDisk&) = delete;

  [[nodiscard]] const std::string& vfs() const noexcept { return name_; }  ///< for SqliteOptions::vfs
  DiskFaults faults;
  std::function<void()> before_event;  ///< called before each write, sync, creation or removal is carried out

  void mark(std::string note);  ///< puts a note among the events, for example "acknowledged"
  [[nodiscard]] const std::vector<DiskEvent>& events() const noexcept { return events_; }

 private:
  friend struct Shim;
  sqlite3_vfs vfs_{};
  sqlite3_vfs* real_ = nullptr;
  std::string name_;
  std::vector<DiskEvent> events_;
  std::map<std::string, int> live_;  ///< name -> file
  int next_file_ = 0;
};

/// The files found after a power cut following the first `cut` events. Rules: a sync makes the writes to its file
/// durable; the first sync of a new journal or write-ahead log also syncs the folder (SQLite's unix VFS does so), and so
/// does a removal that asks for it; a name created or removed since the folder's last sync may be there or not. The
/// shared-memory file (-shm) is never on the disk. `random` is used by `scattered` only.
[[nodiscard]] DiskImage after_power_cut(const std::vector<DiskEvent>& events, std::size_t cut, Unsynced unsynced,
                                        std::mt19937_64& random);

}  // namespace lostspark::support
