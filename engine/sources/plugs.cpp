#include "sources/plugs.hpp"

#include <algorithm>

#include "lostspark_plugin.h"

namespace lostspark::sources {
namespace {

using model::k_none;

std::size_t at(Index row) { return static_cast<std::size_t>(row); }

void open_node(model::Setup& setup, Index node) {
  const bool known = std::any_of(setup.effects.begin(), setup.effects.end(), [&](const model::Effect& e) {
    return e.kind == model::EffectKind::open_node && e.target == node;
  });
  if (!known) setup.effects.push_back({model::EffectKind::open_node, node, 1});
}

}  // namespace

bool Plugs::holds_own_end(Index link, const std::string& terminal) const {
  const auto& path = b_.paths[at(link)];
  return !path.nodes.empty() && (!path.joined_start || b_.family.links[at(link)].to == terminal);
}

Plugs::Plug Plugs::plug_at(Index link, const std::string& terminal) const {
  const auto& l = b_.family.links[at(link)];
  auto nodes = b_.paths[at(link)].nodes;
  auto elements = b_.paths[at(link)].elements;
  if (nodes.empty()) return {};
  if (l.from != terminal) {
    std::reverse(nodes.begin(), nodes.end());
    std::reverse(elements.begin(), elements.end());
  }
  if (nodes.front() != b_.node_of(terminal)) return {};  // begins at a node of another chain
  for (std::size_t i = 0; i < elements.size(); ++i) {
    const auto component = v_.elements[at(elements[i])].component;
    if (component == k_none || v_.components[at(component)].kind != model::ComponentKind::connector) continue;
    return {component, nodes[i], nodes[i + 1]};
  }
  return {};
}

std::vector<Index> Plugs::links_at(const std::string& terminal) const {
  std::vector<Index> rows;
  for (std::size_t i = 0; i < b_.family.links.size(); ++i)
    if (b_.family.links[i].from == terminal || b_.family.links[i].to == terminal) rows.push_back(static_cast<Index>(i));
  return rows;
}

void Plugs::apply_effects() {
  for (const auto& e : b_.family.effects) {
    const auto colon = e.owner.find(':');
    const auto id = e.owner.substr(colon + 1);
    const bool setup = e.owner.starts_with("setup:");
    if (e.operation == LS_OPEN_TERMINAL) {
      if (setup) open_terminal(v_.setups[at(b_.must(b_.setups, id))], e.target);
      continue;
    }
    const model::Effect effect{
        e.operation == LS_SET_PARAMETER     ? model::EffectKind::set_parameter
        : e.operation == LS_SCALE_PARAMETER ? model::EffectKind::scale_parameter
                                            : model::EffectKind::exchange_parameters,
        b_.must(b_.parameters, e.target), e.value,
        e.operation == LS_EXCHANGE_PARAMETERS ? b_.must(b_.parameters, e.other) : k_none};
    if (setup)
      v_.setups[at(b_.must(b_.setups, id))].effects.push_back(effect);
    else
      v_.conditions[at(b_.must(b_.conditions, id))].effects.push_back(effect);
  }
}

void Plugs::open_terminal(model::Setup& setup, const std::string& terminal) {
  bool at_terminal = false;
  for (const auto link : links_at(terminal)) {
    const auto plug = plug_at(link, terminal);
    if (plug.component == k_none) {
      at_terminal |= holds_own_end(link, terminal);
      continue;
    }
    add_missing(setup.touches, {plug.component});
    open_node(setup, plug.mated);
  }
  if (at_terminal) open_node(setup, b_.node_of(terminal));
  std::sort(setup.touches.begin(), setup.touches.end());
}

bool Plugs::opens(const std::vector<Index>& setups, Index node) const {
  for (const auto s : setups)
    for (const auto& e : v_.setups[at(s)].effects)
      if (e.kind == model::EffectKind::open_node && e.target == node) return true;
  return false;
}
bool Plugs::opens_any(const std::vector<Index>& setups) const {
  for (const auto s : setups)
    for (const auto& e : v_.setups[at(s)].effects)
      if (e.kind == model::EffectKind::open_node) return true;
  return false;
}

bool Plugs::opens_at(const std::vector<Index>& setups, const std::string& terminal) const {
  if (opens(setups, b_.node_of(terminal))) return true;
  const auto links = links_at(terminal);
  return std::any_of(links.begin(), links.end(), [&](Index link) {
    const auto plug = plug_at(link, terminal);
    return plug.component != k_none && opens(setups, plug.mated);
  });
}

Index Plugs::measured_at(const std::string& terminal) const {
  const auto node = b_.node_of(terminal);
  for (const auto link : links_at(terminal)) {
    const auto plug = plug_at(link, terminal);
    if (plug.component != k_none && v_.nodes[at(plug.near)].probe) return plug.near;
  }
  return v_.nodes[at(node)].probe ? node : k_none;
}

Index Plugs::return_at(const std::string& terminal) const {
  const auto found = measured_at(terminal);
  if (found != k_none) return found;
  for (const auto link : links_at(terminal))
    if (b_.family.links[at(link)].to == "earth") return model::k_earth;
  return k_none;
}

Index Plugs::loose_end(const std::string& terminal, const std::vector<Index>& setups) const {
  for (const auto link : links_at(terminal)) {
    const auto& path = b_.paths[at(link)];
    for (std::size_t i = 0; i < path.nodes.size(); ++i) {
      if (!opens(setups, path.nodes[i])) continue;
      const bool subject_first = b_.family.links[at(link)].from == terminal;
      const auto k = subject_first ? i - 1 : i + 1;  // i is never the subject's own end here
      if (k < path.nodes.size() && path.nodes[k] != model::k_earth && v_.nodes[at(path.nodes[k])].probe)
        return path.nodes[k];
    }
  }
  return measured_at(terminal);
}

Index Plugs::unplug(const std::string& terminal) {
  const auto node = b_.node_of(terminal);
  Plug plug;
  for (const auto link : links_at(terminal)) {
    const auto other = plug_at(link, terminal);
    if (plug.component == k_none) plug = other;
  }
  const auto component = terminal.substr(0, terminal.find('.'));
  const bool has_plug = plug.component != k_none;
  auto id = has_plug ? v_.components[at(plug.component)].id + "_unplugged"
                     : component + "_" + terminal.substr(terminal.find('.') + 1) + "_off";
  if (const auto known = b_.setups.find(id); known != k_none) {
    if (known >= static_cast<Index>(b_.family.setups.size())) return known;
    id += "_by_hand";  // the family has a set-up of its own under that name
    if (const auto again = b_.setups.find(id); again != k_none) return again;
  }
  model::Setup s;
  s.id = id;
  const auto& title = v_.components[at(has_plug ? plug.component : b_.must(b_.components, component))].title;
  s.title = has_plug ? title + " unplugged" : "wire off the " + title;
  s.instruction = has_plug ? "unplug the " + title : "take the wire off the " + title;
  s.minutes = has_plug ? 1 : 2;
  s.moves_contacts = has_plug;
  if (has_plug) s.touches = {plug.component};
  // The whole connector comes apart, not only the pin in question.
  for (const auto& path : b_.paths)
    for (std::size_t i = 1; i + 1 < path.nodes.size(); ++i)
      if (has_plug && v_.nodes[at(path.nodes[i])].side == "mated" &&
          v_.nodes[at(path.nodes[i])].component == plug.component)
        open_node(s, path.nodes[i]);
  for (const auto link : links_at(terminal))
    if (plug_at(link, terminal).component == k_none && holds_own_end(link, terminal)) open_node(s, node);
  b_.setups.add(id, static_cast<Index>(v_.setups.size()));
  v_.setups.push_back(std::move(s));
  return static_cast<Index>(v_.setups.size()) - 1;
}

}  // namespace lostspark::sources
