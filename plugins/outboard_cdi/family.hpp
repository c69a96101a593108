// Outboard capacitor discharge: one charge winding and one switch box for two or three cylinders, a trigger coil, an
// output and a coil for each. docs/families/outboard_cdi.md describes it in words, docs/physics.md the equations.
#pragma once

#include <string>

#include "blocks/discharge_tables.hpp"
#include "lostspark_plugin.hpp"

namespace lostspark::outboard_cdi {

/// What the network chose.
struct Options {
  int cylinders = 3;
  bool recoil = false;   ///< else an electric starter
  bool limiter = true;   ///< overheat or low-oil input
  bool charging = true;  ///< a battery winding and its rectifier on the same stator
};

/// "trigger" of cylinder 2 -> "trigger_2".
inline std::string of(const char* stem, int cylinder) { return stem + ("_" + std::to_string(cylinder)); }

class OutboardCdi : public plugin::Family {
 public:
  static constexpr const char* k_id = "outboard_cdi";
  static constexpr const char* k_title = "outboard capacitor discharge, several cylinders";
  static constexpr const char* k_description =
      "two-stroke outboards of two or three cylinders; flywheel windings charge a switch box, a trigger coil a "
      "cylinder fires "
      "its output; key and lanyard earth the stop line";
  static std::vector<ls_option_v1> options();
  explicit OutboardCdi(const plugin::Settings& chosen);
  void evaluate(int stage, const double* in, double* out) const override;

 private:
  Options options_;
};

/// Where the discharge stages of cylinder n get what they take.
blocks::DischargeNames discharge_names(int cylinder);

// The tables, by subject.
void add_parts(plugin::Tables& t, const Options& options);
void add_links(plugin::Tables& t, const Options& options);
void add_stages(plugin::Tables& t, const Options& options);
void add_modes(plugin::Tables& t, const Options& options);
void add_conditions(plugin::Tables& t, const Options& options);
void add_tests(plugin::Tables& t, const Options& options);
void add_findings(plugin::Tables& t, const Options& options);
void add_words(plugin::Tables& t, const Options& options);

/// Evaluates a stage of an engine with these options: charge, transfer and fire of each cylinder, stop, spark of each.
void evaluate_stage(const Options& options, int stage, const double* in, double* out);

}  // namespace lostspark::outboard_cdi
