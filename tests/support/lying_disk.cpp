#include "support/lying_disk.hpp"

#include <algorithm>
#include <atomic>
#include <cstring>
#include <new>
#include <string_view>
#include <utility>

namespace lostspark::support {

namespace {

std::string base_name(const char* path) {
  const std::string_view whole(path);
  return std::string(whole.substr(whole.rfind('/') + 1));
}

}  // namespace

/// The C side: SQLite sees this file object; the real one lies behind it in the same piece of memory.
struct Shim {
  sqlite3_file base;
  LyingDisk* disk;
  const char* path;  // SQLite keeps it until the file is closed; null for a nameless temporary
  int file;
  bool syncs_folder;  // at its next sync

  static Shim& of(sqlite3_file* file) { return *reinterpret_cast<Shim*>(file); }
  static sqlite3_file* real(sqlite3_file* file) { return reinterpret_cast<sqlite3_file*>(&of(file) + 1); }
  static LyingDisk& disk_of(sqlite3_vfs* vfs) { return *static_cast<LyingDisk*>(vfs->pAppData); }
  static void announce(LyingDisk& disk) {
    if (disk.before_event) disk.before_event();
  }
  static void record(sqlite3_file* file, DiskEvent event) {
    Shim& shim = of(file);
    if (!shim.path) return;
    event.file = shim.file;
    event.name = base_name(shim.path);
    shim.disk->events_.push_back(std::move(event));
  }

  static int close(sqlite3_file* file) { return real(file)->pMethods->xClose(real(file)); }
  static int read(sqlite3_file* file, void* into, int size, sqlite3_int64 offset) {
    return real(file)->pMethods->xRead(real(file), into, size, offset);
  }
  static int write(sqlite3_file* file, const void* from, int size, sqlite3_int64 offset) {
    LyingDisk& disk = *of(file).disk;
    announce(disk);
    if (disk.faults.writes_until_full == 0) return SQLITE_FULL;
    if (disk.faults.writes_until_full > 0) --disk.faults.writes_until_full;
    const int code = real(file)->pMethods->xWrite(real(file), from, size, offset);
    if (code == SQLITE_OK)
      record(file, {DiskEvent::Kind::write, 0, "", offset,
                    std::string(static_cast<const char*>(from), static_cast<std::size_t>(size))});
    return code;
  }
  static int truncate(sqlite3_file* file, sqlite3_int64 size) {
    announce(*of(file).disk);
    const int code = real(file)->pMethods->xTruncate(real(file), size);
    if (code == SQLITE_OK) record(file, {DiskEvent::Kind::truncate, 0, "", size, ""});
    return code;
  }
  static int sync(sqlite3_file* file, int flags) {
    Shim& shim = of(file);
    announce(*shim.disk);
    if (shim.disk->faults.sync_fails) return SQLITE_IOERR_FSYNC;
    if (shim.disk->faults.sync_lies) return SQLITE_OK;
    const int code = real(file)->pMethods->xSync(real(file), flags);
    if (code == SQLITE_OK) record(file, {DiskEvent::Kind::sync, 0, "", 0, "", std::exchange(shim.syncs_folder, false)});
    return code;
  }
  static int size(sqlite3_file* file, sqlite3_int64* size) { return real(file)->pMethods->xFileSize(real(file), size); }
  static int lock(sqlite3_file* file, int level) { return real(file)->pMethods->xLock(real(file), level); }
  static int unlock(sqlite3_file* file, int level) { return real(file)->pMethods->xUnlock(real(file), level); }
  static int reserved(sqlite3_file* file, int* out) {
    return real(file)->pMethods->xCheckReservedLock(real(file), out);
  }
  static int control(sqlite3_file* file, int op, void* argument) {
    return real(file)->pMethods->xFileControl(real(file), op, argument);
  }
  static int sector(sqlite3_file* file) { return real(file)->pMethods->xSectorSize(real(file)); }
  static int traits(sqlite3_file* file) { return real(file)->pMethods->xDeviceCharacteristics(real(file)); }
  static int shm_map(sqlite3_file* file, int page, int size, int extend, void volatile** out) {
    return real(file)->pMethods->xShmMap(real(file), page, size, extend, out);
  }
  static int shm_lock(sqlite3_file* file, int offset, int count, int flags) {
    return real(file)->pMethods->xShmLock(real(file), offset, count, flags);
  }
  static void shm_barrier(sqlite3_file* file) { real(file)->pMethods->xShmBarrier(real(file)); }
  static int shm_unmap(sqlite3_file* file, int remove) { return real(file)->pMethods->xShmUnmap(real(file), remove); }

