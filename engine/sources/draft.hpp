// A first network file for a vehicle that nobody has described: whole, valid, with wide values, meant to be edited.
#pragma once

#include <string>
#include <vector>

#include "sources/family_instance.hpp"
#include "sources/load.hpp"

namespace lostspark::sources {

struct DraftCover {
  std::string id, title;
  double remove_min = 0, refit_min = 0;
  std::vector<std::string> first;
  bool may_run_without = true;
};

/// Where one component of the family is.
struct DraftPlace {
  std::string component;
  std::string place;                ///< in words; empty: not said
  std::vector<std::string> covers;  ///< over it
  double blind_min = -1;            ///< a probe gets there without taking them off; negative: it does not
  std::vector<std::string> plug;    ///< over its plug, where that hangs elsewhere
  bool plug_elsewhere = false;
};

struct Draft {
  std::string id, title, family, kind;
  Settings options;                ///< what is left out has the family's default
  std::vector<DraftCover> covers;  ///< only those that some place names are written, and what must come off before
  std::vector<DraftPlace> places;  ///< components without one lie open
  std::vector<std::string> notes;  ///< comment lines at the head of the file
};

/// What a family consists of under given options.
struct FamilyOutline {
  std::string id, title, version;
  std::vector<FamilyOption> options;
  struct Part {
    std::string id, title;
    bool part = true;  ///< false: the state the operator left it in
  };
  std::vector<Part> parts;  ///< without what lies outside the ignition
};

/// The options of a family, before any is chosen. Throws InputError where no plugin folder has it, PluginError where
/// the plugin is broken.
[[nodiscard]] std::vector<FamilyOption> family_options(const Folders&, const std::string& family);
/// Throws as family_options, and InputError for an option that the family has not or a value that does not fit.
[[nodiscard]] FamilyOutline family_outline(const Folders&, const std::string& family, const Settings& options);

/// The spread of every parameter in a draft, as a multiple of the family's: of this vehicle nothing is known.
inline constexpr double k_draft_spread = 1.5;

/// The text of the network file. Throws as family_outline, and InputError for a place that names no component or cover.
[[nodiscard]] std::string draft_network(const Folders&, const Draft& draft);

}  // namespace lostspark::sources
