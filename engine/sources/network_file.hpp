// A network file as read: values with their places, not yet compared with the family it names.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <vector>

#include "model/vehicle.hpp"
#include "sources/mistakes.hpp"

namespace lostspark::sources {

/// Where something of the vehicle is and what lies over it.
struct Access {
  std::string place;
  std::vector<Said> covers;
  double blind_min = -1;
};

/// What a harness item suffers.
struct Zones {
  bool heat = false, wet = false, vibration = false, steering = false;
};

struct NetworkParameter {
  Said id;
  Spot value_spot;
  std::optional<double> value, log_sd, event_log_sd;
  std::string unit;  ///< as written in the key, or empty
  model::Origin origin = model::Origin::judgement;
  std::string note;
};

struct NetworkCover {
  Said id;
  std::string title;
  double remove_min = 0, refit_min = 0;
  std::vector<Said> first;
  bool may_run_without = true;
};

enum class HarnessKind { connector, splice, earth_point };

struct NetworkHarnessItem {
  HarnessKind kind = HarnessKind::connector;
  Said id;
  std::string title;
  Access access;
  Zones zones;
  double exposure = 1, contact_ohm = 0.01;
  bool probe = true;
  std::vector<Said> pins;  ///< connector
  Said strap;              ///< earth point
};

struct NetworkChainItem {
  enum class Kind { wire, connector, splice, earth_point, joins } kind = Kind::wire;
  Said id;  ///< of the wire, connector ...; node for joins
  Said pin;
  double ohm = 0.02;
  std::string colour, title;
  Access access;
  Zones zones;
  double exposure = 1;
  Said part_of;      ///< component that a wire is one piece with; empty: none
  std::string path;  ///< "chain[2].items[1]", for messages
};

struct NetworkChain {
  Said link;
  std::vector<NetworkChainItem> items;
  std::string path;
};

struct NetworkComponent {
  Said id;
  std::string title;
  Access access;
  bool probe = true;
  std::optional<double> price;
  double age_factor = 1;
};

struct NetworkRepair {
  Said id;
  std::optional<double> labour_min, success, price;
  std::optional<std::vector<Said>> covers;
};

struct NetworkAccess {
  Said test, component;
  Access access;
  bool has_place = false, has_covers = false, has_blind = false, offered = true, provoked = true;
};

struct NetworkBand {
  Said test;
  double low = 0, high = 0;
  model::Origin origin = model::Origin::judgement;
  std::string note;
};

struct NetworkFile {
  Said id, family;
  std::string title, kind;
  double ignition_faults_per_vehicle = 0.08;
  std::optional<double> elsewhere_share;
  std::optional<std::vector<Said>> provocations;
  std::vector<std::pair<Said, std::string>> options;  ///< id with place, value as text
  double price_of_class[6] = {0, 8, 25, 80, 200, 400};
  std::vector<NetworkParameter> parameters;
  std::vector<NetworkCover> covers;
  std::vector<NetworkHarnessItem> harness;
  std::vector<NetworkChain> chains;
  std::vector<NetworkComponent> components;
  std::vector<NetworkRepair> repairs;
  std::vector<NetworkAccess> accesses;
  std::vector<NetworkBand> bands;
};

/// Reads the text; mistakes of form (syntax, types, ranges, unknown keys, duplicate ids, cover cycles) are added.
/// Throws InputError at once only where the text is no TOML.
[[nodiscard]] NetworkFile read_network(const std::string& text, Mistakes& mistakes);

/// Cover ids that stand in a circle ("a needs b needs a"), in order of the circle; empty: none. Ids that no cover has
/// are passed over.
[[nodiscard]] std::vector<std::string> cover_circle(const std::vector<NetworkCover>& covers);

}  // namespace lostspark::sources
