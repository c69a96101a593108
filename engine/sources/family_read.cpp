// Copies the plugin's tables row by row; the C structs end here.
#include <cmath>

#include "base/error.hpp"
#include "sources/family_instance.hpp"

namespace lostspark::sources {
namespace {

constexpr std::int32_t k_most_rows = 100000;  // more is a broken count, not a vehicle

// One row being copied: names the field in every complaint; the first text it meets names the row.
class Row {
 public:
  Row(std::string table, std::int32_t index, std::vector<std::string>& problems)
      : name_(std::move(table) + " row " + std::to_string(index)), problems_(problems) {}

  std::string text(const char* raw, const char* field) {
    try {
      return copied_text(raw, name_ + ": " + field);
    } catch (const PluginError& error) {
      problems_.emplace_back(error.what());
      sound_ = false;
      return {};
    }
  }
  double number(double raw, const char* field) {
    if (std::isfinite(raw)) return raw;
    problems_.push_back(name_ + ": " + field + " is not a finite number");
    sound_ = false;
    return 0;
  }
  [[nodiscard]] bool sound() const { return sound_; }

 private:
  std::string name_;
  std::vector<std::string>& problems_;
  bool sound_ = true;
};

FamilyOption copy(const ls_option_v1& c, Row& r) {
  return {r.text(c.id, "id"), r.text(c.kind, "kind"), r.text(c.default_value, "default_value"),
          r.text(c.choices, "choices"), r.text(c.description, "description")};
}
FamilyParameter copy(const ls_parameter_v1& c, Row& r) {
  return {r.text(c.id, "id"),
          r.text(c.unit, "unit"),
          r.text(c.description, "description"),
          r.number(c.typical, "typical"),
          r.number(c.log_sd, "log_sd"),
          r.number(c.event_log_sd, "event_log_sd")};
}
FamilyComponent copy(const ls_component_v1& c, Row& r) {
  return {r.text(c.id, "id"), r.text(c.title, "title"), r.text(c.group, "group"), c.kind,
          c.price_class,      c.stops_engine != 0};
}
FamilyTerminal copy(const ls_terminal_v1& c, Row& r) {
  return {r.text(c.component, "component"), r.text(c.id, "id"), r.text(c.din_72552, "din_72552"),
          r.text(c.title, "title")};
}
FamilyElement copy(const ls_element_v1& c, Row& r) {
  return {r.text(c.id, "id"),
          r.text(c.terminal_a, "terminal_a"),
          r.text(c.terminal_b, "terminal_b"),
          r.text(c.resistance_ohm, "resistance_ohm"),
          r.text(c.inductance_henry, "inductance_henry"),
          r.text(c.emf_volt, "emf_volt"),
          r.text(c.frequency_hertz, "frequency_hertz"),
          r.text(c.frequency_factor, "frequency_factor"),
          c.used_in};
}
FamilyLink copy(const ls_link_v1& c, Row& r) {
  return {r.text(c.id, "id"),
          r.text(c.title, "title"),
          r.text(c.from, "from"),
          r.text(c.to, "to"),
          r.text(c.carries, "carries"),
          r.text(c.group, "group"),
          r.number(c.corroded_share, "corroded_share"),
          r.number(c.open_share, "open_share"),
          r.number(c.chafed_share, "chafed_share"),
          r.number(c.corroded_mild_ohm, "corroded_mild_ohm"),
          r.number(c.corroded_severe_ohm, "corroded_severe_ohm"),
          r.number(c.chafed_mild_ohm, "chafed_mild_ohm"),
          r.number(c.chafed_severe_ohm, "chafed_severe_ohm"),
          c.stops_engine != 0};
}
FamilyMode copy(const ls_mode_v1& c, Row& r) {
  FamilyMode m{r.text(c.id, "id"),         r.text(c.component, "component"),
               r.text(c.title, "title"),   r.text(c.group, "group"),
               r.text(c.repair, "repair"), r.text(c.how_it_fails, "how_it_fails"),
               r.number(c.share, "share"), {}};
  const double seen[6] = {c.visible.unprovoked, c.visible.hot,      c.visible.wet,
                          c.visible.shaken,     c.visible.steering, c.visible.loaded};
  for (std::size_t i = 0; i < 6; ++i) m.visible[i] = r.number(seen[i], "visible");
  return m;
}
FamilyChange copy(const ls_change_v1& c, Row& r) {
  if (c.operation != LS_SET && c.operation != LS_SCALE) r.number(NAN, "operation");
  return {r.text(c.mode, "mode"), r.text(c.parameter, "parameter"), c.operation == LS_SCALE, r.number(c.mild, "mild"),
          r.number(c.severe, "severe")};
}
FamilyRepair copy(const ls_repair_v1& c, Row& r) {
  return {r.text(c.id, "id"),     r.text(c.component, "component"),     r.text(c.title, "title"),
          r.text(c.kind, "kind"), r.number(c.labour_min, "labour_min"), r.number(c.success, "success"),
          c.price_class};
}
FamilyCondition copy(const ls_condition_v1& c, Row& r) {
  return {r.text(c.id, "id"),
          r.text(c.kind, "kind"),
          r.text(c.title, "title"),
          r.text(c.visibility, "visibility"),
          r.text(c.instruction, "instruction"),
          r.number(c.minutes, "minutes"),
          c.needs};
}
FamilySetup copy(const ls_setup_v1& c, Row& r) {
  return {r.text(c.id, "id"),     r.text(c.title, "title"),       r.text(c.instruction, "instruction"),
          r.text(c.tool, "tool"), r.number(c.minutes, "minutes"), r.number(c.moves_contacts, "moves_contacts") != 0};
}
FamilyEffect copy(const ls_effect_v1& c, Row& r) {
  return {r.text(c.owner, "owner"), r.text(c.target, "target"), r.text(c.other, "other"), c.operation,
          r.number(c.value, "value")};
}
FamilyStage copy(const ls_stage_v1& c, Row& r) {
  return {r.text(c.id, "id"), r.text(c.title, "title"), c.report_only != 0};
}
FamilyStageInput copy(const ls_stage_input_v1& c, Row& r) {
  return {r.text(c.stage, "stage"), r.text(c.a, "a"), r.text(c.b, "b"), c.kind};
}
FamilyStageOutput copy(const ls_stage_output_v1& c, Row& r) {
  return {r.text(c.stage, "stage"),
          r.text(c.id, "id"),
          r.text(c.unit, "unit"),
          r.text(c.terminal, "terminal"),
          r.text(c.description, "description"),
          c.kind};
}
FamilyTestKind copy(const ls_test_kind_v1& c, Row& r) {
  FamilyTestKind k;
  k.id = r.text(c.id, "id");
  k.title = r.text(c.title, "title");
  k.reads = c.reads;
  k.unit = r.text(c.unit, "unit");
  k.subject = r.text(c.subject, "subject");
  k.against = r.text(c.against, "against");
  k.source = r.text(c.source, "source");
  k.dead_below = r.text(c.dead_below, "dead_below");
  k.switch_margin = r.text(c.switch_margin, "switch_margin");
  k.switch_output = r.text(c.switch_output, "switch_output");
  k.condition = r.text(c.condition, "condition");
  k.setups = r.text(c.setups, "setups");
  k.instrument = r.text(c.instrument, "instrument");
  k.log_sd = r.number(c.log_sd, "log_sd");
  k.minutes = r.number(c.minutes, "minutes");
  k.mistaken = r.number(c.mistaken, "mistaken");
  k.place = r.text(c.place, "place");
  k.hook_up = r.text(c.hook_up, "hook_up");
  k.low_means = r.text(c.low_means, "low_means");
  k.zero_means = r.text(c.zero_means, "zero_means");
  k.high_means = r.text(c.high_means, "high_means");
  k.cautions = r.text(c.cautions, "cautions");
  return k;
}
FamilyFinding copy(const ls_finding_v1& c, Row& r) {
  return {r.text(c.test_kind, "test_kind"), r.text(c.mode, "mode"), r.text(c.word, "word"),
          r.number(c.probability, "probability")};
}
FamilyCaution copy(const ls_caution_v1& c, Row& r) {
  return {r.text(c.id, "id"), r.text(c.signal_word, "signal_word"), r.text(c.text, "text"), r.text(c.avoid, "avoid"),
          c.before_first != 0};
}
// "SRC=10 CON=8": group and relative likelihood.
std::vector<std::pair<std::string, double>> parse_groups(const std::string& table, Row& r);
FamilyComplaint copy(const ls_complaint_v1& c, Row& r) {
  return {r.text(c.id, "id"), r.text(c.title, "title"), r.text(c.margins, "margins"), r.text(c.extent, "extent"), r.text(c.word, "word"),
          parse_groups(r.text(c.table, "table"), r)};
}

std::vector<std::pair<std::string, double>> parse_groups(const std::string& table, Row& r) {
  std::vector<std::pair<std::string, double>> groups;
  std::size_t at = 0;
  while ((at = table.find_first_not_of(' ', at)) != std::string::npos) {
    const auto end = std::min(table.find(' ', at), table.size());
    const auto word = table.substr(at, end - at);
    const auto equals = word.find('=');
    char* rest = nullptr;
    const double value = equals == std::string::npos ? NAN : std::strtod(word.c_str() + equals + 1, &rest);
    groups.emplace_back(word.substr(0, equals), r.number(rest != nullptr && *rest == '\0' ? value : NAN, "table"));
    at = end;
  }
  return groups;
}

const char* const k_table_names[LS_TABLE_COUNT] = {"option", "parameter", "component", "terminal",    "element",
                                                   "link",   "mode",      "change",    "repair",      "condition",
                                                   "set-up", "effect",    "stage",     "stage input", "stage output",
                                                   "test kind", "finding",   "caution",     "complaint"};

struct Table {
  const Library& library;
  const ls_instance* instance;
  std::vector<std::string>& problems;