  static int open(sqlite3_vfs* vfs, const char* path, sqlite3_file* file, int flags, int* out_flags);
  static int remove(sqlite3_vfs* vfs, const char* path, int sync_folder);
  static int access(sqlite3_vfs* vfs, const char* path, int flags, int* out) {
    sqlite3_vfs* below = disk_of(vfs).real_;
    return below->xAccess(below, path, flags, out);
  }
  static int full_path(sqlite3_vfs* vfs, const char* path, int size, char* out) {
    sqlite3_vfs* below = disk_of(vfs).real_;
    return below->xFullPathname(below, path, size, out);
  }
};

namespace {

// Version 2: with shared memory for WAL, without memory-mapped reading, which would pass the shim by.
constexpr sqlite3_io_methods k_methods{2,
                                       Shim::close,
                                       Shim::read,
                                       Shim::write,
                                       Shim::truncate,
                                       Shim::sync,
                                       Shim::size,
                                       Shim::lock,
                                       Shim::unlock,
                                       Shim::reserved,
                                       Shim::control,
                                       Shim::sector,
                                       Shim::traits,
                                       Shim::shm_map,
                                       Shim::shm_lock,
                                       Shim::shm_barrier,
                                       Shim::shm_unmap,
                                       nullptr,
                                       nullptr};

}  // namespace

int Shim::open(sqlite3_vfs* vfs, const char* path, sqlite3_file* file, int flags, int* out_flags) {
  LyingDisk& disk = disk_of(vfs);
  Shim& shim = *new (file) Shim{{nullptr}, &disk, path, -1, false};
  const bool database = (flags & SQLITE_OPEN_MAIN_DB) != 0;
  if (database && disk.faults.file_read_only) {
    flags &= ~(SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE);
    flags |= SQLITE_OPEN_READONLY;
  }
  int existed = 1;
  if (path) disk.real_->xAccess(disk.real_, path, SQLITE_ACCESS_EXISTS, &existed);
  if (existed == 0 && (flags & SQLITE_OPEN_CREATE) != 0) {
    if (disk.faults.folder_read_only) return SQLITE_READONLY_DIRECTORY;
    announce(disk);
  }
  const int code = disk.real_->xOpen(disk.real_, path, real(file), flags, out_flags);
  // SQLite closes a file only if it has methods; after a failure it has none.
  if (code != SQLITE_OK) return code;
  shim.base.pMethods = &k_methods;
  if (path) {
    const std::string name = base_name(path);
    const auto [place, is_new] = disk.live_.try_emplace(name, disk.next_file_);
    if (is_new) {
      ++disk.next_file_;
      disk.events_.push_back({DiskEvent::Kind::create, place->second, name});
    }
    shim.file = place->second;
    constexpr int k_logs = SQLITE_OPEN_MAIN_JOURNAL | SQLITE_OPEN_SUPER_JOURNAL | SQLITE_OPEN_WAL;
    shim.syncs_folder = (flags & SQLITE_OPEN_CREATE) != 0 && (flags & k_logs) != 0;
  }
  return SQLITE_OK;
}

int Shim::remove(sqlite3_vfs* vfs, const char* path, int sync_folder) {
  LyingDisk& disk = disk_of(vfs);
  announce(disk);
  const int code = disk.real_->xDelete(disk.real_, path, sync_folder);
  if (code == SQLITE_OK) {
    const std::string name = base_name(path);
    disk.live_.erase(name);
    disk.events_.push_back({DiskEvent::Kind::remove, -1, name, 0, "", sync_folder != 0 && !disk.faults.sync_lies});
  }
  return code;
}

LyingDisk::LyingDisk() : real_(sqlite3_vfs_find(nullptr)) {
  static std::atomic<int> count{0};
  name_ = "lying-disk-" + std::to_string(++count);
  vfs_ = *real_;  // clock, random numbers, sleep: as they are
  vfs_.szOsFile = static_cast<int>(sizeof(Shim)) + real_->szOsFile;
  vfs_.zName = name_.c_str();
  vfs_.pAppData = this;
  vfs_.pNext = nullptr;
  vfs_.xOpen = Shim::open;
  vfs_.xDelete = Shim::remove;
  vfs_.xAccess = Shim::access;
  vfs_.xFullPathname = Shim::full_path;
  sqlite3_vfs_register(&vfs_, 0);
}

LyingDisk::~LyingDisk() { sqlite3_vfs_unregister(&vfs_); }

void LyingDisk::mark(std::string note) { events_.push_back({DiskEvent::Kind::mark, -1, std::move(note)}); }

namespace {

void apply(std::string& content, const DiskEvent& event) {
  if (event.kind == DiskEvent::Kind::truncate) {
    content.resize(static_cast<std::size_t>(event.offset));
    return;
  }
  const auto offset = static_cast<std::size_t>(event.offset);
  content.resize(std::max(content.size(), offset + event.bytes.size()));
  std::copy(event.bytes.begin(), event.bytes.end(), content.begin() + event.offset);
}

/// Some of the sectors of a write; a sector is written whole or not at all.
void apply_torn(std::string& content, const DiskEvent& event, std::mt19937_64& random) {
  constexpr std::int64_t k_sector = 512;
  const auto end = event.offset + static_cast<std::int64_t>(event.bytes.size());
  for (std::int64_t from = event.offset; from < end;) {
    const std::int64_t to = std::min(end, (from / k_sector + 1) * k_sector);
    if (random() % 4 != 0)
      apply(content,
            {DiskEvent::Kind::write, 0, "", from,
             event.bytes.substr(static_cast<std::size_t>(from - event.offset), static_cast<std::size_t>(to - from))});
    from = to;
  }
}

struct Content {
  std::string durable;
  std::vector<const DiskEvent*> pending;
};

std::string surviving(const std::string& name, const Content& content, Unsynced unsynced, std::mt19937_64& random) {
  std::string bytes = content.durable;
  const bool is_log = name.ends_with("-wal");
  for (const DiskEvent* event : content.pending) {
    switch (unsynced) {
      case Unsynced::dropped:
        break;
      case Unsynced::kept:
        apply(bytes, *event);
        break;
      case Unsynced::log_kept:
        if (is_log) apply(bytes, *event);
        break;
      case Unsynced::database_kept:
        if (!is_log) apply(bytes, *event);
        break;
      case Unsynced::scattered:
        if (random() % 2 == 0) break;
        if (event->kind == DiskEvent::Kind::write)
          apply_torn(bytes, *event, random);
        else
          apply(bytes, *event);
        break;
    }
  }
  return bytes;
}

}  // namespace

DiskImage after_power_cut(const std::vector<DiskEvent>& events, std::size_t cut, Unsynced unsynced,
                          std::mt19937_64& random) {
  using Names = std::map<std::string, int>;
  std::map<int, Content> contents;
  std::vector<Names> names{{}};  // front: what the folder durably holds; then after each later creation or removal
  const auto folder_synced = [&] { names = {names.back()}; };
  for (std::size_t i = 0; i < std::min(cut, events.size()); ++i) {
    const DiskEvent& event = events[i];
    switch (event.kind) {
      case DiskEvent::Kind::create:
        names.push_back(names.back());
        names.back()[event.name] = event.file;
        break;
      case DiskEvent::Kind::remove:
        names.push_back(names.back());
        names.back().erase(event.name);
        if (event.syncs_folder) folder_synced();
        break;
      case DiskEvent::Kind::write:
      case DiskEvent::Kind::truncate:
        contents[event.file].pending.push_back(&event);
        break;
      case DiskEvent::Kind::sync: {
        Content& content = contents[event.file];
        for (const DiskEvent* pending : content.pending) apply(content.durable, *pending);
        content.pending.clear();
        if (event.syncs_folder) folder_synced();
        break;
      }
      case DiskEvent::Kind::mark:
        break;
    }
  }
  std::size_t folder_state = unsynced == Unsynced::dropped ? 0 : names.size() - 1;
  if (unsynced == Unsynced::scattered) folder_state = random() % names.size();
  DiskImage image;
  for (const auto& [name, file] : names[folder_state])
    if (!name.ends_with("-shm")) image[name] = surviving(name, contents[file], unsynced, random);
  return image;
}

}  // namespace lostspark::support
