// Where the shop's jobs are kept when nobody says otherwise (folder rules of the XDG base directories, from memory).
#include <fcntl.h>
#include <pwd.h>
#include <sys/types.h>
#include <unistd.h>

#include <cstdlib>
#include <filesystem>
#include <system_error>
#include <vector>

#include "history/sqlite_message.hpp"
#include "history/store.hpp"

namespace lostspark::history {

namespace {

namespace fs = std::filesystem;

std::string environment(const char* name) {
  const char* value = std::getenv(name);
  return value ? value : "";
}

fs::path data_folder() {
  if (const std::string own = environment("LOSTSPARK_DATA"); !own.empty()) return fs::absolute(own);
  // A relative XDG_DATA_HOME is invalid and ignored, as the rules ask.
  if (const fs::path xdg = environment("XDG_DATA_HOME"); xdg.is_absolute()) return xdg / "lostspark";
  if (const fs::path home = environment("HOME"); home.is_absolute()) return home / ".local/share/lostspark";
  if (const passwd* user = getpwuid(getuid()); user && user->pw_dir && *user->pw_dir == '/')
    return fs::path(user->pw_dir) / ".local/share/lostspark";
  throw StoreError("cannot tell where to keep the jobs: HOME is not set; set LOSTSPARK_DATA to a folder for them");
}

/// A new folder is only safe from a power cut once the folder it was made in is synced; SQLite does so for files only.
void sync_folder(const fs::path& folder) {
  const int handle = open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC);
  if (handle < 0) return;  // made in it but may not read it: nothing more can be done
  static_cast<void>(fsync(handle));
  close(handle);
}

}  // namespace

std::string default_store_path() {
  const fs::path folder = data_folder();
  std::vector<fs::path> parents_of_new;
  for (fs::path missing = folder; !fs::exists(missing) && missing.has_relative_path(); missing = missing.parent_path())
    parents_of_new.push_back(missing.parent_path());
  std::error_code error;
  fs::create_directories(folder, error);
  if (error || !fs::is_directory(folder))
    throw StoreError(store_message("make the folder for the jobs", folder.string(),
                                   error ? error.message() : "there is a file of that name",
                                   "make it by hand, or set LOSTSPARK_DATA to another folder"));
  for (const fs::path& parent : parents_of_new) sync_folder(parent);
  return (folder / "jobs.sqlite3").string();
}

}  // namespace lostspark::history
