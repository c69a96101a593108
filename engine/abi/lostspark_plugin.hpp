// lostspark_plugin.hpp - header-only C++20 layer for authors of ignition families, over lostspark_plugin.h.
//
// A family is a class:
//
//   class MyFamily : public lostspark::plugin::Family {
//    public:
//     static constexpr const char* k_id = "my_family";
//     static constexpr const char* k_title = "my ignition";
//     static constexpr const char* k_description = "what it is found on";
//     static std::vector<ls_option_v1> options();                    // may be empty
//     explicit MyFamily(const lostspark::plugin::Settings& chosen);  // fills tables()
//     void evaluate(int stage, const double* in, double* out) const override;  // one point
//   };
//   LS_PLUGIN(MyFamily, "1.0.0")
//
// LS_PLUGIN defines the one exported symbol. Every entry is guarded: an exception of the family becomes LS_FAILED and
// its text the message; inputs and outputs that are not finite are refused by name before and after the call.
// The tables keep copies of all strings, so literals and temporaries may be passed alike; a null string means "".
#ifndef LOSTSPARK_PLUGIN_HPP
#define LOSTSPARK_PLUGIN_HPP

#include <cmath>
#include <concepts>
#include <cstdint>
#include <cstdlib>
#include <cstring>
#include <deque>
#include <exception>
#include <memory>
#include <stdexcept>
#include <string>
#include <string_view>
#include <vector>

#include "lostspark_plugin.h"

namespace lostspark::plugin {

/// Thrown by authors and by the checks here; the text reaches the person at the host.
class Refusal : public std::runtime_error {
 public:
  using std::runtime_error::runtime_error;
};

/// The options a network chose, checked against what the family offers.
class Settings {
 public:
  /// Throws Refusal: unknown option, value outside its choices or range.
  Settings(const std::vector<ls_option_v1>& offered, const ls_setting* chosen, std::int32_t count) {
    for (const auto& option : offered) values_.push_back({option.id, option.default_value});
    for (std::int32_t k = 0; k < count; ++k) {
      const std::string id = chosen[k].id != nullptr ? chosen[k].id : "";
      const std::string value = chosen[k].value != nullptr ? chosen[k].value : "";
      bool known = false;
      for (std::size_t i = 0; i < offered.size(); ++i) {
        if (id != offered[i].id) continue;
        check(offered[i], value);
        values_[i].value = value;
        known = true;
      }
      if (!known) throw Refusal("option '" + id + "' is not offered by this family");
    }
  }
  [[nodiscard]] const std::string& text(std::string_view id) const {
    for (const auto& entry : values_)
      if (entry.id == id) return entry.value;
    throw Refusal("the family asks for its own option '" + std::string(id) + "', which it does not offer");
  }
  [[nodiscard]] bool flag(std::string_view id) const { return text(id) == "true"; }
  [[nodiscard]] int integer(std::string_view id) const { return std::atoi(text(id).c_str()); }

 private:
  struct Entry {
    std::string id, value;
  };
  static void check(const ls_option_v1& option, const std::string& value) {
    const std::string_view kind = option.kind;
    const auto refuse = [&](const std::string& expected) {
      throw Refusal("option '" + std::string(option.id) + "' is '" + value + "', expected " + expected);
    };
    if (kind == "bool" && value != "true" && value != "false") refuse("true or false");
    if (kind == "integer") {
      const std::string range = option.choices;
      const auto dots = range.find("..");
      char* end = nullptr;
      const long number = std::strtol(value.c_str(), &end, 10);
      const bool whole = !value.empty() && *end == '\0';
      if (!whole || (dots != std::string::npos &&
                     (number < std::atol(range.c_str()) || number > std::atol(range.c_str() + dots + 2))))
        refuse("a whole number " + range);
    }
    if (kind == "choice" && ("|" + std::string(option.choices) + "|").find("|" + value + "|") == std::string::npos)
      refuse("one of " + std::string(option.choices));
  }
  std::vector<Entry> values_;
};

/// All tables of one instance, in the C structs, with every string kept alive.
class Tables {
 public:
  Tables() = default;
  Tables(const Tables&) = delete;
  Tables& operator=(const Tables&) = delete;

  std::vector<ls_option_v1> options;
  std::vector<ls_parameter_v1> parameters;
  std::vector<ls_component_v1> components;
  std::vector<ls_terminal_v1> terminals;
  std::vector<ls_element_v1> elements;
  std::vector<ls_link_v1> links;
  std::vector<ls_mode_v1> modes;
  std::vector<ls_change_v1> changes;
  std::vector<ls_repair_v1> repairs;
  std::vector<ls_condition_v1> conditions;
  std::vector<ls_setup_v1> setups;
  std::vector<ls_effect_v1> effects;
  std::vector<ls_stage_v1> stages;
  std::vector<ls_stage_input_v1> stage_inputs;
  std::vector<ls_stage_output_v1> stage_outputs;
  std::vector<ls_test_kind_v1> test_kinds;
  std::vector<ls_finding_v1> findings;
  std::vector<ls_caution_v1> cautions;
  std::vector<ls_complaint_v1> complaints;

