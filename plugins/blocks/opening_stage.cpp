#include "opening_stage.hpp"

#include <algorithm>
#include <cmath>

#include "cubic.hpp"
#include "flyback.hpp"

namespace lostspark::blocks {
namespace {

constexpr std::size_t k_most_steps = 512;  // four quarter swings
constexpr std::size_t k_least_steps = 24;
constexpr double k_past = 0.75;  // of the crest: the course ends where the gap's volts have fallen below
constexpr double k_nothing = 1e-6;
constexpr double k_far = 1e9;  // a contact without volts across it
constexpr double k_seen_ampere = 4e-3, k_filter_second = 2e-6;
// A thin arc: below this current its volts fall with it; below these volts across the gap it goes out.
constexpr double k_thin_ampere = 2.4e-3, k_out_volt = 120;

struct Sample {
  double plug = 0, plug_slope = 0, tower = 0, meter = 0, meter_slope = 0;  ///< slopes per step
  double stands = 0;  ///< of a watched contact over the volts across it, least value so far
};

/// Highest value of a cubic between two samples, if it has a crest inside.
double crest_between(double a, double da, double b, double db) {
  return da > 0 && db < 0 ? std::max(crest_of_cubic(a, da, b, db), std::max(a, b)) : std::max(a, b);
}

/// First crossing of `level` on the cubic, a < level <= b.
double crossing(const Sample& a, const Sample& b, double level) {
  double low = 0, high = 1;
  for (int k = 0; k < 40; ++k) {
    const double middle = (low + high) / 2;
    (cubic_at(a.plug, a.plug_slope, b.plug, b.plug_slope, middle) < level ? low : high) = middle;
  }
  return (low + high) / 2;
}

/// Single pole over samples taken as constant over their step.
struct LowPass {
  double keep, y = 0;
  explicit LowPass(double step) : keep(std::exp(-step / k_filter_second)) {}
  double next(double u) { return y = keep * y + (1 - keep) * u; }
};

}  // namespace

double contact_stands(const SwitchLimits& limits, double second) {
  const double knee = (limits.arc_knee_volt - limits.arc_start_volt) / std::max(limits.arc_rise, 1e-30);
  return second < knee ? limits.arc_start_volt + limits.arc_rise * second
                       : limits.arc_knee_volt + limits.arc_rise_beyond * (second - knee);
}

Opening open_coil(const OpeningSettings& settings, const OpeningPort& port, const OpeningInputs& in) {
  Flyback course(settings, port, in);
  std::array<Sample, k_most_steps + 1> at;
  const double step = course.step();
  LowPass body(step);
  Opening out;
  std::size_t count = 0;
  double highest = 0;
  for (; count <= k_most_steps; ++count) {
    if (count > 0) course.advance();
    const auto x = course.state();
    const double rise = course.slope(k_fly_plug);
    at[count] = {x[k_fly_plug], rise * step, x[k_fly_tower], x[k_fly_meter], course.slope(k_fly_meter) * step, k_far};
    if (settings.watched != nullptr && count > 0)
      at[count].stands = std::min(at[count - 1].stands, contact_stands(*settings.watched, course.time()) /
                                                            (std::abs(x[k_fly_switch]) + k_nothing));
    out.tower_volt = std::max(out.tower_volt, x[k_fly_tower]);
    out.body_ampere = std::max(out.body_ampere,
                               body.next(x[k_fly_plug] / in.plug_leak_ohm + settings.gap_farad * std::max(rise, 0.0)));
    highest = std::max(highest, x[k_fly_plug]);
    if (count >= k_least_steps && highest > 0 && x[k_fly_plug] < k_past * highest) break;
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
          crest_inside ? crest_position(a.plug, a.plug_slope, b.plug, b.plug_slope) : crossing(a, b, level);
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

BurnReport burn(const OpeningSettings& settings, const OpeningPort& port, const OpeningInputs& in,
                const BurnInputs& firing) {
  constexpr double k_early_second = 6e-5;  // the switch's ringing is followed for so long after breakdown
  Flyback course(settings, port, in);
  BurnReport out;
  LowPass body(course.step()), arc(course.step());
  double last = 0;
  const auto watch = [&](bool burning, double step, double in_arc) {
    const auto x = course.state();
    out.switch_volt = std::max(out.switch_volt, x[k_fly_meter]);
    const double deposit = x[k_fly_plug] / in.plug_leak_ohm;
    const double gap = burning ? std::max(in_arc, 0.0) : 0.0;
    const double charging = burning ? 0.0 : settings.gap_farad * course.slope(k_fly_plug);
    const double seen = arc.next(gap);
    out.body_crest = std::max(out.body_crest, body.next(std::abs(deposit + gap + charging)));
    out.current_crest = std::max(out.current_crest, seen);
    if (seen > k_seen_ampere) {
      const double part = last > k_seen_ampere ? 1.0 : (seen - k_seen_ampere) / (seen - last);
      out.spark_second += part * step;
      out.mean_ampere += part * step * seen;
    } else if (last > k_seen_ampere) {
      out.spark_second += step * (last - k_seen_ampere) / (last - seen);
    }
    last = seen;
  };
  bool struck = false;
  while (course.time() < firing.strike_at_most_second) {
    struck = course.advance_until_plug(firing.demand_volt);
    watch(false, course.step(), 0);
    if (struck) break;
  }
  if (struck) {
    course.strike(firing.arc_volt, settings.arc_ohm);
    // The capacities empty through the gap within a fraction of a microsecond, then the switch rings.
    const double flash = course.time() + 2e-6, early = course.time() + k_early_second;
    while (course.time() < early) {
      const int part = course.time() < flash ? 64 : 4;
      const double step = course.step() / part;
      course.advance(Flyback::k_ticks / part);
      body.keep = arc.keep = std::exp(-step / k_filter_second);
      watch(true, step, (course.state()[k_fly_plug] - firing.arc_volt) / settings.arc_ohm);
    }
    const double slow = 4e-6;
    course.coast(slow);
    body.keep = arc.keep = std::exp(-slow / k_filter_second);
    // Switch and stray inductance ring on in the spark's current. In a dip the arc's volts go down with the current,
    // which holds it: a straight line through nought instead of the constant volts, until it goes out.
    const double thin_ohm = firing.arc_volt / k_thin_ampere + settings.arc_ohm;
    bool thin = false;
    while (course.time() < firing.watch_second) {
      course.advance();
      const double volts = course.state()[k_fly_plug];
      watch(true, slow, thin ? volts / thin_ohm : (volts - firing.arc_volt) / settings.arc_ohm);
      const bool thinner = volts < firing.arc_volt + settings.arc_ohm * k_thin_ampere;
      if (thinner && volts < k_out_volt) break;
      if (thinner == thin) continue;
      thin = thinner;
      course.strike(thin ? 0 : firing.arc_volt, thin ? thin_ohm : settings.arc_ohm);
    }
  }
  out.mean_ampere = out.spark_second > 0 ? out.mean_ampere / out.spark_second : 0;
  out.switch_volt += k_nothing;
  out.arcs = course.has_arced() ? 1 : 0;
  return out;
}

}  // namespace lostspark::blocks
