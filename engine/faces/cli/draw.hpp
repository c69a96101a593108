// The circuit of a vehicle as a Graphviz graph: one box a component, one line a joint of the harness.
#pragma once

#include <span>
#include <string>
#include <string_view>

#include "faces/cli/context.hpp"
#include "model/vehicle.hpp"

namespace lostspark::faces {

struct DrawRequest {
  std::string vehicle;         ///< id or path
  std::string job;             ///< empty: nothing is shaded
  std::string format = "dot";  ///< "dot" or "svg"
  std::string output;          ///< file, empty: standard output
};

/// The text as a string of the DOT language, line breaks and all.
[[nodiscard]] std::string dot_string(std::string_view text);
/// The graph in the DOT language. `probability`: that each component is at fault now (size = components), or empty.
/// A suspect is shaded in grey, the darker the more probable; nothing else on the page has a shade.
[[nodiscard]] std::string dot_of(const model::Vehicle& vehicle, std::span<const double> probability);
/// The same drawing, laid out by the Graphviz library. Throws InputError when the library cannot lay it out.
[[nodiscard]] std::string svg_of(const std::string& dot);
/// To the file, or to standard output where the name is empty. Throws InputError when the file cannot be written.
void write_out(Context& context, const std::string& text, const std::string& file);
/// `vehicle draw`.
void draw(Context& context, const DrawRequest& request);

}  // namespace lostspark::faces
