#include "inference/forecast.hpp"

#include <algorithm>
#include <cmath>

#include "inference/normal.hpp"

namespace lostspark::inference {
namespace {

constexpr double k_branch_cut = 1e-6;

/// Normal distribution function by table: linear between 4,096 points over +-8 sd, error below 1e-6.
class CdfTable {
 public:
  CdfTable() {
    for (int k = 0; k <= k_size; ++k) value_[k] = normal_cdf(-8 + 16.0 * k / k_size);
  }
  [[nodiscard]] double at(double x) const {
    if (x <= -8) return 0;
    if (x >= 8) return 1;
    const double t = (x + 8) * (k_size / 16.0);
    const int k = static_cast<int>(t);
    return value_[k] + (value_[k + 1] - value_[k]) * (t - k);
  }

 private:
  static constexpr int k_size = 4096;
  double value_[k_size + 2] = {};
};
const CdfTable k_cdf;

/// Cells below this share are left out of forecasts: harmless at 1e-6 (docs/inference.md); small models keep all.
double least_weight(const Posterior::Impl& posterior) { return posterior.cells.size() < 400 ? 0 : 1e-6; }

}  // namespace

Forecaster::Forecaster(const Posterior::Impl& posterior, double least, Index only_mode, bool by_repair)
    : p_(posterior), likelihood_(*posterior.compiled, posterior.observations) {
  const auto& v = *p_.compiled->vehicle;
  for (const auto& o : p_.observations.list) visit_ = std::max(visit_, o.visit);
  std::map<std::pair<Index, Index>, int> classes;
  const auto group = [&](const model::Mode& mode) { return by_repair ? mode.repair : mode.component; };
  std::map<std::pair<std::size_t, std::size_t>, std::size_t> shared;  // healthy branches by first branch content
  for (const auto& cell : p_.cells) {
    const double weight = p_.weight(cell);
    if (weight < least) continue;
    if (only_mode >= 0) {
      const bool single = (cell.a == only_mode && cell.a_now && (cell.b < 0 || !cell.b_now));
      if (!single) continue;
    }
    Index ca = cell.a >= 0 && cell.a_now ? group(v.modes[cell.a]) : model::k_none;
    Index cb = cell.b >= 0 && cell.b_now ? group(v.modes[cell.b]) : model::k_none;
    if (ca == cb) cb = model::k_none;
    if (cb >= 0 && (ca < 0 || cb < ca)) std::swap(ca, cb);
    const int cls = only_mode >= 0 ? 0 : classes.emplace(std::pair{ca, cb}, static_cast<int>(classes.size())).first->second;
    double most = -1e300;
    for (std::size_t b = 0; b < cell.branch_count; ++b)
      most = std::max(most, p_.branches[cell.first_branch + b].log_weight);
    double sum = 0;
    for (std::size_t b = 0; b < cell.branch_count; ++b)
      sum += std::exp(p_.branches[cell.first_branch + b].log_weight - most);
    const bool healthy = cell.activity.a == 0 && cell.activity.b == 0;
    for (std::size_t b = 0; b < cell.branch_count; ++b) {
      const auto& branch = p_.branches[cell.first_branch + b];
      const double w = weight * std::exp(branch.log_weight - most) / sum;
      if (w < std::min(least, k_branch_cut)) continue;
      std::size_t state = states_.size();
      // Cells that showed nothing share the healthy vehicle's states.
      const auto key = std::pair{healthy ? std::size_t{1} : std::size_t{0}, b};
      if (healthy) {
        if (const auto found = shared.find(key); found != shared.end()) state = found->second;
        else shared.emplace(key, state);
      }
      if (state == states_.size()) {
        states_.emplace_back();
        likelihood_.state(cell.cell, cell.activity, branch, states_.back());
      }
      items_.push_back({&cell, w, cls, state});
    }
  }
  class_count_ = only_mode >= 0 ? 1 : classes.size();
  members_.resize(class_count_, {model::k_none, model::k_none});
  for (const auto& [key, cls] : classes) members_[static_cast<std::size_t>(cls)] = key;
  double total = 0;
  for (const auto& item : items_) total += item.weight;
  for (auto& item : items_) item.weight /= std::max(total, 1e-300);
}

OutcomeGrid Forecaster::grid(Index test, double bin_sd) const {
  const auto& t = p_.compiled->vehicle->tests[test];
  const auto& map = p_.compiled->tests[test];
  OutcomeGrid out;
  out.word = t.is_word();
  if (out.word) {
    out.outcomes = std::max<std::size_t>(t.words.size(), 2);
    return out;
  }
  const double floor = std::max(map.floor, map.range * 1e-5);
  out.low = std::log(floor);
  out.width = std::sqrt(map.noise_variance) * bin_sd;
  out.bins = static_cast<std::size_t>(std::ceil((std::log(map.range) - out.low) / out.width));
  out.outcomes = out.bins + 2;
  return out;
}

double Forecaster::shows(const WeightedCell& cell, bool second, model::Provocation provocation) const {
  const Index mode = second ? cell.b : cell.a;
  if (mode < 0 || !(second ? cell.b_now : cell.a_now) || !p_.compiled->modes[mode].electrical) return 0;
  const double visible = p_.compiled->vehicle->modes[mode].visible[static_cast<std::size_t>(provocation)];
  if (visible >= 0.999) return 1;
  using enum model::Provocation;
  if (provocation != none && provocation != hot && provocation != wet) return visible;
  const auto bits = second ? cell.activity.b : cell.activity.a;
  for (std::size_t o = p_.observations.list.size(); o-- > 0;) {
    const auto& seen = p_.observations.list[o];
    if (seen.finding || seen.test < 0 || seen.provocation != provocation || seen.visit != visit_) continue;
    return bits >> o & 1 ? 1 : 0;  // it holds through the visit
  }
  return visible;
}

double Forecaster::met(const std::vector<int>& margins, const Item& item, bool a, bool b) {
  double probability = 1;
  for (int channel : margins) {
    const auto m = likelihood_.predict(item.cell->cell, a, b, channel, states_[item.state]);
    probability *= normal_cdf(m.mean / std::sqrt(m.variance));
    if (probability < 1e-12) return 0;
  }
  return probability;
}

void Forecaster::number(Index test, const OutcomeGrid& grid, const Item& item, bool a, bool b, double weight,
                        double* out) {
  const auto& map = p_.compiled->tests[test];
  const double alive = met(map.dead_below, item, a, b);
  out[0] += weight * (1 - alive);
  const auto spread = [&](int channel, double w) {
    if (w < 1e-12) return;
    const auto m = likelihood_.predict(item.cell->cell, a, b, channel, states_[item.state]);
    double variance = m.variance + map.noise_variance;
    if (map.step > 0) {
      const double relative = map.step / std::exp(m.mean);
      variance += std::min(relative * relative / 12, 0.25);
    }
    const double inverse = 1 / std::sqrt(variance);
    const double first = (m.mean - 5 / inverse - grid.low) / grid.width, last = (m.mean + 5 / inverse - grid.low) / grid.width;
    const auto bins = static_cast<double>(grid.bins);
    std::size_t k = static_cast<std::size_t>(std::clamp(first, 0.0, bins));
    const std::size_t end = static_cast<std::size_t>(std::clamp(std::ceil(last), 0.0, bins));
    double border = (grid.low + static_cast<double>(k) * grid.width - m.mean) * inverse;
    double below = k == 0 ? k_cdf.at(border) : 0;
    out[0] += w * below;
    const double step = grid.width * inverse;
    for (; k < end; ++k) {
      border += step;
      const double next = k_cdf.at(border);
      out[1 + k] += w * (next - below);
      below = next;
    }
    // What lies beyond the last bin touched: over the range, or a rounding rest.
    if (end == grid.bins) out[grid.outcomes - 1] += w * (1 - below);
  };
  if (map.switched < 0) {
    spread(map.primary, weight * alive);
  } else {
    const double above = met({map.switch_margin}, item, a, b);
    spread(map.primary, weight * alive * above);
    spread(map.switched, weight * alive * (1 - above));
  }
}

void Forecaster::words(Index test, const Item& item, bool a, bool b, double weight, double* out) {
  const auto& map = p_.compiled->tests[test];
  const double alive = met(map.dead_below, item, a, b);
  const auto m = likelihood_.predict(item.cell->cell, a, b, map.word_margin, states_[item.state]);
  const double sd = std::sqrt(m.variance + k_word_sd * k_word_sd);
  const double none = normal_cdf((-k_word_half_width - m.mean) / sd);
  const double upto = normal_cdf((k_word_half_width - m.mean) / sd);
  out[0] += weight * (1 - alive + alive * none);
  out[1] += weight * alive * (upto - none);
  out[2] += weight * alive * (1 - upto);
}

void Forecaster::gather(Index test, const OutcomeGrid& grid, std::vector<double>& table) {
  const auto& v = *p_.compiled->vehicle;
  const auto& t = v.tests[test];
  table.assign(class_count_ * grid.outcomes, 0.0);
  for (const auto& item : items_) {
    double* out = &table[static_cast<std::size_t>(item.cls) * grid.outcomes];
    if (t.reads == model::Reads::finding) {
      std::array<Index, 2> present{};
      std::size_t count = 0;
      if (item.cell->a >= 0 && item.cell->a_now) present[count++] = item.cell->a;
      if (item.cell->b >= 0 && item.cell->b_now) present[count++] = item.cell->b;
      bool listed = false;  // most findings know nothing of most faults
      for (const auto& row : t.findings)
        for (std::size_t k = 0; k < count; ++k) listed |= row.mode == present[k];
      if (!listed) count = 0;
      for (std::size_t w = 0; w < t.words.size(); ++w)
        out[w] += item.weight * finding_probability(t, w, {present.data(), count});
      continue;
    }
    const double pa = shows(*item.cell, false, t.provocation), pb = shows(*item.cell, true, t.provocation);
    for (int a = 0; a < 2; ++a)
      for (int b = 0; b < 2; ++b) {
        const double w = item.weight * (a ? pa : 1 - pa) * (b ? pb : 1 - pb);
        if (w < 1e-9) continue;
        if (t.reads == model::Reads::margin_word) words(test, item, a, b, w, out);
        else number(test, grid, item, a, b, w, out);
      }
  }
  // Mistakes spread every class over the instrument's range, floor included.
  const double mistaken = t.mistaken;
  for (std::size_t c = 0; c < class_count_; ++c) {
    double* out = &table[c * grid.outcomes];
    double sum = 0;
    for (std::size_t k = 0; k < grid.outcomes; ++k) sum += out[k];
    for (std::size_t k = 0; k < grid.outcomes; ++k) {
      double wrong = 1.0 / static_cast<double>(grid.outcomes);
      if (!grid.word) wrong = k == 0                   ? model::k_mistaken_floor
              : k == grid.outcomes - 1 ? model::k_mistaken_over
                                       : model::k_mistaken_inside / static_cast<double>(grid.bins);
      out[k] = out[k] * (1 - mistaken) + sum * mistaken * wrong;
    }
  }
}

Prediction summarise(const OutcomeGrid& grid, const std::vector<double>& outcome) {
  Prediction out;
  double total = 0;
  for (double p : outcome) total += p;
  if (total <= 0) return out;
  if (grid.word) {
    for (double p : outcome) out.word.push_back(p / total);
    return out;
  }
  out.below_floor = outcome.front() / total;
  out.over_range = outcome.back() / total;
  double inside = 0;
  for (std::size_t k = 1; k + 1 < outcome.size(); ++k) inside += outcome[k];
  const auto quantile = [&](double q) {
    double sum = 0;
    for (std::size_t k = 1; k + 1 < outcome.size(); ++k) {
      if (outcome[k] > 0 && sum + outcome[k] >= q * inside)
        return std::exp(grid.low + grid.width * (static_cast<double>(k - 1) + (q * inside - sum) / outcome[k]));
      sum += outcome[k];
    }
    return std::exp(grid.low + grid.width * static_cast<double>(grid.bins));
  };
  if (inside > 1e-9 * total) {
    out.low = quantile(0.05);
    out.median = quantile(0.5);
    out.high = quantile(0.95);
  }
  return out;
}

std::vector<Gain> Posterior::gains(std::span<const Index> tests) const {
  std::vector<Gain> out;
  Forecaster forecaster(*impl_, least_weight(*impl_));
  std::vector<double> table, by_outcome;
  for (Index test : tests) {
    if (impl_->compiled->tests[test].instrument < 0) {
      out.push_back({test, 0});
      continue;
    }
    const auto grid = forecaster.grid(test, 0.5);
    forecaster.gather(test, grid, table);
    by_outcome.assign(grid.outcomes, 0.0);
    double joint = 0, classes = 0, outcomes = 0;
    for (std::size_t c = 0; c < forecaster.classes(); ++c) {
      double sum = 0;
      for (std::size_t k = 0; k < grid.outcomes; ++k) {
        const double p = table[c * grid.outcomes + k];
        if (p <= 1e-15) continue;
        sum += p;
        by_outcome[k] += p;
        joint += p * std::log2(p);
      }
      if (sum > 0) classes += sum * std::log2(sum);
    }
    for (double p : by_outcome)
      if (p > 0) outcomes += p * std::log2(p);
    out.push_back({test, std::max(joint - classes - outcomes, 0.0)});
  }
  return out;
}

std::vector<OutcomeTable> Posterior::outcome_tables(std::span<const Index> tests, std::size_t most) const {
  std::vector<OutcomeTable> out;
  Forecaster forecaster(*impl_, least_weight(*impl_), model::k_none, true);
  std::vector<double> table;
  for (Index test : tests) {
    OutcomeTable result;
    for (std::size_t c = 0; c < forecaster.classes(); ++c) {
      const auto [a, b] = forecaster.members(c);
      std::vector<Index> needed;
      for (Index repair : {a, b})
        if (repair >= 0) needed.push_back(repair);
      result.repairs.push_back(std::move(needed));
    }
    const auto grid = forecaster.grid(test, 1.0);
    forecaster.gather(test, grid, table);
    // Neighbouring bins are merged to groups of about equal probability; floor, over range and words stay apart.
    std::vector<std::size_t> group(grid.outcomes);
    if (grid.word) {
      for (std::size_t k = 0; k < grid.outcomes; ++k) group[k] = k;
      result.outcomes = grid.outcomes;
    } else {
      std::vector<double> whole(grid.outcomes, 0.0);
      double inside = 0;
      for (std::size_t c = 0; c < forecaster.classes(); ++c)
        for (std::size_t k = 0; k < grid.outcomes; ++k) whole[k] += table[c * grid.outcomes + k];
      for (std::size_t k = 1; k + 1 < grid.outcomes; ++k) inside += whole[k];
      const double share = inside / static_cast<double>(most - 2);
      double sum = 0;
      std::size_t at = 1;
      for (std::size_t k = 1; k + 1 < grid.outcomes; ++k) {
        if (sum > 0 && sum + whole[k] / 2 > share && at < most - 2) {
          sum = 0;
          ++at;
        }
        group[k] = at;
        sum += whole[k];
      }
      group.back() = at + 1;
      result.outcomes = at + 2;
    }
    result.probability.assign(forecaster.classes() * result.outcomes, 0.0);
    for (std::size_t c = 0; c < forecaster.classes(); ++c)
      for (std::size_t k = 0; k < grid.outcomes; ++k)
        result.probability[c * result.outcomes + group[k]] += table[c * grid.outcomes + k];
    out.push_back(std::move(result));
  }
  return out;
}

OutcomeTable Posterior::outcome_table(Index test, std::size_t most) const {
  const std::array<Index, 1> one{test};
  return outcome_tables(one, most).front();
}

Prediction Posterior::predict(Index test, Index given_mode) const {
  Forecaster forecaster(*impl_, given_mode >= 0 ? 1e-12 : least_weight(*impl_), given_mode);
  const auto grid = forecaster.grid(test, 0.25);
  std::vector<double> table, whole(grid.outcomes, 0.0);
  if (forecaster.empty()) return healthy_band(*impl_->compiled, test);
  forecaster.gather(test, grid, table);
  for (std::size_t c = 0; c < forecaster.classes(); ++c)
    for (std::size_t k = 0; k < grid.outcomes; ++k) whole[k] += table[c * grid.outcomes + k];
  return summarise(grid, whole);
}

}  // namespace lostspark::inference
