#include "inference/posterior.hpp"

#include <algorithm>
#include <cmath>
#include <map>

#include "base/error.hpp"
#include "inference/posterior_impl.hpp"
#include "model/generative.hpp"

namespace lostspark::inference {
namespace {

constexpr std::size_t k_most_pairs = 500;  // evaluated coarsely, by prior times the better single's likelihood
constexpr std::size_t k_few_pairs = 60;    // so many are evaluated whatever it takes
constexpr std::size_t k_pair_evaluations = 250'000;  // of the likelihood; beyond it further pairs are left out
// Grades of effort, and what the likelihood may cost with singles before the next is taken; the last has no limit.
constexpr Effort k_efforts[] = {{}, {3, 1, 6, 16, 4000}, {1, 0, 3, 12, 2000}};
constexpr std::size_t k_single_evaluations = 1'000'000;
constexpr double k_fine_share = 0.01;                // of the mass: single faults above it are evaluated on fine cells
constexpr double k_gone = -1e300;
constexpr std::size_t k_most_pair_patterns = 12;
constexpr double k_covered = 0.9;           // weight of cells with branches that predictions may rest on
constexpr double k_needs_branches = 1e-3;   // weight of a cell that predictions must not do without
constexpr std::size_t k_most_refined = 60;  // evaluated on medium cells, likeliest candidates first

double log_add(double a, double b) {
  const double high = std::max(a, b);
  return high <= -1e299 ? high : high + std::log(std::exp(a - high) + std::exp(b - high));
}

class Updater {
 public:
  Updater(const CompiledPtr& compiled, const model::Evidence& evidence, bool pairs)
      : impl_(std::make_shared<Posterior::Impl>()), c_(*compiled), with_pairs_(pairs) {
    impl_->compiled = compiled;
    impl_->evidence = evidence;
    impl_->observations = observe(c_, evidence);
    impl_->mistaken.assign(impl_->observations.list.size(), 0.0);
    likelihood_.emplace(c_, impl_->observations);
  }

  std::shared_ptr<const Posterior::Impl> run() {
    for (const auto& effort : k_efforts) {
      drop_from(0);
      impl_->work = {};
      impl_->work.effort = static_cast<int>(&effort - std::begin(k_efforts));
      likelihood_->effort = effort;
      likelihood_->evaluations = 0;
      likelihood_->best = -1e300;
      const bool last = &effort == std::end(k_efforts) - 1;
      likelihood_->most_evaluations = last ? std::numeric_limits<std::size_t>::max() : k_single_evaluations;
      if (all_singles()) break;
    }
    impl_->work.evaluations = likelihood_->evaluations;
    likelihood_->most_evaluations = std::numeric_limits<std::size_t>::max();
    const double singles = total();
    if (with_pairs_)
      pairs(singles);
    else
      impl_->unexplored = 0.5 * c_.mode_odds_sum / (1 + 0.5 * c_.mode_odds_sum);
    finish();
    return impl_;
  }

 private:
  struct Present {
    Index mode = model::k_none;
    std::uint64_t bits = 0;
  };

  /// Log probability of all findings given which faults were there when.
  double finding(Present a, Present b) {
    double log = 0;
    const auto& list = impl_->observations.list;
    finding_shares_.assign(list.size(), 0.0);
    for (std::size_t o = 0; o < list.size(); ++o) {
      if (!list[o].finding || list[o].duplicate_of >= 0) continue;
      std::array<Index, 2> present{};
      std::size_t count = 0;
      for (const auto& p : {a, b})
        if (p.mode >= 0 && (p.bits >> o & 1)) present[count++] = p.mode;
      const std::span<const Index> there{present.data(), count};
      const double told = list[o].check
                              ? check_probability(list[o].word == 1, list[o].provocation, c_.vehicle->modes, there)
                              : finding_probability(c_.vehicle->tests[list[o].test], list[o].word, there);
      const double good = (1 - list[o].mistaken) * told;
      const double bad = list[o].mistaken * list[o].mistaken_density;
      log += std::log(std::max(good + bad, 1e-30));
      finding_shares_[o] = bad / std::max(good + bad, 1e-30);
    }
    return log;
  }

