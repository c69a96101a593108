// DC-CDI: capacitor discharge ignition whose converter charges the capacitor from the battery, one cylinder.
// docs/families/dc_cdi.md describes it in words, docs/physics.md the discharge and how far it agrees with simulations.
#pragma once

#include "blocks/discharge_tables.hpp"
#include "blocks/supply.hpp"
#include "lostspark_plugin.hpp"

namespace lostspark::dc_cdi {

/// Stages in the order of the tables.
enum Stage { k_convert, k_transfer, k_fire, k_stop, k_spark };

/// What the network chose.
struct Options {
  bool inhibit = true;  ///< an input of the module that a switch earths to inhibit the spark
};

class DcCdi : public plugin::Family {
 public:
  static constexpr const char* k_id = "dc_cdi";
  static constexpr const char* k_title = "capacitor discharge ignition fed by the battery";
  static constexpr const char* k_description =
      "scooters, all-terrain vehicles and small motorcycles with a battery; a converter in the module charges the "
      "capacitor, a pulse coil fires it; every stop interrupts the supply or earths an inhibit input";
  static std::vector<ls_option_v1> options();
  explicit DcCdi(const plugin::Settings& chosen);
  void evaluate(int stage, const double* in, double* out) const override;

 private:
  Options options_;
};

/// Supply as this family has it.
blocks::SupplySettings supply_settings();

/// Margins that must be met before anything fires, separated by ' '.
const char* live(const Options& options);

// The tables, by subject.
void add_parts(plugin::Tables& t, const Options& options);
void add_links(plugin::Tables& t, const Options& options);
void add_stages(plugin::Tables& t, const Options& options);
void add_modes(plugin::Tables& t, const Options& options);
void add_conditions(plugin::Tables& t, const Options& options);
void add_tests(plugin::Tables& t, const Options& options);
void add_findings(plugin::Tables& t, const Options& options);
void add_words(plugin::Tables& t, const Options& options);

/// Evaluates a stage of a vehicle with these options; order of Stage.
void evaluate_stage(const Options& options, int stage, const double* in, double* out);

}  // namespace lostspark::dc_cdi
