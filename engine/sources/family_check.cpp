// Cross-checks of a family's tables: duplicate ids, references, ranges.
#include <algorithm>
#include <cmath>
#include <unordered_set>

#include "lostspark_plugin.h"
#include "sources/family_tables.hpp"
#include "sources/text.hpp"

namespace lostspark::sources {
namespace {

using Names = std::vector<std::string>;

const Names k_units{"volt", "ohm",      "henry",      "farad",       "rpm",         "second", "celsius",
                    "one",  "kilovolt", "ampere",     "hertz",       "metre",       "degree", "joule",
                    "watt", "siemens",  "millimetre", "microsecond", "millisecond", "coulomb"};
const Names k_test_units{"volt", "ohm", "kilovolt", "ampere", "rpm", "word", "degree", "millisecond"};
const Names k_carries{"energy", "trigger", "inhibit", "earth", "high_tension", "supply", "sense"};
const Names k_repair_kinds{"clean", "adjust", "replace"};
const Names k_condition_kinds{"state", "provocation"};
const Names k_visibilities{"hot", "wet", "shaken", "steering", "loaded"};
const Names k_option_kinds{"bool", "integer", "choice"};
const Names k_signal_words{"DANGER", "WARNING", "CAUTION", "NOTICE"};
const Names k_words{"none", "irregular", "steady", "present"}, k_extents{"all", "one", "two"};

// Ids of one table; remembers duplicates.
class Ids {
 public:
  void add(const std::string& id) {
    if (set_.insert(id).second) list_.push_back(id);
  }
  [[nodiscard]] bool has(const std::string& id) const { return set_.contains(id); }
  [[nodiscard]] const Names& list() const { return list_; }

 private:
  std::unordered_set<std::string> set_;
  Names list_;
};

class Checker {
 public:
  explicit Checker(const FamilyTables& tables) : t_(tables) {}

  Names run() {
    collect();
    options();
    parameters();
    components();
    elements_and_links();
    modes_and_repairs();
    conditions_and_setups();
    stages();
    test_kinds();
    cautions_and_complaints();
    return std::move(problems_);
  }

 private:
  void say(std::string text) { problems_.push_back(std::move(text)); }

  // Adds `key` to `ids`, once; `shown` must be lower_snake_case.
  void unique(Ids& ids, const std::string& what, const std::string& shown, const std::string& key) {
    if (!is_identifier(shown)) say(what + " '" + shown + "': the id is not lower_snake_case");
    if (ids.has(key)) say(what + " '" + key + "' appears twice");
    ids.add(key);
  }
  void unique(Ids& ids, const std::string& what, const std::string& id) { unique(ids, what, id, id); }
  void known(const Ids& ids, const std::string& owner, const std::string& what, const std::string& id) {
    if (!ids.has(id)) say(owner + ": unknown " + what + " '" + id + "'" + suggestion(id, ids.list()));
  }
  void known_or_empty(const Ids& ids, const std::string& owner, const std::string& what, const std::string& id) {
    if (!id.empty()) known(ids, owner, what, id);
  }
  void one_of(const Names& valid, const std::string& owner, const std::string& what, const std::string& text) {
    if (std::find(valid.begin(), valid.end(), text) == valid.end())
      say(owner + ": " + what + " '" + text + "'" + suggestion(text, valid));
  }
  void range(const std::string& owner, const std::string& what, double value, double least, double most) {
    if (!(value >= least && value <= most))
      say(owner + ": " + what + " is " + number_text(value) + ", expected " + number_text(least) +
          (std::isfinite(most) ? " to " + number_text(most) : " or more"));
  }
  void above_zero(const std::string& owner, const std::string& what, double value) {
    if (!(value > 0)) say(owner + ": " + what + " is " + number_text(value) + ", expected more than 0");
  }

  void collect() {  // ids that rows refer to before their own table is checked
    for (const auto& r : t_.stage_outputs) {
      const auto id = r.stage + "." + r.id;
      outputs_.add(id);
      if (r.kind == LS_OUTPUT_MARGIN) margins_.add(id);
      if (r.kind == LS_OUTPUT_TERMINAL_VOLTS) driving_stages_.add(r.stage);
    }
    for (const auto& r : t_.repairs) repairs_.add(r.component + "." + r.id);
    for (const auto& r : t_.cautions) cautions_.add(r.id);
    for (const auto& r : t_.setups) setups_.add(r.id);
    for (const auto& r : t_.terminals) terminals_.add(r.component + "." + r.id);
    ends_ = terminals_;
    ends_.add("earth");
  }