  /// A copy that lives as long as the tables; "" for null.
  const char* keep(const char* text) { return text == nullptr ? "" : keep(std::string(text)); }
  const char* keep(std::string text) {
    texts_.push_back(std::move(text));
    return texts_.back().c_str();
  }

  void add(ls_option_v1 row) {
    hold(row.id, row.kind, row.default_value, row.choices, row.description);
    options.push_back(row);
  }
  /// The scope follows from the spreads.
  void add(ls_parameter_v1 row) {
    hold(row.id, row.unit, row.description);
    row.scope = row.log_sd == 0 && row.event_log_sd == 0 ? LS_SCOPE_FIXED : LS_SCOPE_VEHICLE;
    parameters.push_back(row);
  }
  void add(ls_component_v1 row) {
    hold(row.id, row.title, row.group);
    components.push_back(row);
  }
  void add(ls_terminal_v1 row) {
    hold(row.component, row.id, row.din_72552, row.title);
    terminals.push_back(row);
  }
  void add(ls_element_v1 row) {
    hold(row.id, row.terminal_a, row.terminal_b, row.resistance_ohm, row.inductance_henry, row.emf_volt);
    hold(row.frequency_hertz, row.frequency_factor);
    elements.push_back(row);
  }
  void add(ls_link_v1 row) {
    hold(row.id, row.title, row.from, row.to, row.carries, row.group);
    links.push_back(row);
  }
  void add(ls_mode_v1 row) {
    hold(row.id, row.component, row.title, row.group, row.repair, row.how_it_fails);
    modes.push_back(row);
  }
  void add(ls_change_v1 row) {
    hold(row.mode, row.parameter);
    changes.push_back(row);
  }
  void add(ls_repair_v1 row) {
    hold(row.id, row.component, row.title, row.kind);
    repairs.push_back(row);
  }
  void add(ls_condition_v1 row) {
    hold(row.id, row.kind, row.title, row.visibility, row.instruction);
    conditions.push_back(row);
  }
  void add(ls_setup_v1 row) {
    hold(row.id, row.title, row.instruction, row.tool);
    setups.push_back(row);
  }
  void add(ls_effect_v1 row) {
    hold(row.owner, row.target, row.other);
    effects.push_back(row);
  }
  void add(ls_test_kind_v1 row) {
    hold(row.id, row.title, row.unit, row.subject, row.against, row.source, row.dead_below, row.switch_margin);
    hold(row.switch_output, row.condition, row.setups, row.instrument, row.place, row.hook_up, row.low_means);
    hold(row.zero_means, row.high_means, row.cautions);
    test_kinds.push_back(row);
  }
  void add(ls_finding_v1 row) {
    hold(row.test_kind, row.mode, row.word);
    findings.push_back(row);
  }
  void add(ls_caution_v1 row) {
    hold(row.id, row.signal_word, row.text, row.avoid);
    cautions.push_back(row);
  }
  void add(ls_complaint_v1 row) {
    hold(row.id, row.title, row.margins, row.extent, row.word, row.table);
    complaints.push_back(row);
  }

  /// Begins a stage: what follows with input() and output() belongs to it. Order of calls = order of the rows.
  void stage(const char* id, const char* title, bool report_only = false) {
    stages.push_back({keep(id), keep(title), report_only ? 1 : 0});
  }
  void input(std::int32_t kind, const char* a, const char* b = "") {
    stage_inputs.push_back({current_stage(), kind, keep(a), keep(b)});
  }
  void output(const char* id, std::int32_t kind, const char* unit, const char* description, const char* terminal = "") {
    stage_outputs.push_back({current_stage(), keep(id), kind, keep(unit), keep(terminal), keep(description)});
  }

  /// Width of a stage's input row: the scalars, then the packed lower triangle over its m terminals.
  [[nodiscard]] std::size_t input_width(std::size_t stage) const {
    std::size_t scalars = 0, terminals_here = 0;
    for (const auto& row : stage_inputs)
      if (std::strcmp(row.stage, stages[stage].id) == 0) ++(row.kind == LS_INPUT_TERMINAL ? terminals_here : scalars);
    return scalars + terminals_here * (terminals_here + 1) / 2;
  }
  [[nodiscard]] std::size_t output_width(std::size_t stage) const {
    std::size_t count = 0;
    for (const auto& row : stage_outputs) count += std::strcmp(row.stage, stages[stage].id) == 0 ? 1u : 0u;
    return count;
  }

