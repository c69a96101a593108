#include "planning/job_problem.hpp"

#include <algorithm>
#include <compare>
#include <map>
#include <string>

#include "planning/outcome_groups.hpp"

namespace lostspark::planning {
namespace {

constexpr std::size_t k_fine_outcomes = 40;  // of about equal probability, before they are merged
constexpr double k_least_weight = 1e-7;     // classes below play no part

bool contains(const std::vector<Index>& list, Index value) {
  return std::find(list.begin(), list.end(), value) != list.end();
}

/// Covers as bits; the 65th and later ones are counted in the own minutes of the steps that need them.
class Covers {
 public:
  Covers(const model::Vehicle& vehicle, const BenchState& bench, Problem& problem)
      : vehicle_(vehicle), bench_(bench), problem_(problem) {}
  /// Bits of the covers still on that this step needs off; `extra` gets the minutes of those without a bit.
  CoverMask needs(const std::vector<Index>& covers, double& extra) {
    CoverMask mask = 0;
    for (Index c : covers_to_open(vehicle_, covers, bench_.covers_off)) {
      const auto& cover = vehicle_.covers[c];
      const double minutes = cover.remove_min + cover.refit_min;
      auto it = bit_.find(c);
      if (it == bit_.end() && bit_.size() < 64) {
        it = bit_.emplace(c, static_cast<int>(bit_.size())).first;
        problem_.cover_minutes.push_back(minutes);
      }
      if (it == bit_.end()) extra += minutes;
      else mask |= CoverMask{1} << it->second;
    }
    return mask;
  }

