#include "job/new_vehicle.hpp"

#include <algorithm>
#include <cmath>

#include "base/error.hpp"
#include "sources/text.hpp"

namespace lostspark::job {
namespace {

std::pair<std::string, std::string> parted(std::string_view told, const char* wanted) {
  const auto equals = told.find('=');
  if (equals == std::string_view::npos || equals == 0 || equals + 1 == told.size())
    throw InputError("'" + std::string(told) + "' is no " + wanted);
  return {std::string(told.substr(0, equals)), std::string(told.substr(equals + 1))};
}

}  // namespace

std::pair<std::string, std::vector<std::string>> placed(std::string_view told) {
  const auto [component, where] = parted(told, "COMPONENT=COVER, as control_module=side_panel or spark_plug=open");
  if (where == "open") return {component, {}};
  return {component, sources::pieces_of(where, ',')};
}

std::pair<std::string, std::string> option_told(std::string_view told) {
  return parted(told, "OPTION=VALUE, as cylinders=4");
}

std::string id_of_title(std::string_view title) {
  std::string id;
  for (const char c : title) {
    const bool letter = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z'), digit = c >= '0' && c <= '9';
    if (letter)
      id += static_cast<char>(c >= 'A' && c <= 'Z' ? c - 'A' + 'a' : c);
    else if (digit && !id.empty())
      id += c;
    else if (!id.empty() && id.back() != '_')
      id += '_';
    if (id.size() >= 60) break;
  }
  while (!id.empty() && id.back() == '_') id.pop_back();
  return id.empty() ? "vehicle" : id;
}

std::string proposed_option(const Seen& seen, const sources::FamilyOption& option) {
  const auto told = told_option(seen, option.id);
  return told && sources::option_mistake(option, *told).empty() ? *told : option.default_value;
}

sources::Settings options_of(const Seen& seen, const std::vector<sources::FamilyOption>& options,
                             const sources::Settings& stated) {
  sources::Settings all = stated;
  for (const auto& option : options)
    if (std::none_of(stated.begin(), stated.end(), [&](const auto& s) { return s.first == option.id; }))
      all.emplace_back(option.id, proposed_option(seen, option));
  return all;
}

bool open_family(const Seen& seen) {
  const bool told = std::any_of(seen.answers.begin(), seen.answers.end(), [](const auto& a) { return a.has_value(); });
  return told && !identify(seen, {}).certain();
}

sources::Draft draft_of(const sources::Folders& folders, const Seen& seen, const NewVehicle& vehicle) {
  const auto& form = vehicle_form(answer_of(seen, "machine"));
  sources::Draft draft;
  draft.id = vehicle.id;
  draft.title = vehicle.title;
  draft.family = vehicle.family;
  draft.kind = form.id == "other" ? "" : form.title;
  draft.options = options_of(seen, sources::family_options(folders, vehicle.family), vehicle.options);
  draft.covers = form.covers;
  const auto outline = sources::family_outline(folders, vehicle.family, draft.options);
  std::vector<std::string> ids;
  for (const auto& part : outline.parts) {
    ids.push_back(part.id);
    draft.places.push_back(place_of(form, part.id));
  }
  for (const auto& [component, covers] : vehicle.elsewhere) {
    const auto at = std::find(ids.begin(), ids.end(), component);
    if (at == ids.end())
      throw InputError("the family has no component '" + component + "'" + sources::suggestion(component, ids));
    draft.places[static_cast<std::size_t>(at - ids.begin())] = place_under(form, component, covers);
  }
  draft.notes = {
      "A first description, made by `lostspark vehicle new`: whole, but nobody has checked it on the machine.",
      "Values are the family's with wider spreads; covers, minutes and places are those of a usual " + form.title + ".",
      "docs/network-files.md explains every key; `lostspark vehicle check` reads the file after each edit."};
  const auto& answers = family_signs().signs;
  std::string told;
  for (std::size_t s = 0; s < answers.size(); ++s)
    if (seen.answers[s])
      told += (told.empty() ? "" : ", ") + answers[s].id + " " + answers[s].answers[*seen.answers[s]];
  const auto belief = identify(seen, {});
  for (const auto& f : belief.families)
    if (f.id == vehicle.family)
      draft.notes.push_back("Family " + f.id + " with a probability of " +
                            sources::number_text(std::round(100 * f.probability)) +
                            " % from: " + (told.empty() ? "nothing" : told) + ".");
  if (open_family(seen)) {
    draft.notes.push_back("Until the family is certain:");
    for (const auto* warning : belief.warnings)
      draft.notes.push_back("* " + warning->text + (warning->note.empty() ? "" : " (" + warning->note + ")"));
  }
  return draft;
}

}  // namespace lostspark::job