  void add_cell(WeightedCell cell, Activity activity, double log_prior, double log, const std::vector<Branch>& branches,
                const std::vector<double>& shares) {
    cell.activity = activity;
    cell.log_prior = log_prior;
    cell.log_likelihood = log;
    cell.first_branch = impl_->branches.size();
    cell.branch_count = branches.size();
    impl_->branches.insert(impl_->branches.end(), branches.begin(), branches.end());
    impl_->cells.push_back(cell);
    shares_.push_back(shares);
    for (std::size_t o = 0; o < shares.size(); ++o)
      if (impl_->observations.list[o].finding) shares_.back()[o] = finding_shares_[o];
  }

  /// Nothing wrong, and all single faults. False: it took more work than the likelihood may spend.
  bool all_singles() {
    const std::size_t modes = c_.vehicle->modes.size();
    const auto spent = [this] { return likelihood_->evaluations > likelihood_->most_evaluations; };
    // Nothing wrong; its electrical likelihood serves every hypothesis that shows nothing.
    healthy_branches_.clear();
    const double healthy_prior = impl_->observations.healthy_log_weight + finding({}, {});
    healthy_ = likelihood_->log_likelihood({}, {}, healthy_prior, &healthy_branches_, &healthy_shares_);
    add_cell({}, {}, healthy_prior, healthy_, healthy_branches_, healthy_shares_);
    single_log_.assign(modes, -1e300);
    // A first look on medium cells; fine ones where a mode holds enough for severity to matter.
    std::vector<std::pair<std::size_t, std::size_t>> cells_of(modes);
    std::vector<double> mass(modes);
    for (std::size_t m = 0; m < modes && !spent(); ++m) {
      cells_of[m].first = impl_->cells.size();
      mass[m] = single(static_cast<Index>(m), k_medium);
      cells_of[m].second = impl_->cells.size();
    }
    if (spent()) return false;
    const double first_look = total();
    for (std::size_t m = 0; m < modes && !spent(); ++m) {
      if (!c_.modes[m].electrical || mass[m] < first_look + std::log(k_fine_share)) continue;
      for (std::size_t k = cells_of[m].first; k < cells_of[m].second; ++k) impl_->cells[k].log_prior = k_gone;
      single(static_cast<Index>(m), k_fine);
    }
    return !spent();
  }

  /// All cells of a single fault, at most this fine; returns the log of their sum.
  double single(Index mode, int finest) {
    const auto& table = c_.modes[mode];
    double sum = -1e300;
    for (const auto& pattern : impl_->observations.patterns[mode]) {
      const double prior = c_.log_odds[mode] + impl_->observations.log_weight[mode] +
                           impl_->observations.log_complaint[mode] + pattern.log_probability +
                           finding({mode, pattern.present}, {});
      WeightedCell cell;
      cell.a = mode;
      cell.a_now = pattern.present_now;
      cell.cell.a = mode;
      if (!table.electrical || pattern.active == 0) {
        // It showed nothing so far, so its cells share the healthy likelihood; readings to come may show it.
        const bool hidden = table.electrical && !impl_->observations.list.empty();
        const int level = hidden ? k_medium : k_fine;
        const std::size_t count = table.electrical && pattern.present_now ? table.count(level) : 1;
        for (std::size_t k = 0; k < count; ++k) {
          cell.cell.level = level;
          cell.cell.cell_a = static_cast<std::uint32_t>(k);
          const double share = count > 1 ? std::log(table.cells[level].weight[k]) : 0.0;
          add_cell(cell, {}, prior + share, healthy_, healthy_branches_, healthy_shares_);
        }
        sum = log_add(sum, prior + healthy_);
        continue;
      }
      // Unlikely patterns need no fine severity.
      const int level = pattern.log_probability < std::log(0.25) ? k_medium : finest;
      cell.cell.level = level;
      for (std::size_t k = 0; k < table.count(level); ++k) {
        cell.cell.cell_a = static_cast<std::uint32_t>(k);
        const double log_prior = prior + std::log(table.cells[level].weight[k]);
        evaluate(cell, {pattern.active, 0}, log_prior);
        sum = log_add(sum, log_prior + impl_->cells.back().log_likelihood);
        ++impl_->work.singles_cells;
      }
    }
    single_log_[mode] =
        sum - c_.log_odds[mode] - impl_->observations.log_weight[mode] - impl_->observations.log_complaint[mode];
    return sum;
  }