  void options() {
    Ids ids;
    for (const auto& r : t_.options) {
      const auto name = "option '" + r.id + "'";
      unique(ids, "option", r.id);
      one_of(k_option_kinds, name, "kind", r.kind);
      if (const auto cause = option_mistake(r, r.default_value); !cause.empty())
        say(name + ": the default '" + r.default_value + "' does not fit: expected " + cause);
    }
  }

  void parameters() {
    for (const auto& r : t_.parameters) {
      const auto name = "parameter '" + r.id + "'";
      unique(parameters_, "parameter", r.id);
      one_of(k_units, name, "unit", r.unit);
      above_zero(name, "typical", r.typical);
      range(name, "log_sd", r.log_sd, 0, 5);
      range(name, "event_log_sd", r.event_log_sd, 0, 5);
    }
  }

  void components() {
    if (t_.components.empty()) say("the family has no component");
    for (const auto& r : t_.components) {
      const auto name = "component '" + r.id + "'";
      unique(components_, "component", r.id);
      one_of(complaint_groups(), name, "group", r.group);
      range(name, "kind", r.kind, 0, 2);
      range(name, "price_class", r.price_class, 0, 5);
      if (r.title.empty()) say(name + ": has no title");
    }
    Ids ids;
    for (const auto& r : t_.terminals) {
      unique(ids, "terminal", r.id, r.component + "." + r.id);
      known(components_, "terminal '" + r.component + "." + r.id + "'", "component", r.component);
    }
  }

  void elements_and_links() {
    Ids ids;
    for (const auto& r : t_.elements) {
      const auto name = "element '" + r.id + "'";
      unique(ids, "element", r.id);
      known(ends_, name, "terminal", r.a);
      known(ends_, name, "terminal", r.b);
      if (r.a == r.b) say(name + ": both ends are '" + r.a + "'");
      for (const auto* parameter : {&r.resistance, &r.inductance, &r.emf, &r.frequency, &r.frequency_factor})
        known_or_empty(parameters_, name, "parameter", *parameter);
      range(name, "used_in", r.used_in, 1, 3);
    }
    for (const auto& r : t_.links) {
      const auto name = "link '" + r.id + "'";
      unique(links_, "link", r.id);
      known(terminals_, name, "terminal", r.from);
      known(ends_, name, "terminal", r.to);
      if (r.from == r.to) say(name + ": both ends are '" + r.from + "'");
      one_of(k_carries, name, "carries", r.carries);
      one_of(complaint_groups(), name, "group", r.group);
      range(name, "corroded_share", r.corroded_share, 0, 1000);
      range(name, "open_share", r.open_share, 0, 1000);
      range(name, "chafed_share", r.chafed_share, 0, 1000);
      if (r.corroded_share > 0) {
        above_zero(name, "corroded_mild_ohm", r.corroded_mild);
        above_zero(name, "corroded_severe_ohm", r.corroded_severe);
      }
      if (r.chafed_share > 0) {
        above_zero(name, "chafed_mild_ohm", r.chafed_mild);
        above_zero(name, "chafed_severe_ohm", r.chafed_severe);
      }
    }
  }

  void modes_and_repairs() {
    Ids ids;
    for (const auto& r : t_.repairs) {
      const auto id = r.component + "." + r.id;
      const auto name = "repair '" + id + "'";
      unique(ids, "repair", r.id, id);
      known(components_, name, "component", r.component);
      one_of(k_repair_kinds, name, "kind", r.kind);
      range(name, "labour_min", r.labour_min, 0, 10000);
      range(name, "success", r.success, 0, 1);
      range(name, "price_class", r.price_class, 0, 5);
    }
    for (const auto& r : t_.modes) {
      const auto id = r.component + "." + r.id;
      const auto name = "mode '" + id + "'";
      unique(modes_, "mode", r.id, id);
      known(components_, name, "component", r.component);
      if (!r.group.empty()) one_of(complaint_groups(), name, "group", r.group);
      if (!repairs_.has(r.component + "." + r.repair))
        say(name + ": unknown repair '" + r.repair + "' of component '" + r.component + "'");
      range(name, "share", r.share, 0, 1000);
      for (const double seen : r.visible) range(name, "visible", seen, 0, 1);
    }
    for (const auto& r : t_.changes) {
      const auto name = "change of mode '" + r.mode + "'";
      known(modes_, name, "mode", r.mode);
      known(parameters_, name, "parameter", r.parameter);
      above_zero(name, "mild", r.mild);
      above_zero(name, "severe", r.severe);
    }
  }

