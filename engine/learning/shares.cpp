#include "learning/shares.hpp"

#include <algorithm>
#include <cmath>
#include <map>

#include "learning/dirichlet.hpp"
#include "learning/pattern.hpp"

namespace lostspark::learning {
namespace {

using Shares = std::map<std::string, double>;

constexpr double k_no_doubt = 0.999;  // a job that gives one class this much counts as confirmed

/// One network while it is being learned.
struct Working {
  const NetworkCases* cases = nullptr;
  double odds_sum = 0;              ///< prior odds of any fault: the shares' common factor
  std::vector<double> file, share;  ///< sum to 1
  std::vector<double> centre;
  double centre_size = 0;
  Concentration k;
  std::vector<double> count, unsure, confirmed;  ///< unsure: sum of r (1 - r)
  double total = 0;
  [[nodiscard]] double certain(std::size_t c) const {
    // Louis 1982: what the jobs tell of this share, against what they would with every fault seen (from memory).
    const double w = std::clamp(share[c], 1e-9, 1 - 1e-9);
    if (total <= 0) return 1;
    return std::clamp(1 - unsure[c] / (w * (1 - w) * total), 0.02, 1.0);
  }
};

void expect(Working& w) {
  const std::size_t n = w.share.size();
  w.count.assign(n, 0.0);
  w.unsure.assign(n, 0.0);
  w.confirmed.assign(n, 0.0);
  std::vector<double> odds(n), in_job(n, 0.0);
  std::vector<std::size_t> touched;
  for (std::size_t c = 0; c < n; ++c) odds[c] = w.odds_sum * w.share[c];
  for (const auto& group : w.cases->groups) {
    double sum = 0;
    touched.clear();
    const auto weight = [&](const WeightedSet& s) {
      return s.likelihood * (s.a >= 0 ? odds[static_cast<std::size_t>(s.a)] : 1.0) *
             (s.b >= 0 ? odds[static_cast<std::size_t>(s.b)] : 1.0);
    };
    for (std::size_t i = 0; i < group.count; ++i) sum += weight(w.cases->sets[group.first + i]);
    if (!(sum > 0)) continue;
    for (std::size_t i = 0; i < group.count; ++i) {
      const auto& s = w.cases->sets[group.first + i];
      const double r = weight(s) / sum;
      for (const auto row : {s.a, s.b}) {
        if (row < 0) continue;
        const auto c = static_cast<std::size_t>(row);
        if (in_job[c] == 0) touched.push_back(c);
        in_job[c] += r;
      }
    }
    for (const auto c : touched) {
      const double r = std::min(in_job[c], 1.0);
      w.count[c] += group.jobs * r;
      w.unsure[c] += group.jobs * r * (1 - r);
      if (r > k_no_doubt) w.confirmed[c] += group.jobs;
      in_job[c] = 0;
    }
  }
  w.total = 0;
  for (const double c : w.count) w.total += c;
}

void normalise(std::vector<double>& shares) {
  double sum = 0;
  for (const double s : shares) sum += s;
  if (sum > 0)
    for (double& s : shares) s /= sum;
}

/// Counts and file shares added up over networks.
struct Pool {
  Shares count, file, expected;  ///< expected: count if the files were right
  double total = 0, jobs = 0;
  void add(const Working& w, double sign) {
    for (std::size_t c = 0; c < w.share.size(); ++c) {
      const auto& name = w.cases->classes[c];
      count[name] += sign * w.count[c];
      file[name] += sign * w.file[c];
      expected[name] += sign * w.file[c] * w.total;
    }
    total += sign * w.total;
    jobs += sign;
  }
};

/// How many times more often than the files say each class was met, shrunk to `above` (by class, 1 where absent).
/// Returns how many faults that stands on.
struct Multipliers {
  Shares factor;
  double size = 0;
  double concentration = 0;
};

Multipliers multipliers(const Pool& pool, const Multipliers& above) {
  Multipliers out;
  std::vector<double> counts, centre;
  std::vector<std::string> names;
  for (const auto& [name, share] : pool.file) {
    const double expected = pool.expected.at(name);
    const auto up = above.factor.find(name);
    names.push_back(name);
    counts.push_back(std::max(pool.count.at(name), 0.0));
    // With jobs: what the files of these networks expect; without any the plain mean of the files.
    centre.push_back(std::max(pool.total > 0.5 ? expected : share, 0.0) * (up == above.factor.end() ? 1 : up->second));
  }
  if (names.empty()) return above;
  auto file = centre;
  for (std::size_t c = 0; c < names.size(); ++c)
    if (const auto up = above.factor.find(names[c]); up != above.factor.end() && up->second > 0) file[c] /= up->second;
  normalise(file);
  normalise(centre);
  const double total = std::max(pool.total, 0.0);
  Concentration k = any_concentration();
  weigh(k, counts, centre);
  double sum = 0;
  for (std::size_t c = 0; c < names.size(); ++c) {
    double mean = 0;
    for (std::size_t i = 0; i < k.value.size(); ++i)
      mean += k.weight[i] * (k.value[i] * centre[c] + counts[c]) / (k.value[i] + total);
    sum += mean;
    out.factor[names[c]] = file[c] > 0 ? mean / file[c] : 1;
  }
  for (auto& [name, factor] : out.factor) factor /= sum;
  out.concentration = k.typical();
  // The centre stands on its own jobs and on what stands above it, as far as that binds it.
  out.size = total + (above.size > 0 ? above.size * out.concentration / (above.size + out.concentration) : 0);
  return out;
}

void place_centre(Working& w, const Multipliers& family) {
  w.centre = w.file;
  for (std::size_t c = 0; c < w.centre.size(); ++c)
    if (const auto f = family.factor.find(w.cases->classes[c]); f != family.factor.end()) w.centre[c] *= f->second;
  normalise(w.centre);
  // Without any other job the centre is the files themselves: taken as the centre, K says how far off they are.
  w.centre_size = family.size > 0 ? family.size : 1e9;
}

}  // namespace

void NetworkCases::add(const std::string& pattern, double jobs) {
  PatternGroup group{jobs, sets.size(), 0};
  const auto row = [this](const std::string& name) {
    const auto at = std::lower_bound(classes.begin(), classes.end(), name);
    return at != classes.end() && *at == name ? static_cast<std::int32_t>(at - classes.begin()) : std::int32_t{-1};
  };
  for (const auto& entry : read_pattern(pattern)) {
    WeightedSet set;
    set.likelihood = static_cast<float>(entry.likelihood);
    bool known = entry.classes.size() <= 2;
    if (!entry.classes.empty()) known = known && (set.a = row(entry.classes[0])) >= 0;
    if (entry.classes.size() == 2) known = known && (set.b = row(entry.classes[1])) >= 0;
    if (known) sets.push_back(set);
  }
  group.count = sets.size() - group.first;
  if (group.count > 0) groups.push_back(group);
}

LearnedShares learn_shares(const std::vector<NetworkCases>& all, const ShareOptions& options) {
  std::vector<Working> work;
  for (const auto& cases : all) {
    Working w;
    w.cases = &cases;
    for (const double o : cases.odds) w.odds_sum += o;
    w.file = cases.odds;
    normalise(w.file);
    w.share = w.file;
    work.push_back(std::move(w));
  }
  LearnedShares out;
  std::map<std::string, Multipliers> final_families;
  for (out.rounds = 1; out.rounds <= options.rounds; ++out.rounds) {
    Pool everything;
    std::map<std::string, Pool> families;
    for (auto& w : work) {
      expect(w);
      everything.add(w, 1);
      families[w.cases->family].add(w, 1);
    }
    double moved = 0;
    for (auto& w : work) {
      // Centre from the others' jobs: a network must not be shrunk towards itself.
      Pool class_pool = everything, family_pool = families[w.cases->family];
      class_pool.add(w, -1);
      family_pool.add(w, -1);
      const auto by_class = class_pool.jobs > 0.5 ? multipliers(class_pool, {}) : Multipliers{};
      const auto by_family = family_pool.jobs > 0.5 ? multipliers(family_pool, by_class) : by_class;
      place_centre(w, by_family);
      w.k = any_concentration();
      std::vector<double> seen(w.count.size());
      for (std::size_t c = 0; c < seen.size(); ++c) seen[c] = w.count[c] * w.certain(c);
      weigh(w.k, seen, w.centre);
      std::vector<double> next(w.share.size(), 0.0);
      for (std::size_t c = 0; c < next.size(); ++c)
        for (std::size_t i = 0; i < w.k.value.size(); ++i)
          next[c] += w.k.weight[i] * (w.k.value[i] * w.centre[c] + w.count[c]) / (w.k.value[i] + w.total);
      normalise(next);
      for (std::size_t c = 0; c < next.size(); ++c) moved = std::max(moved, std::abs(next[c] - w.share[c]));
      w.share = std::move(next);
    }
    if (moved < options.tolerance || out.rounds == options.rounds) {
      const auto by_class = multipliers(everything, {});
      for (const auto& [family, pool] : families) {
        SharesOf of{family, family, pool.total, 0, {}};
        const auto m = multipliers(pool, by_class);
        of.concentration = m.concentration;
        double file_sum = 0, learned_sum = 0;
        for (const auto& [name, share] : pool.file) {
          const double file = pool.total > 0.5 ? pool.expected.at(name) : share;
          of.classes.push_back({name, file, 0, pool.count.at(name), 0, file * m.factor.at(name), 0, 0});
          file_sum += file;
          learned_sum += of.classes.back().learned;
        }
        Concentration k = any_concentration();
        std::vector<double> counts, centre;
        for (auto& c : of.classes) {
          c.file /= file_sum;
          c.learned /= learned_sum;
          const auto up = by_class.factor.find(c.name);
          c.centre = c.file * (up == by_class.factor.end() ? 1 : up->second);
          counts.push_back(c.count);
          centre.push_back(c.centre);
        }
        normalise(centre);
        weigh(k, counts, centre);
        for (std::size_t c = 0; c < of.classes.size(); ++c) {
          of.classes[c].centre = centre[c];
          const auto e = estimate_share(k, centre[c], 1e9, counts[c], pool.total, 1);
          of.classes[c].low = e.low;
          of.classes[c].high = e.high;
        }
        out.families.push_back(std::move(of));
      }
      break;
    }
  }
  for (const auto& w : work) {
    SharesOf of{w.cases->network, w.cases->family, w.total, w.k.typical(), {}};
    for (std::size_t c = 0; c < w.share.size(); ++c) {
      const auto e = estimate_share(w.k, w.centre[c], w.centre_size, w.count[c], w.total, w.certain(c));
      of.classes.push_back({w.cases->classes[c], w.file[c], w.centre[c], w.count[c], w.confirmed[c], w.share[c],
                            std::min(e.low, w.share[c]), std::max(e.high, w.share[c])});
    }
    out.networks.push_back(std::move(of));
  }
  return out;
}

}  // namespace lostspark::learning
