// What is read off the course of an opening while a gap holds: crests, and what they are as the gap breaks earlier.
// Shared by coils with one tower (opening_stage.cpp) and with two (pair_stage.cpp).
#pragma once

#include <algorithm>
#include <cmath>

#include "cubic.hpp"
#include "flyback.hpp"

namespace lostspark::blocks {

/// The gap that is looked at, and its tower.
struct GapState {
  double plug = 0, plug_slope = 0;  ///< volt, volt a second
  double tower = 0;                 ///< volt
  double tower_at_break = 0;        ///< volt of the tower as the plug reaches `plug`
};

/// Single pole of 2 us over samples taken as constant over their step.
struct LowPass {
  static constexpr double k_filter_second = 2e-6;
  double keep, y = 0;
  explicit LowPass(double step) : keep(std::exp(-step / k_filter_second)) {}
  double next(double u) { return y = keep * y + (1 - keep) * u; }
  void step(double second) { keep = std::exp(-second / k_filter_second); }
};

namespace detail {

struct Sample {
  double plug = 0, plug_slope = 0, tower = 0, meter = 0, meter_slope = 0;  ///< slopes per step
  double stands = 0;  ///< of a watched contact over the volts across it, least value so far
};

/// Highest value of a cubic between two samples, if it has a crest inside.
inline double crest_between(double a, double da, double b, double db) {
  return da > 0 && db < 0 ? std::max(crest_of_cubic(a, da, b, db), std::max(a, b)) : std::max(a, b);
}

/// First crossing of `level` on the cubic, a < level <= b.
inline double crossing(const Sample& a, const Sample& b, double level) {
  double low = 0, high = 1;
  for (int k = 0; k < 40; ++k) {
    const double middle = (low + high) / 2;
    (cubic_at(a.plug, a.plug_slope, b.plug, b.plug_slope, middle) < level ? low : high) = middle;
  }
  return (low + high) / 2;
}

}  // namespace detail

/// Follows the course until the gap's volts have fallen to three quarters of their crest. look() gives the GapState of
/// the moment.
template <class Look>
Opening watch_opening(Flyback& course, const OpeningSettings& settings, double plug_leak_ohm, Look look) {
  using detail::crest_between;
  constexpr std::size_t k_most_steps = 512;  // four quarter swings
  constexpr std::size_t k_least_steps = 24;
  constexpr double k_past = 0.75, k_nothing = 1e-6;
  constexpr double k_far = 1e9;  // a contact without volts across it
  std::array<detail::Sample, k_most_steps + 1> at;
  const double step = course.step();
  LowPass body(step);
  Opening out;
  std::size_t count = 0;
  double highest = 0;
  for (; count <= k_most_steps; ++count) {
    if (count > 0) course.advance();
    const auto x = course.state();
    const GapState gap = look();
    at[count] = {gap.plug, gap.plug_slope * step, gap.tower_at_break, x[k_fly_meter], course.slope(k_fly_meter) * step,
                 k_far};
    if (settings.watched != nullptr && count > 0)
      at[count].stands = std::min(at[count - 1].stands, contact_stands(*settings.watched, course.time()) /
                                                            (std::abs(x[k_fly_switch]) + k_nothing));
    out.tower_volt = std::max(out.tower_volt, gap.tower);
    out.body_ampere = std::max(
        out.body_ampere, body.next(gap.plug / plug_leak_ohm + settings.gap_farad * std::max(gap.plug_slope, 0.0)));
    highest = std::max(highest, gap.plug);
    if (count >= k_least_steps && highest > 0 && gap.plug < k_past * highest) break;
  }
  if (count > k_most_steps) count = k_most_steps;
  std::array<double, k_most_steps + 1> crest{};  // of the meter up to each sample
  for (std::size_t k = 0; k < count; ++k) {
    const auto &a = at[k], &b = at[k + 1];
    out.plug_volt = std::max(out.plug_volt, crest_between(a.plug, a.plug_slope, b.plug, b.plug_slope));
    crest[k + 1] = std::max(crest[k], crest_between(a.meter, a.meter_slope, b.meter, b.meter_slope));
  }
  out.switch_volt = crest[count];
  out.tower_volt = std::max(out.tower_volt, out.plug_volt);
  for (std::size_t f = 0; f < k_opening_fractions.size(); ++f) {
    const double level = (1 - 1e-9) * k_opening_fractions[f] * out.plug_volt;
    out.tower_at_break[f] = out.tower_volt / (out.plug_volt + k_nothing);
    out.switch_at_break[f] = out.switch_volt;
    out.stands_at_break[f] = at[count].stands;
    for (std::size_t k = 0; k < count; ++k) {
      const auto &a = at[k], &b = at[k + 1];
      const bool crest_inside = a.plug < level && b.plug < level && a.plug_slope > 0 && b.plug_slope < 0 &&
                                crest_of_cubic(a.plug, a.plug_slope, b.plug, b.plug_slope) >= level;
      if (!(a.plug < level && b.plug >= level) && !crest_inside) continue;
      const double s =
          crest_inside ? crest_position(a.plug, a.plug_slope, b.plug, b.plug_slope) : detail::crossing(a, b, level);
      out.tower_at_break[f] = std::max((a.tower + s * (b.tower - a.tower)) / level, 0.5);
      out.switch_at_break[f] = crest[k] + s * (crest[k + 1] - crest[k]);
      if (f + 1 < k_opening_fractions.size()) out.stands_at_break[f] = a.stands + s * (b.stands - a.stands);
      break;
    }
  }
  out.switch_raw = course.highest_switch_volt() + k_nothing;
  out.arcs = course.has_arced() ? 1 : 0;
  out.plug_volt += k_nothing;
  out.tower_volt += k_nothing;
  out.switch_volt += k_nothing;
  for (auto& v : out.switch_at_break) v += k_nothing;
  out.body_ampere += 1e-12;
  return out;
}

}  // namespace lostspark::blocks