  void conditions_and_setups() {
    Ids ids, owners;
    for (const auto& r : t_.conditions) {
      const auto name = "condition '" + r.id + "'";
      unique(ids, "condition", r.id);
      one_of(k_condition_kinds, name, "kind", r.kind);
      if (r.kind == "provocation")
        one_of(k_visibilities, name, "visibility", r.visibility);
      else
        states_.add(r.id);
      range(name, "minutes", r.minutes, 0, 10000);
      owners.add("condition:" + r.id);
    }
    Ids setups;
    for (const auto& r : t_.setups) {
      unique(setups, "set-up", r.id);
      range("set-up '" + r.id + "'", "minutes", r.minutes, 0, 10000);
      owners.add("setup:" + r.id);
    }
    for (const auto& r : t_.effects) {
      const auto name = "effect of '" + r.owner + "'";
      known(owners, name, "owner", r.owner);
      range(name, "operation", r.operation, 0, LS_EXCHANGE_PARAMETERS);
      if (r.operation == LS_OPEN_TERMINAL) {
        known(terminals_, name, "terminal", r.target);
        // The solver opens nodes for set-ups only: a state leaves the harness plugged.
        if (r.owner.starts_with("condition:")) say(name + ": a condition cannot open a terminal; use a set-up");
      } else {
        known(parameters_, name, "parameter", r.target);
        if (r.operation == LS_EXCHANGE_PARAMETERS)
          known(parameters_, name, "other parameter", r.other);
        else
          above_zero(name, "value", r.value);
      }
    }
  }

  void stages() {
    Ids stages, outputs_so_far;
    for (const auto& stage : t_.stages) {
      unique(stages, "stage", stage.id);
      const auto name = "stage '" + stage.id + "'";
      bool terminals_begun = false;
      for (const auto& r : t_.stage_inputs) {
        if (r.stage != stage.id) continue;
        if (terminals_begun && r.kind != LS_INPUT_TERMINAL) say(name + ": terminals must be its last inputs");
        switch (r.kind) {
          case LS_INPUT_PARAMETER:
            known(parameters_, name, "input parameter", r.a);
            break;
          case LS_INPUT_OUTPUT:
            known(outputs_so_far, name, "output of an earlier stage", r.a);
            break;
          case LS_INPUT_LINEAR_VOLTS:
            known(ends_, name, "input terminal", r.a);
            known(ends_, name, "input terminal", r.b);
            break;
          case LS_INPUT_TERMINAL:
            known(terminals_, name, "input terminal", r.a);
            terminals_begun = true;
            break;
          default:
            say(name + ": input kind " + std::to_string(r.kind) + " is unknown");
        }
      }
      bool any = false;
      for (const auto& r : t_.stage_outputs) {
        if (r.stage != stage.id) continue;
        any = true;
        const auto id = r.stage + "." + r.id;
        unique(outputs_so_far, "output", r.id, id);
        range("output '" + id + "'", "kind", r.kind, 0, LS_OUTPUT_TERMINAL_OHM);
        if (r.kind >= LS_OUTPUT_TERMINAL_VOLTS) known(terminals_, "output '" + id + "'", "terminal", r.terminal);
      }
      if (!any) say(name + ": has no output");
    }
    for (const auto& r : t_.stage_inputs) known(stages, "a stage input", "stage", r.stage);
    for (const auto& r : t_.stage_outputs) known(stages, "output '" + r.stage + "." + r.id + "'", "stage", r.stage);
  }

  void test_kinds() {
    Ids finding_kinds;
    for (const auto& r : t_.test_kinds) {
      const auto name = "test kind '" + r.id + "'";
      unique(kinds_, "test kind", r.id);
      one_of(k_test_units, name, "unit", r.unit);
      range(name, "log_sd", r.log_sd, 0, 5);
      range(name, "minutes", r.minutes, 0, 10000);
      range(name, "mistaken", r.mistaken, 0, 0.5);
      if (!is_identifier(r.instrument)) say(name + ": the instrument '" + r.instrument + "' is not lower_snake_case");
      known(states_, name, "operating state", r.condition);
      for (const auto& alternative : pieces_of(r.setups, '|'))
        for (const auto& setup : words_of(alternative)) known(setups_, name, "set-up", setup);
      for (const auto& margin : words_of(r.dead_below)) known(margins_, name, "margin", margin);
      for (const auto& caution : words_of(r.cautions)) known(cautions_, name, "caution", caution);
      known_or_empty(margins_, name, "switch margin", r.switch_margin);
      known_or_empty(outputs_, name, "switch output", r.switch_output);
      if (r.switch_margin.empty() != r.switch_output.empty())
        say(name + ": switch_margin and switch_output go together");
      subject(r, name);
      if (r.reads == LS_READS_FINDING) finding_kinds.add(r.id);
      const bool word = r.reads == LS_READS_FINDING || r.reads == LS_READS_MARGIN_WORD;
      if (word != (r.unit == "word")) say(name + ": the unit '" + r.unit + "' does not fit what it reads");
    }
    for (const auto& r : t_.findings) {
      const auto name = "finding of '" + r.test_kind + "'";
      known(finding_kinds, name, "finding test kind", r.test_kind);
      range(name, "probability", r.probability, 0, 1);
      if (r.word.empty()) say(name + ": has no word");
      // Harness items are the network's: patterns over them can only be checked there.
      const auto link = r.mode.starts_with("link:") ? r.mode.substr(5, r.mode.find('.') - 5) : std::string();
      if (!link.empty() && link.find('*') == std::string::npos)
        known(links_, name, "link", link);
      else if (!r.mode.empty() && r.mode.find('*') == std::string::npos)
        known(modes_, name, "mode", r.mode);
    }
  }

