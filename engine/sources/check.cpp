// Every plausibility check of one plugin: tables with each value of each option, and every stage at typical inputs.
#include <algorithm>
#include <cmath>

#include "base/error.hpp"
#include "lostspark_plugin.h"
#include "sources/family_instance.hpp"
#include "sources/load.hpp"
#include "sources/text.hpp"

namespace lostspark::sources {
namespace {

// Inputs the harness decides: nothing, little and plenty must all be answered.
constexpr double k_volts[] = {1e-9, 1.0, 200.0};
constexpr double k_siemens[] = {1e-9, 1e-3, 1.0};

class Checks {
 public:
  explicit Checks(std::shared_ptr<const Library> library) : library_(std::move(library)) {}

  std::vector<std::string> run() {
    options_ = read_options(*library_, problems_);
    Settings standard;
    for (const auto& o : options_) standard.emplace_back(o.id, o.default_value);
    with(standard, "");
    for (std::size_t i = 0; i < options_.size(); ++i)
      for (const auto& value : values_of(options_[i])) {
        if (value == options_[i].default_value) continue;
        auto settings = standard;
        settings[i].second = value;
        with(settings, "with " + options_[i].id + " = " + value + ": ");
      }
    refuses_unknown(standard);
    return std::move(problems_);
  }

 private:
  static std::vector<std::string> values_of(const FamilyOption& option) {
    if (option.kind == "bool") return {"false", "true"};
    if (option.kind == "choice") return pieces_of(option.choices, '|');
    const auto dots = option.choices.find("..");
    if (dots == std::string::npos) return {};
    return {option.choices.substr(0, dots), option.choices.substr(dots + 2)};
  }

  void say(const std::string& where, const std::string& problem) {
    const auto text = where + problem;
    // The same problem under every option is one problem.
    if (std::find(plain_.begin(), plain_.end(), problem) != plain_.end()) return;
    plain_.push_back(problem);
    problems_.push_back(text);
  }

  // A family must not swallow an option it does not know: the network's author would never learn of the slip.
  void refuses_unknown(Settings settings) {
    for (const auto& o : options_) {
      if (o.kind != "bool") continue;
      for (auto& [id, value] : settings)
        if (id == o.id) value = "neither";
      try {
        const Instance instance(library_, settings);
        say("", "create() accepts the value 'neither' for the option '" + o.id + "' of kind bool");
      } catch (const PluginError&) {
        return;
      }
      return;
    }
  }

  void with(const Settings& settings, const std::string& where) {
    try {
      const Instance instance(library_, settings);
      std::vector<std::string> found;
      auto tables = instance.read_tables(found);
      tables.options = options_;
      const bool readable = found.empty();
      for (const auto& problem : found) say(where, problem);
      if (!readable) return;
      const auto wrong = problems_of(tables);
      for (const auto& problem : wrong) say(where, problem);
      if (wrong.empty()) stages(instance, tables, where);
      const Instance second(library_, settings);
      std::vector<std::string> ignored;
      const auto again = second.read_tables(ignored);
      if (again.modes.size() != tables.modes.size() || again.test_kinds.size() != tables.test_kinds.size())
        say(where, "a second instance with the same options describes another family");
    } catch (const PluginError& error) {
      auto cause = std::string(error.what());
      const auto own = "plugin " + library_->file().string() + ": ";
      if (cause.starts_with(own)) cause.erase(0, own.size());
      say(where, cause);
    }
  }

  // Runs the stages in order, each at every combination level of what the harness decides.
  void stages(const Instance& instance, const FamilyTables& t, const std::string& where) {
    for (std::size_t level = 0; level < std::size(k_volts); ++level) {
      std::vector<std::pair<std::string, double>> outputs;
      for (std::size_t s = 0; s < t.stages.size(); ++s)
        if (!stage(instance, t, s, level, outputs, where)) return;
    }
  }

  bool stage(const Instance& instance, const FamilyTables& t, std::size_t s, std::size_t level,
             std::vector<std::pair<std::string, double>>& outputs, const std::string& where) {
    const auto& id = t.stages[s].id;
    std::vector<double> in;
    std::size_t terminals = 0;
    for (const auto& r : t.stage_inputs) {
      if (r.stage != id) continue;
      if (r.kind == LS_INPUT_PARAMETER)
        in.push_back(std::find_if(t.parameters.begin(), t.parameters.end(), [&](const auto& p) {
                       return p.id == r.a;
                     })->typical);
      else if (r.kind == LS_INPUT_OUTPUT)
        in.push_back(
            std::find_if(outputs.begin(), outputs.end(), [&](const auto& o) { return o.first == r.a; })->second);
      else if (r.kind == LS_INPUT_LINEAR_VOLTS)
        in.push_back(k_volts[level]);
      else
        ++terminals;
    }
    for (std::size_t i = 0; i < terminals; ++i)
      for (std::size_t k = 0; k <= i; ++k) in.push_back(i == k ? k_siemens[level] : 0);
    std::vector<const FamilyStageOutput*> rows;
    for (const auto& r : t.stage_outputs)
      if (r.stage == id) rows.push_back(&r);

    std::vector<double> out(rows.size()), twice(2 * rows.size());
    auto in_twice = in;
    in_twice.insert(in_twice.end(), in.begin(), in.end());
    const auto index = static_cast<std::int32_t>(s);
    instance.evaluate(index, id, 1, in, out);
    instance.evaluate(index, id, 2, in_twice, twice);
    for (std::size_t k = 0; k < rows.size(); ++k) {
      const auto name = "output '" + id + "." + rows[k]->id + "'";
      if (twice[k] != out[k] || twice[k + rows.size()] != out[k])
        say(where, name + " changes between calls with the same inputs");
      const auto kind = rows[k]->kind;
      const bool is_signed = kind == LS_OUTPUT_MARGIN || kind == LS_OUTPUT_TERMINAL_VOLTS;
      if (!is_signed && out[k] <= 0)
        say(where, name + " is " + number_text(out[k]) + ", but its logarithm is needed: expected more than 0");
      outputs.emplace_back(id + "." + rows[k]->id, out[k]);
    }
    return true;
  }

  std::shared_ptr<const Library> library_;
  std::vector<FamilyOption> options_;
  std::vector<std::string> problems_, plain_;
};

}  // namespace

std::vector<std::string> check_family(const std::filesystem::path& library) {
  try {
    return Checks(Library::open(library)).run();
  } catch (const PluginError& error) {
    return {error.what()};
  }
}

}  // namespace lostspark::sources