  /// Row count of table t (LS_OPTIONS ...), or -1 for a table that does not exist.
  [[nodiscard]] std::int32_t count(std::int32_t table) const {
    std::int32_t result = -1;
    visit(table, [&](const auto& rows) { result = static_cast<std::int32_t>(rows.size()); });
    return result;
  }
  /// Copies row `index` of table t into the struct at `out`; throws Refusal outside the table.
  void copy_row(std::int32_t table, std::int32_t index, void* out) const {
    if (out == nullptr) throw Refusal("no struct to fill was given");
    bool done = false;
    visit(table, [&](const auto& rows) {
      if (index < 0 || index >= static_cast<std::int32_t>(rows.size())) return;
      std::memcpy(out, &rows[static_cast<std::size_t>(index)], sizeof rows[0]);
      done = true;
    });
    if (!done) throw Refusal("table " + std::to_string(table) + " has no row " + std::to_string(index));
  }

 private:
  template <class... Fields>
  void hold(Fields&... fields) {
    ((fields = keep(fields)), ...);
  }
  const char* current_stage() const {
    if (stages.empty()) throw Refusal("input() or output() before the first stage()");
    return stages.back().id;
  }
  template <class Visitor>
  void visit(std::int32_t table, Visitor&& visitor) const {
    switch (table) {
      case LS_OPTIONS:
        return visitor(options);
      case LS_PARAMETERS:
        return visitor(parameters);
      case LS_COMPONENTS:
        return visitor(components);
      case LS_TERMINALS:
        return visitor(terminals);
      case LS_ELEMENTS:
        return visitor(elements);
      case LS_LINKS:
        return visitor(links);
      case LS_MODES:
        return visitor(modes);
      case LS_CHANGES:
        return visitor(changes);
      case LS_REPAIRS:
        return visitor(repairs);
      case LS_CONDITIONS:
        return visitor(conditions);
      case LS_SETUPS:
        return visitor(setups);
      case LS_EFFECTS:
        return visitor(effects);
      case LS_STAGES:
        return visitor(stages);
      case LS_STAGE_INPUTS:
        return visitor(stage_inputs);
      case LS_STAGE_OUTPUTS:
        return visitor(stage_outputs);
      case LS_TEST_KINDS:
        return visitor(test_kinds);
      case LS_FINDINGS:
        return visitor(findings);
      case LS_CAUTIONS:
        return visitor(cautions);
      case LS_COMPLAINTS:
        return visitor(complaints);
      default:
        return;
    }
  }
  std::deque<std::string> texts_;  // deque: growing leaves earlier strings where they are
};

/// Base of a family. One instance per vehicle; the host calls it from one thread at a time.
class Family {
 public:
  virtual ~Family() = default;
  Family(const Family&) = delete;
  Family& operator=(const Family&) = delete;
  [[nodiscard]] const Tables& tables() const { return tables_; }

  /// One point of stage `stage` (index in the order of Tables::stage). `in` and `out` have Tables::input_width() and
  /// output_width() numbers. Must fill all of `out`; may throw (Refusal for a bad input).
  /// Must not allocate: it runs thousands of times when a vehicle is compiled.
  virtual void evaluate(int stage, const double* in, double* out) const = 0;

 protected:
  Family() = default;
  Tables tables_;
};

template <class F>
concept FamilyClass = std::derived_from<F, Family> && std::constructible_from<F, const Settings&> && requires {
  { F::k_id } -> std::convertible_to<const char*>;
  { F::k_title } -> std::convertible_to<const char*>;
  { F::k_description } -> std::convertible_to<const char*>;
  { F::options() } -> std::convertible_to<std::vector<ls_option_v1>>;
};

/// Writes one sentence into the host's buffer, truncated to its size on a character boundary of UTF-8.
inline void write_message(ls_message* message, std::string_view text) noexcept {
  if (message == nullptr || message->data == nullptr || message->size == 0) return;
  std::size_t length = text.size() < message->size - 1u ? text.size() : message->size - 1u;
  while (length < text.size() && length > 0 && (static_cast<unsigned char>(text[length]) & 0xC0u) == 0x80u) --length;
  std::memcpy(message->data, text.data(), length);
  message->data[length] = '\0';
}

/// Runs the action; anything thrown becomes LS_FAILED and a message.
template <class Action>
std::int32_t guarded(ls_message* message, Action&& action) noexcept {
  try {
    action();
    return LS_OK;
  } catch (const std::exception& error) {
    write_message(message, error.what());
  } catch (...) {
    write_message(message, "the family threw something that is no std::exception");
  }
  return LS_FAILED;
}

/// The C table over a family class.
template <FamilyClass F>
class Exported {
 public:
  static const ls_family_v1* table() noexcept {
    static const ls_family_v1 family{sizeof(ls_family_v1),
                                     F::k_id,
                                     F::k_title,
                                     F::k_description,
                                     &option_count,
                                     &option,
                                     &create,
                                     &destroy,
                                     &count,
                                     &row,
                                     &evaluate};
    return &family;
  }

