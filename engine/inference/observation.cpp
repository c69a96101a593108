#include "inference/observation.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <tuple>

#include "base/error.hpp"
#include "inference/normal.hpp"
#include "model/generative.hpp"

namespace lostspark::inference {
namespace {

constexpr double k_pattern_cut = 1e-5;
constexpr std::size_t k_few_patterns = 4;    // so many are always evaluated
constexpr std::size_t k_most_patterns = 16;  // of one mode
constexpr std::size_t k_most_observations = 60;

/// All margins of a test met, as bounds; `upto` limits to the first margins.
std::vector<BoundAtom> met(const std::vector<int>& margins) {
  std::vector<BoundAtom> out;
  for (int channel : margins) out.push_back({channel, 0, k_infinity, 0});
  return out;
}

/// The ways in which one of the margins is missed (a ladder: the first missed one decides).
std::vector<Alternative> missed(const std::vector<int>& margins) {
  std::vector<Alternative> out;
  for (std::size_t k = 0; k < margins.size(); ++k) {
    Alternative way;
    for (std::size_t j = 0; j < k; ++j) way.bounds.push_back({margins[j], 0, k_infinity, 0});
    way.bounds.push_back({margins[k], -k_infinity, 0, 0});
    out.push_back(std::move(way));
  }
  return out;
}

std::vector<Alternative> word_ways(const TestMap& map, std::size_t word) {
  std::vector<Alternative> out;
  if (word == 0) out = missed(map.dead_below);
  Alternative alive;
  alive.bounds = met(map.dead_below);
  const double c = k_word_half_width;
  const double low = word == 0 ? -k_infinity : word == 1 ? -c : c;
  const double high = word == 0 ? -c : word == 1 ? c : k_infinity;
  alive.bounds.push_back({map.word_margin, low, high, k_word_sd * k_word_sd});
  out.push_back(std::move(alive));
  return out;
}

/// Both hold: every pair of ways, without those that contradict each other.
std::vector<Alternative> both(const std::vector<Alternative>& some, const std::vector<Alternative>& others) {
  std::vector<Alternative> out;
  for (const auto& a : some)
    for (const auto& b : others) {
      Alternative way = a;
      bool possible = true;
      for (const auto& bound : b.bounds) {
        bool known = false;
        for (const auto& held : a.bounds) {
          if (held.channel != bound.channel) continue;
          known |= held.low == bound.low && held.high == bound.high && held.noise_variance == bound.noise_variance;
          possible &= std::max(held.low, bound.low) < std::min(held.high, bound.high);
        }
        if (!known) way.bounds.push_back(bound);
      }
      if (possible) out.push_back(std::move(way));
    }
  return out;
}

/// What a complaint says of all cylinders: so many show its word, the others spark better.
std::vector<Alternative> complaint_ways(const Compiled& compiled, const model::Complaint& complaint) {
  const auto& channel_of = compiled.margin_channel[compiled.complaint_scene];
  const std::size_t count = complaint.cylinders.size();
  const std::size_t wanted = complaint.extent == model::Extent::one   ? 1
                             : complaint.extent == model::Extent::two ? std::min<std::size_t>(2, count)
                                                                      : count;
  // By number of cylinders that show the word so far; few at a time, so contradictions fall away early.
  std::vector<std::vector<Alternative>> shown(wanted + 1);
  shown[0] = {Alternative{}};
  for (const auto& ladder : complaint.cylinders) {
    TestMap map;
    for (std::size_t k = 0; k + 1 < ladder.size(); ++k) map.dead_below.push_back(channel_of[ladder[k]]);
    map.word_margin = channel_of[ladder.back()];
    auto shows = word_ways(map, complaint.word);
    if (complaint.spark_present()) {
      shows = {Alternative{}};
      shows.front().bounds = met(map.dead_below);
      shows.front().bounds.push_back({map.word_margin, -k_word_half_width, k_infinity, k_word_sd * k_word_sd});
    }
    Alternative better;
    better.bounds = met(map.dead_below);
    better.bounds.push_back({map.word_margin, complaint.word == 0 ? -k_word_half_width : k_word_half_width, k_infinity,
                             k_word_sd * k_word_sd});
    for (std::size_t n = wanted + 1; n-- > 0;) {
      auto ways = wanted < count ? both(shown[n], {better}) : std::vector<Alternative>{};
      if (n > 0) {
        const auto more = both(shown[n - 1], shows);
        ways.insert(ways.end(), more.begin(), more.end());
      }
      shown[n] = std::move(ways);
    }
  }
  return shown[wanted];
}

/// The ways in which the circuit delivers a number at all: the primary channel, or the switched one.
std::vector<std::pair<int, std::vector<BoundAtom>>> live_ways(const TestMap& map) {
  std::vector<std::pair<int, std::vector<BoundAtom>>> out;
  auto bounds = met(map.dead_below);
  if (map.switched < 0) {
    out.emplace_back(map.primary, bounds);
    return out;
  }
  auto other = bounds;
  bounds.push_back({map.switch_margin, 0, k_infinity, 0});
  other.push_back({map.switch_margin, -k_infinity, 0, 0});
  out.emplace_back(map.primary, bounds);
  out.emplace_back(map.switched, other);
  return out;
}

double step_variance(const TestMap& map, double value) {
  if (map.step <= 0 || value <= 0) return 0;
  const double relative = map.step / value;
  return relative * relative / 12;
}

double mistaken_density(const TestMap& map, const model::Test& test, const model::Value& value) {
  if (test.is_word()) return 1.0 / static_cast<double>(std::max<std::size_t>(test.words.size(), 2));
  switch (value.kind) {
    case model::ValueKind::below_floor: return model::k_mistaken_floor;
    case model::ValueKind::over_range: return model::k_mistaken_over;
    default: break;
  }
  const double low = map.floor > 0 ? map.floor : map.range * 1e-4;
  const double density = model::k_mistaken_inside / std::log(std::max(map.range / low, 2.0));
  if (value.kind == model::ValueKind::interval) {
    const double a = std::max(value.low, low), b = std::min(value.high, map.range);
    return std::clamp(density * std::log(std::max(b / a, 1.001)) + (value.low <= 0 ? model::k_mistaken_floor : 0), 1e-4, 1.0);
  }
  return density;
}

/// Presence and visibility of one mode through the job.
class PatternBuilder {
 public:
  PatternBuilder(const Compiled& compiled, const model::Evidence& evidence, const Observations& observations)
      : compiled_(compiled), evidence_(evidence), observations_(observations), observation_at_(evidence.size(), -1) {
    for (std::size_t o = 0; o < observations.list.size(); ++o)
      observation_at_[observations.list[o].event] = static_cast<int>(o);
  }