  void evaluate(const WeightedCell& cell, Activity activity, double log_prior) {
    scratch_branches_.clear();
    const double log =
        likelihood_->log_likelihood(cell.cell, activity, log_prior, &scratch_branches_, &scratch_shares_);
    add_cell(cell, activity, log_prior, log, scratch_branches_, scratch_shares_);
  }

  /// The same for a pair of which one member showed nothing: the readings know the other alone, and that is worked out once
  /// for all its pairs.
  void evaluate_alone(const WeightedCell& cell, Activity activity, double log_prior) {
    const bool first = activity.a != 0;
    const auto [found, fresh] =
        alone_.try_emplace({first ? cell.a : cell.b, cell.cell.level, first ? cell.cell.cell_a : cell.cell.cell_b,
                            first ? activity.a : activity.b});
    auto& known = found->second;
    if (fresh)
      known.log = likelihood_->log_likelihood(cell.cell, activity, log_prior, &known.branches, &known.shares);
    add_cell(cell, activity, log_prior, known.log, known.branches, known.shares);
  }

  double total() const {
    double sum = -1e300;
    for (const auto& cell : impl_->cells) sum = log_add(sum, cell.log_prior + cell.log_likelihood);
    return sum;
  }

  double pair_prior(Index a, Index b) const {
    const auto& o = impl_->observations;
    return c_.pair_log_odds(a, b) + o.log_weight[a] + o.log_weight[b] +
           std::max(o.log_complaint[a], o.log_complaint[b]);
  }

  /// A way in which two faults were there and showed themselves.
  struct Ways {
    double log_probability = 0;
    const Pattern *a = nullptr, *b = nullptr;
  };
  /// The likeliest, above `least` and at least one; those left out count as the kept ones come out.
  static std::vector<Ways> likeliest_ways(const std::vector<Pattern>& pa, const std::vector<Pattern>& pb,
                                          double least) {
    double whole_a = 0, whole_b = 0, kept = 0;
    for (const auto& x : pa) whole_a += std::exp(x.log_probability);
    for (const auto& y : pb) whole_b += std::exp(y.log_probability);
    std::vector<Ways> ways;  // the patterns themselves come likeliest first
    for (std::size_t i = 0; i < std::min(pa.size(), k_most_pair_patterns); ++i)
      for (std::size_t j = 0; (i + 1) * (j + 1) <= k_most_pair_patterns && j < pb.size(); ++j) {
        const double both = pa[i].log_probability + pb[j].log_probability;
        if ((i > 0 || j > 0) && both < std::log(least)) break;
        ways.push_back({both, &pa[i], &pb[j]});
        kept += std::exp(both);
      }
    for (auto& way : ways) way.log_probability += std::log(whole_a * whole_b / kept);
    return ways;
  }

