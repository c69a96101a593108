#include "sources/draft_harness.hpp"

#include <algorithm>

#include "sources/text.hpp"

namespace lostspark::sources {
namespace {

std::string component_of(const std::string& terminal) { return terminal.substr(0, terminal.find('.')); }

bool is_one_of(const std::string& component, std::initializer_list<const char*> stems) {
  return std::any_of(stems.begin(), stems.end(), [&](const char* stem) {
    const std::string s = stem;
    return component == s || component.starts_with(s + "_");
  });
}

// Studs, clips and crimps: the wire itself ends there.
bool without_plug(const std::string& component) {
  return is_one_of(component, {"starter", "main_fuse", "coil_fuse", "breaker_points", "points_plate"}) ||
         component.ends_with("_splice");
}

// Bolted to the engine or the frame by itself: no wire to earth.
bool on_its_foot(const std::string& terminal) { return terminal.ends_with(".core") || terminal.ends_with(".plate"); }

// A battery has two clamps, not one plug.
bool is_battery(const std::string& component) { return component == "battery"; }

}  // namespace

DraftHarness::DraftHarness(const FamilyTables& tables, const std::map<std::string, DraftPlace>& places)
    : tables_(tables), places_(places) {
  for (const auto& c : tables_.components) taken_.insert(c.id);
  for (const auto& link : tables_.links) ++leaving_[link.from];
  for (const auto& link : tables_.links) lay(link);
}

std::string DraftHarness::free_id(const std::string& wanted) {
  auto id = wanted;
  for (int n = 2; !taken_.insert(id).second; ++n) id = wanted + "_" + std::to_string(n);
  return id;
}

std::string DraftHarness::title_of(const std::string& component) const {
  for (const auto& c : tables_.components)
    if (c.id == component) return c.title;
  return spoken(component);
}

std::string DraftHarness::access(const std::string& component) const {
  const auto at = places_.find(component);
  if (at == places_.end()) return {};
  const auto& p = at->second;
  std::string text;
  if (!p.place.empty()) text += "place = " + toml_text(p.place) + "\n";
  if (!p.covers.empty()) text += "covers = " + toml_list(p.covers) + "\n";
  if (!p.covers.empty() && p.blind_min >= 0) text += "blind_min = " + number_text(p.blind_min) + "\n";
  return text;
}

std::string DraftHarness::plug_access(const std::string& component) const {
  const auto at = places_.find(component);
  if (at == places_.end() || !at->second.plug_elsewhere) return access(component);
  return at->second.plug.empty() ? "" : "covers = " + toml_list(at->second.plug) + "\n";
}

std::string DraftHarness::pin_at(const std::string& terminal) {
  const auto component = component_of(terminal);
  const auto key = is_battery(component) ? terminal : component;
  auto& plug = plugs_[key];
  if (plug.pins == 0) {
    const auto end = terminal.substr(component.size() + 1);
    plug.id = free_id(is_battery(component) ? component + "_" + end + "_post" : component + "_plug");
    plug.title = is_battery(component) ? end + " clamp of the battery" : "plug or terminals of " + title_of(component);
  }
  return "  { connector = " + toml_text(plug.id) + ", pin = \"" + std::to_string(++plug.pins) + "\" },\n";
}

std::string DraftHarness::earth_at(const std::string& component) {
  auto& id = earths_[component];
  if (id.empty()) id = free_id(component + "_earth");
  return "  { earth_point = " + toml_text(id) + " },\n";
}

void DraftHarness::lay(const FamilyLink& link) {
  const auto from = component_of(link.from), to = component_of(link.to);
  const bool heavy = is_battery(from) || is_battery(to);
  const std::string ohm = heavy ? ", ohm = 0.002" : "";
  const auto wire = [&](const std::string& name) { return "  { wire = " + toml_text(free_id(name)) + ohm + " },\n"; };
  std::string items;
  const bool to_earth = link.to == "earth";
  const bool parts = leaving_[link.from] > 1 && !without_plug(from) && !is_battery(from);
  const auto branch = branch_.find(link.from);
  if (branch != branch_.end()) {
    items += "  { joins = " + toml_text(branch->second) + " },\n";
  } else if (!without_plug(from) && !(to_earth && on_its_foot(link.from))) {
    items += pin_at(link.from);
    if (parts) {
      const auto splice = free_id(link.id + "_splice");
      items += wire(link.id + "_trunk") + "  { splice = " + toml_text(splice) + " },\n";
      branch_[link.from] = splice + "." + from + "_side";
      splices_ += "[[splice]] # one wire leaves " + title_of(from) + ", " + std::to_string(leaving_[link.from]) +
                  " go on\nid = " + toml_text(splice) + "\n" + plug_access(from) + "zones = [\"vibration\"]\n" +
                  "probe = false # inside the loom's tape\n\n";
    }
  }
  if (!(to_earth && on_its_foot(link.from))) items += wire(link.id + "_lead");
  if (to_earth)
    items += earth_at(from);
  else if (!without_plug(to))
    items += pin_at(link.to);
  chains_ +=
      "[[chain]] # " + one_line(link.title) + "\nlink = " + toml_text(link.id) + "\nitems = [\n" + items + "]\n\n";
}

std::string DraftHarness::text() const {
  std::string text;
  for (const auto& [key, plug] : plugs_) {
    const auto component = component_of(key);
    std::vector<std::string> pins;
    for (int n = 1; n <= plug.pins; ++n) pins.push_back(std::to_string(n));
    text += "[[connector]]\nid = " + toml_text(plug.id) + "\ntitle = " + toml_text(plug.title) + "\n" +
            plug_access(component);
    text += "zones = [\"wet\", \"vibration\"]\npins = " + toml_list(pins) + "\n";
    text += std::string(is_battery(component) ? "contact_ohm = 0.001\n" : "") + "\n";
  }
  text += splices_;
  for (const auto& [component, id] : earths_) {
    text += "[[earth_point]]\nid = " + toml_text(id) +
            "\ntitle = " + toml_text("earth bolt of " + title_of(component)) + "\n";
    if (!is_battery(component)) text += plug_access(component);
    text += "zones = [\"wet\", \"vibration\"]\n";
    text += std::string(is_battery(component) ? "contact_ohm = 0.001\n" : "") + "\n";
  }
  return text + chains_;
}

}  // namespace lostspark::sources
