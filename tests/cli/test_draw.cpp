#include "catch_all.hpp"
#include "faces/cli/draw.hpp"

#include <array>

using namespace lostspark;
using namespace lostspark::faces;
using model::Index;

namespace {

/// Coil - wire - earth, and a fuel tap that is in no circuit.
model::Vehicle small_vehicle() {
  model::Vehicle v;
  v.id = "bench_toy";
  const auto add = [&](const char* id, const char* title, model::ComponentKind kind) {
    model::Component c;
    c.id = id;
    c.title = title;
    c.kind = kind;
    v.components.push_back(c);
  };
  add("coil", "coil \"A\"", model::ComponentKind::part);
  add("wire", "black wire", model::ComponentKind::wire);
  add("fuel_tap", "fuel tap", model::ComponentKind::elsewhere);
  model::Node earth, pin, end;
  pin.component = 0;
  end.component = 1;
  v.nodes = {earth, pin, end};
  model::Element winding, run;
  winding.component = 0;
  winding.a = 1;
  winding.b = model::k_earth;
  run.component = 1;
  run.a = 1;
  run.b = 2;
  v.elements = {winding, run};
  return v;
}

}  // namespace

TEST_CASE("a drawing joins what the harness joins and sets the rest apart", "[cli][unit]") {
  const std::string dot = dot_of(small_vehicle(), {});
  CHECK(dot.find("\"coil\" -- \"wire\"") != std::string::npos);
  CHECK(dot.find("\"engine_metal\" -- \"coil\"") != std::string::npos);
  CHECK(dot.find("-- \"fuel_tap\"") == std::string::npos);
  CHECK(dot.find("\"fuel_tap\" [") > dot.find("cluster_without_wires"));
  CHECK(dot.find("coil \\\"A\\\"") != std::string::npos);  // a quote in a title does not end it
  CHECK(dot.find("%") == std::string::npos);
}

TEST_CASE("the more probable a suspect, the darker its box, and only in grey", "[cli][property]") {
  int last = 256;
  for (const double p : {0.0, 0.02, 0.3, 0.7, 1.0}) {
    const std::array<double, 3> probability{p, 0, 0};
    const std::string dot = dot_of(small_vehicle(), probability);
    const std::size_t line = dot.find("\"coil\" [");
    const std::size_t at = dot.find("fillcolor=\"#", line) + 12;
    const std::string red = dot.substr(at, 2), green = dot.substr(at + 2, 2), blue = dot.substr(at + 4, 2);
    CHECK(red == green);
    CHECK(green == blue);
    const int grey = std::stoi(red, nullptr, 16);
    CHECK(grey < last);
    last = grey;
  }
}

TEST_CASE("the Graphviz library lays the drawing out as SVG", "[cli][unit]") {
  const std::array<double, 3> probability{0.5, 0.25, 0};
  const std::string svg = svg_of(dot_of(small_vehicle(), probability));
  CHECK(svg.find("<svg") != std::string::npos);
  CHECK(svg.find("black wire") != std::string::npos);
  CHECK(svg.find("50 %") != std::string::npos);
  CHECK(svg.find("</svg>") != std::string::npos);
}