  /// All cells of a pair at one level; returns the log of their sum.
  double pair(Index a, Index b, int level) {
    const auto &pa = impl_->observations.patterns[a], &pb = impl_->observations.patterns[b];
    const PairCorrection* correction = c_.joint(a, b) ? &c_.correction(a, b, level) : nullptr;
    double sum = -1e300;
    const auto ways = likeliest_ways(pa, pb, level == k_coarse ? 0.12 : 1e-3);
    for (const auto& [both, first, second] : ways) {
      const auto &x = *first, &y = *second;
      const double prior = pair_prior(a, b) + both + finding({a, x.present}, {b, y.present});
      const bool shows_a = c_.modes[a].electrical && x.active != 0, shows_b = c_.modes[b].electrical && y.active != 0;
      // A member that showed nothing keeps its middle cell; where neither did, all cells share the healthy likelihood.
      const bool neither = !shows_a && !shows_b;
      const bool all_a = shows_a || (neither && c_.modes[a].electrical),
                 all_b = shows_b || (neither && c_.modes[b].electrical);
      const std::size_t na = all_a ? c_.modes[a].count(level) : 1, nb = all_b ? c_.modes[b].count(level) : 1;
      for (std::size_t i = 0; i < na; ++i)
        for (std::size_t j = 0; j < nb; ++j) {
          WeightedCell cell;
          cell.a = a;
          cell.b = b;
          cell.a_now = x.present_now;
          cell.b_now = y.present_now;
          cell.cell = {a,
                       b,
                       level,
                       static_cast<std::uint32_t>(all_a ? i : c_.modes[a].count(level) / 2),
                       static_cast<std::uint32_t>(all_b ? j : c_.modes[b].count(level) / 2),
                       correction};
          double log_prior = prior;
          if (all_a) log_prior += std::log(c_.modes[a].cells[level].weight[i]);
          if (all_b) log_prior += std::log(c_.modes[b].cells[level].weight[j]);
          if (neither)
            add_cell(cell, {}, log_prior, healthy_, healthy_branches_, healthy_shares_);
          else if (shows_a && shows_b)
            evaluate(cell, {x.active, y.active}, log_prior);
          else
            evaluate_alone(cell, {shows_a ? x.active : 0, shows_b ? y.active : 0}, log_prior);
          sum = log_add(sum, log_prior + impl_->cells.back().log_likelihood);
          ++impl_->work.pair_cells;
        }
    }
    return sum;
  }

  void drop_from(std::size_t cell) {
    if (cell >= impl_->cells.size()) return;
    impl_->branches.resize(impl_->cells[cell].first_branch);
    impl_->cells.resize(cell);
    shares_.resize(cell);
  }

  void pairs(double singles) {
    struct Candidate {
      double score;
      Index a, b;
    };
    // Two faults and two mistakes at once is beyond what a handful of readings can tell: one mistake less with pairs.
    likelihood_->mistake_limit = std::max(c_.options.mistakes - 1, 0);
    std::vector<Candidate> candidates;
    const auto modes = static_cast<Index>(c_.vehicle->modes.size());
    for (Index a = 0; a < modes; ++a)
      for (Index b = a + 1; b < modes; ++b)
        if (c_.vehicle->modes[a].component != c_.vehicle->modes[b].component)
          candidates.push_back({pair_prior(a, b) + std::max(single_log_[a], single_log_[b]), a, b});
    const std::size_t count = std::min(candidates.size(), k_most_pairs);
    std::partial_sort(
        candidates.begin(), candidates.begin() + static_cast<std::ptrdiff_t>(count), candidates.end(),
        [](const auto& x, const auto& y) { return std::tie(y.score, x.a, x.b) < std::tie(x.score, y.a, y.b); });
    double pair_total = -1e300;
    std::vector<double> sums;  // by candidate
    likelihood_->evaluations = 0;
    // Many readings that contradict each other have many explanations: the likeliest pairs are heard, not all.
    for (std::size_t k = 0; k < count && (k < k_few_pairs || likelihood_->evaluations < k_pair_evaluations); ++k) {
      const auto& candidate = candidates[k];
      const std::size_t start = impl_->cells.size();
      double sum = pair(candidate.a, candidate.b, k_coarse);
      const double so_far = log_add(log_add(singles, pair_total), sum);
      if (sum - so_far > std::log(c_.options.refine_pairs_above) && impl_->work.refined_pairs < k_most_refined) {
        drop_from(start);
        sum = pair(candidate.a, candidate.b, k_medium);
        ++impl_->work.refined_pairs;
      } else if (sum - so_far < std::log(1e-8)) {
        drop_from(start);
      }
      pair_total = log_add(pair_total, sum);
      sums.push_back(sum);
    }
    impl_->work.pairs = sums.size();
    double tail_true = -1e300, tail_score = -1e300;
    for (std::size_t k = sums.size() - sums.size() / 4; k < sums.size(); ++k) {
      tail_true = log_add(tail_true, sums[k]);
      tail_score = log_add(tail_score, candidates[k].score);
    }
    // What was left out: the rest of the scores, scaled as the last quarter came out; triples as the Poisson law
    // continues singles and pairs. An estimate, not a bound.
    double rest = -1e300;
    for (std::size_t k = sums.size(); k < candidates.size(); ++k) rest = log_add(rest, candidates[k].score);
    rest += std::min(tail_true - tail_score, 0.0);
    const double all = log_add(singles, pair_total);
    const double m1 = std::exp(singles - all), m2 = std::exp(pair_total - all);
    impl_->unexplored = std::min(std::exp(rest - all) + 2.0 / 3 * m2 * m2 / std::max(m1, 1e-3), 1.0);
  }