  std::vector<Pattern> build(Index mode, std::uint64_t relevant) const {
    std::vector<Pattern> out;
    for (const auto& life : lives(mode)) split_visibility(mode, life, relevant, out);
    // Merge equal ones and drop what cannot matter.
    std::map<std::tuple<std::uint64_t, std::uint64_t, bool>, double> merged;
    for (const auto& p : out) merged[{p.active & relevant, p.present, p.present_now}] += std::exp(p.log_probability);
    out.clear();
    for (const auto& [key, probability] : merged)
      if (probability > k_pattern_cut)
        out.push_back({std::get<0>(key), std::get<1>(key), std::get<2>(key), std::log(probability)});
    if (out.size() > k_few_patterns) keep_likely(mode, relevant, out);
    std::stable_sort(out.begin(), out.end(),
                     [](const Pattern& p, const Pattern& q) { return p.log_probability > q.log_probability; });
    return out;
  }

  /// Observations that change with the mode at all: elsewhere it is all one whether it showed.
  std::uint64_t relevant(Index mode) const {
    const auto& table = compiled_.modes[mode];
    std::uint64_t out = 0;
    for (std::size_t o = 0; o < observations_.list.size(); ++o)
      for (const auto& way : observations_.list[o].alternatives) {
        bool moved = false;
        for (const auto& number : way.numbers) moved |= table.moves[number.channel] != 0;
        for (const auto& bound : way.bounds) moved |= table.moves[bound.channel] != 0;
        if (moved) out |= std::uint64_t{1} << o;
      }
    return out;
  }

