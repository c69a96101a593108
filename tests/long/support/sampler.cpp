#include "sampler.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <memory>

namespace lostspark::long_checks {
namespace {

using Set = std::vector<Index>;  // sorted modes

/// Estimate of the likelihoods (one per combination of lives) of one set of faults that readings can notice.
class Estimate {
 public:
  Estimate(JobModel& job, Set modes, std::mt19937_64& random)
      : job_(job), modes_(std::move(modes)), random_(random), proposal_({}) {
    coordinates_.assign(job_.common(), Coordinate::normal);
    coordinates_.insert(coordinates_.end(), job_.severities(modes_), Coordinate::severity);
    proposal_ = Proposal(coordinates_);
    std::size_t combinations = 1;
    for (Index mode : modes_) {
      lives_.push_back(job_.lives(mode));
      combinations *= lives_.back().size();
    }
    weight_of_.assign(combinations, 1.0);
    for (std::size_t k = 0; k < combinations; ++k) {
      std::vector<std::uint64_t> present;
      std::size_t rest = k;
      for (std::size_t m = modes_.size(); m-- > 0;) {
        const auto& life = lives_[m][rest % lives_[m].size()];
        rest /= lives_[m].size();
        weight_of_[k] *= life.probability;
        present.insert(present.begin(), life.present);
      }
      weight_of_[k] *= job_.findings(modes_, present);
    }
    clear();
  }

  [[nodiscard]] const std::vector<std::vector<Life>>& lives() const { return lives_; }
  [[nodiscard]] const Set& modes() const { return modes_; }
  [[nodiscard]] std::size_t width() const { return weight_of_.size(); }
  [[nodiscard]] double draws() const { return static_cast<double>(count_); }
  [[nodiscard]] double spent() const { return spent_; }
  [[nodiscard]] double mean(std::size_t k) const { return count_ ? sum_[k] / static_cast<double>(count_) : 0; }
  /// Variance of the estimate of a linear combination of the likelihoods.
  [[nodiscard]] double variance(std::span<const double> gradient) const {
    if (count_ < 2) return 0;
    const double n = static_cast<double>(count_);
    double out = 0;
    for (std::size_t i = 0; i < width(); ++i)
      for (std::size_t j = 0; j < width(); ++j)
        out += gradient[i] * gradient[j] * (square_[i * width() + j] / n - mean(i) * mean(j));
    return std::max(out, 0.0) / n;
  }
  /// Its likelihood as a set of its own.
  [[nodiscard]] double whole() const {
    double out = 0;
    for (std::size_t k = 0; k < width(); ++k) out += weight_of_[k] * mean(k);
    return out;
  }
  /// Draws that carry the last batch.
  [[nodiscard]] double carried() const { return effective_size(last_.log_weight); }
  [[nodiscard]] double last_size() const { return static_cast<double>(last_.size()); }
  [[nodiscard]] const Proposal& proposal() const { return proposal_; }

  void begin_with(std::vector<Part> parts) {
    proposal_ = Proposal(coordinates_, std::move(parts));
    clear();
  }

  void draw(int n) {
    last_.width = coordinates_.size();
    last_.x.resize(static_cast<std::size_t>(n) * last_.width);
    last_.log_weight.resize(static_cast<std::size_t>(n));
    std::uniform_real_distribution<double> unit(0, 1);
    std::vector<double> value(width());
    for (int k = 0; k < n; ++k) {
      const std::span<double> x{&last_.x[static_cast<std::size_t>(k) * last_.width], last_.width};
      proposal_.draw(random_, x, (k + unit(random_)) / n);
      const double log_ratio = proposal_.log_ratio(x);
      double total = 0;
      if (std::isinf(log_ratio)) {
        std::fill(value.begin(), value.end(), 0.0);
      } else {
        job_.likelihood(modes_, lives_, x, value);
        const double ratio = std::exp(log_ratio);
        for (std::size_t i = 0; i < width(); ++i) {
          value[i] *= ratio;
          total += weight_of_[i] * value[i];
        }
      }
      last_.log_weight[static_cast<std::size_t>(k)] = total > 0 ? std::log(total) : -std::numeric_limits<double>::infinity();
      for (std::size_t i = 0; i < width(); ++i) {
        sum_[i] += value[i];
        for (std::size_t j = 0; j < width(); ++j) square_[i * width() + j] += value[i] * value[j];
      }
      ++count_;
    }
    spent_ += n;
  }

