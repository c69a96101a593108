// From an identified family and a form of machine to the draft of a network file. docs/unknown-vehicles.md
#pragma once

#include <string>
#include <utility>
#include <vector>

#include "job/identify.hpp"
#include "job/vehicle_forms.hpp"

namespace lostspark::job {

/// What somebody said about the vehicle beside the signs.
struct NewVehicle {
  std::string id, title, family;
  sources::Settings options;                                                ///< stated ones only
  std::vector<std::pair<std::string, std::vector<std::string>>> elsewhere;  ///< component, covers; empty: open
};

/// "component=cover,cover" or "component=open". Throws InputError.
[[nodiscard]] std::pair<std::string, std::vector<std::string>> placed(std::string_view told);
/// "option=value". Throws InputError.
[[nodiscard]] std::pair<std::string, std::string> option_told(std::string_view told);
/// An identifier made of a title: "Old Moped 50" gives old_moped_50; "vehicle" where nothing is left.
[[nodiscard]] std::string id_of_title(std::string_view title);

/// The value proposed for an option: what the signs say, else the family's default. What the signs say but the family
/// does not offer is left out.
[[nodiscard]] std::string proposed_option(const Seen& seen, const sources::FamilyOption& option);

/// The options in force: stated ones, else proposed ones. A stated one that the family has not stays, for the mistake
/// to be told.
[[nodiscard]] sources::Settings options_of(const Seen& seen, const std::vector<sources::FamilyOption>& options,
                                           const sources::Settings& stated);

/// Something was told of the vehicle, and it leaves the family open: the draft then carries the warnings.
[[nodiscard]] bool open_family(const Seen& seen);

/// The draft: places of the form (the sign "machine"), changed by `elsewhere`. Throws InputError, PluginError.
[[nodiscard]] sources::Draft draft_of(const sources::Folders& folders, const Seen& seen, const NewVehicle& vehicle);

}  // namespace lostspark::job