  void subject(const FamilyTestKind& r, const std::string& name) {
    switch (r.reads) {
      case LS_READS_HARNESS_VOLTS:
      case LS_READS_HARNESS_DROP:
        known(links_, name, "link", r.subject);
        for (const auto& stage : words_of(r.source))
          known(driving_stages_, name, "stage with terminal volts", stage);
        break;
      case LS_READS_OHMS:
        known(terminals_, name, "terminal", r.subject);
        known(ends_, name, "terminal", r.against);
        break;
      case LS_READS_OUTPUT:
        known(outputs_, name, "output", r.subject);
        break;
      case LS_READS_MARGIN_WORD:
        known(margins_, name, "margin", r.subject);
        break;
      case LS_READS_FINDING:
        if (r.subject != "components") known_or_empty(components_, name, "component", r.subject);
        break;
      default:
        say(name + ": reads " + std::to_string(r.reads) + " is unknown");
    }
  }

  void cautions_and_complaints() {
    Ids cautions, complaints;
    for (const auto& r : t_.cautions) {
      if (cautions.has(r.id)) say("caution '" + r.id + "' appears twice");
      cautions.add(r.id);
      one_of(k_signal_words, "caution '" + r.id + "'", "signal word", r.signal_word);
    }
    for (const auto& r : t_.complaints) {
      const auto name = "complaint '" + r.id + "'";
      unique(complaints, "complaint", r.id);
      for (const auto& cylinder : pieces_of(r.margins, '|')) {
        const auto ladder = words_of(cylinder);
        if (ladder.empty() && !r.margins.empty()) say(name + ": a cylinder has no margin");
        for (const auto& margin : ladder) known(margins_, name, "margin", margin);
      }
      if (!r.margins.empty()) one_of(k_words, name, "word", r.word);
      if (!r.extent.empty()) one_of(k_extents, name, "extent", r.extent);
      for (const auto& [group, likelihood] : r.by_group) {
        one_of(complaint_groups(), name, "group", group);
        range(name, "likelihood of " + group, likelihood, 0, 10);
      }
    }
  }

  const FamilyTables& t_;
  Names problems_;
  Ids parameters_, components_, terminals_, ends_, links_, modes_, repairs_, states_, setups_, outputs_, margins_,
      driving_stages_, kinds_, cautions_;
};

}  // namespace

const Names& complaint_groups() {
  static const Names groups{"SRC", "CON", "INH", "TRG", "CTL", "PRI", "SEC", "PLG", "TIM", "FUE", "CMP", "AIR", "OTH"};
  return groups;
}

std::string option_mistake(const FamilyOption& option, const std::string& value) {
  if (option.kind == "bool") return value == "true" || value == "false" ? "" : "true or false";
  if (option.kind == "choice") {
    const auto choices = pieces_of(option.choices, '|');
    if (std::find(choices.begin(), choices.end(), value) != choices.end()) return "";
    return "one of " + join(choices, ", ") + [&] {
      const auto near = nearest(value, choices);
      return near ? "; did you mean '" + *near + "'?" : std::string();
    }();
  }
  const auto dots = option.choices.find("..");
  char* rest = nullptr;
  const long number = std::strtol(value.c_str(), &rest, 10);
  if (value.empty() || *rest != '\0') return "a whole number";
  if (dots == std::string::npos) return "";
  const long least = std::strtol(option.choices.c_str(), nullptr, 10);
  const long most = std::strtol(option.choices.c_str() + dots + 2, nullptr, 10);
  return number < least || number > most
             ? "a whole number from " + std::to_string(least) + " to " + std::to_string(most)
             : "";
}

std::vector<std::string> problems_of(const FamilyTables& tables) { return Checker(tables).run(); }

}  // namespace lostspark::sources
