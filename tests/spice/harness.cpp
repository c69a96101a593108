#include "spice/harness.hpp"

#include <fmt/format.h>
#include <toml++/toml.h>

#include <algorithm>
#include <stdexcept>

namespace lostspark::spice {

namespace {

constexpr double k_open_ohm = 1e11;
constexpr double k_touching_ohm = 1e-4;  ///< two names of one point

std::string component_of(const std::string& terminal) { return terminal.substr(0, terminal.find('.')); }

/// A contact as it stands in a chain: its two halves are named for what they look to.
struct Contact {
  std::string name, component, towards_from, towards_to, mated;
};

class Reader {
 public:
  Reader(const toml::table& file, const LinkEnds& ends) : file_(file), ends_(ends) {}

  Harness run() {
    each("connector", [&](const toml::table& t) { contact_ohm_[text(t, "id")] = t["contact_ohm"].value_or(0.01); });
    each("splice", [&](const toml::table& t) { contact_ohm_[text(t, "id")] = t["contact_ohm"].value_or(0.01); });
    each("earth_point", [&](const toml::table& t) {
      const auto id = text(t, "id");
      const auto strap = t["strap"].value_or(std::string());
      add(id, id, id + ".lug", strap.empty() ? "earth" : strap + ".lug", t["contact_ohm"].value_or(0.01));
    });
    each("chain", [&](const toml::table& t) { chain(t); });
    each("parameter", [&](const toml::table& t) { parameter(t); });
    if (const auto* options = file_["options"].as_table())
      for (auto&& [key, node] : *options) harness_.options[std::string(key.str())] = option_text(node);
    return std::move(harness_);
  }

 private:
  template <class Read>
  void each(const char* name, Read read) {
    if (const auto* rows = file_[name].as_array())
      for (const auto& row : *rows) read(*row.as_table());
  }

  static std::string text(const toml::table& t, const char* key) {
    const auto found = t[key].value<std::string>();
    if (!found) throw std::runtime_error(fmt::format("network file: key '{}' is missing", key));
    return *found;
  }

  static std::string option_text(const toml::node& node) {
    if (const auto flag = node.value_exact<bool>()) return *flag ? "true" : "false";
    if (const auto whole = node.value_exact<std::int64_t>()) return std::to_string(*whole);
    return node.value_or(std::string());
  }

  void parameter(const toml::table& t) {
    for (auto&& [key, node] : t)
      if (key.str() == "value" || key.str().starts_with("value_")) {
        const auto value = node.value<double>();
        if (value) harness_.parameters[text(t, "id")] = *value;
      }
  }

  void add(std::string name, std::string component, std::string a, std::string b, double ohm) {
    harness_.joints.push_back({std::move(name), std::move(component), std::move(a), std::move(b), ohm});
  }

  void chain(const toml::table& t) {
    const auto id = text(t, "link");
    const auto found = ends_.find(id);
    if (found == ends_.end()) throw std::runtime_error(fmt::format("network file: link '{}' is not known here", id));
    Link link{id, found->second.first, found->second.second, {}};
    std::string here = link.from;
    link.points.push_back(here);
    const auto* items = t["items"].as_array();
    if (!items) throw std::runtime_error(fmt::format("network file: chain '{}' has no items", id));
    const auto go = [&](const std::string& name, const std::string& component, const std::string& to, double ohm) {
      add(name, component, here, to, ohm);
      here = to;
      link.points.push_back(to);
    };
    for (std::size_t i = 0; i < items->size(); ++i) {
      const auto& item = *items->get(i)->as_table();
      const bool last = i + 1 == items->size();
      if (const auto wire = item["wire"].value<std::string>()) {
        go(*wire, *wire, after_wire(*items, i, link), item["ohm"].value_or(0.02));
      } else if (const auto joins = item["joins"].value<std::string>()) {
        if (i == 0)
          here = *joins;
        else
          tie(here, *joins, id);
        if (i == 0)
          link.points.back() = here;
        else
          return finish(std::move(link));
      } else if (const auto earth = item["earth_point"].value<std::string>()) {
        tie(here, *earth + ".lug", id);
        link.points.push_back(*earth + ".lug");
        link.points.push_back("earth");
        return finish(std::move(link));
      } else {
        const Contact c = contact(item, link);
        if (here != c.towards_from) go(c.name + "_from", c.component, c.towards_from, k_touching_ohm);
        go(c.name + "_mate", c.component, c.mated, k_touching_ohm);
        go(c.name, c.component, c.towards_to, contact_ohm_.at(c.component));
      }
      if (last) tie(here, link.to, id);
    }
    finish(std::move(link));
  }

  void finish(Link link) { harness_.links.push_back(std::move(link)); }

  /// Two names of one point.
  void tie(const std::string& here, const std::string& there, const std::string& link) {
    if (here != there) add(link + "_end", link, here, there, k_touching_ohm);
  }

  static Contact contact(const toml::table& item, const Link& link) {
    const auto from = component_of(link.from), to = component_of(link.to);
    const bool plug = item["connector"].value<std::string>().has_value();
    const auto component = plug ? text(item, "connector") : text(item, "splice");
    const auto stem = plug ? component + "." + text(item, "pin") : component;
    const auto name = plug ? stem : component + "." + link.id;
    return {name, component, stem + "." + from + "_side", stem + "." + to + "_side", name + ".mated"};
  }

  /// Where a wire ends: at the next contact's near half, at an earth point's lug, at the link's end, or in the loom.
  static std::string after_wire(const toml::array& items, std::size_t i, const Link& link) {
    if (i + 1 == items.size()) return link.to;
    const auto& next = *items.get(i + 1)->as_table();
    if (next.contains("connector") || next.contains("splice")) return contact(next, link).towards_from;
    if (const auto earth = next["earth_point"].value<std::string>()) return *earth + ".lug";
    if (const auto joins = next["joins"].value<std::string>()) return *joins;
    return text(*items.get(i)->as_table(), "wire") + ".far_end";
  }

  const toml::table& file_;
  const LinkEnds& ends_;
  Harness harness_;
  std::map<std::string, double> contact_ohm_;
};

}  // namespace

Joint& Harness::joint(const std::string& name) {
  for (auto& j : joints)
    if (j.name == name) return j;
  throw std::runtime_error(fmt::format("the network file has no wire or contact '{}'", name));
}

void Harness::open_at(const std::string& point) {
  for (auto& j : joints)
    if (j.a == point || j.b == point) j.ohm = k_open_ohm;
}

void Harness::unplug(const std::string& terminal) {
  for (const auto& link : links) {
    const bool at_from = link.from == terminal && link.points.front() == terminal;
    if (!at_from && link.to != terminal) continue;
    auto points = link.points;
    if (!at_from) std::reverse(points.begin(), points.end());
    const auto mated = std::find_if(points.begin(), points.end(),
                                    [](const std::string& p) { return p.size() > 6 && p.ends_with(".mated"); });
    open_at(mated == points.end() ? terminal : *mated);
  }
}

Harness read_harness(const std::filesystem::path& network, const LinkEnds& ends) {
  try {
    const auto file = toml::parse_file(network.string());
    return Reader(file, ends).run();
  } catch (const toml::parse_error& error) {
    throw std::runtime_error(fmt::format("{}: {}", network.string(), error.description()));
  }
}

}  // namespace lostspark::spice