  std::int32_t count(std::int32_t table) const {
    try {
      return library.family().count(instance, table);
    } catch (...) {
      return -1;
    }
  }

  template <class C, class Ours>
  void read(std::int32_t table, std::vector<Ours>& rows) const {
    const std::string name = k_table_names[table];
    const auto wanted = count(table);
    if (wanted < 0 || wanted > k_most_rows) {
      problems.push_back(name + " table: count() answers " + std::to_string(wanted));
      return;
    }
    for (std::int32_t i = 0; i < wanted; ++i) {
      C raw{};  // zeroed: a field the plugin forgets is a null pointer, not rubbish
      char data[512] = {};
      ls_message message{data, sizeof data};
      std::int32_t status = LS_FAILED;
      std::string said;
      try {
        status = library.family().row(instance, table, i, &raw, &message);
        data[sizeof data - 1] = '\0';
        said = data;
      } catch (...) {
        said = "it threw an exception";
      }
      if (status != LS_OK) {
        problems.push_back(name + " row " + std::to_string(i) + ": row() failed" + (said.empty() ? "" : ": " + said));
        continue;
      }
      Row row(name, i, problems);
      auto ours = copy(raw, row);
      if (row.sound()) rows.push_back(std::move(ours));
    }
    const auto again = count(table);
    if (again != wanted)
      problems.push_back(name + " table: count() changed between calls from " + std::to_string(wanted) + " to " +
                         std::to_string(again));
  }
};

}  // namespace

std::vector<FamilyOption> read_options(const Library& library, std::vector<std::string>& problems) {
  std::vector<FamilyOption> options;
  try {
    const auto wanted = library.family().option_count();
    if (wanted < 0 || wanted > k_most_rows) {
      problems.push_back("option table: option_count() answers " + std::to_string(wanted));
      return options;
    }
    for (std::int32_t i = 0; i < wanted; ++i) {
      ls_option_v1 raw{};
      if (library.family().option(i, &raw) != LS_OK) {
        problems.push_back("option row " + std::to_string(i) + ": option() failed");
        continue;
      }
      Row row("option", i, problems);
      auto ours = copy(raw, row);
      if (row.sound()) options.push_back(std::move(ours));
    }
    if (library.family().option_count() != wanted) problems.emplace_back("option table: option_count() changed");
  } catch (...) {
    problems.emplace_back("option table: a call threw an exception");
  }
  return options;
}

FamilyTables Instance::read_tables(std::vector<std::string>& problems) const {
  FamilyTables t;
  const Table table{*library_, instance_, problems};
  table.read<ls_parameter_v1>(LS_PARAMETERS, t.parameters);
  table.read<ls_component_v1>(LS_COMPONENTS, t.components);
  table.read<ls_terminal_v1>(LS_TERMINALS, t.terminals);
  table.read<ls_element_v1>(LS_ELEMENTS, t.elements);
  table.read<ls_link_v1>(LS_LINKS, t.links);
  table.read<ls_mode_v1>(LS_MODES, t.modes);
  table.read<ls_change_v1>(LS_CHANGES, t.changes);
  table.read<ls_repair_v1>(LS_REPAIRS, t.repairs);
  table.read<ls_condition_v1>(LS_CONDITIONS, t.conditions);
  table.read<ls_setup_v1>(LS_SETUPS, t.setups);
  table.read<ls_effect_v1>(LS_EFFECTS, t.effects);
  table.read<ls_stage_v1>(LS_STAGES, t.stages);
  table.read<ls_stage_input_v1>(LS_STAGE_INPUTS, t.stage_inputs);
  table.read<ls_stage_output_v1>(LS_STAGE_OUTPUTS, t.stage_outputs);
  table.read<ls_test_kind_v1>(LS_TEST_KINDS, t.test_kinds);
  table.read<ls_finding_v1>(LS_FINDINGS, t.findings);
  table.read<ls_caution_v1>(LS_CAUTIONS, t.cautions);
  table.read<ls_complaint_v1>(LS_COMPLAINTS, t.complaints);
  return t;
}

}  // namespace lostspark::sources
