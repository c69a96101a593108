#include "inference/likelihood.hpp"

#include <algorithm>
#include <cmath>
#include <functional>
#include <limits>

#include "inference/normal.hpp"

namespace lostspark::inference {
namespace {

constexpr double k_impossible_sd = 6.5;           // a bound missed by this much cannot be met
constexpr double k_certain_sd = 8;                // a bound met by this much stays met whatever the numbers say
constexpr double k_log_impossible = -60;          // an observation no way explains: only a mistake can
constexpr double k_explicit = 0.04;               // a mistake with at least this odds gets a state of its own
constexpr double k_keep_within = 10;              // nats below the best: branches kept for prediction
constexpr double k_worth_within = 8;              // nats below the best: mistakes evaluated exactly
constexpr std::size_t k_most_glances = 3;         // combinations looked at before a mistake gets its state
constexpr double k_glance_error = 4;              // nats by which all ways together may exceed the likeliest
constexpr double k_beneath = 12;  // nats below the sum so far: what numbers alone put there adds nothing

double log_add(double a, double b) {
  const double high = std::max(a, b), low = std::min(a, b);
  return low < high - 40 ? high : high + std::log1p(std::exp(low - high));
}

}  // namespace

Likelihood::Likelihood(const Compiled& compiled, const Observations& observations)
    : mistake_limit(compiled.options.mistakes),
      compiled_(compiled),
      observations_(observations),
      columns_(compiled.width),
      width_((1 + columns_ + compiled.workshop.instruments.size() + 3) / 4 * 4) {
  for (const auto& instrument : compiled.workshop.instruments)
    accuracy_.push_back(instrument.accuracy_log_sd * instrument.accuracy_log_sd);
  const auto& list = observations.list;
  log_rest_.resize(list.size());
  log_charge_.resize(list.size());
  bound_log_.resize(list.size());
  number_rest_.resize(list.size());
  ways_.resize(list.size());
  way_count_.resize(list.size());
  for (std::size_t o = 0; o < list.size(); ++o) {
    std::uint64_t group = 0;
    for (std::size_t p = 0; p < list.size(); ++p)
      if (!list[p].finding && list[p].hookup == list[o].hookup) group |= std::uint64_t{1} << p;
    hookup_group_.push_back(group);
    first_atom_.emplace_back();
    has_numbers_.push_back(!list[o].alternatives.empty() && !list[o].alternatives.front().numbers.empty());
    for (const auto& way : list[o].alternatives) {
      first_atom_.back().push_back(static_cast<std::uint32_t>(atoms_.size()));
      for (const auto& number : way.numbers) {
        Atom atom;
        atom.channel = number.channel;
        atom.observation = o;
        atom.number = true;
        atom.value = number.value;
        atom.noise = number.noise_variance;
        atom.share = number.event_share;
        atom.instrument = list[o].instrument;
        atoms_.push_back(atom);
      }
      for (const auto& bound : way.bounds) {
        Atom atom;
        atom.channel = bound.channel;
        atom.observation = o;
        atom.low = bound.low;
        atom.high = bound.high;
        atom.noise = bound.noise_variance;
        atom.instrument = compiled.channels[bound.channel].margin ? -1 : list[o].instrument;
        atom.couples = !way.numbers.empty();
        atoms_.push_back(atom);
      }
    }
    first_atom_.back().push_back(static_cast<std::uint32_t>(atoms_.size()));
  }
  buffer_.resize(atoms_.size() * compiled.stride);
  predict_buffer_.resize(compiled.stride);
}

Row Likelihood::expand(const CellRef& cell, bool a, bool b, int channel, double* buffer) const {
  const double* base = compiled_.healthy_row(channel);
  if (!a && !b) return {base, base[0], 0};
  if (a && !b) {
    const double* first = compiled_.row(cell.a, cell.level, cell.cell_a, channel);
    return {first, first[0], 0};
  }
  const double* second = compiled_.row(cell.b, cell.level, cell.cell_b, channel);
  if (!a) {
    std::copy(second, second + compiled_.stride, buffer);
    buffer[1] = 0;
    return {buffer, second[0], second[1]};
  }
  const double* first = compiled_.row(cell.a, cell.level, cell.cell_a, channel);
  for (std::size_t k = 0; k < compiled_.stride; ++k) buffer[k] = first[k] + second[k] - base[k];
  buffer[1] = first[1];
  if (cell.correction)
    buffer[0] +=
        cell.correction
            ->shift[(cell.cell_a * compiled_.modes[cell.b].count(cell.level) + cell.cell_b) * compiled_.channel_count +
                    channel];
  return {buffer, buffer[0], second[1]};
}

void Likelihood::prepare(const CellRef& cell, const Activity& activity) {
  const auto& list = observations_.list;
  for (std::size_t k = 0; k < atoms_.size(); ++k) {
    auto& x = atoms_[k];
    x.row = expand(cell, activity.a >> x.observation & 1, activity.b >> x.observation & 1, x.channel,
                   &buffer_[k * compiled_.stride]);
    double vehicle = x.row.slope_b * x.row.slope_b, event = 0;
    vehicle += dot(x.row.table + 1, x.row.table + 1, columns_);
    for (std::size_t j = 1 + columns_; j < compiled_.stride; ++j) event += x.row.table[j] * x.row.table[j];
    x.own_event = event;
    x.variance = vehicle + event * x.share + (x.instrument >= 0 ? accuracy_[x.instrument] : 0);
  }
  live_ = 0;
  for (std::size_t o = 0; o < list.size(); ++o) {
    way_count_[o] = 0;
    for (std::size_t k = 0; k < list[o].alternatives.size() && way_count_[o] < 8; ++k) {
      bool can_be = true;
      for (std::size_t at = first_atom_[o][k]; at < first_atom_[o][k + 1]; ++at) {
        auto& x = atoms_[at];
        x.live = -1;
        if (x.number) continue;
        const double sd = std::sqrt(x.variance + x.noise) + 1e-12;
        can_be &= x.row.mean + k_impossible_sd * sd >= x.low && x.row.mean - k_impossible_sd * sd <= x.high;
        if (x.row.mean - k_certain_sd * sd < x.low || x.row.mean + k_certain_sd * sd > x.high) x.live = 0;
      }
      if (!can_be) continue;
      ways_[o][way_count_[o]++] = static_cast<std::uint8_t>(k);
      for (std::size_t at = first_atom_[o][k]; at < first_atom_[o][k + 1]; ++at)
        if (atoms_[at].number || atoms_[at].live == 0) atoms_[at].live = static_cast<int>(live_++);
    }
  }
  shared_.assign(live_ * live_, std::numeric_limits<double>::quiet_NaN());
}

/// Fills combinations_ for the observations in switching_.
void Likelihood::list_combinations(std::uint64_t mistaken, std::array<std::uint8_t, 64>& choice) {
  combinations_.clear();
  Combination now;
  for (;;) {
    for (std::size_t k = 0; k < switching_.size(); ++k) choice[switching_[k]] = ways_[switching_[k]][now.way[k]];
    factor_numbers(mistaken, choice);
    now.log = numbers_log_;
    combinations_.push_back(now);
    std::size_t k = 0;
    for (; k < switching_.size(); ++k) {
      now.way[k] = static_cast<std::uint8_t>((now.way[k] + 1) % way_count_[switching_[k]]);
      if (now.way[k] != 0) break;
    }
    if (k == switching_.size()) break;
  }
  std::stable_sort(combinations_.begin(), combinations_.end(),
                   [](const Combination& x, const Combination& y) { return x.log > y.log; });
  if (combinations_.size() > effort.combinations) combinations_.resize(effort.combinations);
}

double Likelihood::explore(std::uint64_t mistaken, int depth, std::size_t from, double log_prior,
                           std::vector<Branch>* branches, std::vector<double>* shares) {
  const auto& list = observations_.list;
  const std::size_t count = list.size();
  std::array<std::uint8_t, 64> choice{};
  std::uint64_t impossible = 0, seen_hookups = 0;
  double constant = 0;
  switching_.clear();
  for (std::size_t o = 0; o < count; ++o) {
    choice[o] = k_no_way;
    if (list[o].finding) continue;
    const auto bit = std::uint64_t{1} << o;
    if (mistaken & bit) {
      // A hook-up is mistaken once; further readings through it repeat the false value.
      constant +=
          hookup_group_[o] & seen_hookups ? std::log(0.5) : std::log(list[o].mistaken * list[o].mistaken_density);
      seen_hookups |= bit;
      continue;
    }
    constant += std::log1p(-list[o].mistaken);
    if (way_count_[o] == 0) {
      impossible |= bit;
      constant += k_log_impossible;
    } else {
      choice[o] = ways_[o][0];
      if (has_numbers_[o] && way_count_[o] > 1 && switching_.size() < k_most_switching) switching_.push_back(o);
    }
  }
  // The combinations of the channels behind numbers; for each, the combinations of the other ways that matter. Bounds
  // can only lower what the numbers alone say.
  double total = -1e300, rest_weight = -1e300;
  std::array<double, 64> rest{}, charge{};
  struct Glance {  // the likeliest way of a combination
    double log = -1e300;
    std::array<std::uint8_t, 64> choice{};
  };
  std::array<Glance, k_most_glances> glances{};  // likeliest first
  list_combinations(mistaken, choice);
  for (const auto& combination : combinations_) {
    if (evaluations > most_evaluations) return total;
    if (total > -1e299 && constant + combination.log < total - k_beneath) break;
    for (std::size_t k = 0; k < switching_.size(); ++k)
      choice[switching_[k]] = ways_[switching_[k]][combination.way[k]];
    take_numbers(mistaken, choice);
    const double left_out = find_leaves(mistaken, choice, total - k_beneath - constant - combination.log);
    double sum = -1e300;
    Glance likeliest;
    const std::size_t first_branch = branches ? branches->size() : 0;
    for (const auto& leaf : leaves_) {
      for (std::size_t k = 0; k < open_.size(); ++k) choice[open_[k]] = ways_[open_[k]][leaf.way[k]];
      const double log = constant + evaluate(mistaken, choice, nullptr);
      if (log > rest_weight) {
        rest_weight = log;
        for (std::size_t o = 0; o < count; ++o) {
          rest[o] = impossible >> o & 1 ? k_log_impossible : log_rest_[o];
          charge[o] = impossible >> o & 1 ? 0 : log_charge_[o];
        }
      }
      if (log > likeliest.log) likeliest = {log, choice};
      sum = log_add(sum, log);
      if (branches && log_prior + log > best - k_keep_within) branches->push_back({mistaken, choice, log});
    }
    if (left_out > 0) {  // they count as the kept ones came out
      sum += left_out;
      if (branches)
        for (std::size_t k = first_branch; k < branches->size(); ++k) (*branches)[k].log_weight += left_out;
    }
    total = log_add(total, sum);
    best = std::max(best, log_prior + sum);
    for (auto& glance : glances)
      if (likeliest.log > glance.log) std::swap(glance, likeliest);
  }
  if (depth >= mistake_limit) return total;
  const double here = total;
  if (depth == 0) {
    reference_ = here;
    explicit_ = 0;
  }
  // Which mistakes get a state of their own is settled before any is entered, so that pairs are counted once whatever
  // the order: {s, o} in s's turn when both are explicit and s comes first, else in the turn of the explicit one.
  struct Mistake {
    std::size_t first;
    std::uint64_t group;
    double log_odds;   // at most; what it is worth tells only a state of its own
    double log_least;  // by what the readings themselves cost
    bool own_state;
  };
  std::array<Mistake, 64> mistakes{};
  std::size_t mistake_count = 0;
  for (std::size_t o = 0; o < count; ++o) {
    if (list[o].finding || (mistaken >> o & 1)) continue;
    const auto group = hookup_group_[o];
    if (group & ((std::uint64_t{1} << o) - 1)) continue;  // counted at the group's first reading
    double log_false = std::log(list[o].mistaken * list[o].mistaken_density) - std::log1p(-list[o].mistaken);
    double log_cost = rest[o], charged = charge[o], log_impossible = impossible >> o & 1 ? k_log_impossible : 0;
    for (std::size_t p = o + 1; p < count; ++p)
      if (group >> p & 1) {
        log_false += std::log(0.5) - std::log1p(-list[p].mistaken);
        log_cost += rest[p];
        charged += charge[p];
        log_impossible += impossible >> p & 1 ? k_log_impossible : 0;
      }
    double log_least = log_false - log_cost;
    const double log_odds = log_least - charged;
    bool own_state = log_odds > std::log(k_explicit) && log_prior + here + log_odds > best - k_worth_within;
    if (own_state && charged < 0) {
      // What others cost it may be freed of only where one look at its likeliest ways says so.
      double seen = -1e300;
      for (const auto& glance : glances) {
        if (glance.log < -1e299) break;
        take_numbers(mistaken | group, glance.choice);
        seen = std::max(seen, evaluate(mistaken | group, glance.choice, nullptr));
      }
      seen += constant + log_false - log_impossible;
      log_least = std::max(log_least, seen - here);
      own_state = log_prior + seen > best - k_worth_within - k_glance_error;
    }
    if (depth > 0 && o < from && (explicit_ >> o & 1)) continue;  // was entered before: counted there
    mistakes[mistake_count++] = {o, group, log_odds, log_least, own_state};
  }
  // In a job full of contradictions nearly every reading may be the mistaken one: the likeliest get a state, the others
  // count by what they cost themselves. Charged with the others' bounds they would free what only all of them together
  // can free, and a cell that every reading contradicts would win.
  const std::size_t most = depth == 0 ? effort.mistakes : effort.second_mistakes;
  std::array<double, 64> odds{};
  std::size_t own_count = 0;
  for (std::size_t k = 0; k < mistake_count; ++k)
    if (mistakes[k].own_state) odds[own_count++] = mistakes[k].log_odds;
  if (own_count > most) {
    std::nth_element(odds.begin(), odds.begin() + static_cast<std::ptrdiff_t>(most - 1),
                     odds.begin() + static_cast<std::ptrdiff_t>(own_count), std::greater<>());
    const double least = odds[most - 1];
    for (std::size_t k = 0; k < mistake_count; ++k) mistakes[k].own_state &= mistakes[k].log_odds >= least;
  }
  if (depth == 0)
    for (std::size_t k = 0; k < mistake_count; ++k)
      if (mistakes[k].own_state) explicit_ |= std::uint64_t{1} << mistakes[k].first;
  for (std::size_t k = 0; k < mistake_count; ++k) {
    const auto& mistake = mistakes[k];
    double add = here + mistake.log_least;
    if (mistake.own_state)
      add = explore(mistaken | mistake.group, depth + 1, mistake.first, log_prior, branches, shares);
    total = log_add(total, add);
    if (shares && add - reference_ > -40)
      for (std::size_t p = mistake.first; p < count; ++p)
        if (mistake.group >> p & 1) (*shares)[p] += std::exp(std::min(add - reference_, 600.0));
  }
  return total;
}

double Likelihood::log_likelihood(const CellRef& cell, const Activity& activity, double log_prior,
                                  std::vector<Branch>* branches, std::vector<double>* mistaken_share) {
  if (mistaken_share) mistaken_share->assign(observations_.list.size(), 0.0);
  prepare(cell, activity);
  const double total = explore(0, 0, 0, log_prior, branches, mistaken_share);
  if (mistaken_share)
    for (double& s : *mistaken_share) s *= std::exp(std::min(reference_ - total, 700.0));
  return total;
}

void Likelihood::state(const CellRef& cell, const Activity& activity, const Branch& branch, State& out) {
  prepare(cell, activity);
  take_numbers(branch.mistaken, branch.choice);
  evaluate(branch.mistaken, branch.choice, &out);
}

}  // namespace lostspark::inference
