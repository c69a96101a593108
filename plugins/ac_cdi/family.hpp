// AC-CDI: capacitor discharge ignition fed by an exciter coil under the flywheel, one cylinder.
// docs/families/ac_cdi.md describes it in words, docs/physics.md the equations and how far they agree with simulations.
#pragma once

#include "blocks/charge_stage.hpp"
#include "blocks/discharge_stage.hpp"
#include "lostspark_plugin.hpp"

namespace lostspark::ac_cdi {

/// Stages in the order of the tables.
enum Stage { k_charge, k_transfer, k_fire, k_stop, k_spark };

/// What the network chose.
struct Options {
  std::string start;
  bool key_switch = true, tether_switch = true;
};

class AcCdi : public plugin::Family {
 public:
  static constexpr const char* k_id = "ac_cdi";
  static constexpr const char* k_title = "capacitor discharge ignition fed by the flywheel";
  static constexpr const char* k_description =
      "trail bikes, small all-terrain vehicles, two-stroke machines with kick, recoil or electric start; no battery "
      "takes "
      "part; an earthed kill lead stops the engine";
  static std::vector<ls_option_v1> options();
  explicit AcCdi(const plugin::Settings& chosen);
  void evaluate(int stage, const double* in, double* out) const override;
};

// The tables, by subject.
void add_parameters(plugin::Tables& t, const Options& options);
void add_parts(plugin::Tables& t, const Options& options);
void add_links(plugin::Tables& t, const Options& options);
void add_stages(plugin::Tables& t);
void add_modes(plugin::Tables& t, const Options& options);
void add_conditions(plugin::Tables& t);
void add_tests(plugin::Tables& t);
void add_cautions(plugin::Tables& t);
void add_complaints(plugin::Tables& t);

}  // namespace lostspark::ac_cdi