 private:
  /// Probability density of one observation by itself under a row of the tables for every channel.
  double alone(const Observation& o, Index mode, std::size_t cell) const {
    double sum = 0;
    for (const auto& way : o.alternatives) {
      double product = 1;
      const auto moments = [&](int channel, double noise) {
        const double* row = mode < 0 ? compiled_.healthy_row(channel) : compiled_.row(mode, k_medium, cell, channel);
        double variance = noise;
        for (std::size_t k = 1; k < compiled_.stride; ++k) variance += row[k] * row[k];
        return std::pair{row[0], std::sqrt(variance)};
      };
      for (const auto& number : way.numbers) {
        const auto [mean, sd] = moments(number.channel, number.noise_variance);
        product *= normal_pdf((number.value - mean) / sd) / sd;
      }
      for (const auto& bound : way.bounds) {
        const auto [mean, sd] = moments(bound.channel, bound.noise_variance);
        product *= normal_between((bound.low - mean) / sd, (bound.high - mean) / sd);
      }
      sum += product;
    }
    return (1 - o.mistaken) * sum + o.mistaken * o.mistaken_density;
  }

  /// Where visibility was drawn many times: the ways that the readings, each by itself, make likely. What is left out
  /// counts as the kept ones come out.
  void keep_likely(Index mode, std::uint64_t relevant, std::vector<Pattern>& patterns) const {
    const auto& cells = compiled_.modes[mode].cells[k_medium];
    std::vector<std::pair<double, Pattern>> scored;
    std::vector<std::vector<double>> ratio(cells.weight.size(), std::vector<double>(observations_.list.size(), 1.0));
    for (std::size_t o = 0; o < observations_.list.size(); ++o) {
      if (!(relevant >> o & 1)) continue;
      const double hidden = alone(observations_.list[o], model::k_none, 0);
      for (std::size_t cell = 0; cell < cells.weight.size(); ++cell)
        ratio[cell][o] = std::max(alone(observations_.list[o], mode, cell), 1e-12) / std::max(hidden, 1e-12);
    }
    double all = 0, kept = 0;
    for (const auto& p : patterns) {
      double score = 0;
      for (std::size_t cell = 0; cell < cells.weight.size(); ++cell) {
        double product = cells.weight[cell];
        for (std::size_t o = 0; o < observations_.list.size(); ++o)
          if (p.active >> o & 1) product *= ratio[cell][o];
        score += product;
      }
      scored.emplace_back(score * std::exp(p.log_probability), p);
      all += scored.back().first;
    }
    std::stable_sort(scored.begin(), scored.end(), [](const auto& x, const auto& y) { return x.first > y.first; });
    patterns.clear();
    for (const auto& [score, pattern] : scored) {
      if (patterns.size() >= k_most_patterns || (patterns.size() >= k_few_patterns && score < 1e-3 * scored.front().first)) break;
      patterns.push_back(pattern);
      kept += score;
    }
    for (auto& p : patterns) p.log_probability += std::log(all / kept);
  }

  struct Life {
    std::uint64_t present = 0;
    bool now = true;
    double probability = 1;
  };

  std::vector<Life> lives(Index mode) const {
    const auto& v = *compiled_.vehicle;
    const auto& row = v.modes[mode];
    struct State {
      bool present = true;
      Index cured_by = model::k_none;
      std::uint64_t bits = 0;
      double probability = 1;
    };
    std::vector<State> states{{}};
    std::vector<Index> tried;  // repairs for this mode, in vain where it is still there
    const auto branch = [&](double chance, Index by) {
      std::vector<State> more;
      for (auto& state : states)
        if (state.present) {
          State cured = state;
          cured.present = false;
          cured.cured_by = by;
          cured.probability *= chance;
          state.probability *= 1 - chance;
          if (cured.probability > k_pattern_cut) more.push_back(cured);
        }
      states.insert(states.end(), more.begin(), more.end());
    };
    for (std::size_t e = 0; e < evidence_.size(); ++e) {
      if (observation_at_[e] >= 0)
        for (auto& state : states)
          if (state.present) state.bits |= std::uint64_t{1} << observation_at_[e];
      if (const auto* touched = std::get_if<model::Touched>(&evidence_[e])) {
        const bool moved = std::find(touched->components.begin(), touched->components.end(), row.component) !=
                           touched->components.end();
        if (moved && model::is_contact(v.components[row.component].kind)) branch(model::k_touch_cures, model::k_none);
      } else if (const auto* repaired = std::get_if<model::Repaired>(&evidence_[e])) {
        if (!model::mends(v, repaired->repair, mode)) continue;
        const int before = static_cast<int>(std::count(tried.begin(), tried.end(), repaired->repair));
        branch(model::success_after(v, repaired->repair, before), repaired->repair);
        tried.push_back(repaired->repair);
      } else if (const auto* refitted = std::get_if<model::Refitted>(&evidence_[e])) {
        for (auto& state : states)
          if (!state.present && state.cured_by == refitted->repair) state.present = true;
      }
    }
    std::vector<Life> out;
    for (const auto& state : states)
      if (state.probability > k_pattern_cut) out.push_back({state.bits, state.present, state.probability});
    return out;
  }

