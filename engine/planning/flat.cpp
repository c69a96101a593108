#include "planning/flat.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <numeric>

namespace lostspark::planning {
namespace {

constexpr double k_no_weight = 1e-14;  // fault sets below are gone, whatever they cost

// Kept fault sets: the heaviest, and what their repairs leave behind.
std::vector<int> kept_sets(const Problem& p, const JobState& s, double mass, std::size_t most) {
  const std::size_t n = s.belief.size();
  std::vector<int> order;
  for (std::size_t h = 0; h < n; ++h)
    if (s.belief[h] > k_no_weight * mass) order.push_back(static_cast<int>(h));
  if (order.size() > most) {
    std::stable_sort(order.begin(), order.end(), [&](int a, int b) { return s.belief[a] > s.belief[b]; });
    order.resize(most);
  }
  std::vector<char> in(n, 0);
  for (int h : order) in[h] = 1;
  for (std::size_t i = 0; i < order.size(); ++i)
    for (std::size_t k = 0; k < p.repairs.size(); ++k) {
      const int a = p.repairs[k].after[order[i]];
      if (a == k_mended || in[a] || s.repaired[k]) continue;
      in[a] = 1;
      order.push_back(a);
    }
  std::sort(order.begin(), order.end());
  return order;
}

}  // namespace

Flat::Flat(const Problem& p, const JobState& s, std::size_t most)
    : check(p.check), comeback(p.comeback), refer(p.refer), off(s.off), setup(s.setup),
      setup_minutes(p.setup_minutes), cover_minutes_(p.cover_minutes) {
  const double mass = std::accumulate(s.belief.begin(), s.belief.end(), 0.0);
  const auto kept = kept_sets(p, s, mass, most);
  n = static_cast<int>(kept.size());
  std::vector<int> place(s.belief.size(), -1);
  double in = 0;
  for (int i = 0; i < n; ++i) {
    place[kept[i]] = i;
    belief.push_back(s.belief[kept[i]]);
    in += belief.back();
    const bool fine = p.nothing[kept[i]];
    ends.push_back(fine ? 1 : p.passes[kept[i]]);
    wrong.push_back(fine ? 0 : p.passes[kept[i]]);
    if (ends.back() > 0) hiding.push_back(i);
    if (fine) idle.push_back(i);
  }
  dropped = 1 - in / mass;
  for (double& b : belief) b /= in;

  int row = 0;
  for (std::size_t t = 0; t < p.tests.size(); ++t) {
    if (s.tested[t]) continue;
    const auto& test = p.tests[t];
    tests.push_back({test.minutes, test.needs, test.setup, test.outcomes, row, static_cast<int>(t),
                     static_cast<int>(tests.size())});
    for (std::size_t other = 0; test.twins >= 0 && other + 1 < tests.size(); ++other)
      if (p.tests[tests[other].origin].twins == test.twins) {
        std::swap(tests.back().next_twin, tests[other].next_twin);
        break;
      }
    for (int o = 0; o < test.outcomes; ++o)
      for (int h : kept) rows.push_back(test.p[static_cast<std::size_t>(h) * test.outcomes + o]);
    row += test.outcomes;
  }
  for (std::size_t k = 0; k < p.repairs.size(); ++k) {
    if (s.repaired[k]) continue;
    const auto& repair = p.repairs[k];
    Repair flat{repair.minutes, repair.price, repair.swap_minutes, repair.needs, static_cast<int>(touches.size()), 0,
                static_cast<int>(k)};
    for (int i = 0; i < n; ++i) {
      const int a = repair.after[kept[i]];
      if (a == kept[i] || p.nothing[kept[i]]) continue;
      const bool clean = a == k_mended || p.nothing[a];
      const double passes = clean ? 1 : p.passes[a];
      const double works = repair.success, fails_not = ends[i];
      touches.push_back({i, clean ? i : place[a], works * (passes - fails_not),
                         (clean ? 0 : works * passes) + (1 - works) * wrong[i], clean ? 0 : works * (1 - passes),
                         (1 - works) * (1 - fails_not)});
      pairs |= !clean;
    }
    flat.end = static_cast<int>(touches.size());
    if (flat.end == flat.begin) continue;  // touches nothing
    repairs.push_back(flat);
    swapped.push_back(s.swapped[k] || repair.swap_minutes < 0);
  }
  // The same touches by fault set.
  std::vector<std::vector<std::pair<int, int>>> by_set(n);
  for (std::size_t k = 0; k < repairs.size(); ++k)
    for (int x = repairs[k].begin; x < repairs[k].end; ++x) by_set[touches[x].h].push_back({static_cast<int>(k), x});
  std::map<std::vector<std::pair<int, bool>>, int> kind_of;
  for (int h = 0; h < n; ++h) {
    by_set_begin.push_back(static_cast<int>(by_set_repair.size()));
    std::vector<std::pair<int, bool>> mends;
    for (auto [k, x] : by_set[h]) {
      by_set_repair.push_back(k);
      by_set_touch.push_back(x);
      mends.push_back({k, touches[x].moves > 0 || touches[x].after != h});
    }
    kind.push_back(kind_of.emplace(mends, static_cast<int>(kind_of.size())).first->second);
  }
  by_set_begin.push_back(static_cast<int>(by_set_repair.size()));
  kinds = static_cast<int>(kind_of.size());
  find_ways();
}

void Flat::find_ways() {
  // Cheapest ways to mend each set were it known; at most two repairs deep beyond the first, more is not needed for pairs.
  ways_.assign(n, {});
  std::vector<char> hides(n, 0);
  for (int h = 0; h < n; ++h) hides[h] = wrong[h] > 0;
  for (int round = 0; round < 3; ++round)
    for (const auto& t : touches)
      if (t.wrong > 0 || hides[t.after]) hides[t.h] = 1;
  const auto add = [&](std::vector<Way>& ways, Way way) {
    for (const auto& w : ways)
      if (w.minutes <= way.minutes && (w.needs & ~way.needs) == 0) return;
    std::erase_if(ways, [&](const Way& w) { return way.minutes <= w.minutes && (way.needs & ~w.needs) == 0; });
    ways.push_back(way);
  };
  for (int h = 0; h < n; ++h) {
    if (ends[h] > 0 && wrong[h] == 0) add(ways_[h], {check, 0});
    if (hides[h]) add(ways_[h], {check + comeback, 0});
  }
  for (int round = 0; round < 3; ++round)
    for (std::size_t k = 0; k < repairs.size(); ++k) {
      const auto& r = repairs[k];
      for (int x = r.begin; x < r.end; ++x) {
        const auto& t = touches[x];
        if (t.after == t.h) {
          if (round) continue;
          add(ways_[t.h], {r.minutes + r.price + check, r.needs});
          if (!swapped[k]) add(ways_[t.h], {r.swap_minutes + r.price + check, r.needs});
        } else {
          const auto rest = ways_[t.after];
          for (const auto& w : rest) add(ways_[t.h], {r.minutes + r.price + check + w.minutes, r.needs | w.needs});
        }
      }
    }
}

std::span<const double> Flat::least(CoverMask covers_off) {
  auto [it, fresh] = least_.try_emplace(covers_off);
  if (fresh) {
    it->second.assign(n, refer);
    for (int h = 0; h < n; ++h)
      for (const auto& w : ways_[h]) it->second[h] = std::min(it->second[h], w.minutes + access(w.needs, covers_off));
  }
  return it->second;
}

}  // namespace lostspark::planning
