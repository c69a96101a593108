// Flywheel magneto: magnets in the flywheel drive a current through the coil's own primary; points or a module
// interrupt it. docs/families/flywheel_magneto.md describes it in words, docs/physics-magneto.md the equations and how
// far they agree with simulations.
#pragma once

#include <string>
#include <vector>

#include "blocks/supply.hpp"
#include "lostspark_plugin.hpp"

namespace lostspark::flywheel_magneto {

/// What the network chose, and how parts are named for it.
struct Options {
  bool points = false;  ///< else a module
  std::string start;    ///< "recoil", "kick", "starter"
  std::string stop;     ///< "switch", "lever", "key": what the operator stops the engine with
  bool interlock =
      false;  ///< a relay that earths the kill wire unless seat, blade and brake switch are closed; has a key
  bool low_oil = false;  ///< a switch in the sump that earths the kill wire

  [[nodiscard]] bool starter() const { return start == "starter"; }
  /// Coil with its core, or the module that holds both.
  [[nodiscard]] std::string coil() const { return points ? "ignition_coil" : "ignition_module"; }
  [[nodiscard]] std::string stopper() const {
    return stop == "switch" ? "kill_switch" : stop == "lever" ? "stop_lever" : "key_switch";
  }
  /// Margins that must be met before anything fires, separated by ' '.
  [[nodiscard]] std::string live() const {
    return std::string(interlock ? "interlock.held_margin " : "") + (points ? "" : "passage.trigger_margin");
  }
  [[nodiscard]] std::string ladder() const {
    const auto before = live();
    return before + (before.empty() || before.back() == ' ' ? "" : " ") + "fire.spark_margin";
  }
};

enum class StageKind { speed, interlock, passage, opening, fire, peak, stop, spark };

class FlywheelMagneto : public plugin::Family {
 public:
  static constexpr const char* k_id = "flywheel_magneto";
  static constexpr const char* k_title = "flywheel magneto, points or module";
  static constexpr const char* k_description =
      "mowers, pumps, generators, chain saws, old mopeds: magnets in the flywheel, a coil on a core beside it, its "
      "current interrupted by points or by a module; every stop earths the primary";
  static std::vector<ls_option_v1> options();
  explicit FlywheelMagneto(const plugin::Settings& chosen);
  void evaluate(int stage, const double* in, double* out) const override;

 private:
  bool points_ = false, starter_ = false;
  std::vector<StageKind> stages_;  ///< in the order of the tables
};

/// Supply of a machine with an electric starter.
blocks::SupplySettings supply_settings();

// The tables, by subject.
void add_parts(plugin::Tables& t, const Options& options);
void add_links(plugin::Tables& t, const Options& options);
[[nodiscard]] std::vector<StageKind> add_stages(plugin::Tables& t, const Options& options);
void add_modes(plugin::Tables& t, const Options& options);
void add_conditions(plugin::Tables& t, const Options& options);
void add_tests(plugin::Tables& t, const Options& options);
void add_findings(plugin::Tables& t, const Options& options);
void add_words(plugin::Tables& t, const Options& options);

}  // namespace lostspark::flywheel_magneto
