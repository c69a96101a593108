// Covers: what to take off first, and the minutes from the bench as it stands to a reading taken.
#include <algorithm>
#include <boost/graph/adjacency_list.hpp>
#include <boost/graph/topological_sort.hpp>

#include "planning/advice.hpp"

namespace lostspark::planning {
namespace {

using Precedence = boost::adjacency_list<boost::vecS, boost::vecS, boost::directedS>;

bool contains(const std::vector<Index>& list, Index value) {
  return std::find(list.begin(), list.end(), value) != list.end();
}

void close_over(const model::Vehicle& vehicle, Index cover, std::vector<bool>& needed) {
  if (needed[cover]) return;
  needed[cover] = true;
  for (Index before : vehicle.covers[cover].first) close_over(vehicle, before, needed);
}

double minutes_of(const model::Vehicle& vehicle, const std::vector<Index>& covers) {
  double sum = 0;
  for (Index c : covers) sum += vehicle.covers[c].remove_min + vehicle.covers[c].refit_min;
  return sum;
}

}  // namespace

std::vector<Index> covers_to_open(const model::Vehicle& vehicle, const std::vector<Index>& needed,
                                  const std::vector<Index>& off) {
  const std::size_t n = vehicle.covers.size();
  std::vector<bool> wanted(n, false);
  for (Index cover : needed) close_over(vehicle, cover, wanted);
  Precedence graph(n);
  for (std::size_t c = 0; c < n; ++c)
    for (Index before : vehicle.covers[c].first) boost::add_edge(c, static_cast<std::size_t>(before), graph);
  std::vector<std::size_t> order;  // reverse topological: what must be off first comes first
  boost::topological_sort(graph, std::back_inserter(order));
  std::vector<Index> out;
  for (std::size_t c : order)
    if (wanted[c] && !contains(off, static_cast<Index>(c))) out.push_back(static_cast<Index>(c));
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
