#include "opening_stage.hpp"

#include <algorithm>
#include <cmath>

#include "flyback.hpp"
#include "opening_course.hpp"

namespace lostspark::blocks {
namespace {

constexpr double k_nothing = 1e-6;
constexpr double k_seen_ampere = 4e-3;
// A thin arc: below this current its volts fall with it; below these volts across the gap it goes out.
constexpr double k_thin_ampere = 2.4e-3, k_out_volt = 120;
}  // namespace

double contact_stands(const SwitchLimits& limits, double second) {
  const double knee = (limits.arc_knee_volt - limits.arc_start_volt) / std::max(limits.arc_rise, 1e-30);
  return second < knee ? limits.arc_start_volt + limits.arc_rise * second
                       : limits.arc_knee_volt + limits.arc_rise_beyond * (second - knee);
}

Opening open_coil(const OpeningSettings& settings, const OpeningPort& port, const OpeningInputs& in) {
  Flyback course(settings, port, in);
  return watch_opening(course, settings, in.plug_leak_ohm, [&] {
    const auto x = course.state();
    return GapState{x[k_fly_plug], course.slope(k_fly_plug), x[k_fly_tower], x[k_fly_tower]};
  });
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
      body.step(step);
      arc.step(step);
      watch(true, step, (course.state()[k_fly_plug] - firing.arc_volt) / settings.arc_ohm);
    }
    const double slow = 4e-6;
    course.coast(slow);
    body.step(slow);
    arc.step(slow);
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
