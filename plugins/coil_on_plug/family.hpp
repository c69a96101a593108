// Coil on plug: a control unit works out dwell and timing from a crank sensor and drives a coil for every cylinder.
// docs/families/coil_on_plug.md describes it in words, docs/physics-inductive.md the equations.
#pragma once

#include <string>

#include "blocks/supply.hpp"
#include "lostspark_plugin.hpp"

namespace lostspark::coil_on_plug {

/// What the network chose.
struct Options {
  int cylinders = 4;
  bool hall_crank_sensor = false;  ///< else inductive
  int exchange_open_min = 0;        ///< to open and close the engine where coils or plugs trade places
  bool cam_sensor = true, stand_switch = true, tip_sensor = true, immobiliser = true;
  /// A motorcycle has a run switch and a side stand, a car an inertia cut-off in the place of the former.
  [[nodiscard]] bool motorcycle() const { return stand_switch; }
  [[nodiscard]] std::string cut_off() const { return motorcycle() ? "run switch" : "inertia cut-off"; }
  /// The unit feeds sensors or inputs with its own five volts.
  [[nodiscard]] bool has_rail() const { return hall_crank_sensor || cam_sensor || stand_switch || tip_sensor; }
};

/// "dwell" of cylinder 2 -> "dwell_2".
inline std::string of(const char* stem, int cylinder) { return stem + ("_" + std::to_string(cylinder)); }

class CoilOnPlug : public plugin::Family {
 public:
  static constexpr const char* k_id = "coil_on_plug";
  static constexpr const char* k_title = "coil on plug with an engine control unit";
  static constexpr const char* k_description =
      "modern motorcycles, cars and outboards; a control unit fed through key and relay switches a coil on every plug; "
      "every stop interrupts";
  static std::vector<ls_option_v1> options();
  explicit CoilOnPlug(const plugin::Settings& chosen);
  void evaluate(int stage, const double* in, double* out) const override;

 private:
  Options options_;
};

/// Supply as this family has it.
blocks::SupplySettings supply_settings();

// The tables, by subject.
void add_parts(plugin::Tables& t, const Options& options);
void add_links(plugin::Tables& t, const Options& options);
void add_stages(plugin::Tables& t, const Options& options);
void add_modes(plugin::Tables& t, const Options& options);
void add_conditions(plugin::Tables& t, const Options& options);
void add_tests(plugin::Tables& t, const Options& options);
void add_findings(plugin::Tables& t, const Options& options);
void add_words(plugin::Tables& t, const Options& options);

/// Margins that must be met before cylinder n can spark, separated by ' '.
std::string live(int cylinder);
/// Those and its spark: the ladder of a complaint.
std::string ladder(int cylinder);

/// Evaluates a stage of an engine with these options; order of add_stages().
void evaluate_stage(const Options& options, int stage, const double* in, double* out);

}  // namespace lostspark::coil_on_plug
