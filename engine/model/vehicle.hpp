// One vehicle, compiled from a family plugin and a network file: plain values and indices, checked when made.
// Everything downstream (circuit, inference, planning, faces) reads this and nothing else.
#pragma once

#include <array>
#include <cstdint>
#include <limits>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace lostspark::model {

using Index = std::int32_t;                 ///< position in one of Vehicle's tables
inline constexpr Index k_none = -1;         ///< "no such row"
inline constexpr Index k_earth = 0;         ///< node 0: bare engine metal, the reference of all volts
inline constexpr double k_open_ohm = 1e11;  ///< an open joint or wire
inline constexpr double k_labour_default = 1.0;

/// Where a number came from; shown beside every band.
enum class Origin { family, service_data, shop, judgement };

/// How a healthy number varies: log-normal around `typical`.
struct Parameter {
  std::string id, unit, description;
  double typical = 1;        ///< healthy median
  double log_sd = 0;         ///< sd of the log between healthy vehicles (scope vehicle)
  double event_log_sd = 0;   ///< further sd, redrawn at every crank or kick (scope event)
  Origin origin = Origin::family;
  std::string origin_note;   ///< page of the service data, or empty
};

enum class ComponentKind { part, wire, connector, splice, earth_point, operator_state, elsewhere };

/// A replaceable or repairable item.
struct Component {
  std::string id, title, group;   ///< group: SRC CON INH TRG CTL PRI SEC PLG TIM FUE CMP AIR OTH
  ComponentKind kind = ComponentKind::part;
  bool stops_engine = false;      ///< belongs to a kill or interlock circuit
  int price_class = 0;
  double price = 0;               ///< units of money, from the network or the class
  std::string place;              ///< where it is, in words
  std::vector<Index> covers;      ///< covers that must be off to repair it
  double age_factor = 1;          ///< exposure: multiplies the prior of its modes
  Index part_of = k_none;         ///< it is one piece with this component (a coil's own lead) and renewed with it
};

/// A point of the harness; also every terminal. Node 0 is earth.
struct Node {
  std::string id;       ///< "control_module.source", "exciter_connector.1.module_side"
  Index component = k_none;
  std::string side;     ///< terminal id, or which side of a connector
  std::string place;    ///< words: "2-pole white connector behind the left side panel"
  std::string wire;     ///< IEC 60757 colours, "BKRD", or empty
  bool probe = false;   ///< a meter can get there
  double blind_min = -1;///< >= 0: can be probed without taking the covers off, in these minutes
  std::vector<Index> covers;
};

enum class ElementUse : std::uint8_t { always, running_only, ohm_only };

/// Two-terminal linear element of the one nodal network: R + j 2 pi f L with an EMF in series (positive at a).
/// Resistances of components are parameters (index); those of the harness are numbers of their own.
struct Element {
  std::string id;
  Index a = 0, b = 0;                   ///< nodes
  double resistance_ohm = 0;            ///< used when resistance_parameter is k_none
  Index resistance_parameter = k_none;
  Index inductance_parameter = k_none;
  Index emf_parameter = k_none;
  Index frequency_parameter = k_none;
  Index frequency_factor = k_none;      ///< EMF and frequency are multiplied by this parameter / its typical
  ElementUse use = ElementUse::always;
  Index component = k_none;             ///< owner, k_none for leaks
};

/// How often a mode shows itself; provocations in the order of Provocation.
enum class Provocation : std::uint8_t { none, hot, wet, shaken, steering, loaded };
inline constexpr std::size_t k_provocations = 6;
using Visibility = std::array<double, k_provocations>;

enum class ChangeTarget : std::uint8_t { parameter, element_series, element_shunt };
enum class Operation : std::uint8_t { set, scale };

/// One change a fault makes; the value is exp(log mild + s (log severe - log mild)) at severity s.
/// element_series sets that element's resistance; element_shunt sets the resistance of a path from node a of the
/// element to earth (a chafed wire).
struct Change {
  ChangeTarget target = ChangeTarget::parameter;
  Index index = k_none;                 ///< parameter or element
  Operation operation = Operation::set;
  double mild = 1, severe = 1;
};

