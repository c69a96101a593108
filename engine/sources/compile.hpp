// From a family's tables and a network file to model::Vehicle. The steps share one Build and run in the order below.
#pragma once

#include <map>
#include <string>
#include <unordered_map>
#include <vector>

#include "model/vehicle.hpp"
#include "sources/family_tables.hpp"
#include "sources/mistakes.hpp"
#include "sources/network_file.hpp"

namespace lostspark::sources {

using model::Index;

/// Ids to rows of one table; knows its ids in order, for suggestions.
class Directory {
 public:
  void add(const std::string& id, Index row) {
    if (rows_.emplace(id, row).second) ids_.push_back(id);
  }
  [[nodiscard]] Index find(const std::string& id) const {
    const auto at = rows_.find(id);
    return at == rows_.end() ? model::k_none : at->second;
  }
  [[nodiscard]] const std::vector<std::string>& ids() const { return ids_; }

 private:
  std::unordered_map<std::string, Index> rows_;
  std::vector<std::string> ids_;
};

/// What a link became: nodes[0] is its first terminal, elements[i] lies between nodes[i] and nodes[i + 1].
struct LinkPath {
  std::vector<Index> nodes, elements;
  bool joined_start = false;  ///< begins at a node of another chain
};

/// One harness item in one link: what the link's shares are split over.
struct Piece {
  enum class Kind { wire, contact, splice, earth_point } kind = Kind::wire;
  Index component = model::k_none, element = model::k_none, link = model::k_none;
  std::string label;  ///< prefix of its mode ids where a component has several: "pin_3_", "kill_lead_", or empty
  std::string words;  ///< the same for a person: "pin 3", or empty
  Zones zones;
  double exposure = 1;
};

struct Build {
  const FamilyTables& family;
  const NetworkFile& network;
  Mistakes& mistakes;
  model::Vehicle vehicle;

  Directory parameters, components, nodes, covers, conditions, setups, stages, outputs, modes, repairs, cautions, links;
  std::vector<LinkPath> paths;  ///< by row of FamilyTables::links
  std::vector<Piece> pieces;
  /// By mode of the harness: what findings call it, "link:crank_wire.open"; several where links share an earth point.
  std::map<Index, std::vector<std::string>> link_modes;
  std::vector<std::string> node_keys;   ///< by node: what test ids call it, "exciter_connector.module_side"
  std::vector<std::string> node_words;  ///< by node: "the stator connector, control module side"

  /// Row of a family id; InternalError when absent, since the family's tables were checked.
  [[nodiscard]] Index must(const Directory& directory, const std::string& id) const;
  [[nodiscard]] Index node_of(const std::string& terminal) const;  ///< "component.terminal" or "earth"
  [[nodiscard]] std::vector<Index> cover_rows(const std::vector<Said>& covers) const;
  Index add_node(model::Node node, const std::string& key, const std::string& words);
};

/// Parameters, covers, components, terminals, elements, conditions, set-ups, stages, cautions, complaints.
void build_base(Build& build);
/// Wires, connectors, splices, earth points: components, nodes, elements; the path of each link.
void build_harness(Build& build);
/// Modes and repairs of the family and of the harness, with their priors.
void build_faults(Build& build);
/// Effects of set-ups, scenes, tests, healthy bands.
void build_tests(Build& build);

/// Appends those not yet there.
void add_missing(std::vector<Index>& to, const std::vector<Index>& from);

}  // namespace lostspark::sources
