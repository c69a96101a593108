#include "planning/lookahead.hpp"

#include <algorithm>
#include <cmath>

namespace lostspark::planning {
namespace {

constexpr double k_certain = 1e-9;   // a test whose likeliest outcome is nearer to 1 than this tells nothing
constexpr double k_equal = 1e-12;    // relative: gains below are rounding
constexpr int k_deepest = 40;
constexpr double k_too_rare = 2e-3;  // places rarer than this are not followed further

std::uint64_t mix(std::uint64_t x) {  // a bijective scramble (splitmix64's finisher, from memory)
  x += 0x9e3779b97f4a7c15ULL;
  x = (x ^ (x >> 30)) * 0xbf58476d1ce4e5b9ULL;
  x = (x ^ (x >> 27)) * 0x94d049bb133111ebULL;
  return x ^ (x >> 31);
}

}  // namespace

Lookahead::Lookahead(Flat& flat, std::size_t nodes, std::function<bool()> stop, std::size_t table_bits)
    : flat_(flat), order_(flat), limit_(nodes), stop_(std::move(stop)),
      beliefs_(static_cast<std::size_t>(k_deepest + 2) * flat.n), tested_(flat.tests.size(), 0),
      repaired_(flat.repairs.size(), 0), swapped_(flat.swapped), steps_(k_deepest + 2), class_sum_(flat.kinds),
      table_(std::size_t{1} << table_bits) {
  for (auto& steps : steps_) steps.reserve(flat.tests.size() + 2 * flat.repairs.size());
  std::copy(flat.belief.begin(), flat.belief.end(), beliefs_.begin());
}

Lookahead::Entry& Lookahead::entry(std::uint64_t key) {
  const std::size_t mask = table_.size() - 1;
  Entry* oldest = &table_[key & mask];
  for (std::size_t i = 0; i < 4; ++i) {
    Entry& e = table_[(key + i) & mask];
    if (e.key == key) return e;
    if (e.key == 0) {
      e.key = key;
      e.no_test = -1;
      return e;
    }
    if (e.level < oldest->level) oldest = &e;
  }
  *oldest = Entry{key, -1, 0, -1};
  return *oldest;
}

double Lookahead::after_outcome(const double* from, int test, int outcome, double* to) const {
  const double* row = &flat_.rows[static_cast<std::size_t>(flat_.tests[test].row + outcome) * flat_.n];
  double sum = 0;
  for (int h = 0; h < flat_.n; ++h) sum += to[h] = from[h] * row[h];
  return sum;
}

double Lookahead::after_repair(const double* from, int repair, bool swap, double* to, double& wrong,
                               double& ended) const {
  const auto& r = flat_.repairs[repair];
  wrong = ended = 0;
  double mass = 0;
  std::copy(from, from + flat_.n, to);
  for (int h : flat_.hiding) {
    wrong += from[h] * flat_.wrong[h];
    ended += from[h] * flat_.ends[h];
    to[h] *= 1 - flat_.ends[h];
  }
  for (int x = r.begin; x < r.end; ++x) {
    const auto& t = flat_.touches[x];
    const double w = from[t.h];
    if (w <= 0) continue;
    wrong += w * (t.wrong - flat_.wrong[t.h]);
    ended += w * t.more_ends;
    to[t.h] -= w * (1 - flat_.ends[t.h]);
    to[t.h] = std::max(0.0, to[t.h]);
    if (swap) {
      to[t.h] += w * std::max(0.0, 1 - t.more_ends - flat_.ends[t.h]);
    } else {
      to[t.h] += w * t.stays;
      if (t.moves > 0) to[t.after] += w * t.moves;
    }
  }
  for (int h = 0; h < flat_.n; ++h) mass += to[h];
  return mass;
}

Lookahead::Place Lookahead::after_test(const Place& at, int test, int outcome, double mass) const {
  Place next = at;
  next.mass = mass;
  next.off |= flat_.tests[test].needs;
  next.setup = flat_.tests[test].setup;
  // What a test shows depends on the repairs done before it, where a repair can leave a fault behind.
  const std::uint64_t step = static_cast<std::uint64_t>(flat_.tests[test].row + outcome) * 4 + 1;
  next.key += mix(step ^ mix(at.repairs_key));
  return next;
}

Lookahead::Place Lookahead::after_fail(const Place& at, int repair, bool swap, double mass) const {
  Place next = at;
  next.mass = mass;
  next.off |= flat_.repairs[repair].needs;
  next.setup = 0;
  const std::uint64_t step = mix(static_cast<std::uint64_t>(repair) * 4 + (swap ? 2 : 3));
  // What a failed check says depends on the repairs before it in the same way; without hiding faults the check of a
  // repair says the same whenever it is done.
  const bool ordered = swap || !flat_.hiding.empty();
  next.key += ordered ? mix(step ^ mix(at.repairs_key)) : step;
  if (flat_.pairs && !swap) next.repairs_key += step;
  return next;
}

double Lookahead::no_test(const double* b, const Place& at) {
  Entry& e = entry(mix(at.key ^ mix(at.setup + 1)) | 1);
  // A look into the table counts as well, or the work behind one evaluation would not be bounded.
  if (aborted_) return 0;
  if (++nodes_ > limit_ || ((nodes_ & 63) == 0 && stop_ && stop_())) aborted_ = true;
  if (e.no_test >= 0) return e.no_test;
  const double cost = order_.cost({b, static_cast<std::size_t>(flat_.n)}, at.mass, at.off, repaired_, swapped_);
  e.no_test = cost;
  return cost;
}

double Lookahead::least(const double* b, CoverMask off) {
  const auto least = flat_.least(off);
  double sum = 0;
  for (int h = 0; h < flat_.n; ++h) sum += b[h] * least[h];
  return sum;
}

void Lookahead::screen(const double* b, const Place& at, double room, std::vector<Step>& steps, std::size_t most) {
  // Pairs of fault sets with different mending that the test is expected to part, per minute (the idea of EC2).
  for (std::size_t t = 0; t < flat_.tests.size(); ++t) {
    if (tested_[t]) continue;
    const auto& test = flat_.tests[t];
    double minutes = test.minutes;
    if (test.setup != 0 && test.setup != at.setup) minutes += flat_.setup_minutes[test.setup];
    // Dearer than all that knowing everything could save; covers may come off for the repair anyway.
    if (minutes * at.mass >= room) continue;
    minutes += flat_.access(test.needs, at.off);
    double together = 0;
    for (int o = 0; o < test.outcomes; ++o) {
      const double* row = &flat_.rows[static_cast<std::size_t>(test.row + o) * flat_.n];
      std::fill(class_sum_.begin(), class_sum_.end(), 0.0);
      double sum = 0, squares = 0;
      for (int h = 0; h < flat_.n; ++h) class_sum_[flat_.kind[h]] += b[h] * row[h];
      for (double c : class_sum_) sum += c, squares += c * c;
      if (sum > 0) together += squares / sum;
    }
    steps.push_back({true, false, static_cast<int>(t), 0, together / std::max(minutes, 0.1), minutes * at.mass});
  }
  if (steps.size() <= most) return;
  std::fill(class_sum_.begin(), class_sum_.end(), 0.0);
  double squares = 0;
  for (int h = 0; h < flat_.n; ++h) class_sum_[flat_.kind[h]] += b[h];
  for (double c : class_sum_) squares += c * c;
  squares /= at.mass;
  for (auto& s : steps) s.q -= squares / std::max(s.spent / at.mass, 0.1);
  std::nth_element(steps.begin(), steps.begin() + static_cast<std::ptrdiff_t>(most), steps.end(),
                   [](const Step& x, const Step& y) { return x.q != y.q ? x.q > y.q : x.index < y.index; });
  steps.resize(most);
  cut_ = true;
}

void Lookahead::find_steps(int ply, const Place& at, double room, bool root) {
  auto& steps = steps_[ply];
  steps.clear();
  const double* b = belief(ply);
  double* child = belief(ply + 1);
  screen(b, at, room, steps, root ? flat_.tests.size() : static_cast<std::size_t>(level_.screened));
  const double worth = at.mass * (1 - k_certain);
  std::size_t kept = 0;
  for (auto& s : steps) {
    s.q = s.spent;
    bool certain = false;
    set_tested(s.index, 1);
    for (int o = 0; o < flat_.tests[s.index].outcomes && !certain; ++o) {
      const double mass = after_outcome(b, s.index, o, child);
      certain = mass >= worth;
      if (!certain && mass > 0) s.q += no_test(child, after_test(at, s.index, o, mass));
    }
    set_tested(s.index, 0);
    if (aborted_) return;
    if (!certain) steps[kept++] = s;
  }
  steps.resize(kept);
  std::sort(steps.begin(), steps.end(), [](const Step& x, const Step& y) {
    return x.q != y.q ? x.q < y.q : x.spent != y.spent ? x.spent < y.spent : x.index < y.index;
  });
  // The best by saving for the minutes spent gets a place in every beam: the lowest total likes dear strong tests too well,
  // because its leaf knows of no later test.
  const double now = no_test(b, at);
  const int beam = root ? level_.root_tests : level_.tests;
  if (static_cast<int>(steps.size()) > beam) {
    int best = 0;
    double best_rate = -std::numeric_limits<double>::infinity();
    for (std::size_t i = 0; i < steps.size(); ++i) {
      const double rate = (now - steps[i].q) / std::max(steps[i].spent, 1e-3 * at.mass);
      if (rate > best_rate) best_rate = rate, best = static_cast<int>(i);
    }
    if (best >= beam) std::swap(steps[best], steps[beam]);
    const std::size_t keep = best >= beam ? beam + 1 : beam;
    if (!root) steps.resize(keep);
    else
      for (std::size_t i = keep; i < steps.size(); ++i) steps[i].depth = -1;  // listed, not looked into
    cut_ = true;
  }
  int added = 0;
  for (const auto& r : order_.ranked({b, static_cast<std::size_t>(flat_.n)}, at.mass, at.off, repaired_, swapped_)) {
    if (added == level_.repairs) {
      cut_ = true;
      break;
    }
    ++added;
    const auto& repair = flat_.repairs[r.repair];
    const double minutes = flat_.access(repair.needs, at.off) + flat_.check +
                           (r.swap ? repair.swap_minutes : repair.minutes + repair.price);
    steps.push_back({false, r.swap, r.repair, 0, 0, minutes * at.mass});
  }
}

double Lookahead::test_value(int ply, int depth, const Place& at, const Step& step, double bound) {
  const double* b = belief(ply);
  double* child = belief(ply + 1);
  const int t = step.index;
  const double floor_now = least(b, at.off | flat_.tests[t].needs);
  double sum = step.spent, floor_left = floor_now;
  if (sum + floor_left >= bound) return sum + floor_left;
  set_tested(t, 1);
  for (int o = 0; o < flat_.tests[t].outcomes && !aborted_; ++o) {
    const double mass = after_outcome(b, t, o, child);
    if (mass <= 0) continue;
    floor_left -= least(child, at.off | flat_.tests[t].needs);
    sum += value(ply + 1, depth - 1, after_test(at, t, o, mass), bound - sum - std::max(0.0, floor_left));
    if (sum + floor_left >= bound) {
      sum += std::max(0.0, floor_left);
      break;
    }
  }
  set_tested(t, 0);
  return sum;
}

double Lookahead::repair_value(int ply, int depth, const Place& at, const Step& step, double bound) {
  const double* b = belief(ply);
  double* child = belief(ply + 1);
  const int k = step.index;
  double wrong = 0, ended = 0;
  const double mass = after_repair(b, k, step.swap, child, wrong, ended);
  double sum = step.spent + flat_.comeback * wrong + (step.swap ? ended * flat_.repairs[k].price : 0);
  if (mass <= 1e-13 * at.mass || sum >= bound) return sum;
  const char was_swapped = swapped_[k];
  swapped_[k] = 1;
  if (!step.swap) repaired_[k] = 1;
  sum += value(ply + 1, depth - 1, after_fail(at, k, step.swap, mass), bound - sum);
  swapped_[k] = was_swapped;
  if (!step.swap) repaired_[k] = 0;
  return sum;
}

double Lookahead::value(int ply, int depth, const Place& at, double bound) {
  const double* b = belief(ply);
  const double leaf = no_test(b, at);
  const double floor = least(b, at.off);
  if (aborted_ || leaf - floor <= k_equal * leaf) return leaf;
  if (depth <= 0 || ply >= k_deepest) {
    cut_ = true;
    return leaf;
  }
  const int stamp = level_number_ * 256 + depth;
  const std::uint64_t key = mix(at.key ^ mix(at.setup + 1)) | 1;
  if (const Entry& e = entry(key); e.level == stamp) return e.value;
  if (floor >= bound) return leaf;
  double best = leaf;
  const double goal = std::min(best, bound);
  find_steps(ply, at, goal - floor, false);
  if (aborted_) return leaf;
  double limit = goal;
  for (std::size_t i = 0; i < steps_[ply].size() && !aborted_; ++i) {
    const Step step = steps_[ply][i];
    double q = 0;
    if (step.is_test && depth == 1) {
      cut_ = true;
      q = step.q;
    } else {
      q = step.is_test ? test_value(ply, depth, at, step, limit) : repair_value(ply, depth, at, step, limit);
    }
    if (q < best) best = q;
    limit = std::min(limit, best);
  }
  if (aborted_) return leaf;
  if (best < bound) {
    Entry& e = entry(key);
    e.no_test = leaf;
    e.value = best;
    e.level = stamp;
  }
  return best;
}

double Lookahead::follow(int ply, const Place& at) {
  const double* b = belief(ply);
  const double leaf = no_test(b, at);
  const double floor = least(b, at.off);
  if (aborted_ || at.mass < k_too_rare || leaf - floor <= k_equal * leaf || ply >= k_deepest) return leaf;
  auto& steps = steps_[ply];
  steps.clear();
  nodes_ += flat_.tests.size() / 4;  // a screening costs about as much as that many looks
  screen(b, at, leaf - floor, steps, 1);
  if (steps.empty()) return leaf;
  const Step step = steps.front();
  double sum = step.spent;
  set_tested(step.index, 1);
  for (int o = 0; o < flat_.tests[step.index].outcomes && sum < leaf && !aborted_; ++o) {
    const double mass = after_outcome(b, step.index, o, belief(ply + 1));
    if (mass > 0) sum += follow(ply + 1, after_test(at, step.index, o, mass));
  }
  set_tested(step.index, 0);
  return aborted_ ? leaf : std::min(leaf, sum);
}

std::vector<Option> Lookahead::follow(std::size_t tests) {
  aborted_ = false;
  Place at;
  at.mass = 1;
  at.off = flat_.off;
  at.setup = flat_.setup;
  // First tests: those that part most for the minutes, and those the look thought best.
  std::vector<Step> firsts;
  auto& steps = steps_[0];
  steps.clear();
  screen(belief(0), at, std::numeric_limits<double>::infinity(), steps, (tests + 1) / 2);
  firsts = steps;
  for (const auto& o : options_)
    if (o.action.kind == ActionKind::test && firsts.size() < tests)
      for (std::size_t t = 0; t < flat_.tests.size(); ++t)
        if (flat_.tests[t].origin == o.action.index &&
            std::none_of(firsts.begin(), firsts.end(), [&](const Step& f) { return f.index == static_cast<int>(t); })) {
          double minutes = flat_.tests[t].minutes + flat_.access(flat_.tests[t].needs, at.off);
          if (flat_.tests[t].setup != 0 && flat_.tests[t].setup != at.setup)
            minutes += flat_.setup_minutes[flat_.tests[t].setup];
          firsts.push_back({true, false, static_cast<int>(t), 0, 0, minutes});
        }
  std::vector<Option> out;
  for (const Step& step : firsts) {
    double sum = step.spent;
    bool certain = false;
    set_tested(step.index, 1);
    for (int o = 0; o < flat_.tests[step.index].outcomes && !aborted_; ++o) {
      const double mass = after_outcome(belief(0), step.index, o, belief(1));
      certain |= mass >= 1 - k_certain;
      if (mass > 0) sum += follow(1, after_test(at, step.index, o, mass));
    }
    set_tested(step.index, 0);
    if (aborted_) break;
    if (!certain) out.push_back({{ActionKind::test, flat_.tests[step.index].origin}, sum, 1});
  }
  return out;
}

const std::vector<Option>& Lookahead::look(const Level& level) {
  level_ = level;
  ++level_number_;
  cut_ = aborted_ = false;
  options_.clear();
  Place at;
  at.mass = 1;
  at.off = flat_.off;
  at.setup = flat_.setup;
  no_test_cost_ = no_test(belief(0), at);
  find_steps(0, at, std::numeric_limits<double>::infinity(), true);
  double idle = 0;
  for (int h : flat_.idle) idle += flat_.belief[h];
  options_.push_back({{ActionKind::refer, -1}, flat_.give_up(1, idle), 0});
  for (std::size_t i = 0; i < steps_[0].size() && !aborted_; ++i) {
    const Step step = steps_[0][i];
    Option option;
    option.depth = level.depth;
    if (step.is_test) {
      option.action = {ActionKind::test, flat_.tests[step.index].origin};
      if (level.depth == 1 || step.depth < 0) {
        cut_ = true;
        option.cost = step.q;
        option.depth = 1;
      } else {
        option.cost = std::min(step.q, test_value(0, level.depth, at, step, std::numeric_limits<double>::infinity()));
      }
    } else {
      option.action = {step.swap ? ActionKind::swap : ActionKind::repair, flat_.repairs[step.index].origin};
      option.cost = repair_value(0, level.depth, at, step, std::numeric_limits<double>::infinity());
    }
    options_.push_back(option);
  }
  if (aborted_) options_.clear();
  return options_;
}

}  // namespace lostspark::planning