  /// A cell's branches are kept against the best weight seen so far. Where that best has gone (a first look on coarser
  /// cells that promised more) a heavy cell may stand without one: it is looked at again by itself.
  void recover_branches() {
    auto& p = *impl_;
    double covered = 0;
    for (const auto& cell : p.cells)
      if (cell.branch_count > 0) covered += p.weight(cell);
    if (covered > k_covered) return;  // enough to predict from
    for (auto& cell : p.cells) {
      if (cell.branch_count > 0 || p.weight(cell) < k_needs_branches) continue;
      likelihood_->mistake_limit = std::max(c_.options.mistakes - (cell.b >= 0 ? 1 : 0), 0);
      scratch_branches_.clear();
      // First against its own weight, which is quick; where that came from mistakes without a state, against nothing.
      for (const double best : {cell.log_prior + cell.log_likelihood, -1e300}) {
        if (!scratch_branches_.empty()) break;
        likelihood_->best = best;
        likelihood_->log_likelihood(cell.cell, cell.activity, cell.log_prior, &scratch_branches_, &scratch_shares_);
      }
      cell.first_branch = p.branches.size();
      cell.branch_count = scratch_branches_.size();
      p.branches.insert(p.branches.end(), scratch_branches_.begin(), scratch_branches_.end());
    }
  }

  void finish() {
    auto& p = *impl_;
    p.log_total = total();
    p.component_probability.assign(c_.vehicle->components.size(), 0.0);
    p.mode_probability.assign(c_.vehicle->modes.size(), 0.0);
    for (std::size_t k = 0; k < p.cells.size(); ++k) {
      const auto& cell = p.cells[k];
      const double w = p.weight(cell);
      const Index ca = cell.a >= 0 && cell.a_now ? c_.vehicle->modes[cell.a].component : model::k_none;
      const Index cb = cell.b >= 0 && cell.b_now ? c_.vehicle->modes[cell.b].component : model::k_none;
      if (ca < 0 && cb < 0) p.nothing_wrong += w;
      if (ca >= 0) {
        p.component_probability[ca] += w;
        p.mode_probability[cell.a] += w;
      }
      if (cb >= 0) {
        if (cb != ca) p.component_probability[cb] += w;
        p.mode_probability[cell.b] += w;
      }
      if (w > 1e-9)
        for (std::size_t o = 0; o < p.mistaken.size(); ++o) p.mistaken[o] += w * std::min(shares_[k][o], 1.0);
    }
    recover_branches();
    // Cells too light to matter for predictions go.
    std::vector<WeightedCell> kept;
    for (const auto& cell : p.cells)
      if (p.weight(cell) > (p.cells.size() < 400 ? 0 : 1e-9)) kept.push_back(cell);
    p.cells = std::move(kept);
  }

  struct Known {
    double log = 0;
    std::vector<Branch> branches;
    std::vector<double> shares;
  };
  std::map<std::tuple<Index, int, std::uint32_t, std::uint64_t>, Known> alone_;  ///< by mode, level, cell, activity

