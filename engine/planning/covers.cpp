// Covers: what to take off first, and the minutes from the bench as it stands to a reading taken.
#include <algorithm>

#include "planning/advice.hpp"

namespace lostspark::planning {
namespace {

bool contains(const std::vector<Index>& list, Index value) {
  return std::find(list.begin(), list.end(), value) != list.end();
}

/// Depth first, what must come off before comes first; the precedence has no cycle (checked when the network is read).
void take_off(const model::Vehicle& vehicle, Index cover, const std::vector<Index>& off, std::vector<Index>& order) {
  if (contains(order, cover)) return;
  for (Index before : vehicle.covers[cover].first) take_off(vehicle, before, off, order);
  if (!contains(off, cover)) order.push_back(cover);
}

double minutes_of(const model::Vehicle& vehicle, const std::vector<Index>& covers) {
  double sum = 0;
  for (Index c : covers) sum += vehicle.covers[c].remove_min + vehicle.covers[c].refit_min;
  return sum;
}

}  // namespace

std::vector<Index> covers_to_open(const model::Vehicle& vehicle, const std::vector<Index>& needed,
                                  const std::vector<Index>& off) {
  std::vector<Index> out;
  for (Index cover : needed) take_off(vehicle, cover, off, out);
  return out;
}

double access_minutes(const model::Vehicle& vehicle, const model::Test& test, const BenchState& bench) {
  double minutes = test.minutes;
  double opening = minutes_of(vehicle, covers_to_open(vehicle, test.covers, bench.covers_off));
  if (test.blind_min >= 0) opening = std::min(opening, test.blind_min);
  minutes += opening;
  const auto& scene = vehicle.scenes[test.scene];
  for (Index setup : scene.setups)
    if (!contains(bench.setups_standing, setup)) minutes += vehicle.setups[setup].minutes;
  // A set-up that stands but does not belong has to come off first.
  for (Index standing : bench.setups_standing)
    if (!contains(scene.setups, standing)) minutes += vehicle.setups[standing].minutes / 2;
  for (Index condition : {scene.condition, test.condition_extra}) {
    if (condition < 0) continue;
    const auto& state = vehicle.conditions[condition];
    minutes += state.minutes;
    // Riding and running want the covers on: refit what is off and open it again.
    for (Index cover : bench.covers_off)
      if (state.covers_fitted || (state.running && !vehicle.covers[cover].may_run_without))
        minutes += vehicle.covers[cover].refit_min + vehicle.covers[cover].remove_min;
  }
  return std::max(minutes, 0.5);
}

}  // namespace lostspark::planning