/// One way a component fails (IEC 60812 sense).
struct Mode {
  std::string id;                       ///< "component.mode"
  std::string title, group, how_it_fails;
  Index component = k_none;
  Index repair = k_none;
  double prior = 0;                     ///< probability that a vehicle has it, before any complaint
  double share = 0;                     ///< per 1000 ignition complaints, as the family states it
  Visibility visible{1, 1, 1, 1, 1, 1};
  std::vector<Change> changes;
  [[nodiscard]] bool has_severity() const {
    for (const auto& c : changes)
      if (c.mild != c.severe) return true;
    return false;
  }
};

/// Whether handling can cure or hide what ails it.
[[nodiscard]] inline bool is_contact(ComponentKind kind) {
  return kind == ComponentKind::connector || kind == ComponentKind::splice || kind == ComponentKind::earth_point;
}

enum class RepairKind { clean, adjust, replace };

struct Repair {
  std::string id;                       ///< "component.repair"
  std::string title;                    ///< imperative
  RepairKind kind = RepairKind::replace;
  Index component = k_none;
  double labour_min = 0;
  double success = 0.95;
  double price = 0;
  std::vector<Index> covers;
};

/// Whether money is spent on a part that is put in.
[[nodiscard]] inline bool fits_part(const Repair& r) { return r.kind == RepairKind::replace && r.price > 0; }

struct Cover {
  std::string id, title;
  double remove_min = 0, refit_min = 0;
  std::vector<Index> first;             ///< covers that must be off before (a directed acyclic graph)
  bool may_run_without = true;
};

/// Reversible effects of conditions and set-ups.
enum class EffectKind : std::uint8_t { open_node, set_parameter, scale_parameter, exchange_parameters };
struct Effect {
  EffectKind kind = EffectKind::open_node;
  Index target = k_none;                ///< node (all harness elements at it open) or parameter
  double value = 1;
  Index other = k_none;                 ///< exchange_parameters: the parameter it trades values with
};

struct Condition {
  std::string id, title, instruction;
  bool is_state = true;                 ///< operating state; else a provocation
  Provocation provocation = Provocation::none;
  double minutes = 0;
  bool engine_off = false, needs_crank = false, running = false, needs_helper = false, covers_fitted = false;
  bool holds_through_visit = false;
  std::vector<Effect> effects;
};

struct Setup {
  std::string id, title, instruction, tool;
  double minutes = 0;
  bool moves_contacts = false;
  std::vector<Effect> effects;
  std::vector<Index> touches;           ///< components whose contacts it moves
};

/// One state the circuit is solved in: operating state, provocation-independent, and set-ups standing.
/// Tests with the same scene share one solution.
struct Scene {
  Index condition = k_none;             ///< operating state
  std::vector<Index> setups;            ///< sorted
};

enum class Reads : std::uint8_t { node_volts, drop_volts, ohms, output, margin_word, finding };

struct FindingRow {
  Index mode = k_none;
  std::size_t word = 0;                 ///< index into Test::words
  double probability = 0;
};

/// A stage of the family's pulse physics, and what it takes and gives; indices into Vehicle::outputs.
struct StageInput {
  enum class Kind : std::uint8_t { parameter, output, linear_volts, terminal } kind = Kind::parameter;
  Index a = k_none, b = k_none;         ///< parameter; output; nodes
};
struct Stage {
  std::string id, title;
  bool report_only = false;
  std::vector<StageInput> inputs;       ///< terminals last
  std::size_t scalar_count = 0;         ///< inputs before the terminals
  std::size_t terminal_count = 0;
  Index first_output = 0;               ///< row in Vehicle::outputs
  Index output_count = 0;
  [[nodiscard]] std::size_t input_width() const {
    return scalar_count + terminal_count * (terminal_count + 1) / 2;
  }
};

