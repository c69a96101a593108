#include "faces/cli/draw.hpp"

#include <fmt/format.h>
#include <graphviz/gvc.h>

#include <algorithm>
#include <cmath>
#include <fstream>
#include <memory>
#include <ostream>
#include <set>
#include <utility>

#include "base/error.hpp"
#include "faces/cli/session.hpp"
#include "faces/cli/text.hpp"

namespace lostspark::faces {

namespace {

using model::Index;
using model::Vehicle;

/// White at 0 to a dark grey at 1. The root makes a suspect of a few per cent visible beside one of eighty.
int grey_of(double probability) {
  return 255 - static_cast<int>(std::lround(175 * std::sqrt(std::clamp(probability, 0.0, 1.0))));
}

std::string shape_of(model::ComponentKind kind) {
  switch (kind) {
    case model::ComponentKind::wire:
      return "plain";
    case model::ComponentKind::connector:
    case model::ComponentKind::splice:
      return "ellipse";
    case model::ComponentKind::earth_point:
      return "invtriangle";
    default:
      return "box";
  }
}

/// Pairs of components that share a joint; k_none stands for engine metal.
std::set<std::pair<Index, Index>> joints(const Vehicle& v) {
  std::set<std::pair<Index, Index>> out;
  const auto join = [&](Index a, Index b) {
    if (a == b) return;
    out.emplace(std::min(a, b), std::max(a, b));
  };
  const auto owner = [&](Index node) {
    return node == model::k_earth ? model::k_none : v.nodes[static_cast<std::size_t>(node)].component;
  };
  for (const auto& element : v.elements) {
    const Index a = owner(element.a), b = owner(element.b);
    if (element.component == model::k_none) {
      join(a, b);
      continue;
    }
    join(a, element.component);
    join(element.component, b);
  }
  return out;
}

}  // namespace

std::string dot_string(std::string_view text) {
  std::string out = "\"";
  for (const char c : text) {
    if (c == '"' || c == '\\') out += '\\';
    if (c == '\n') out += "\\n";
    else out += c;
  }
  return out + '"';
}

std::string dot_of(const Vehicle& v, std::span<const double> probability) {
  std::string out = "graph " + dot_string(v.id) + " {\n";
  out += "  rankdir=LR; nodesep=0.25; ranksep=0.5;\n";
  out += "  node [fontname=\"sans-serif\", fontsize=10, style=filled, fillcolor=white, color=\"#808080\"];\n";
  out += "  edge [color=\"#808080\"];\n";
  const auto edges = joints(v);
  std::set<Index> joined;
  for (const auto& [a, b] : edges) joined.insert({a, b});
  const auto box = [&](std::size_t i) {
    const auto& c = v.components[i];
    std::string label = c.title, look;
    if (!probability.empty()) {
      const double p = probability[i];
      const int grey = grey_of(p);
      label += "\n" + percent(p);
      look = fmt::format(", fillcolor=\"#{0:02x}{0:02x}{0:02x}\"", grey);
      if (grey < 140) look += ", fontcolor=white";
    }
    return "  " + dot_string(c.id) + " [label=" + dot_string(label) + ", shape=" + shape_of(c.kind) + look + "];\n";
  };
  for (std::size_t i = 0; i < v.components.size(); ++i)
    if (joined.count(static_cast<Index>(i)) != 0) out += box(i);
  if (joined.count(model::k_none) != 0) out += "  \"engine_metal\" [label=\"engine metal\", shape=plaintext];\n";
  for (const auto& [a, b] : edges) {
    const auto name = [&](Index i) {
      return i == model::k_none ? std::string("engine_metal") : v.components[static_cast<std::size_t>(i)].id;
    };
    out += "  " + dot_string(name(a)) + " -- " + dot_string(name(b)) + ";\n";
  }
  out +=
      "  subgraph cluster_without_wires {\n  label=\"without wires\"; fontname=\"sans-serif\"; fontsize=10; "
      "color=white;\n";
  for (std::size_t i = 0; i < v.components.size(); ++i)
    if (joined.count(static_cast<Index>(i)) == 0) out += box(i);
  return out + "  }\n}\n";
}

std::string svg_of(const std::string& dot) {
  agseterr(AGMAX);  // its remarks on fonts are nothing a technician can act on
  const std::unique_ptr<GVC_t, void (*)(GVC_t*)> library(gvContext(), [](GVC_t* g) { gvFreeContext(g); });
  const std::unique_ptr<Agraph_t, void (*)(Agraph_t*)> graph(agmemread(dot.c_str()), [](Agraph_t* g) {
    if (g != nullptr) agclose(g);
  });
  const char* remedy = "install the Graphviz libraries with their layout plugins (Debian: libgvc6), or take --as dot";
  if (graph == nullptr) throw InternalError("internal error: the drawing is not a graph (please report this)");
  if (gvLayout(library.get(), graph.get(), "dot") != 0)
    throw InputError(std::string("the Graphviz library cannot lay out the drawing: ") + remedy);
  char* data = nullptr;
  unsigned length = 0;
  std::string svg;
  const bool done = gvRenderData(library.get(), graph.get(), "svg", &data, &length) == 0 && data != nullptr;
  if (done) svg.assign(data, length);
  if (data != nullptr) gvFreeRenderData(data);
  gvFreeLayout(library.get(), graph.get());
  if (!done) throw InputError(std::string("the Graphviz library cannot write SVG: ") + remedy);
  return svg;
}

void draw(Context& context, const DrawRequest& request) {
  std::string dot;
  if (request.job.empty()) {
    dot = dot_of(*sources::load_vehicle(context.folders, request.vehicle), {});
  } else {
    Session session(context);
    const job::Job job = session.desk().load(request.job);
    if (job.vehicle().id != sources::load_vehicle(context.folders, request.vehicle)->id)
      throw InputError("job " + request.job + " is about " + job.vehicle().id + ", not about " + request.vehicle);
    // The job's own copy of the vehicle: that is what its probabilities belong to.
    dot = dot_of(job.vehicle(), job.posterior().component_probability());
  }
  write_out(context, request.format == "svg" ? svg_of(dot) : dot, request.output);
}

void write_out(Context& context, const std::string& text, const std::string& name) {
  if (name.empty()) {
    context.out << text;
    return;
  }
  std::ofstream file(name, std::ios::binary);
  file << text;
  if (!file.flush()) throw InputError("cannot write " + name + "; name a file in a folder you may write to");
}

}  // namespace lostspark::faces
