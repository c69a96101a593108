// One instance of a family plugin: options in, tables and stage physics out.
#pragma once

#include <memory>
#include <string>
#include <utility>
#include <vector>

#include "model/vehicle.hpp"
#include "sources/family_tables.hpp"
#include "sources/library.hpp"

namespace lostspark::sources {

using Settings = std::vector<std::pair<std::string, std::string>>;

/// The options a plugin has, before any instance exists. Problems are appended; broken rows are left out.
[[nodiscard]] std::vector<FamilyOption> read_options(const Library& library, std::vector<std::string>& problems);

/// Owns a plugin instance and, through it, the library. Move-only.
class Instance {
 public:
  /// Throws PluginError when the plugin refuses the settings or throws.
  Instance(std::shared_ptr<const Library> library, const Settings& settings);
  ~Instance();
  Instance(Instance&& other) noexcept;
  Instance& operator=(Instance&&) = delete;
  Instance(const Instance&) = delete;

  /// Copies all tables; every problem met on the way (null text, not a number, a count that changes between calls, a
  /// failing row) is appended. `tables.options` is filled by read_options.
  [[nodiscard]] FamilyTables read_tables(std::vector<std::string>& problems) const;
  /// Calls evaluate() and checks status and finite outputs. Throws PluginError.
  void evaluate(std::int32_t stage, const std::string& stage_id, std::size_t n, std::span<const double> inputs,
                std::span<double> outputs) const;
  [[nodiscard]] const Library& library() const { return *library_; }
  /// A second instance with the same settings; different instances may run in parallel.
  [[nodiscard]] Instance another() const { return Instance(library_, settings_); }

 private:
  std::shared_ptr<const Library> library_;  // declared first: released after the instance is destroyed
  Settings settings_;
  ls_instance* instance_ = nullptr;
};

/// Stage physics of a vehicle over a plugin instance. `stages` gives widths and names as compiled.
[[nodiscard]] std::shared_ptr<const model::StagePhysics> make_physics(Instance instance,
                                                                      const std::vector<model::Stage>& stages);

}  // namespace lostspark::sources
