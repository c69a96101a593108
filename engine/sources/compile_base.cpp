#include <algorithm>

#include "base/error.hpp"
#include "lostspark_plugin.h"
#include "sources/compile.hpp"
#include "sources/text.hpp"

namespace lostspark::sources {
namespace {

Index size_of(const auto& rows) { return static_cast<Index>(rows.size()); }

void build_parameters(Build& b) {
  for (const auto& p : b.family.parameters) {
    b.parameters.add(p.id, size_of(b.vehicle.parameters));
    b.vehicle.parameters.push_back(
        {p.id, p.unit, p.description, p.typical, p.log_sd, p.event_log_sd, model::Origin::family, ""});
  }
  std::size_t number = 0;
  for (const auto& said : b.network.parameters) {
    const auto path = "parameter[" + std::to_string(++number) + "]";
    if (said.id.text.empty()) continue;
    const auto row = b.parameters.find(said.id.text);
    if (row == model::k_none) {
      b.mistakes.add(
          said.id.spot, path + ".id",
          "the family has no parameter '" + said.id.text + "'" + suggestion(said.id.text, b.parameters.ids()));
      continue;
    }
    auto& p = b.vehicle.parameters[static_cast<std::size_t>(row)];
    if (!said.unit.empty() && said.unit != p.unit)
      b.mistakes.add(said.value_spot, path + ".value_" + said.unit,
                     "the unit of '" + p.id + "' is " + p.unit + ": expected value_" + p.unit);
    p.typical = said.value.value_or(p.typical);
    p.log_sd = said.log_sd.value_or(p.log_sd);
    p.event_log_sd = said.event_log_sd.value_or(p.event_log_sd);
    p.origin = said.origin;
    p.origin_note = said.note;
  }
}

void build_covers(Build& b) {
  for (const auto& c : b.network.covers) {
    b.covers.add(c.id.text, size_of(b.vehicle.covers));
    b.vehicle.covers.push_back({c.id.text, c.title, c.remove_min, c.refit_min, {}, c.may_run_without});
  }
  for (std::size_t i = 0; i < b.network.covers.size(); ++i)
    b.vehicle.covers[i].first = b.cover_rows(b.network.covers[i].first);
}

void build_components(Build& b) {
  for (const auto& c : b.family.components) {
    model::Component m;
    m.id = c.id;
    m.title = c.title;
    m.group = c.group;
    m.kind = c.kind == LS_COMPONENT_PART       ? model::ComponentKind::part
             : c.kind == LS_COMPONENT_OPERATOR ? model::ComponentKind::operator_state
                                               : model::ComponentKind::elsewhere;
    m.stops_engine = c.stops_engine;
    m.price_class = c.price_class;
    m.price = b.network.price_of_class[c.price_class];
    b.components.add(c.id, size_of(b.vehicle.components));
    b.vehicle.components.push_back(std::move(m));
  }
  std::size_t number = 0;
  for (const auto& said : b.network.components) {
    const auto path = "component[" + std::to_string(++number) + "]";
    if (said.id.text.empty()) continue;
    const auto row = b.components.find(said.id.text);
    if (row == model::k_none) {
      b.mistakes.add(said.id.spot, path + ".id",
                     "the family has no component '" + said.id.text + "' with these options" +
                         suggestion(said.id.text, b.components.ids()));
      continue;
    }
    auto& m = b.vehicle.components[static_cast<std::size_t>(row)];
    if (!said.title.empty()) m.title = said.title;
    m.place = said.access.place;
    m.covers = b.cover_rows(said.access.covers);
    m.price = said.price.value_or(m.price);
    m.age_factor = said.age_factor;
  }
}

void build_terminals(Build& b) {
  model::Node earth;
  earth.id = "earth";
  earth.place = "bare engine metal";
  earth.probe = true;
  b.add_node(std::move(earth), "earth", "bare engine metal");
  std::map<std::string, const NetworkComponent*> stated;
  for (const auto& c : b.network.components) stated[c.id.text] = &c;
  for (const auto& t : b.family.terminals) {
    const auto component = b.must(b.components, t.component);
    const auto& m = b.vehicle.components[static_cast<std::size_t>(component)];
    model::Node node;
    node.id = t.component + "." + t.id;
    node.component = component;
    node.side = t.id;
    const auto words = "the " + m.title + ", " + (t.title.empty() ? spoken(t.id) : t.title);
    node.place = m.title + (m.place.empty() ? "" : " " + m.place) + ", " + (t.title.empty() ? spoken(t.id) : t.title) +
                 (t.din.empty() ? "" : " (" + t.din + ")");
    node.covers = m.covers;
    if (const auto at = stated.find(t.component); at != stated.end()) {
      node.probe = at->second->probe;
      node.blind_min = at->second->access.blind_min;
    }
    b.add_node(std::move(node), t.component + "." + t.id, words);
  }
}

void build_elements(Build& b) {
  const auto parameter = [&](const std::string& id) { return id.empty() ? model::k_none : b.must(b.parameters, id); };
  for (const auto& e : b.family.elements) {
    model::Element m;
    m.id = e.id;
    m.a = b.node_of(e.a);
    m.b = b.node_of(e.b);
    m.resistance_parameter = parameter(e.resistance);
    m.inductance_parameter = parameter(e.inductance);
    m.emf_parameter = parameter(e.emf);
    m.frequency_parameter = parameter(e.frequency);
    m.frequency_factor = parameter(e.frequency_factor);
    m.use = e.used_in == LS_IN_OHM_TESTS ? model::ElementUse::ohm_only
            : e.used_in == LS_IN_RUNNING ? model::ElementUse::running_only
                                         : model::ElementUse::always;
    m.component = b.vehicle.nodes[static_cast<std::size_t>(m.a != model::k_earth ? m.a : m.b)].component;
    b.vehicle.elements.push_back(std::move(m));
  }
}

void build_conditions_and_setups(Build& b) {
  static const std::pair<const char*, model::Provocation> columns[] = {{"hot", model::Provocation::hot},
                                                                       {"wet", model::Provocation::wet},
                                                                       {"shaken", model::Provocation::shaken},
                                                                       {"steering", model::Provocation::steering},
                                                                       {"loaded", model::Provocation::loaded}};
  for (const auto& c : b.family.conditions) {
    model::Condition m;
    m.id = c.id;
    m.title = c.title;
    m.instruction = c.instruction;
    m.is_state = c.kind == "state";
    for (const auto& [name, provocation] : columns)
      if (!m.is_state && c.visibility == name) m.provocation = provocation;
    m.minutes = c.minutes;
    m.engine_off = (c.needs & LS_NEEDS_ENGINE_OFF) != 0;
    m.needs_crank = (c.needs & LS_NEEDS_CRANK) != 0;
    m.running = (c.needs & LS_NEEDS_RUNNING) != 0;
    m.needs_helper = (c.needs & LS_NEEDS_HELPER) != 0;
    m.covers_fitted = (c.needs & LS_NEEDS_COVERS_FITTED) != 0;
    m.holds_through_visit = (c.needs & LS_HOLDS_THROUGH_VISIT) != 0;
    b.conditions.add(c.id, size_of(b.vehicle.conditions));
    b.vehicle.conditions.push_back(std::move(m));
  }
  for (const auto& s : b.family.setups) {
    b.setups.add(s.id, size_of(b.vehicle.setups));
    b.vehicle.setups.push_back({s.id, s.title, s.instruction, s.tool, s.minutes, s.moves_contacts, {}, {}});
  }
}

void build_stages(Build& b) {
  auto& v = b.vehicle;
  for (const auto& s : b.family.stages) {
    model::Stage m;
    m.id = s.id;
    m.title = s.title;
    m.report_only = s.report_only;
    const auto stage_row = size_of(v.stages);
    for (const auto& in : b.family.stage_inputs) {
      if (in.stage != s.id) continue;
      using Kind = model::StageInput::Kind;
      model::StageInput input;
      switch (in.kind) {
        case LS_INPUT_PARAMETER:
          input = {Kind::parameter, b.must(b.parameters, in.a), model::k_none};
          break;
        case LS_INPUT_OUTPUT:
          input = {Kind::output, b.must(b.outputs, in.a), model::k_none};
          break;
        case LS_INPUT_LINEAR_VOLTS:
          input = {Kind::linear_volts, b.node_of(in.a), b.node_of(in.b)};
          break;
        default:
          input = {Kind::terminal, b.node_of(in.a), model::k_none};
      }
      (input.kind == Kind::terminal ? m.terminal_count : m.scalar_count) += 1;
      m.inputs.push_back(input);
    }
    m.first_output = size_of(v.outputs);
    for (const auto& out : b.family.stage_outputs) {
      if (out.stage != s.id) continue;
      model::Output o;
      o.id = s.id + "." + out.id;
      o.unit = out.unit;
      o.description = out.description;
      o.stage = stage_row;
      o.kind = out.kind == LS_OUTPUT_MARGIN             ? model::OutputKind::margin
               : out.kind == LS_OUTPUT_TERMINAL_VOLTS   ? model::OutputKind::terminal_volts
               : out.kind == LS_OUTPUT_TERMINAL_READING ? model::OutputKind::terminal_reading
               : out.kind == LS_OUTPUT_TERMINAL_OHM     ? model::OutputKind::terminal_ohm
                                                        : model::OutputKind::value;
      if (out.kind >= LS_OUTPUT_TERMINAL_VOLTS) o.node = b.node_of(out.terminal);
      b.outputs.add(o.id, size_of(v.outputs));
      v.outputs.push_back(std::move(o));
      ++m.output_count;
    }
    b.stages.add(s.id, stage_row);
    v.stages.push_back(std::move(m));
  }
}

void build_cautions_and_complaints(Build& b) {
  for (const auto& c : b.family.cautions) {
    b.cautions.add(c.id, size_of(b.vehicle.cautions));
    b.vehicle.cautions.push_back({c.id, c.signal_word, c.text, c.avoid, c.before_first});
  }
  for (const auto& c : b.family.complaints) {
    model::Complaint m;
    m.id = c.id;
    m.title = c.title;
    for (const auto& cylinder : pieces_of(c.margins, '|')) {
      std::vector<Index> ladder;
      for (const auto& margin : words_of(cylinder)) ladder.push_back(b.must(b.outputs, margin));
      if (!ladder.empty()) m.cylinders.push_back(std::move(ladder));
    }
    m.extent = c.extent == "one" ? model::Extent::one : c.extent == "two" ? model::Extent::two : model::Extent::all;
    m.word = c.word == "irregular" ? 1 : c.word == "steady" ? 2 : c.word == "present" ? model::Complaint::k_present : 0;
    m.by_group = c.by_group;
    b.vehicle.complaints.push_back(std::move(m));
  }
}

}  // namespace

Index Build::must(const Directory& directory, const std::string& id) const {
  const auto row = directory.find(id);
  if (row == model::k_none) throw InternalError("internal error: checked id '" + id + "' is lost (please report this)");
  return row;
}

Index Build::node_of(const std::string& terminal) const { return must(nodes, terminal); }

std::vector<Index> Build::cover_rows(const std::vector<Said>& said) const {
  std::vector<Index> rows;
  for (const auto& one : said)  // unknown ones are reported by the reader
    if (const auto row = covers.find(one.text); row != model::k_none) rows.push_back(row);
  std::sort(rows.begin(), rows.end());
  rows.erase(std::unique(rows.begin(), rows.end()), rows.end());
  return rows;
}

Index Build::add_node(model::Node node, const std::string& key, const std::string& words) {
  const auto row = size_of(vehicle.nodes);
  nodes.add(node.id, row);
  vehicle.nodes.push_back(std::move(node));
  node_keys.push_back(key);
  node_words.push_back(words);
  return row;
}

void add_missing(std::vector<Index>& to, const std::vector<Index>& from) {
  for (const auto row : from)
    if (std::find(to.begin(), to.end(), row) == to.end()) to.push_back(row);
}

void build_base(Build& b) {
  build_parameters(b);
  build_covers(b);
  build_components(b);
  build_terminals(b);
  build_elements(b);
  build_conditions_and_setups(b);
  build_stages(b);
  build_cautions_and_complaints(b);
}

}  // namespace lostspark::sources
