#include "sources/load.hpp"

#include <algorithm>
#include <fstream>
#include <sstream>

#include "base/error.hpp"
#include "model/common_causes.hpp"
#include "sources/compile.hpp"
#include "sources/family_instance.hpp"
#include "sources/find_family.hpp"
#include "sources/network_file.hpp"
#include "sources/text.hpp"

namespace lostspark::sources {
namespace {

// Options of the file against those of the family; what the file leaves out has the family's default.
Settings settings_of(const NetworkFile& network, const std::vector<FamilyOption>& options, Mistakes& mistakes) {
  std::vector<std::string> names;
  for (const auto& o : options) names.push_back(o.id);
  Settings settings;
  for (const auto& option : options) {
    auto value = option.default_value;
    for (const auto& [id, text] : network.options) {
      if (id.text != option.id) continue;
      const auto expected = option_mistake(option, text);
      if (expected.empty())
        value = text;
      else
        mistakes.add(id.spot, "options." + id.text, "expected " + expected + ", found '" + text + "'");
    }
    settings.emplace_back(option.id, value);
  }
  for (const auto& [id, text] : network.options)
    if (std::find(names.begin(), names.end(), id.text) == names.end())
      mistakes.add(id.spot, "options." + id.text,
                   "the family has no option '" + id.text + "'" + suggestion(id.text, names));
  return settings;
}

[[noreturn]] void throw_lies(const Library& library, const std::vector<std::string>& problems) {
  auto message = "plugin " + library.file().string() + ": " + problems.front();
  if (problems.size() > 1)
    message += " (and " + std::to_string(problems.size() - 1) + " more; `lostspark family check " +
               library.file().string() + "` lists all)";
  throw PluginError(message);
}

std::string read_file(const std::filesystem::path& file) {
  std::ifstream in(file, std::ios::binary);
  if (!in) throw InputError(file.string() + ": cannot be read");
  std::ostringstream text;
  text << in.rdbuf();
  return std::move(text).str();
}

std::filesystem::path find_network(const Folders& folders, const std::string& id_or_path) {
  std::error_code code;
  const bool is_path = id_or_path.find('/') != std::string::npos || id_or_path.ends_with(".toml");
  if (is_path) {
    if (std::filesystem::is_regular_file(id_or_path, code)) return id_or_path;
    throw InputError(id_or_path + ": there is no such network file");
  }
  for (const auto& folder : folders.networks) {
    const auto file = folder / (id_or_path + ".toml");
    if (std::filesystem::is_regular_file(file, code)) return file;
  }
  std::vector<std::string> problems, ids, looked;
  for (const auto& info : list_vehicles(folders, problems)) {
    if (info.id == id_or_path) return info.file;
    ids.push_back(info.id);
  }
  for (const auto& folder : folders.networks) looked.push_back(folder.string());
  throw InputError("there is no vehicle '" + id_or_path + "'" + suggestion(id_or_path, ids) + " (looked in " +
                   (looked.empty() ? "no folder: set LOSTSPARK_NETWORKS" : join(looked, ", ")) + ")");
}

}  // namespace

std::shared_ptr<const model::Vehicle> load_vehicle_text(const Folders& folders, const std::string& text,
                                                        const std::string& name) {
  Mistakes mistakes(name);
  const auto network = read_network(text, mistakes);
  // Without a family nothing more can be compared.
  if (network.family.text.empty()) {
    mistakes.throw_if_any();
    throw InternalError("internal error: a network without family passed (please report this)");
  }
  const auto library = find_family(folders, network.family, mistakes);
  if (library == nullptr) mistakes.throw_if_any();

  std::vector<std::string> problems;
  const auto options = read_options(*library, problems);
  if (!problems.empty()) throw_lies(*library, problems);
  const auto settings = settings_of(network, options, mistakes);
  Instance instance(library, settings);
  auto tables = instance.read_tables(problems);
  tables.options = options;
  if (problems.empty()) problems = problems_of(tables);
  if (!problems.empty()) throw_lies(*library, problems);

  Build build{tables, network, mistakes, {}, {}, {}, {}, {}, {}, {}, {}, {}, {}, {}, {}, {}, {}, {}, {}, {}};
  build_base(build);
  build_harness(build);
  const bool harness_sound = mistakes.empty();
  build_faults(build);
  // Tests stand on whole chains: with broken ones their absence would only be reported again.
  if (harness_sound) build_tests(build);
  mistakes.throw_if_any();

  auto& v = build.vehicle;
  v.id = network.id.text;
  v.title = network.title;
  v.family = library->id();
  v.family_version = library->version();
  v.network_text = text;
  v.options = settings;
  v.physics = make_physics(std::move(instance), v.stages);
  v.common_causes = model::common_causes(v);
  return std::make_shared<const model::Vehicle>(std::move(v));
}

std::shared_ptr<const model::Vehicle> load_vehicle(const Folders& folders, const std::string& id_or_path) {
  const auto file = find_network(folders, id_or_path);
  return load_vehicle_text(folders, read_file(file), file.string());
}

}  // namespace lostspark::sources