  /// One round of adaptation from the last batch; true when the fit used the weights as they are.
  bool adapt(int n) {
    double power = 1;
    const double wanted = std::min(0.1 * last_size(), 150.0);
    while (power > 0.02 && effective_size(last_.log_weight, power) < wanted) power *= 0.7;
    choose_dims();
    if (dims_.empty()) return true;
    const double size = effective_size(last_.log_weight, power);
    auto parts = fit(last_, power, dims_, 1 + (size > 15 * static_cast<double>(dims_.size())) + (size > 40 * static_cast<double>(dims_.size())), random_);
    proposal_ = Proposal(coordinates_, defended(std::move(parts), 0.15));
    clear();
    draw(n);
    return power == 1;
  }

 private:
  void clear() {
    sum_.assign(width(), 0.0);
    square_.assign(width() * width(), 0.0);
    count_ = 0;
  }

  /// Coordinates that move the likelihood near the best draws; the rest stay with the prior, which is never wrong.
  void choose_dims() {
    std::vector<std::size_t> best(last_.size());
    for (std::size_t k = 0; k < best.size(); ++k) best[k] = k;
    const std::size_t looks = std::min<std::size_t>(3, best.size());
    std::partial_sort(best.begin(), best.begin() + static_cast<std::ptrdiff_t>(looks), best.end(),
                      [&](std::size_t a, std::size_t b) { return last_.log_weight[a] > last_.log_weight[b]; });
    std::set<int> chosen(dims_.begin(), dims_.end());
    std::vector<double> value(width()), base(width());
    const auto log_at = [&](std::span<const double> x) {
      job_.likelihood(modes_, lives_, x, value);
      double total = 0;
      for (std::size_t i = 0; i < width(); ++i) total += weight_of_[i] * value[i];
      return std::log(std::max(total, 1e-300));
    };
    for (std::size_t look = 0; look < looks; ++look) {
      std::vector<double> x(last_.row(best[look]).begin(), last_.row(best[look]).end());
      const double here = log_at(x);
      for (std::size_t d = 0; d < x.size(); ++d) {
        if (chosen.contains(static_cast<int>(d))) continue;
        const double kept = x[d], step = coordinates_[d] == Coordinate::severity ? 0.1 : 0.7;
        for (double sign : {1.0, -1.0}) {
          x[d] = kept + sign * step;
          if (std::abs(log_at(x) - here) > 0.02) chosen.insert(static_cast<int>(d));
        }
        x[d] = kept;
      }
    }
    dims_.assign(chosen.begin(), chosen.end());
  }

  JobModel& job_;
  Set modes_;
  std::mt19937_64& random_;
  std::vector<Coordinate> coordinates_;
  std::vector<std::vector<Life>> lives_;
  std::vector<double> weight_of_;
  Proposal proposal_;
  Sample last_;
  std::vector<int> dims_;
  std::vector<double> sum_, square_;
  std::size_t count_ = 0;
  double spent_ = 0;
};

class PosteriorSampler {
 public:
  PosteriorSampler(JobModel& job, const std::set<std::pair<Index, Index>>& wanted, const SamplerOptions& options)
      : job_(job), v_(job.vehicle()), wanted_(wanted), options_(options), random_(options.seed) {}

