// What a family plugin describes, copied into values of our own: nothing here points into the plugin.
#pragma once

#include <cstdint>
#include <string>
#include <utility>
#include <vector>

namespace lostspark::sources {

/// Rows as in lostspark_plugin.h, same meaning and units; ids are checked, references are still text.
struct FamilyOption {
  std::string id, kind, default_value, choices, description;
};
struct FamilyParameter {
  std::string id, unit, description;
  double typical = 1, log_sd = 0, event_log_sd = 0;
};
struct FamilyComponent {
  std::string id, title, group;
  std::int32_t kind = 0, price_class = 0;
  bool stops_engine = false;
};
struct FamilyTerminal {
  std::string component, id, din, title;
};
struct FamilyElement {
  std::string id, a, b, resistance, inductance, emf, frequency, frequency_factor;
  std::uint32_t used_in = 0;
};
struct FamilyLink {
  std::string id, title, from, to, carries, group;
  double corroded_share = 0, open_share = 0, chafed_share = 0;
  double corroded_mild = 0, corroded_severe = 0, chafed_mild = 0, chafed_severe = 0;
  bool stops_engine = false;
};
struct FamilyMode {
  std::string id, component, title, group, repair, how_it_fails;
  double share = 0;
  double visible[6] = {};
};
struct FamilyChange {
  std::string mode, parameter;
  bool scale = false;
  double mild = 1, severe = 1;
};
struct FamilyRepair {
  std::string id, component, title, kind;
  double labour_min = 0, success = 1;
  std::int32_t price_class = 0;
};
struct FamilyCondition {
  std::string id, kind, title, visibility, instruction;
  double minutes = 0;
  std::uint32_t needs = 0;
};
struct FamilySetup {
  std::string id, title, instruction, tool;
  double minutes = 0;
  bool moves_contacts = false;
};
struct FamilyEffect {
  std::string owner, target, other;
  std::int32_t operation = 0;
  double value = 1;
};
struct FamilyStage {
  std::string id, title;
  bool report_only = false;
};
struct FamilyStageInput {
  std::string stage, a, b;
  std::int32_t kind = 0;
};
struct FamilyStageOutput {
  std::string stage, id, unit, terminal, description;
  std::int32_t kind = 0;
};
struct FamilyTestKind {
  std::string id, title, unit, subject, against, source, dead_below, switch_margin, switch_output, condition, setups,
      instrument, place, hook_up, low_means, zero_means, high_means, cautions;
  std::int32_t reads = 0;
  double log_sd = 0.1, minutes = 3, mistaken = 0.03;
};
struct FamilyFinding {
  std::string test_kind, mode, word;
  double probability = 0;
};
struct FamilyCaution {
  std::string id, signal_word, text, avoid;
  bool before_first = false;
};
struct FamilyComplaint {
  std::string id, title, margins, extent, word;
  std::vector<std::pair<std::string, double>> by_group;
};

struct FamilyTables {
  std::vector<FamilyOption> options;
  std::vector<FamilyParameter> parameters;
  std::vector<FamilyComponent> components;
  std::vector<FamilyTerminal> terminals;
  std::vector<FamilyElement> elements;
  std::vector<FamilyLink> links;
  std::vector<FamilyMode> modes;
  std::vector<FamilyChange> changes;
  std::vector<FamilyRepair> repairs;
  std::vector<FamilyCondition> conditions;
  std::vector<FamilySetup> setups;
  std::vector<FamilyEffect> effects;
  std::vector<FamilyStage> stages;
  std::vector<FamilyStageInput> stage_inputs;
  std::vector<FamilyStageOutput> stage_outputs;
  std::vector<FamilyTestKind> test_kinds;
  std::vector<FamilyFinding> findings;
  std::vector<FamilyCaution> cautions;
  std::vector<FamilyComplaint> complaints;
};

/// Complaint groups a component, link or mode may belong to.
[[nodiscard]] const std::vector<std::string>& complaint_groups();

/// What the option expects, if `value` (as text) does not fit it: "true or false", "a whole number from 1 to 4"; else
/// "".
[[nodiscard]] std::string option_mistake(const FamilyOption& option, const std::string& value);

/// Everything that is wrong inside the tables: duplicate or ill-formed ids, unknown references, numbers out of range.
/// One sentence each; empty: sound.
[[nodiscard]] std::vector<std::string> problems_of(const FamilyTables& tables);

}  // namespace lostspark::sources
