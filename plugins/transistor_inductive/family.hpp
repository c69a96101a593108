// Transistor inductive ignition with a separate control module and pulse coil, one cylinder, one coil.
// docs/families/transistor_inductive.md describes it in words, docs/physics-inductive.md the equations and how far they
// agree with simulations.
#pragma once

#include "blocks/supply.hpp"
#include "lostspark_plugin.hpp"

namespace lostspark::transistor_inductive {

/// Stages in the order of the tables.
enum Stage { k_dwell, k_opening, k_fire, k_stop, k_spark };

/// What the network chose.
struct Options {
  bool alarm = false;
};

class TransistorInductive : public plugin::Family {
 public:
  static constexpr const char* k_id = "transistor_inductive";
  static constexpr const char* k_title = "transistor ignition with a separate control module";
  static constexpr const char* k_description =
      "road bikes and small cars with a battery; a pulse coil tells a control module when to interrupt the current of "
      "an "
      "ignition coil; every stop interrupts the supply";
  static std::vector<ls_option_v1> options();
  explicit TransistorInductive(const plugin::Settings& chosen);
  void evaluate(int stage, const double* in, double* out) const override;
};

/// Supply as this family has it.
blocks::SupplySettings supply_settings();

// The tables, by subject.
void add_parts(plugin::Tables& t, const Options& options);
void add_links(plugin::Tables& t, const Options& options);
void add_stages(plugin::Tables& t);
void add_modes(plugin::Tables& t);
void add_conditions(plugin::Tables& t);
void add_tests(plugin::Tables& t, const Options& options);
void add_findings(plugin::Tables& t, const Options& options);
void add_words(plugin::Tables& t);

}  // namespace lostspark::transistor_inductive