  Sampled run() {
    const auto modes = static_cast<Index>(v_.modes.size());
    inert_.resize(v_.modes.size());
    for (Index m = 0; m < modes; ++m) inert_[static_cast<std::size_t>(m)] = job_.inert(m);
    begin({});
    for (Index m = 0; m < modes; ++m)
      if (!inert_[static_cast<std::size_t>(m)]) begin({m});
    for (auto& [key, e] : estimates_) {
      e->draw(options_.first_draws);
      refine(*e, 1);
    }
    // Those that matter, once more with the whole in view.
    for (auto& [key, e] : estimates_) refine(*e, share_of(*e));
    sample_pairs();
    reach_error();
    return result();
  }

 private:
  double prior(const Set& set) const {
    return job_.complaint_table(set) * job_.odds(set);
  }

  Estimate& begin(const Set& set) {
    auto& slot = estimates_[set];
    if (!slot) slot = std::make_unique<Estimate>(job_, set, random_);
    return *slot;
  }

  /// Share of a set in the sum over the sets sampled so far (an inert companion changes little of it).
  double share_of(const Estimate& e) const {
    double total = 0;
    for (const auto& [key, other] : estimates_) total += prior(key) * other->whole();
    return total > 0 ? prior(e.modes()) * e.whole() / total : 1;
  }

  /// Adapts until the draws carry; sets without weight get little of it.
  void refine(Estimate& e, double share) {
    int exact = 0;
    const int rounds = share > 1e-3 ? options_.adapt_rounds : 2;
    for (int round = 0; round < rounds; ++round) {
      const double carried = e.carried();
      if (carried > 0.3 * e.last_size() || (share < 1e-4 && carried > 30)) return;
      if (share < 1 && share > 1e-4 && carried > 0.15 * e.last_size()) return;
      exact += e.adapt(options_.adapt_draws);
      if (exact >= 3) return;
    }
  }

  /// A pair's proposal before any draw: what each single fault alone was fitted to, and the prior.
  std::vector<Part> from_singles(const Set& pair) const {
    std::vector<Part> out;
    const int common = static_cast<int>(job_.common());
    const bool first_has = v_.modes[static_cast<std::size_t>(pair[0])].has_severity();
    for (std::size_t k = 0; k < 2; ++k) {
      const auto found = estimates_.find({pair[k]});
      if (found == estimates_.end()) continue;
      for (auto part : found->second->proposal().parts()) {
        if (part.dims.empty()) continue;
        for (int& d : part.dims)
          if (d == common && k == 1 && first_has) d = common + 1;
        part.weight *= 0.4;
        out.push_back(std::move(part));
      }
    }
    double fitted = 0;
    for (const auto& part : out) fitted += part.weight;
    Part prior_part;
    prior_part.weight = std::max(1 - fitted, 0.25);
    out.push_back(std::move(prior_part));
    return out;
  }

  void sample_pairs() {
    struct Candidate {
      double score;
      Set set;
    };
    std::vector<Candidate> candidates;
    const auto modes = static_cast<Index>(v_.modes.size());
    double singles = 0;
    for (const auto& [key, e] : estimates_) singles += prior(key) * e->whole();
    for (Index a = 0; a < modes; ++a)
      for (Index b = a + 1; b < modes; ++b) {
        if (inert_[static_cast<std::size_t>(a)] || inert_[static_cast<std::size_t>(b)]) continue;
        if (v_.modes[static_cast<std::size_t>(a)].component == v_.modes[static_cast<std::size_t>(b)].component) continue;
        const double likelihood = std::max(estimates_.at({a})->whole(), estimates_.at({b})->whole());
        const double boost = wanted_.contains({a, b}) ? 1e6 : 1;
        candidates.push_back({prior({a, b}) * likelihood * boost, {a, b}});
      }
    std::sort(candidates.begin(), candidates.end(), [](const Candidate& x, const Candidate& y) {
      return std::tie(y.score, x.set) < std::tie(x.score, y.set);
    });
    double left = 0;
    for (const auto& c : candidates)
      if (!wanted_.contains({c.set[0], c.set[1]})) left += c.score;
    double total = singles, recent_true = 0, recent_score = 0;
    std::size_t at = 0;
    int unasked = 0;
    for (; at < candidates.size(); ++at) {
      const auto& c = candidates[at];
      const bool asked = wanted_.contains({c.set[0], c.set[1]});
      // What is left, scaled as the latest pairs came out against their scores.
      const double scale = unasked >= 40 ? std::clamp(recent_true / recent_score, 0.1, 1.0) : 1;
      rest_ = left * scale / total;
      if (!asked && (rest_ < options_.rest || static_cast<int>(at) >= options_.most_pairs)) break;
      auto& e = begin(c.set);
      e.begin_with(from_singles(c.set));
      e.draw(std::max(options_.first_draws / 8, 200));
      double mass = prior(c.set) * e.whole();
      if (mass > 1e-3 * total) {
        refine(e, 0.01);
        mass = prior(c.set) * e.whole();
      }
      total += mass;
      if (!asked) {
        left -= c.score;
        recent_true = 0.97 * recent_true + mass;
        recent_score = 0.97 * recent_score + c.score;
        ++unasked;
      }
    }
    if (at >= candidates.size()) rest_ = 0;
  }