/// terminal_reading: what a meter at the terminal shows where that differs from what the harness sees there;
/// terminal_ohm: source resistance behind the terminal's volts, against which a meter's load works.
enum class OutputKind : std::uint8_t { value, margin, terminal_volts, terminal_reading, terminal_ohm };
struct Output {
  std::string id;                       ///< "stage.output"
  std::string unit, description;
  Index stage = k_none;
  OutputKind kind = OutputKind::value;
  Index node = k_none;                  ///< terminal_...
};

/// What somebody reads: quantity + place + condition + set-up + instrument kind.
struct Test {
  std::string id;                       ///< "<test kind>@<place>.<side>[+setup][/condition]"
  std::string title, unit;              ///< unit: volt, ohm, kilovolt, ampere, rpm, word
  std::string kind;                     ///< id of the test kind
  Reads reads = Reads::node_volts;
  Index scene = k_none;                 ///< row in Vehicle::scenes
  Provocation provocation = Provocation::none;
  Index condition_extra = k_none;       ///< provocation's row in conditions, or k_none
  Index node_a = k_none, node_b = k_none;  ///< node_volts: a; drop and ohms: a and b
  Index stage = k_none;                 ///< node_volts, drop: stage whose terminal volts apply; k_none: linear solution
  std::vector<Index> further_stages;    ///< node_volts, drop: the reading is the largest magnitude of `stage` and these
  Index output = k_none;                ///< output, margin_word
  Index switch_margin = k_none, switch_output = k_none;
  std::vector<Index> dead_below;        ///< margins that must be > 0, else the reading is zero
  std::vector<std::string> words;       ///< margin_word: none, irregular, steady; finding: first = nothing found
  std::vector<FindingRow> findings;
  double false_alarm = 0.02;            ///< finding: probability of a word with no mode behind it
  std::string instrument;               ///< instrument kind
  double log_sd = 0.1, minutes = 3, mistaken = 0.03;
  std::string place, hook_up, low_means, zero_means, high_means;
  std::vector<Index> cautions;
  std::vector<Index> covers;            ///< covers that must be off
  double blind_min = -1;                ///< >= 0: possible without covers in these minutes
  double healthy_low = 0, healthy_high = 0;  ///< from the network where stated, else 0: computed by the circuit
  Origin healthy_origin = Origin::family;
  std::string healthy_note;                  ///< of that band: a page, a person
  double learned_log_offset = 0;             ///< log of what the shop's healthy vehicles read over what the circuit says
  std::int32_t learned_from = 0;             ///< healthy readings of this test behind the shop's figures
  [[nodiscard]] bool is_word() const { return reads == Reads::margin_word || reads == Reads::finding; }
};

struct Caution {
  std::string id, signal_word, text, avoid;
  bool before_first = false;
};

/// How many cylinders a computed complaint is about; the others spark better than its word.
enum class Extent : std::uint8_t { all, one, two };

/// A complaint word: computed by margins where there are any, else relative likelihood by group.
struct Complaint {
  std::string id, title;
  /// By cylinder: a ladder of margins (outputs). The word is none where one before the last is missed, else told by the last.
  std::vector<std::vector<Index>> cylinders;
  Extent extent = Extent::all;
  std::size_t word = 0;                 ///< 0 none, 1 irregular, 2 steady, k_present
  static constexpr std::size_t k_present = 3;
  /// The spark is there where nothing provokes the fault (irregular or steady): it is not what is complained of, so the
  /// table counts as well.
  [[nodiscard]] bool spark_present() const { return word == k_present; }
  [[nodiscard]] bool by_table() const { return !computed() || spark_present() || word == 2; }
  [[nodiscard]] bool computed() const { return !cylinders.empty(); }
  /// Speaks of this margin, the last of some cylinder's ladder.
  [[nodiscard]] bool about(Index output) const {
    for (const auto& ladder : cylinders)
      if (output >= 0 && ladder.back() == output) return true;
    return false;
  }
  std::vector<std::pair<std::string, double>> by_group;  ///< likelihood 0..10, see docs/complaints.md
  [[nodiscard]] double of_group(std::string_view group) const {
    for (const auto& [g, v] : by_group)
      if (g == group) return v;
    return 0.1;
  }
};