 private:
  struct Instance {
    std::unique_ptr<F> family;
    std::vector<std::size_t> in, out;             // widths by stage
    std::vector<std::vector<const char*>> names;  // outputs by stage, for messages
  };
  static const Instance& of(const ls_instance* instance) {
    if (instance == nullptr) throw Refusal("no instance was given");
    return *reinterpret_cast<const Instance*>(instance);
  }
  static const std::vector<ls_option_v1>& offered() {
    static const std::vector<ls_option_v1> options = F::options();
    return options;
  }

  static std::int32_t option_count() {
    std::int32_t result = 0;
    guarded(nullptr, [&] { result = static_cast<std::int32_t>(offered().size()); });
    return result;
  }
  static std::int32_t option(std::int32_t index, ls_option_v1* out) {
    return guarded(nullptr, [&] {
      if (out == nullptr) throw Refusal("no struct to fill was given");
      *out = offered().at(static_cast<std::size_t>(index));
    });
  }
  static ls_instance* create(const ls_setting* settings, std::int32_t count, ls_message* message) {
    Instance* made = nullptr;
    guarded(message, [&] {
      auto instance = std::make_unique<Instance>();
      if (count < 0 || (count > 0 && settings == nullptr)) throw Refusal("the list of settings is broken");
      instance->family = std::make_unique<F>(Settings(offered(), settings, count));
      const auto& tables = instance->family->tables();
      for (std::size_t s = 0; s < tables.stages.size(); ++s) {
        instance->in.push_back(tables.input_width(s));
        instance->out.push_back(tables.output_width(s));
        auto& names = instance->names.emplace_back();
        for (const auto& row : tables.stage_outputs)
          if (std::strcmp(row.stage, tables.stages[s].id) == 0) names.push_back(row.id);
      }
      made = instance.release();
    });
    return reinterpret_cast<ls_instance*>(made);
  }
  static void destroy(ls_instance* instance) { delete reinterpret_cast<Instance*>(instance); }
  static std::int32_t count(const ls_instance* instance, std::int32_t table) {
    std::int32_t result = -1;
    guarded(nullptr, [&] { result = of(instance).family->tables().count(table); });
    return result;
  }
  static std::int32_t row(const ls_instance* instance, std::int32_t table, std::int32_t index, void* out,
                          ls_message* message) {
    return guarded(message, [&] { of(instance).family->tables().copy_row(table, index, out); });
  }
  static std::int32_t evaluate(const ls_instance* instance, std::int32_t stage, std::int32_t n, const double* inputs,
                               double* outputs, ls_message* message) {
    return guarded(message, [&] {
      const auto& self = of(instance);
      const auto s = static_cast<std::size_t>(stage);
      if (stage < 0 || s >= self.in.size()) throw Refusal("there is no stage " + std::to_string(stage));
      if (n < 0 || inputs == nullptr || outputs == nullptr)
        throw Refusal("stage '" + stage_name(self, s) + "' was called without arrays");
      for (std::int32_t point = 0; point < n; ++point) {
        const double* in = inputs + static_cast<std::size_t>(point) * self.in[s];
        double* out = outputs + static_cast<std::size_t>(point) * self.out[s];
        for (std::size_t k = 0; k < self.in[s]; ++k)
          if (!std::isfinite(in[k]))
            throw Refusal("stage '" + stage_name(self, s) + "': input " + std::to_string(k) +
                          " is not a finite number");
        self.family->evaluate(stage, in, out);
        for (std::size_t k = 0; k < self.out[s]; ++k)
          if (!std::isfinite(out[k]))
            throw Refusal("stage '" + stage_name(self, s) + "': output '" + self.names[s][k] + "' came out not finite");
      }
    });
  }
  static std::string stage_name(const Instance& self, std::size_t stage) {
    return self.family->tables().stages[stage].id;
  }
};

template <FamilyClass F>
const void* query(const char* interface_id) noexcept {
  if (interface_id == nullptr || std::strcmp(interface_id, LS_FAMILY_INTERFACE) != 0) return nullptr;
  return Exported<F>::table();
}

}  // namespace lostspark::plugin

/// Defines the one exported symbol of a plugin whose only family is FAMILY.
#define LS_PLUGIN(FAMILY, VERSION)                                                                     \
  extern "C" {                                                                                         \
  LS_EXPORT extern const ls_entry_v1 lostspark_entry;                                                  \
  const ls_entry_v1 lostspark_entry = {LS_ABI_MAJOR, LS_ABI_MINOR, sizeof(ls_entry_v1),                \
                                       FAMILY::k_id, VERSION,      &lostspark::plugin::query<FAMILY>}; \
  }

#endif
