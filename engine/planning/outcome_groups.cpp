#include "planning/outcome_groups.hpp"

#include <algorithm>
#include <numeric>

namespace lostspark::planning {
namespace {

struct Group {
  std::vector<double> by_class;
  double mass = 0, squares = 0;  // squares: of by_class
  std::pair<double, double> range;
  double loss = 0;  // of merging with the next one
};

double merging_loses(const Group& a, const Group& b) {
  if (a.mass <= 0 || b.mass <= 0) return 0;
  const double both = std::inner_product(a.by_class.begin(), a.by_class.end(), b.by_class.begin(), 0.0);
  return a.squares / a.mass + b.squares / b.mass - (a.squares + b.squares + 2 * both) / (a.mass + b.mass);
}

void absorb(Group& a, const Group& b) {
  for (std::size_t c = 0; c < a.by_class.size(); ++c) a.by_class[c] += b.by_class[c];
  a.mass += b.mass;
  a.squares = std::inner_product(a.by_class.begin(), a.by_class.end(), a.by_class.begin(), 0.0);
  a.range.second = b.range.second;
}

}  // namespace

void merge_outcomes(inference::OutcomeTable& table, std::size_t most) {
  if (table.ranges.empty() || table.outcomes <= most) return;
  const std::size_t classes = table.repairs.size();
  std::vector<Group> groups(table.outcomes);
  for (std::size_t o = 0; o < table.outcomes; ++o) {
    auto& g = groups[o];
    g.range = table.ranges[o];
    for (std::size_t c = 0; c < classes; ++c) {
      g.by_class.push_back(table.probability[c * table.outcomes + o]);
      g.mass += g.by_class.back();
      g.squares += g.by_class.back() * g.by_class.back();
    }
  }
  for (std::size_t o = 0; o + 1 < groups.size(); ++o) groups[o].loss = merging_loses(groups[o], groups[o + 1]);
  while (groups.size() > most) {
    const auto best = std::min_element(groups.begin(), groups.end() - 1,
                                       [](const Group& a, const Group& b) { return a.loss < b.loss; });
    absorb(*best, best[1]);
    const auto after = groups.erase(best + 1);
    if (after != groups.end()) after[-1].loss = merging_loses(after[-1], *after);
    if (after - 1 != groups.begin()) after[-2].loss = merging_loses(after[-2], after[-1]);
  }
  table.outcomes = groups.size();
  table.ranges.clear();
  table.probability.assign(classes * groups.size(), 0.0);
  for (std::size_t o = 0; o < groups.size(); ++o) {
    table.ranges.push_back(groups[o].range);
    for (std::size_t c = 0; c < classes; ++c) table.probability[c * groups.size() + o] = groups[o].by_class[c];
  }
}

}  // namespace lostspark::planning