  /// Everything is linear in the estimated likelihoods: mass of each component, and of all, as coefficients on them.
  void gather() {
    all_.clear();
    by_component_.clear();
    by_repairs_.clear();
    by_set_.clear();
    nothing_.clear();
    fault_sets_ = 0;
    const auto modes = static_cast<Index>(v_.modes.size());
    add({});
    for (Index a = 0; a < modes; ++a) {
      add({a});
      for (Index b = a + 1; b < modes; ++b)
        if (v_.modes[static_cast<std::size_t>(a)].component != v_.modes[static_cast<std::size_t>(b)].component) add({a, b});
    }
  }

  using Linear = std::map<Set, std::vector<double>>;  // electrical set -> coefficient per combination of lives

  void add(const Set& set) {
    Set electrical;
    for (Index m : set)
      if (!inert_[static_cast<std::size_t>(m)]) electrical.push_back(m);
    const auto found = estimates_.find(electrical);
    if (found == estimates_.end()) return;
    ++fault_sets_;
    const double weight = prior(set);
    std::vector<std::vector<Life>> lives;
    for (Index m : set) lives.push_back(job_.lives(m));
    const std::vector<Life> nobody{{}};
    const auto& first = set.empty() ? nobody : lives[0];
    const auto& second = set.size() > 1 ? lives[1] : nobody;
    for (std::size_t i = 0; i < first.size(); ++i)
      for (std::size_t j = 0; j < second.size(); ++j) {
        std::vector<std::uint64_t> present;
        std::size_t slot = 0;
        double mass = weight * first[i].probability * second[j].probability;
        std::set<Index> components, repairs;
        for (std::size_t k = 0; k < set.size(); ++k) {
          const auto& life = k == 0 ? first[i] : second[j];
          present.push_back(life.present);
          const auto& mode = v_.modes[static_cast<std::size_t>(set[k])];
          if (life.now) {
            components.insert(mode.component);
            repairs.insert(mode.repair);
          }
          if (!inert_[static_cast<std::size_t>(set[k])]) slot = slot * lives[k].size() + (k == 0 ? i : j);
        }
        mass *= job_.findings(set, present);
        const auto width = found->second->width();
        const auto put = [&](Linear& linear) {
          auto& row = linear[electrical];
          row.resize(width);
          row[slot] += mass;
        };
        put(all_);
        for (Index c : components) put(by_component_[c]);
        if (components.empty()) put(nothing_);
        put(by_repairs_[{repairs.begin(), repairs.end()}]);
        put(by_set_[set]);
      }
  }

  double value(const Linear& linear) const {
    double out = 0;
    for (const auto& [key, row] : linear) {
      const auto& e = *estimates_.at(key);
      for (std::size_t k = 0; k < row.size(); ++k) out += row[k] * e.mean(k);
    }
    return out;
  }

