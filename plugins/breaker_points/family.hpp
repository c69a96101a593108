// Battery ignition with breaker points and condenser: one coil and one set of points for each cylinder, or one coil
// with a distributor. docs/families/breaker_points.md describes it in words, docs/physics-points.md the equations and
// how far they agree with simulations.
#pragma once

#include <string>
#include <vector>

#include "blocks/supply.hpp"
#include "lostspark_plugin.hpp"

namespace lostspark::breaker_points {

/// What the network chose, and how parts are named for it.
struct Options {
  int cylinders = 1;
  bool distributor = false, ballast = false;

  /// Coils, sets of points, condensers.
  [[nodiscard]] int circuits() const { return distributor ? 1 : cylinders; }
  /// Suffix of what every cylinder has: "_2"; "" where there is only one.
  [[nodiscard]] std::string of_cylinder(int n) const { return cylinders == 1 ? "" : "_" + std::to_string(n); }
  /// Suffix of what every circuit has.
  [[nodiscard]] std::string of_circuit(int c) const { return circuits() == 1 ? "" : "_" + std::to_string(c); }
  [[nodiscard]] int circuit_of(int cylinder) const { return distributor ? 1 : cylinder; }
  /// What stands in the place of the switch in the supply: with a distributor it is a car's.
  [[nodiscard]] std::string cut_off() const { return distributor ? "anti-theft switch" : "run switch"; }
  /// How that switch stands while the key is on.
  [[nodiscard]] std::string switched_on() const { return "key ON, " + cut_off() + (distributor ? " on" : " in RUN"); }
  /// The last part of the common supply line before it forks to the coils.
  [[nodiscard]] const char* feed() const { return ballast ? "ballast.out" : "stop_switch.out"; }
};

/// Kinds of stages; each cylinder or circuit has its own.
enum class StageKind { battery, steady, dwell, winding, opening, fire, peak, all, stop, spark };

class BreakerPoints : public plugin::Family {
 public:
  static constexpr const char* k_id = "breaker_points";
  static constexpr const char* k_title = "battery ignition with breaker points and condenser";
  static constexpr const char* k_description =
      "classic motorcycles, cars and tractors: points switch a coil's current, a condenser keeps them from arcing; one "
      "set "
      "for each cylinder or a distributor; every stop interrupts the supply";
  static std::vector<ls_option_v1> options();
  explicit BreakerPoints(const plugin::Settings& chosen);
  void evaluate(int stage, const double* in, double* out) const override;

 private:
  bool distributor_ = false;
  int cylinders_ = 1;
  std::vector<StageKind> stages_;  ///< in the order of the tables
};

/// Supply as this family has it.
blocks::SupplySettings supply_settings();

// The tables, by subject.
void add_parts(plugin::Tables& t, const Options& options);
void add_links(plugin::Tables& t, const Options& options);
[[nodiscard]] std::vector<StageKind> add_stages(plugin::Tables& t, const Options& options);
void add_modes(plugin::Tables& t, const Options& options);
void add_conditions(plugin::Tables& t, const Options& options);
void add_tests(plugin::Tables& t, const Options& options);
void add_findings(plugin::Tables& t, const Options& options);
void add_distributor_tests(plugin::Tables& t, const Options& options);
void add_words(plugin::Tables& t, const Options& options);

}  // namespace lostspark::breaker_points
