// The harness of a network file, read for the circuit simulator: every wire and contact as a resistance between named
// points. Reads the TOML itself and shares nothing with engine/, so that a mistake there shows.
#pragma once

#include <filesystem>
#include <map>
#include <string>
#include <vector>

namespace lostspark::spice {

/// One resistance of the harness. Points are named as in test places: "component.terminal",
/// "connector.pin.component_side", "earth_point.lug", "earth".
struct Joint {
  std::string name;       ///< unique; wire id, "connector.pin", "splice.link", earth point id
  std::string component;  ///< wire, connector, splice or earth point it belongs to
  std::string a, b;       ///< a lies towards the link's first terminal
  double ohm = 0;
};

struct Link {
  std::string id, from, to;
  std::vector<std::string> points;  ///< in order, from `from` on
};

/// What the network file says about the electrics.
struct Harness {
  std::vector<Joint> joints;
  std::vector<Link> links;
  std::map<std::string, double> parameters;    ///< stated healthy medians by parameter id
  std::map<std::string, std::string> options;  ///< family options as text

  [[nodiscard]] Joint& joint(const std::string& name);  ///< throws std::runtime_error for an unknown one
  /// Opens every joint that ends at this point.
  void open_at(const std::string& point);
  /// Unplugs the harness from a terminal: at the nearest connector of each link that begins or ends there.
  void unplug(const std::string& terminal);
};

/// Ends of the family's links: "exciter_wire" -> {"exciter.hot", "control_module.source"}. The benches of the families
/// state them by themselves; one that a network has not is no harm.
using LinkEnds = std::map<std::string, std::pair<std::string, std::string>>;

/// Throws std::runtime_error naming file and cause.
[[nodiscard]] Harness read_harness(const std::filesystem::path& network, const LinkEnds& ends);

}  // namespace lostspark::spice
