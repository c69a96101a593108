// Where plugins and networks are, and what is in there.
#include <algorithm>
#include <cstdlib>
#include <fstream>
#include <sstream>

#include "base/error.hpp"
#include "sources/find_family.hpp"
#include "sources/load.hpp"
#include "sources/network_file.hpp"
#include "sources/text.hpp"

namespace lostspark::sources {
namespace {

using Path = std::filesystem::path;

bool is_folder(const Path& path) {
  std::error_code code;
  return std::filesystem::is_directory(path, code);
}

void add_folder(std::vector<Path>& folders, const Path& folder) {
  if (!is_folder(folder)) return;
  std::error_code code;
  const auto real = std::filesystem::weakly_canonical(folder, code);
  if (std::find(folders.begin(), folders.end(), real) == folders.end()) folders.push_back(real);
}

void add_from_environment(std::vector<Path>& folders, const char* name) {
  const char* value = std::getenv(name);
  if (value == nullptr) return;
  std::istringstream list(value);
  for (std::string one; std::getline(list, one, ':');)
    if (!one.empty()) add_folder(folders, one);
}

Path user_data_folder() {
  if (const char* data = std::getenv("XDG_DATA_HOME"); data != nullptr && *data == '/') return Path(data) / "lostspark";
  if (const char* home = std::getenv("HOME"); home != nullptr && *home == '/')
    return Path(home) / ".local/share/lostspark";
  return {};
}

// The program's own tree: <prefix>/bin/program. Build and install tree have the same shape.
void add_beside_program(Folders& folders) {
  std::error_code code;
  const auto program = std::filesystem::read_symlink("/proc/self/exe", code);
  if (code) return;
  const auto prefix = program.parent_path().parent_path();
  // lib, lib64, lib/<architecture>: whatever the installation chose.
  std::vector<Path> libraries;
  for (const auto& entry : std::filesystem::directory_iterator(prefix, code))
    if (entry.path().filename().string().starts_with("lib")) libraries.push_back(entry.path());
  std::sort(libraries.begin(), libraries.end());
  for (const auto& library : libraries) {
    add_folder(folders.plugins, library / "lostspark/plugins");
    if (library.filename() != "lib") continue;
    std::vector<Path> below;
    for (const auto& entry : std::filesystem::directory_iterator(library, code))
      if (is_folder(entry.path() / "lostspark/plugins")) below.push_back(entry.path());
    std::sort(below.begin(), below.end());
    for (const auto& path : below) add_folder(folders.plugins, path / "lostspark/plugins");
  }
  add_folder(folders.networks, prefix / "share/lostspark/networks");
}

std::vector<Path> files_in(const Path& folder, const std::string& extension) {
  std::vector<Path> files;
  std::error_code code;
  for (const auto& entry : std::filesystem::directory_iterator(folder, code))
    if (entry.path().extension() == extension && entry.is_regular_file(code)) files.push_back(entry.path());
  std::sort(files.begin(), files.end());
  return files;
}

}  // namespace

Folders default_folders() {
  Folders folders;
  add_from_environment(folders.plugins, "LOSTSPARK_PLUGINS");
  add_from_environment(folders.networks, "LOSTSPARK_NETWORKS");
  if (const auto user = user_data_folder(); !user.empty()) {
    add_folder(folders.plugins, user / "plugins");
    add_folder(folders.networks, user / "networks");
  }
  add_beside_program(folders);
  return folders;
}

std::vector<FamilyInfo> list_families(const Folders& folders, std::vector<std::string>& problems) {
  std::vector<FamilyInfo> families;
  for (const auto& folder : folders.plugins)
    for (const auto& file : files_in(folder, ".so")) {
      try {
        const auto library = Library::open(file);
        const bool known =
            std::any_of(families.begin(), families.end(), [&](const FamilyInfo& f) { return f.id == library->id(); });
        if (!known) families.push_back({library->id(), library->title(), library->version(), file});
      } catch (const PluginError& error) {
        problems.emplace_back(error.what());
      }
    }
  return families;
}

std::vector<VehicleInfo> list_vehicles(const Folders& folders, std::vector<std::string>& problems) {
  std::vector<VehicleInfo> vehicles;
  for (const auto& folder : folders.networks)
    for (const auto& file : files_in(folder, ".toml")) {
      if (file.filename() == "workshop.toml") continue;
      std::ifstream in(file, std::ios::binary);
      std::ostringstream text;
      text << in.rdbuf();
      Mistakes mistakes(file.string());
      try {
        const auto network = read_network(text.str(), mistakes);
        mistakes.throw_if_any();
        const bool known = std::any_of(vehicles.begin(), vehicles.end(),
                                       [&](const VehicleInfo& v) { return v.id == network.id.text; });
        if (!known) vehicles.push_back({network.id.text, network.title, network.family.text, file});
      } catch (const InputError& error) {
        problems.emplace_back(pieces_of(error.what(), '\n').front());
      }
    }
  return vehicles;
}

std::shared_ptr<const Library> find_family(const Folders& folders, const Said& family, Mistakes& mistakes) {
  std::error_code code;
  for (const auto& folder : folders.plugins) {  // the usual case: the file is named for the family
    const auto file = folder / (family.text + ".so");
    if (!std::filesystem::is_regular_file(file, code)) continue;
    auto library = Library::open(file);
    if (library->id() == family.text) return library;
  }
  std::vector<std::string> problems, ids;
  for (const auto& info : list_families(folders, problems)) {
    if (info.id == family.text) return Library::open(info.library);
    ids.push_back(info.id);
  }
  auto message = "no plugin folder has the family '" + family.text + "'" + suggestion(family.text, ids);
  if (folders.plugins.empty()) message += "; there is no plugin folder: set LOSTSPARK_PLUGINS";
  for (const auto& problem : problems) message += "; " + problem;
  mistakes.add(family.spot, "vehicle.family", message);
  return nullptr;
}

}  // namespace lostspark::sources
