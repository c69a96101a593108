// Forms of machines: what usually lies over which part of an ignition, for the first draft of a vehicle.
// Minutes and places are judgement, as in the vehicles that come with the program; docs/unknown-vehicles.md.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "sources/draft.hpp"

namespace lostspark::job {

/// Where components of one kind are; `stems` fit ids: "ignition_coil" fits ignition_coil and ignition_coil_3.
struct FormPlace {
  std::vector<std::string> stems, covers;
  double blind_min = -1;
  bool plug_elsewhere = false;    ///< its plug hangs somewhere else
  std::vector<std::string> plug;  ///< over that plug
};

struct VehicleForm {
  std::string id, title;  ///< id: answer to the sign "machine"
  std::vector<sources::DraftCover> covers;
  std::vector<FormPlace> places;
};

[[nodiscard]] const std::vector<VehicleForm>& vehicle_forms();
/// The form with this id; the one without covers for an empty id. Throws InputError.
[[nodiscard]] const VehicleForm& vehicle_form(std::string_view id);

/// Where this form has the component; no covers where no row fits.
[[nodiscard]] sources::DraftPlace place_of(const VehicleForm& form, const std::string& component);
/// The same for covers that somebody named: empty means open to the hand. Throws InputError for an unknown cover.
[[nodiscard]] sources::DraftPlace place_under(const VehicleForm& form, const std::string& component,
                                              const std::vector<std::string>& covers);

}  // namespace lostspark::job
