// What the circuit simulator has to know of one ignition family: how its parts become a deck, and how a test of the
// plugin is read from what ngspice measured. One implementation per family; the names of plugins/<family> meet those of
// the deck only there.
#pragma once

#include <functional>
#include <map>
#include <string>
#include <string_view>
#include <vector>

#include "spice/harness.hpp"
#include "spice/ngspice.hpp"

namespace lostspark::spice {

/// A path from a point of the harness to engine metal: a chafed wire.
struct Shunt {
  std::string point;
  double ohm = 1e11;
};

/// A vehicle ready for the bench.
struct Situation {
  std::map<std::string, double, std::less<>> value;    ///< of every parameter of the plugin, faults applied
  std::map<std::string, double, std::less<>> typical;  ///< healthy medians of this vehicle
  std::string condition;                               ///< operating state
  std::vector<std::string> setups;                     ///< that stand, without those that only unplug for an ohmmeter
  Harness harness;
  std::vector<Shunt> shunts;
};

/// A meter between two points: peaks with their response, and a steady value.
struct Meter {
  std::string a, b = "earth";
  double input_ohm = 2e6, rise_time_second = 1e-6;
};

/// What the gap does in a deck.
enum class Gap { as_fitted, holds };

/// What a deck shows for one test, before the instrument's own errors.
struct Shown {
  double value = 0;      ///< unit of the test; rpm, ohm, volt ...
  bool happens = false;  ///< words: it sparked / the clamp saw current
};

/// What the comparison holds a kind of reading to.
struct Bound {
  std::string kind;
  double relative = 0.05, floor = 0;  ///< the larger of both; in the reading's unit
  double dead = 0;  ///< where the vehicle is dead the engine's value must only lie below this; 0: no such rule
};

/// What an ohmmeter finds between two terminals of a part: these parameters added up, times `scale`. Left out where the
/// vehicle has not the first of them.
struct OhmPart {
  std::string a, b;
  std::vector<std::string> parameters;
  double scale = 1;
};
/// Lead, its joints and the cap of one cylinder.
[[nodiscard]] std::vector<OhmPart> lead_ohm_parts(const std::string& suffix);

class FamilyBench {
 public:
  virtual ~FamilyBench() = default;
  [[nodiscard]] virtual const LinkEnds& links() const = 0;
  /// Set-ups that the deck makes by itself; others only unplug.
  [[nodiscard]] virtual bool makes_setup(std::string_view id) const = 0;
  /// A set-up that only unplugs: which terminals. Empty: not one of these.
  [[nodiscard]] virtual std::vector<std::string> unplugs(std::string_view setup) const;
  /// The running deck. Meter k gives the measurements m<k>_max, m<k>_min and whatever reads() asks for.
  [[nodiscard]] virtual std::string deck(const Situation&, const std::vector<Meter>&, Gap) const = 0;
  /// Resistances only, as an ohmmeter from a to b finds them: measurement "ampere" of add_ohmmeter().
  /// As it is: the harness and ohm_parts().
  [[nodiscard]] virtual std::string ohm_deck(const Situation&, const std::string& a, const std::string& b) const;
  [[nodiscard]] virtual std::vector<OhmPart> ohm_parts(const Situation&) const;
  /// Reads a test kind; pointer(what) is the measurement m<k>_<what> of its meter.
  [[nodiscard]] virtual Shown read(const std::string& kind, const Situation&, const Run&,
                                   const std::function<double(const char*)>& pointer) const = 0;

  // The comparison, test point by test point.
  [[nodiscard]] virtual bool compares(std::string_view condition, const std::vector<std::string>& setups) const = 0;
  [[nodiscard]] virtual const std::vector<Bound>& bounds() const = 0;
  /// Kind and limit (in its unit) below which the deck counts as dead, one after the other.
  [[nodiscard]] virtual const std::vector<std::pair<std::string, double>>& dead_limits() const = 0;
  /// What the spark time is held to, beside 5 us. Wider than the project's bound only with the reason in the family's
  /// bench.
  [[nodiscard]] virtual double spark_time_relative() const;
  /// Columns of the deviation table: head and kind.
  [[nodiscard]] virtual const std::vector<std::pair<std::string, std::string>>& columns() const = 0;
  /// Parameters whose large values a meter of two megohms feels.
  [[nodiscard]] virtual bool meter_feels(std::string_view parameter) const = 0;
  /// A kind that looks the same with the gap tester fitted: one deck for both.
  [[nodiscard]] virtual bool blind_to_gap(std::string_view kind) const;
  /// The deck fires cylinder 1; what another one shows is found by exchanging the two in every name.
  [[nodiscard]] virtual bool fires_cylinder_one() const;
  /// The decks answer this test kind; where fires_cylinder_one(), asked with the name that cylinder 1 would have.
  [[nodiscard]] virtual bool answers(std::string_view kind) const;
};

/// Throws std::runtime_error for a family that has none.
[[nodiscard]] const FamilyBench& family_bench(std::string_view family);
[[nodiscard]] const FamilyBench& ac_cdi_bench();
[[nodiscard]] const FamilyBench& transistor_inductive_bench();
[[nodiscard]] const FamilyBench& breaker_points_bench();
[[nodiscard]] const FamilyBench& distributor_bench();  // breaker points with a distributor
[[nodiscard]] const FamilyBench& coil_on_plug_bench();
[[nodiscard]] const FamilyBench& dc_cdi_bench();
[[nodiscard]] const FamilyBench& outboard_cdi_bench();
[[nodiscard]] const FamilyBench& wasted_spark_bench();

class Deck;
/// Wires, contacts and chafed places; `end` may rename points.
void add_joints(Deck&, const Situation&, const std::function<std::string(const std::string&)>& end);
/// The same, with the inductance of the short earth leads between these terminals and the harness
/// ("control_module.ground").
void add_joints_behind_leads(Deck&, const Situation&, const std::vector<std::string>& tags, double henry);
/// Meters with their measurements of the whole run.
void add_meters(Deck&, const std::vector<Meter>&, const std::string& window = "");
/// One volt behind one ohm from b to a, ten decades apart.
void add_ohmmeter(Deck&, const std::string& a, const std::string& b);

}  // namespace lostspark::spice