  std::shared_ptr<Posterior::Impl> impl_;
  const Compiled& c_;
  bool with_pairs_ = true;
  std::optional<Likelihood> likelihood_;
  double healthy_ = 0;
  std::vector<Branch> healthy_branches_, scratch_branches_;
  std::vector<double> healthy_shares_, scratch_shares_, finding_shares_, single_log_;
  std::vector<std::vector<double>> shares_;
};

}  // namespace

Posterior update(const CompiledPtr& compiled, const model::Evidence& evidence) {
  return Posterior(Updater(compiled, evidence, compiled->options.pairs).run());
}

Posterior update_singles(const CompiledPtr& compiled, const model::Evidence& evidence) {
  return Posterior(Updater(compiled, evidence, false).run());
}

const std::vector<double>& Posterior::component_probability() const { return impl_->component_probability; }
double Posterior::nothing_wrong() const { return impl_->nothing_wrong; }
double Posterior::unexplored_mass() const { return impl_->unexplored; }
double Posterior::log_evidence() const { return impl_->log_total; }
const Work& Posterior::work() const { return impl_->work; }
const Compiled& Posterior::compiled() const { return *impl_->compiled; }

double Posterior::mistaken(std::size_t event) const {
  for (std::size_t o = 0; o < impl_->observations.list.size(); ++o)
    if (impl_->observations.list[o].event == event) return impl_->mistaken[o];
  return 0;
}

std::vector<Suspect> Posterior::suspects(double least) const {
  std::vector<Suspect> out;
  for (std::size_t m = 0; m < impl_->mode_probability.size(); ++m)
    if (impl_->mode_probability[m] > least)
      out.push_back({impl_->compiled->vehicle->modes[m].component, static_cast<Index>(m), impl_->mode_probability[m]});
  std::sort(out.begin(), out.end(), [](const Suspect& x, const Suspect& y) {
    return std::tie(y.probability, x.mode) < std::tie(x.probability, y.mode);
  });
  return out;
}

namespace {

enum class When { first, now };

std::vector<Posterior::FaultSet> merged_sets(const Posterior::Impl& impl, double least, When when) {
  std::map<std::pair<Index, Index>, double> merged;
  for (const auto& cell : impl.cells) {
    const bool all = when == When::first;
    Index a = all || cell.a_now ? cell.a : model::k_none, b = all || cell.b_now ? cell.b : model::k_none;
    if (b >= 0 && (a < 0 || b < a)) std::swap(a, b);
    merged[{a, b}] += impl.weight(cell);
  }
  std::vector<Posterior::FaultSet> out;
  for (const auto& [key, probability] : merged) {
    if (probability < least) continue;
    Posterior::FaultSet set;
    if (key.first >= 0) set.modes.push_back(key.first);
    if (key.second >= 0) set.modes.push_back(key.second);
    set.probability = probability;
    out.push_back(std::move(set));
  }
  std::sort(out.begin(), out.end(), [](const auto& x, const auto& y) {
    return std::tie(y.probability, x.modes) < std::tie(x.probability, y.modes);
  });
  return out;
}

}  // namespace

std::vector<Posterior::FaultSet> Posterior::fault_sets(double least) const {
  return merged_sets(*impl_, least, When::now);
}
std::vector<Posterior::FaultSet> Posterior::first_fault_sets(double least) const {
  return merged_sets(*impl_, least, When::first);
}

double Posterior::cures(Index repair) const {
  const auto& v = *impl_->compiled->vehicle;
  const auto cured = [&](Index mode, bool now) { return !now || model::mends(v, repair, mode); };
  double sum = 0;
  for (const auto& cell : impl_->cells) {
    const bool any = (cell.a >= 0 && cell.a_now) || (cell.b >= 0 && cell.b_now);
    if (!any) continue;
    if ((cell.a < 0 || cured(cell.a, cell.a_now)) && (cell.b < 0 || cured(cell.b, cell.b_now)))
      sum += impl_->weight(cell);
  }
  return sum * success(repair);
}

double Posterior::success(Index repair) const {
  int times = 0;
  for (const auto& event : impl_->evidence)
    if (const auto* done = std::get_if<model::Repaired>(&event)) times += done->repair == repair;
  return model::success_after(*impl_->compiled->vehicle, repair, times);
}

}  // namespace lostspark::inference
