#include "model/vehicle.hpp"

namespace lostspark::model {
namespace {

template <class Row>
std::optional<Index> find(const std::vector<Row>& rows, std::string_view id) {
  for (std::size_t i = 0; i < rows.size(); ++i)
    if (rows[i].id == id) return static_cast<Index>(i);
  return std::nullopt;
}

}  // namespace

Index Vehicle::cranking_scene() const {
  for (std::size_t s = 0; s < scenes.size(); ++s) {
    const auto& scene = scenes[s];
    if (scene.setups.empty() && scene.condition >= 0 &&
        conditions[static_cast<std::size_t>(scene.condition)].needs_crank)
      return static_cast<Index>(s);
  }
  return k_none;
}

std::optional<Index> Vehicle::find_component(std::string_view wanted) const { return find(components, wanted); }
std::optional<Index> Vehicle::find_mode(std::string_view wanted) const { return find(modes, wanted); }
std::optional<Index> Vehicle::find_repair(std::string_view wanted) const { return find(repairs, wanted); }
std::optional<Index> Vehicle::find_test(std::string_view wanted) const { return find(tests, wanted); }
std::optional<Index> Vehicle::find_cover(std::string_view wanted) const { return find(covers, wanted); }
std::optional<Index> Vehicle::find_setup(std::string_view wanted) const { return find(setups, wanted); }
std::optional<Index> Vehicle::find_condition(std::string_view wanted) const { return find(conditions, wanted); }
std::optional<Index> Vehicle::find_parameter(std::string_view wanted) const { return find(parameters, wanted); }
std::optional<Index> Vehicle::find_node(std::string_view wanted) const { return find(nodes, wanted); }
std::optional<Index> Vehicle::find_output(std::string_view wanted) const { return find(outputs, wanted); }
std::optional<Index> Vehicle::find_complaint(std::string_view wanted) const { return find(complaints, wanted); }

bool renews(const Vehicle& vehicle, Index repair, Index component) {
  const auto& r = vehicle.repairs[static_cast<std::size_t>(repair)];
  if (r.kind != RepairKind::replace || r.component == k_none || component == k_none) return false;
  return r.component == component || r.component == vehicle.components[static_cast<std::size_t>(component)].part_of;
}

bool mends(const Vehicle& vehicle, Index repair, Index mode) {
  const auto& m = vehicle.modes[static_cast<std::size_t>(mode)];
  return m.repair == repair || renews(vehicle, repair, m.component);
}

}  // namespace lostspark::model
