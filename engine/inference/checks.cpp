// Questions about a vehicle before any reading: healthy bands, faults no test sees, pairs no test separates; and how single
// readings moved single suspects.
#include <algorithm>
#include <cmath>

#include "inference/posterior_impl.hpp"
#include "inference/normal.hpp"

namespace lostspark::inference {
namespace {

/// Mean and sd of a channel in one table row, reading noise included.
struct Spread {
  double mean = 0, variance = 0;
};

Spread spread_of(const Compiled& c, const double* row, int channel, Index test) {
  Spread out{row[0], row[1] * row[1]};
  for (std::size_t k = 2; k < c.stride; ++k) out.variance += row[k] * row[k];
  if (test >= 0) {
    const auto& map = c.tests[test];
    out.variance += c.channels[channel].margin ? k_word_sd * k_word_sd : map.noise_variance;
    if (map.instrument >= 0 && !c.channels[channel].margin) {
      const double a = c.workshop.instruments[map.instrument].accuracy_log_sd;
      out.variance += a * a;
    }
  }
  return out;
}

const double* median_row(const Compiled& c, Index mode, int channel) {
  if (mode < 0 || !c.modes[mode].electrical) return c.healthy_row(channel);
  return c.row(mode, k_fine, c.modes[mode].count(k_fine) / 2, channel);
}

/// Largest distance, in standard deviations of the healthy reading, between two modes (or healthy) over all tests the shop
/// can do; findings count by the probability of telling them apart.
double separation(const Compiled& c, Index a, Index b) {
  double largest = 0;
  for (std::size_t t = 0; t < c.tests.size(); ++t) {
    const auto& test = c.vehicle->tests[t];
    const auto& map = c.tests[t];
    if (map.instrument < 0) continue;
    if (test.reads == model::Reads::finding) {
      const auto word = [&](Index mode, std::size_t w) {
        const std::array<Index, 1> one{mode};
        return finding_probability(test, w, {one.data(), mode >= 0 ? std::size_t{1} : 0});
      };
      for (std::size_t w = 0; w < test.words.size(); ++w)
        if (std::abs(word(a, w) - word(b, w)) > 0.5) largest = std::max(largest, 2.0);
      continue;
    }
    std::vector<int> channels = map.dead_below;
    for (int channel : {map.primary, map.switched, map.word_margin, map.switch_margin})
      if (channel >= 0) channels.push_back(channel);
    for (int channel : channels) {
      const double *ra = median_row(c, a, channel), *rb = median_row(c, b, channel);
      const auto spread = spread_of(c, c.healthy_row(channel), channel, static_cast<Index>(t));
      double ya = ra[0], yb = rb[0];
      if (!c.channels[channel].margin) {
        // Below the floor all readings look alike.
        const double floor = std::log(std::max(map.shown_from, 1e-9)), range = std::log(map.shown_to);
        ya = std::clamp(ya, floor, range);
        yb = std::clamp(yb, floor, range);
      }
      largest = std::max(largest, std::abs(ya - yb) / std::sqrt(spread.variance));
    }
  }
  return largest;
}

}  // namespace

std::vector<Ambiguity> ambiguities(const Compiled& c) {
  std::vector<Ambiguity> out;
  const auto& modes = c.vehicle->modes;
  for (std::size_t a = 0; a < modes.size(); ++a)
    for (std::size_t b = a + 1; b < modes.size(); ++b) {
      if (modes[a].component == modes[b].component || modes[a].repair == modes[b].repair) continue;
      if (separation(c, static_cast<Index>(a), static_cast<Index>(b)) < 1)
        out.push_back({static_cast<Index>(a), static_cast<Index>(b)});
    }
  return out;
}

std::vector<Index> invisible_modes(const Compiled& c) {
  std::vector<Index> out;
  for (std::size_t m = 0; m < c.vehicle->modes.size(); ++m) {
    const auto& component = c.vehicle->components[c.vehicle->modes[m].component];
    if (component.kind == model::ComponentKind::elsewhere) continue;
    if (separation(c, static_cast<Index>(m), model::k_none) < 1) out.push_back(static_cast<Index>(m));
  }
  return out;
}

Prediction healthy_band(const Compiled& c, Index test) {
  Prediction out;
  const auto& t = c.vehicle->tests[test];
  const auto& map = c.tests[test];
  if (t.reads == model::Reads::finding) {
    for (std::size_t w = 0; w < t.words.size(); ++w) out.word.push_back(finding_probability(t, w, {}));
    return out;
  }
  if (t.reads == model::Reads::margin_word) {
    const auto s = spread_of(c, c.healthy_row(map.word_margin), map.word_margin, test);
    const double sd = std::sqrt(s.variance), none = normal_cdf((-k_word_half_width - s.mean) / sd),
                 upto = normal_cdf((k_word_half_width - s.mean) / sd);
    out.word = {none, upto - none, 1 - upto};
    return out;
  }
  const auto s = spread_of(c, c.healthy_row(map.primary), map.primary, test);
  const double sd = std::sqrt(s.variance);
  out.low = std::exp(s.mean - 1.6448536269514722 * sd);
  out.median = std::exp(s.mean);
  out.high = std::exp(s.mean + 1.6448536269514722 * sd);
  out.below_floor = normal_cdf((std::log(std::max(map.shown_from, 1e-9)) - s.mean) / sd);
  out.over_range = normal_cdf((s.mean - std::log(map.range)) / sd);
  return out;
}

std::vector<ReadingInfluence> influences(const CompiledPtr& compiled, const model::Evidence& evidence,
                                         std::span<const Index> modes) {
  std::vector<ReadingInfluence> out;
  const auto odds = [&](const Posterior& p, Index mode) {
    for (const auto& suspect : p.suspects(0))
      if (suspect.mode == mode) return std::max(suspect.probability, 1e-12) / std::max(1 - suspect.probability, 1e-12);
    return 1e-12;
  };
  const auto whole = update(compiled, evidence);
  for (std::size_t e = 0; e < evidence.size(); ++e) {
    const bool tells = std::holds_alternative<model::Reading>(evidence[e]) ||
                       std::holds_alternative<model::Complained>(evidence[e]) ||
                       std::holds_alternative<model::Checked>(evidence[e]);
    if (!tells) continue;
    auto without = evidence;
    without.erase(without.begin() + static_cast<std::ptrdiff_t>(e));
    const auto rest = update(compiled, without);
    for (Index mode : modes) out.push_back({e, mode, odds(whole, mode) / odds(rest, mode)});
  }
  return out;
}

}  // namespace lostspark::inference
