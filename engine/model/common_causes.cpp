#include "model/common_causes.hpp"

namespace lostspark::model {
namespace {

bool of_harness(ComponentKind kind) {
  using enum ComponentKind;
  return kind == wire || kind == connector || kind == splice || kind == earth_point;
}

}  // namespace

std::vector<CommonCause> common_causes(const Vehicle& vehicle) {
  CommonCause water{"water", "water in the connectors", 0.001, {}};
  CommonCause vibration{"vibration", "vibration", 0.001, {}};
  CommonCause rodents{"rodents", "gnawed wiring", 0.0003, {}};
  for (std::size_t m = 0; m < vehicle.modes.size(); ++m) {
    const auto& mode = vehicle.modes[m];
    const auto kind = vehicle.components[mode.component].kind;
    if (!of_harness(kind)) continue;
    const auto shows = [&](Provocation p) { return mode.visible[static_cast<std::size_t>(p)]; };
    const auto index = static_cast<Index>(m);
    if (kind == ComponentKind::wire) rodents.modes.emplace_back(index, 0.2);
    else if (shows(Provocation::wet) > shows(Provocation::none)) water.modes.emplace_back(index, 0.15);
    if (shows(Provocation::shaken) > shows(Provocation::none)) vibration.modes.emplace_back(index, 0.1);
  }
  std::vector<CommonCause> out;
  for (auto* cause : {&water, &vibration, &rodents})
    if (cause->modes.size() > 1) out.push_back(std::move(*cause));
  return out;
}

}  // namespace lostspark::model