  /// Draws of visibility: one per visit and lasting provocation, one per reading for shaking, steering and load.
  void split_visibility(Index mode, const Life& life, std::uint64_t relevant, std::vector<Pattern>& out) const {
    const auto& visible = compiled_.vehicle->modes[mode].visible;
    std::map<std::pair<int, int>, std::uint64_t> groups;  // (provocation, visit or reading) -> observations
    double complaint_visible = *std::max_element(visible.begin(), visible.end());
    std::vector<std::pair<std::uint64_t, double>> draws;
    for (std::size_t i = 0; i < observations_.list.size(); ++i) {
      const auto bit = std::uint64_t{1} << i;
      if (!(life.present & relevant & bit)) continue;
      const auto& o = observations_.list[i];
      if (o.test < 0) {
        // The customer saw it under whatever provokes it; that the engine runs, where nothing does.
        draws.emplace_back(bit, o.unprovoked ? visible[0] : complaint_visible);
        continue;
      }
      using enum model::Provocation;
      const bool lasting = o.provocation == none || o.provocation == hot || o.provocation == wet;
      groups[{static_cast<int>(o.provocation), lasting ? o.visit : 1000 + static_cast<int>(i)}] |= bit;
    }
    for (const auto& [key, bits] : groups) draws.emplace_back(bits, visible[static_cast<std::size_t>(key.first)]);
    std::vector<Pattern> patterns{{0, life.present, life.now, std::log(life.probability)}};
    for (const auto& [bits, chance] : draws) {
      std::vector<Pattern> next;
      for (const auto& p : patterns) {
        if (chance > 0) {
          Pattern shown = p;
          shown.active |= bits;
          shown.log_probability += std::log(chance);
          next.push_back(shown);
        }
        if (chance < 0.999) {
          Pattern hidden = p;
          hidden.log_probability += std::log1p(-chance);
          next.push_back(hidden);
        }
      }
      std::erase_if(next, [](const Pattern& p) { return p.log_probability < std::log(k_pattern_cut); });
      if (!next.empty()) patterns = std::move(next);
    }
    out.insert(out.end(), patterns.begin(), patterns.end());
  }

