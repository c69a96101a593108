// Wasted spark: dual-output coils, two plugs in series on each, interrupted by an ignition unit that a pulse coil
// triggers, or an engine control unit behind a main relay. docs/families/wasted_spark.md describes it in words,
// docs/physics-inductive.md the equations.
#pragma once

#include <array>
#include <string>

#include "blocks/supply.hpp"
#include "lostspark_plugin.hpp"

namespace lostspark::wasted_spark {

/// Which cylinders share a coil.
enum class Partners { outer_inner, half_apart, neighbours };

/// What the network chose.
struct Options {
  int pairs = 1;
  bool engine_unit = false;  ///< engine control unit behind a main relay; else an ignition unit behind the run switch
  Partners partners = Partners::outer_inner;

  [[nodiscard]] int cylinders() const { return 2 * pairs; }
  /// Cylinders of a pair, counted from 1: those of tower a and of tower b.
  [[nodiscard]] std::array<int, 2> of_pair(int pair) const;
  [[nodiscard]] int pair_of(int cylinder) const;
  [[nodiscard]] int side_of(int cylinder) const { return of_pair(pair_of(cylinder))[0] == cylinder ? 0 : 1; }
  [[nodiscard]] int partner_of(int cylinder) const {
    return of_pair(pair_of(cylinder))[static_cast<std::size_t>(1 - side_of(cylinder))];
  }
};

/// "dwell" of pair 2 -> "dwell_2"; of a cylinder likewise.
inline std::string of(const char* stem, int number) { return stem + ("_" + std::to_string(number)); }
/// " 2" of the second coil, nothing where there is one.
inline std::string coil_number(const Options& options, int pair) {
  return options.pairs == 1 ? "" : " " + std::to_string(pair);
}
/// "ignition_coil_1.tower_a" of a cylinder.
std::string tower(const Options& options, int cylinder);

class WastedSpark : public plugin::Family {
 public:
  static constexpr const char* k_id = "wasted_spark";
  static constexpr const char* k_title = "dual-output coils, two plugs in series (wasted spark)";
  static constexpr const char* k_description =
      "motorcycle twins and fours, boxers, coil packs; an ignition unit interrupts a coil for every two cylinders, "
      "which spark together, one under compression, one on its exhaust stroke; every stop interrupts the supply";
  static std::vector<ls_option_v1> options();
  explicit WastedSpark(const plugin::Settings& chosen);
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

/// The relay is held; nothing where there is none.
inline const char* held(const Options& options) { return options.engine_unit ? "trigger.relay_margin" : ""; }
/// Margins that must be met before a pair's coil can be fired, separated by ' '.
std::string live(const Options& options, int pair);
/// Those of a cylinder's coil and its spark: the ladder of a complaint.
std::string ladder(const Options& options, int cylinder);

/// Evaluates a stage of an engine with these options; order of add_stages().
void evaluate_stage(const Options& options, int stage, const double* in, double* out);

}  // namespace lostspark::wasted_spark