  /// Variance contributions by electrical set to one component's probability.
  std::map<Set, double> contributions(const Linear& linear, double probability, double total) const {
    std::map<Set, double> out;
    for (const auto& [key, row] : all_) {
      auto gradient = row;
      for (double& g : gradient) g *= -probability / total;
      if (const auto found = linear.find(key); found != linear.end())
        for (std::size_t k = 0; k < gradient.size(); ++k) gradient[k] += found->second[k] / total;
      out[key] = estimates_.at(key)->variance(gradient);
    }
    return out;
  }

  double spent() const {
    double out = 0;
    for (const auto& [key, e] : estimates_) out += e->spent();
    return out;
  }

  void reach_error() {
    gather();
    for (int round = 0; round < 60 && spent() < options_.most_draws; ++round) {
      const double total = value(all_);
      double worst = 0;
      std::map<Set, double> worst_parts;
      for (const auto& [component, linear] : by_component_) {
        auto parts = contributions(linear, value(linear) / total, total);
        double variance = 0;
        for (const auto& [key, part] : parts) variance += part;
        if (variance > worst) {
          worst = variance;
          worst_parts = std::move(parts);
        }
      }
      // A little inside the goal, since the error is itself estimated.
      const double goal = 0.8 * options_.standard_error * options_.standard_error;
      if (worst <= goal) return;
      for (const auto& [key, part] : worst_parts) {
        if (part < 0.05 * worst) continue;
        auto& e = *estimates_.at(key);
        if (e.carried() < 0.1 * e.last_size() && tries_[key]++ < 4) {
          e.adapt(2 * options_.adapt_draws);
          continue;
        }
        e.draw(static_cast<int>(std::clamp(e.draws(), 2000.0, 50000.0)));
      }
    }
  }

  Sampled result() {
    Sampled out;
    gather();
    const double total = value(all_);
    out.component.assign(v_.components.size(), 0.0);
    out.error.assign(v_.components.size(), 0.0);
    for (const auto& [component, linear] : by_component_) {
      const double p = value(linear) / total;
      out.component[static_cast<std::size_t>(component)] = p;
      double variance = 0;
      for (const auto& [key, part] : contributions(linear, p, total)) variance += part;
      out.error[static_cast<std::size_t>(component)] = std::sqrt(variance);
    }
    out.nothing_wrong = value(nothing_) / total;
    for (const auto& [repairs, linear] : by_repairs_) out.repairs.emplace_back(repairs, value(linear) / total);
    for (const auto& [set, linear] : by_set_) out.sets.emplace_back(set, value(linear) / total);
    out.log_evidence = std::log(total);
    out.rest = rest_;
    out.draws = spent();
    out.electrical_sets = estimates_.size();
    out.fault_sets = fault_sets_;
    out.log_single.assign(v_.modes.size(), -std::numeric_limits<double>::infinity());
    for (std::size_t m = 0; m < v_.modes.size(); ++m) {
      const auto found = estimates_.find({static_cast<Index>(m)});
      if (found != estimates_.end()) out.log_single[m] = std::log(found->second->whole());
    }
    return out;
  }

  JobModel& job_;
  const model::Vehicle& v_;
  const std::set<std::pair<Index, Index>>& wanted_;
  SamplerOptions options_;
  std::mt19937_64 random_;
  std::vector<bool> inert_;
  std::map<Set, std::unique_ptr<Estimate>> estimates_;
  std::map<Set, int> tries_;
  Linear all_, nothing_;
  std::map<Index, Linear> by_component_;
  std::map<std::vector<Index>, Linear> by_repairs_, by_set_;
  double rest_ = 0;
  std::size_t fault_sets_ = 0;
};

}  // namespace

Sampled sample_posterior(JobModel& job, const std::set<std::pair<Index, Index>>& wanted, const SamplerOptions& options) {
  return PosteriorSampler(job, wanted, options).run();
}

}  // namespace lostspark::long_checks