  const Compiled& compiled_;
  const model::Evidence& evidence_;
  const Observations& observations_;
  std::vector<int> observation_at_;  // by event: position in the list, -1 for none
};

/// Puts the readings between two touches into an order of their own, so that the order they were taken in cannot matter
/// where branches are cut or mistakes are looked for one after the other.
void put_in_order(const model::Evidence& evidence, std::vector<Observation>& list) {
  std::vector<int> segment;
  for (const auto& event : evidence) {
    const bool touches = !std::holds_alternative<model::Complained>(event) &&
                         !std::holds_alternative<model::Weighted>(event) &&
                         !std::holds_alternative<model::Reading>(event);
    segment.push_back((segment.empty() ? 0 : segment.back()) + (touches ? 1 : 0));
  }
  const model::Value nothing;
  const auto value = [&](const Observation& o) -> const model::Value& {
    const auto* reading = std::get_if<model::Reading>(&evidence[o.event]);
    return reading ? reading->value : nothing;
  };
  std::stable_sort(list.begin(), list.end(), [&](const Observation& a, const Observation& b) {
    const auto &x = value(a), &y = value(b);
    return std::tie(segment[a.event], a.test, a.provocation, a.visit, x.kind, x.number, x.low, x.high, a.word) <
           std::tie(segment[b.event], b.test, b.provocation, b.visit, y.kind, y.number, y.low, y.high, b.word);
  });
  // A finding repeated without a touch between shares its miss with the first.
  std::map<std::tuple<int, Index, std::size_t>, int> seen;
  for (std::size_t o = 0; o < list.size(); ++o) {
    if (!list[o].finding) continue;
    const auto [first, fresh] =
        seen.emplace(std::tuple{segment[list[o].event], list[o].test, list[o].word}, static_cast<int>(o));
    if (!fresh) list[o].duplicate_of = first->second;
  }
}

}  // namespace

std::vector<Alternative> alternatives_of(const Compiled& compiled, Index test, const model::Value& value) {
  const auto& map = compiled.tests[test];
  if (compiled.vehicle->tests[test].reads == model::Reads::margin_word) return word_ways(map, value.word);
  std::vector<Alternative> out;
  const auto bounded = [&](double low, double high) {
    for (auto& [channel, bounds] : live_ways(map)) {
      Alternative way;
      way.bounds = bounds;
      way.bounds.push_back({channel, low, high, map.noise_variance});
      out.push_back(std::move(way));
    }
  };
  const double floor = std::log(std::max(map.shown_from, 1e-9)), range = std::log(map.shown_to);
  switch (value.kind) {
    case model::ValueKind::below_floor:
      out = missed(map.dead_below);
      bounded(-k_infinity, floor);
      break;
    case model::ValueKind::over_range: bounded(range, k_infinity); break;
    case model::ValueKind::interval: {
      const bool narrow = value.low > 0 && std::isfinite(value.high) && value.high < 4 * value.low;
      if (!narrow) {
        if (value.low <= map.floor) out = missed(map.dead_below);
        bounded(value.low > map.floor ? std::log(value.low) : -k_infinity,
                std::isfinite(value.high) ? std::log(std::max(value.high, 1e-9)) : k_infinity);
        break;
      }
      [[fallthrough]];
    }
    default: {
      NumberAtom atom;
      atom.noise_variance = map.noise_variance * (value.about ? 4 : 1);
      double middle = value.number;
      if (value.kind == model::ValueKind::interval) {
        middle = std::sqrt(value.low * value.high);
        const double spread = std::log(value.high / value.low);
        atom.noise_variance += spread * spread / 12;
      }
      atom.value = std::log(std::max(middle, 1e-12));
      const bool steps = value.kind == model::ValueKind::number && map.step > 0 && middle > map.step / 2;
      if (steps) {
        // Shown is what rounds to this: near the floor that is half an octave and more, and not even about its middle.
        const double low = std::log(middle - map.step / 2), high = std::log(middle + map.step / 2);
        atom.value = (low + high) / 2;
        atom.noise_variance += (high - low) * (high - low) / 12;
      }
      if (value.each.size() > 1) {
        double sum = 0;
        for (double x : value.each) sum += std::log(std::max(x, std::max(map.floor, 1e-12)));
        atom.value = sum / static_cast<double>(value.each.size());
        atom.event_share = 1.0 / static_cast<double>(value.each.size());
        atom.noise_variance *= atom.event_share;
      }
      if (!steps || value.each.size() > 1) atom.noise_variance += step_variance(map, middle);
      for (auto& [channel, bounds] : live_ways(map)) {
        Alternative way;
        way.bounds = bounds;
        atom.channel = channel;
        way.numbers.push_back(atom);
        out.push_back(std::move(way));
      }
    }
  }
  return out;
}

double check_probability(bool still_there, model::Provocation provocation, std::span<const model::Mode> modes,
                         std::span<const Index> present) {
  double gone = 1;
  for (Index mode : present) gone *= 1 - modes[mode].visible[static_cast<std::size_t>(provocation)];
  return still_there ? 1 - gone : gone;
}

double finding_probability(const model::Test& test, std::size_t word, std::span<const Index> present) {
  // Words of several faults compete: the chance that none is noticed is the product.
  std::array<double, k_most_words> missed;
  missed.fill(1.0);
  const std::size_t words = test.words.size();
  for (Index mode : present)
    for (const auto& row : test.findings)
      if (row.mode == mode) missed[row.word] *= 1 - row.probability;
  double nothing = 1, seen_total = 0;
  for (std::size_t w = 1; w < words; ++w) {
    missed[w] *= 1 - test.false_alarm / static_cast<double>(std::max<std::size_t>(words - 1, 1));
    nothing *= missed[w];
    seen_total += 1 - missed[w];
  }
  if (word == 0) return nothing;
  return seen_total > 0 ? (1 - nothing) * (1 - missed[word]) / seen_total : 0;
}

Observations observe(const Compiled& compiled, const model::Evidence& evidence) {
  const auto& v = *compiled.vehicle;
  Observations out;
  out.log_weight.assign(v.modes.size(), 0.0);
  out.log_complaint.assign(v.modes.size(), 0.0);
  int private_number = -1;  // moments and hook-ups of their own
  for (std::size_t e = 0; e < evidence.size(); ++e) {
    if (const auto* weighted = std::get_if<model::Weighted>(&evidence[e])) {
      for (std::size_t m = 0; m < v.modes.size(); ++m)
        if (weighted->mode == static_cast<Index>(m) ||
            (weighted->mode < 0 && v.modes[m].component == weighted->component))
          out.log_weight[m] += std::log(std::max(weighted->factor, 1e-6));
    } else if (const auto* complained = std::get_if<model::Complained>(&evidence[e])) {
      const auto& complaint = v.complaints[complained->complaint];
      if (complaint.computed() && compiled.complaint_scene >= 0) {
        Observation o;
        o.event = e;
        o.alternatives = complaint_ways(compiled, complaint);
        o.mistaken = model::k_complaint_mistaken;
        o.mistaken_density = 1.0 / 3;
        o.moment = o.hookup = private_number--;
        o.unprovoked = complaint.spark_present();
        out.list.push_back(std::move(o));
      }
      if (complaint.by_table() || compiled.complaint_scene < 0) {
        for (std::size_t m = 0; m < v.modes.size(); ++m)
          out.log_complaint[m] += std::log(std::max(complaint.of_group(v.modes[m].group), 0.02) / 10);
        out.healthy_log_weight += std::log(model::k_complaint_without_fault / 10);
      }
    } else if (const auto* checked = std::get_if<model::Checked>(&evidence[e])) {
      Observation o;
      o.event = e;
      o.finding = o.check = true;
      o.word = checked->still_there ? 1 : 0;
      o.mistaken = model::k_check_mistaken;
      o.mistaken_density = 0.5;
      o.moment = o.hookup = private_number--;
      o.provocation = checked->provocation;
      out.list.push_back(std::move(o));
    } else if (const auto* reading = std::get_if<model::Reading>(&evidence[e])) {
      const auto& test = v.tests[reading->test];
      const auto& map = compiled.tests[reading->test];
      Observation o;
      o.event = e;
      o.test = reading->test;
      o.word = reading->value.word;
      o.finding = test.reads == model::Reads::finding;
      if (!o.finding) o.alternatives = alternatives_of(compiled, reading->test, reading->value);
      o.mistaken = test.mistaken;
      o.mistaken_density = mistaken_density(map, test, reading->value);
      o.moment = reading->moment >= 0 ? reading->moment : private_number;
      o.hookup = reading->hookup >= 0 ? reading->hookup : private_number;
      --private_number;
      o.instrument = map.instrument;
      o.provocation = reading->provocation;
      o.visit = reading->visit;
      out.list.push_back(std::move(o));
    }
  }
  if (out.list.size() > k_most_observations)
    throw CapacityError("this job holds " + std::to_string(out.list.size()) + " readings; at most " +
                        std::to_string(k_most_observations) + " are supported - strike the ones that no longer matter");
  put_in_order(evidence, out.list);
  const PatternBuilder builder(compiled, evidence, out);
  for (std::size_t m = 0; m < v.modes.size(); ++m) {
    out.relevant.push_back(builder.relevant(static_cast<Index>(m)));
    out.patterns.push_back(builder.build(static_cast<Index>(m), out.relevant.back()));
  }
  return out;
}

}  // namespace lostspark::inference
