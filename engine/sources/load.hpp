// Plugins and network files in, model values out. All mistakes of a file are reported at once, each with its place.
#pragma once

#include <filesystem>
#include <memory>
#include <string>
#include <vector>

#include "model/instrument.hpp"
#include "model/vehicle.hpp"

namespace lostspark::sources {

/// Where to look; filled by default_folders(): LOSTSPARK_PLUGINS / LOSTSPARK_NETWORKS (colon-separated), the user's
/// data folder, then the folders beside the program (build or install tree).
struct Folders {
  std::vector<std::filesystem::path> plugins, networks;
};
[[nodiscard]] Folders default_folders();

struct FamilyInfo {
  std::string id, title, version;
  std::filesystem::path library;
};
struct VehicleInfo {
  std::string id, title, family;
  std::filesystem::path file;
};

/// All families whose plugin loads; problems (one line per bad file) are appended, the host goes on.
[[nodiscard]] std::vector<FamilyInfo> list_families(const Folders&, std::vector<std::string>& problems);
[[nodiscard]] std::vector<VehicleInfo> list_vehicles(const Folders&, std::vector<std::string>& problems);

/// By network id, or by path of a TOML file. Throws InputError (file, line, column, key, expected, nearest valid name;
/// all mistakes) or PluginError.
[[nodiscard]] std::shared_ptr<const model::Vehicle> load_vehicle(const Folders&, const std::string& id_or_path);
/// From text, for replaying a job: the log keeps the network's text. `name` is used in messages.
[[nodiscard]] std::shared_ptr<const model::Vehicle> load_vehicle_text(const Folders&, const std::string& text,
                                                                      const std::string& name);

/// Workshop file (instruments owned, helper, rates); docs/workshop.md. Throws InputError.
[[nodiscard]] model::Workshop load_workshop(const std::filesystem::path& file);
/// The built-in workshop of the demo: networks/workshop.toml's content, compiled in for use without files.
[[nodiscard]] model::Workshop default_workshop(const Folders&);

/// Every plausibility check of a plugin, run on it in this process: one line per problem, empty = sound.
[[nodiscard]] std::vector<std::string> check_family(const std::filesystem::path& library);

}  // namespace lostspark::sources