 private:
  const model::Vehicle& vehicle_;
  const BenchState& bench_;
  Problem& problem_;
  std::map<Index, int> bit_;
};

}  // namespace

JobProblem job_problem(const inference::Posterior& posterior, const BenchState& bench, const std::vector<Index>& tests,
                       std::size_t outcome_groups, std::size_t levels) {
  const auto& v = inference::vehicle_of(posterior.compiled());
  const auto& workshop = inference::workshop_of(posterior.compiled());
  JobProblem out;
  Problem& p = out.problem;
  p.check = workshop.check_min;
  p.comeback = workshop.comeback_min;
  p.refer = workshop.refer_min;

  // Fault sets: repairs needed and level of what readings share, and what a first repair leaves of two.
  struct Set {
    Index first = model::k_none, second = model::k_none;
    int level = -1;
    auto operator<=>(const Set&) const = default;
  };
  const auto set_of = [](Index a, Index b, int level) { return a < b ? Set{b, a, level} : Set{a, b, level}; };  // k_none last
  std::map<Set, int> index;
  const auto add = [&](Set set) {
    const auto [it, fresh] = index.emplace(set, static_cast<int>(p.prior.size()));
    if (fresh) {
      p.prior.push_back(0);
      p.passes.push_back(set.first < 0);
      p.nothing.push_back(set.first < 0);
    }
    return it->second;
  };
  auto tables = posterior.outcome_tables(tests, std::max(k_fine_outcomes, outcome_groups), levels);
  for (auto& table : tables) merge_outcomes(table, outcome_groups);
  std::vector<int> set_of_class;
  if (tables.empty()) {
    for (const auto& set : posterior.fault_sets(k_least_weight)) {
      std::vector<Index> needed;
      for (Index mode : set.modes)
        if (v.modes[mode].repair >= 0 && !contains(needed, v.modes[mode].repair)) needed.push_back(v.modes[mode].repair);
      needed.resize(2, model::k_none);
      p.prior[add(set_of(needed[0], needed[1], -1))] += set.probability;
    }
  } else {
    for (std::size_t c = 0; c < tables[0].repairs.size(); ++c) {
      auto needed = tables[0].repairs[c];
      needed.resize(2, model::k_none);
      double weight = 0;
      for (std::size_t o = 0; o < tables[0].outcomes; ++o) weight += tables[0].probability[c * tables[0].outcomes + o];
      set_of_class.push_back(weight > k_least_weight ? add(set_of(needed[0], needed[1], tables[0].level[c])) : -1);
      if (weight > k_least_weight) p.prior[set_of_class.back()] += weight;
    }
  }
  // Nothing carries weight: taken as nothing wrong, so that there is an answer.
  if (p.prior.empty()) p.prior[add({})] = 1;
  std::vector<Set> sets(p.prior.size());
  for (const auto& [set, i] : index) sets[i] = set;
  // What is left keeps its level where it is split itself.
  const auto left_of = [&](Index left, int level) {
    const Set same{left, model::k_none, level};
    return index.contains(same) ? same : Set{left, model::k_none, -1};
  };
  for (std::size_t i = 0; i < sets.size(); ++i)
    if (sets[i].second >= 0)
      for (Index left : {sets[i].first, sets[i].second}) {
        const auto set = left_of(left, sets[i].level);
        if (add(set) == static_cast<int>(sets.size())) sets.push_back(set);
      }
  const std::size_t n = sets.size();

  // Set-ups that stand together are one; number 0 is the bare state.
  Covers covers(v, bench, p);
  std::map<std::vector<Index>, int> setups{{{}, 0}};
  p.setup_minutes = {0};
  const auto setup_of = [&](std::vector<Index> standing) {
    std::sort(standing.begin(), standing.end());
    const auto [it, fresh] = setups.emplace(standing, static_cast<int>(p.setup_minutes.size()));
    if (fresh) {
      double minutes = 0;
      for (Index s : standing) minutes += v.setups[s].minutes;
      p.setup_minutes.push_back(minutes);
    }
    return it->second;
  };
  const int standing = setup_of(bench.setups_standing);
  std::map<std::string, int> twins;
  for (std::size_t t = 0; t < tests.size(); ++t) {
    const auto& test = v.tests[tests[t]];
    Problem::Test row;
    row.minutes = access_minutes(v, test, bench);
    double opening = 0;
    for (Index c : covers_to_open(v, test.covers, bench.covers_off))
      opening += v.covers[c].remove_min + v.covers[c].refit_min;
    if (test.blind_min < 0 || opening <= test.blind_min) {
      double extra = 0;
      row.needs = covers.needs(test.covers, extra);
      row.minutes += extra - opening;
    }
    row.setup = setup_of(v.scenes[test.scene].setups);
    if (row.setup != standing) row.minutes -= p.setup_minutes[row.setup];
    row.minutes = std::max(row.minutes, 0.5);
    row.twins = twins.emplace(test.id.substr(0, test.id.find('/')), static_cast<int>(twins.size())).first->second;
    const auto& table = tables[t];
    row.outcomes = static_cast<int>(table.outcomes);
    row.p.assign(n * table.outcomes, 0.0);
    std::vector<double> mean(table.outcomes, 0.0);
    for (std::size_t c = 0; c < set_of_class.size(); ++c)
      for (std::size_t o = 0; o < table.outcomes; ++o) {
        mean[o] += table.probability[c * table.outcomes + o];
        if (set_of_class[c] >= 0) row.p[set_of_class[c] * table.outcomes + o] += table.probability[c * table.outcomes + o];
      }
    for (std::size_t h = 0; h < n; ++h) {
      double sum = 0;
      for (std::size_t o = 0; o < table.outcomes; ++o) sum += row.p[h * table.outcomes + o];
      // What a first repair leaves of a pair and is no suspect now: taken to read as the whole does.
      for (std::size_t o = 0; o < table.outcomes; ++o)
        row.p[h * table.outcomes + o] = sum > 0 ? row.p[h * table.outcomes + o] / sum : mean[o];
      if (sum <= 0) {
        double whole = 0;
        for (double m : mean) whole += m;
        for (std::size_t o = 0; o < table.outcomes; ++o) row.p[h * table.outcomes + o] /= whole;
      }
    }
    p.tests.push_back(std::move(row));
    out.tests.push_back(tests[t]);
    out.ranges.push_back(table.ranges);
  }

  for (std::size_t r = 0; r < v.repairs.size(); ++r) {
    const auto& repair = v.repairs[r];
    Problem::Repair row;
    bool touches = false;
    const auto mends = [&](Index needed) {
      return needed == static_cast<Index>(r) ||
             (needed >= 0 && model::renews(v, static_cast<Index>(r), v.repairs[needed].component));
    };
    for (std::size_t h = 0; h < n; ++h) {
      const auto [a, b, level] = sets[h];
      const bool first = mends(a), second = mends(b);
      touches |= first || second;
      if (!first && !second) row.after.push_back(static_cast<int>(h));
      else if (b < 0 || (first && second)) row.after.push_back(k_mended);
      else row.after.push_back(index.at(left_of(first ? b : a, level)));
    }
    if (!touches) continue;
    row.minutes = repair.labour_min;
    row.price = repair.price / std::max(workshop.labour_rate_per_hour, 1e-6) * 60;
    row.needs = covers.needs(repair.covers, row.minutes);
    row.success = posterior.success(static_cast<Index>(r));
    p.repairs.push_back(std::move(row));
    out.repairs.push_back(static_cast<Index>(r));
  }
  out.state = start_of(p);
  out.state.setup = standing;
  validate(p);
  return out;
}

}  // namespace lostspark::planning