/// Something that hits several items at once (water, vibration, rodents): with `probability` it happened, and each mode is
/// then there with its own probability. Makes faults that share it come in pairs.
struct CommonCause {
  std::string id, title;
  double probability = 0;
  std::vector<std::pair<Index, double>> modes;
};

/// Non-linear stage physics behind the plugin boundary. Implemented by `sources` over a loaded plugin and by tests.
class StagePhysics {
 public:
  virtual ~StagePhysics() = default;
  /// inputs: n rows of Stage::input_width(); outputs: n rows of Stage::output_count.
  /// Throws PluginError naming the library when the plugin fails or answers nonsense (not finite).
  virtual void evaluate(Index stage, std::size_t n, std::span<const double> inputs, std::span<double> outputs) const = 0;
  /// The same physics once more, for use on another thread: one object serves one thread at a time. nullptr: there is
  /// only this one.
  [[nodiscard]] virtual std::shared_ptr<const StagePhysics> another() const { return nullptr; }
};

/// Everything about one vehicle. Built once by sources::load_vehicle; immutable afterwards.
struct Vehicle {
  std::string id, title, family, family_version, network_text;
  std::vector<std::pair<std::string, std::string>> options;
  std::vector<Parameter> parameters;
  std::vector<Component> components;
  std::vector<Node> nodes;
  std::vector<Element> elements;
  std::vector<Mode> modes;
  std::vector<Repair> repairs;
  std::vector<Cover> covers;
  std::vector<Condition> conditions;
  std::vector<Setup> setups;
  std::vector<Scene> scenes;
  std::vector<Stage> stages;
  std::vector<Output> outputs;
  std::vector<Test> tests;
  std::vector<Caution> cautions;
  std::vector<Complaint> complaints;
  std::vector<CommonCause> common_causes;
  double ignition_faults_per_vehicle = 0.08;  ///< L of docs/model.md: p_i = L w_i / 1000
  double elsewhere_share = 0.18;              ///< share of complaints first booked as ignition that are not
  std::shared_ptr<const StagePhysics> physics;  ///< owns the plugin library; declared last, released last

  /// Where a computed complaint is told: the first scene of a cranked state without set-ups; k_none: there is none.
  [[nodiscard]] Index cranking_scene() const;
  [[nodiscard]] std::optional<Index> find_component(std::string_view wanted) const;
  [[nodiscard]] std::optional<Index> find_mode(std::string_view wanted) const;
  [[nodiscard]] std::optional<Index> find_repair(std::string_view wanted) const;
  [[nodiscard]] std::optional<Index> find_test(std::string_view wanted) const;
  [[nodiscard]] std::optional<Index> find_cover(std::string_view wanted) const;
  [[nodiscard]] std::optional<Index> find_setup(std::string_view wanted) const;
  [[nodiscard]] std::optional<Index> find_condition(std::string_view wanted) const;
  [[nodiscard]] std::optional<Index> find_parameter(std::string_view wanted) const;
  [[nodiscard]] std::optional<Index> find_node(std::string_view wanted) const;
  [[nodiscard]] std::optional<Index> find_output(std::string_view wanted) const;
  [[nodiscard]] std::optional<Index> find_complaint(std::string_view wanted) const;
};

/// Whether a repair fits this component anew: it is what is replaced, or one piece with it.
[[nodiscard]] bool renews(const Vehicle& vehicle, Index repair, Index component);
/// Whether a repair, where it succeeds, ends this fault: the mode's own, or one that renews its component.
[[nodiscard]] bool mends(const Vehicle& vehicle, Index repair, Index mode);

}  // namespace lostspark::model
