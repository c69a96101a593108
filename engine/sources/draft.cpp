#include "sources/draft.hpp"

#include <algorithm>
#include <map>
#include <set>

#include "base/error.hpp"
#include "lostspark_plugin.h"
#include "sources/draft_harness.hpp"
#include "sources/find_family.hpp"
#include "sources/text.hpp"

namespace lostspark::sources {
namespace {

std::shared_ptr<const Library> library_of(const Folders& folders, const std::string& family) {
  Mistakes mistakes("the new vehicle");
  auto library = find_family(folders, {family, {}}, mistakes);
  mistakes.throw_if_any();
  return library;
}

[[noreturn]] void throw_broken(const Library& library, const std::string& problem) {
  throw PluginError("plugin " + library.file().string() + ": " + problem);
}

std::vector<FamilyOption> options_of(const Library& library) {
  std::vector<std::string> problems;
  auto options = read_options(library, problems);
  if (!problems.empty()) throw_broken(library, problems.front());
  return options;
}

Settings settled(const std::vector<FamilyOption>& options, const Settings& chosen) {
  std::vector<std::string> ids;
  for (const auto& o : options) ids.push_back(o.id);
  for (const auto& [id, value] : chosen) {
    const auto at = std::find(ids.begin(), ids.end(), id);
    if (at == ids.end()) throw InputError("the family has no option '" + id + "'" + suggestion(id, ids));
    const auto expected = option_mistake(options[static_cast<std::size_t>(at - ids.begin())], value);
    if (!expected.empty()) throw InputError("option " + id + ": expected " + expected + ", found '" + value + "'");
  }
  Settings all;
  for (const auto& o : options) {
    const auto said = std::find_if(chosen.begin(), chosen.end(), [&](const auto& c) { return c.first == o.id; });
    all.emplace_back(o.id, said == chosen.end() ? o.default_value : said->second);
  }
  return all;
}

FamilyTables tables_of(const std::shared_ptr<const Library>& library, const Settings& options) {
  std::vector<std::string> problems;
  auto tables = Instance(library, options).read_tables(problems);
  if (problems.empty()) problems = problems_of(tables);
  if (!problems.empty()) throw_broken(*library, problems.front());
  return tables;
}

/// The covers that the places name, and those that must be off before them, in the order of the draft.
std::vector<DraftCover> used_covers(const Draft& draft) {
  std::set<std::string> used;
  std::vector<std::string> open;
  for (const auto& p : draft.places) {
    open.insert(open.end(), p.covers.begin(), p.covers.end());
    open.insert(open.end(), p.plug.begin(), p.plug.end());
  }
  std::vector<std::string> ids;
  for (const auto& c : draft.covers) ids.push_back(c.id);
  while (!open.empty()) {
    const auto id = open.back();
    open.pop_back();
    const auto at = std::find(ids.begin(), ids.end(), id);
    if (at == ids.end()) throw InputError("there is no cover '" + id + "'" + suggestion(id, ids));
    if (!used.insert(id).second) continue;
    const auto& first = draft.covers[static_cast<std::size_t>(at - ids.begin())].first;
    open.insert(open.end(), first.begin(), first.end());
  }
  std::vector<DraftCover> covers;
  for (const auto& c : draft.covers)
    if (used.contains(c.id)) covers.push_back(c);
  return covers;
}

void write_covers(std::string& text, const std::vector<DraftCover>& covers) {
  for (const auto& c : covers) {
    text += "[[cover]]\nid = " + toml_text(c.id) + "\n";
    if (!c.title.empty()) text += "title = " + toml_text(c.title) + "\n";
    text += "remove_min = " + number_text(c.remove_min) + "\nrefit_min = " + number_text(c.refit_min) + "\n";
    if (!c.first.empty()) text += "first = " + toml_list(c.first) + "\n";
    if (!c.may_run_without) text += "may_run_without = false\n";
    text += "\n";
  }
}

void write_parameters(std::string& text, const FamilyTables& tables) {
  for (const auto& p : tables.parameters) {
    if (p.log_sd <= 0) continue;
    text += "[[parameter]] # " + one_line(p.description) + "\nid = " + toml_text(p.id) + "\n";
    const bool plain = p.unit.empty() || p.unit == "one";
    text += std::string("value") + (plain ? "" : "_" + p.unit) + " = " + number_text(p.typical) + "\n";
    text += "log_sd = " + number_text(p.log_sd * k_draft_spread) + "\norigin = \"judgement\"\n";
    text += "note = \"the family's value, its spread of " + number_text(p.log_sd) + " widened: not known here\"\n\n";
  }
}

std::string rule(const std::string& title) { return "# " + std::string(40, '-') + " " + title + "\n"; }

}  // namespace

std::string toml_text(const std::string& text) {
  std::string out = "\"";
  for (const char c : text) {
    if (c == '"' || c == '\\') out += '\\';
    out += static_cast<unsigned char>(c) < 0x20 || c == 0x7f ? ' ' : c;
  }
  return out + "\"";
}

std::string toml_list(const std::vector<std::string>& texts) {
  std::string out;
  for (const auto& text : texts) out += (out.empty() ? "" : ", ") + toml_text(text);
  return "[" + out + "]";
}

std::string one_line(std::string text) {
  std::replace_if(
      text.begin(), text.end(), [](char c) { return static_cast<unsigned char>(c) < 0x20 || c == 0x7f; }, ' ');
  return text;
}

std::vector<FamilyOption> family_options(const Folders& folders, const std::string& family) {
  return options_of(*library_of(folders, family));
}

FamilyOutline family_outline(const Folders& folders, const std::string& family, const Settings& options) {
  const auto library = library_of(folders, family);
  FamilyOutline outline{library->id(), library->title(), library->version(), options_of(*library), {}};
  for (const auto& c : tables_of(library, settled(outline.options, options)).components)
    if (c.kind != LS_COMPONENT_ELSEWHERE) outline.parts.push_back({c.id, c.title, c.kind == LS_COMPONENT_PART});
  return outline;
}

std::string draft_network(const Folders& folders, const Draft& draft) {
  if (!is_identifier(draft.id))
    throw InputError("'" + draft.id + "' is no id of a vehicle: small letters, digits and single underscores");
  const auto library = library_of(folders, draft.family);
  const auto options = settled(options_of(*library), draft.options);
  const auto tables = tables_of(library, options);
  std::vector<std::string> ids;
  for (const auto& c : tables.components) ids.push_back(c.id);
  std::map<std::string, DraftPlace> places;
  for (const auto& p : draft.places) {
    if (std::find(ids.begin(), ids.end(), p.component) == ids.end())
      throw InputError("the family has no component '" + p.component + "'" + suggestion(p.component, ids));
    places[p.component] = p;
  }

  std::string text;
  for (const auto& note : draft.notes) text += "# " + one_line(note) + "\n";
  text += "format = 1\n\n[vehicle]\nid = " + toml_text(draft.id) + "\ntitle = " + toml_text(draft.title) + "\n";
  text += "family = " + toml_text(draft.family) + "\n";
  if (!draft.kind.empty()) text += "kind = " + toml_text(draft.kind) + "\n";
  if (!options.empty()) {
    text += "\n[options]\n";
    for (const auto& option : options_of(*library)) {
      const auto said =
          std::find_if(options.begin(), options.end(), [&](const auto& s) { return s.first == option.id; });
      text += option.id + " = " + (option.kind == "choice" ? toml_text(said->second) : said->second);
      text += (option.description.empty() ? "" : " # " + one_line(option.description)) + "\n";
    }
  }
  text += "\n# [prices] and the price of a [[component]]: what parts cost you (docs/network-files.md).\n\n";
  text += rule("values, wide: narrow them as you learn");
  write_parameters(text, tables);
  text += rule("covers");
  write_covers(text, used_covers(draft));
  text += rule("where things are");
  const DraftHarness harness(tables, places);
  for (const auto& c : tables.components) {
    if (c.kind == LS_COMPONENT_ELSEWHERE) continue;
    text += "[[component]] # " + one_line(c.title) + "\nid = " + toml_text(c.id) + "\n" + harness.access(c.id);
    if (harness.has_plug(c.id)) text += "probe = false # read at its plug\n";
    text += "\n";
  }
  text += rule("the harness: colours, pins and splices as they are belong here");
  text += harness.text();
  text += rule("what is called healthy: [[healthy]] bands of the maker or of the shop");
  return text;
}

}  // namespace lostspark::sources
