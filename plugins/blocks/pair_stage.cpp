#include "pair_stage.hpp"

#include <algorithm>
#include <cmath>

#include "laws.hpp"
#include "opening_course.hpp"

namespace lostspark::blocks {
namespace {

constexpr double k_nothing = 1e-6;
constexpr double k_seen_ampere = 4e-3;
// As of a single gap (opening_stage.cpp): a thin arc's volts fall with its current; below these it goes out.
constexpr double k_thin_ampere = 2.4e-3, k_out_volt = 120;
constexpr std::array<FlybackState, 2> k_tower{k_fly_tower, k_fly_plug};

/// An arc across a gap: constant volts and a resistance. Not struck: none.
struct Arc {
  bool struck = false;
  double volt = 0, ohm = 0;
};

class PairFlyback : public Flyback {
 public:
  PairFlyback(const OpeningSettings& settings, const OpeningPort& port, const PairInputs& in, double secondary_farad)
      : Flyback(settings.limits, port, in.coil,
                {secondary_farad, 1 / (1 / settings.core_ohm + 1 / in.coil.secondary_ohm), true}),
        settings_(settings),
        in_(in) {
    for (std::size_t side = 0; side < 2; ++side) {
      lead_[side] = lesser(in.side[side].lead_ohm, 1e5) + 100;
      share_[side] = in.side[side].plug_leak_ohm / (in.side[side].plug_leak_ohm + lead_[side]);
    }
    rows();
  }

  /// The gap burns from now on, with these numbers in place of earlier ones.
  void strike_side(std::size_t side, double arc_volt, double arc_ohm) {
    arc_[side] = {true, arc_volt, arc_ohm};
    rows();
  }
  /// A gap that has conducted from the beginning: its tower stands at the arc's volts.
  void begin_struck(std::size_t side) {
    put(k_tower[side], in_.side[side].arc_volt);
    strike_side(side, in_.side[side].arc_volt, settings_.arc_ohm);
  }
  /// Share of the tower's volts that the holding gap sees.
  [[nodiscard]] double share(std::size_t side) const { return share_[side]; }
  [[nodiscard]] GapState gap(std::size_t side) const {
    const auto x = state();
    const double tower = x[k_tower[side]], rise = slope(k_tower[side]), k = share(side);
    // The gap's capacity lags behind the tower by this time.
    const double lag = lead_[side] * k * settings_.gap_farad;
    return {k * tower, k * rise, tower, tower + lag * rise};
  }
  /// Ampere of the burning gap.
  [[nodiscard]] double arc_ampere(std::size_t side) const {
    const auto seen = behind(side);
    const double lead_ampere = (state()[k_tower[side]] - seen.volt) * seen.siemens;
    const double plug = state()[k_tower[side]] - lead_[side] * lead_ampere;
    return (plug - arc_[side].volt) / arc_[side].ohm;
  }
  /// Volts across the burning gap.
  [[nodiscard]] double arc_volts(std::size_t side) const { return arc_[side].volt + arc_[side].ohm * arc_ampere(side); }
  [[nodiscard]] bool struck(std::size_t side) const { return arc_[side].struck; }

 private:
  struct Behind {
    double siemens, volt, farad;
  };
  [[nodiscard]] Behind behind(std::size_t side) const {
    const auto& arc = arc_[side];
    const double deposit = in_.side[side].plug_leak_ohm, ohm = lead_[side];
    if (!arc.struck) {
      const double k = deposit / (deposit + ohm);
      return {1 / (deposit + ohm), 0, settings_.lead_farad + k * k * settings_.gap_farad};
    }
    const double inner = 1 / (1 / arc.ohm + 1 / deposit), k = inner / (inner + ohm);
    return {1 / (ohm + inner), arc.volt * inner / arc.ohm, settings_.lead_farad + k * k * settings_.gap_farad};
  }

  void rows() {
    const auto a = behind(0), b = behind(1);
    const double across = settings_.secondary_farad, ohm = in_.coil.secondary_ohm;
    const double core = 1 / (1 / settings_.core_ohm + 1 / ohm);
    // What comes out of the winding enters both towers; a leak between them takes of it.
    FlybackVector out{};
    out[k_fly_i2] = core / ohm;
    out[k_fly_tower] = out[k_fly_plug] = core / (ohm * ohm) - 1 / ohm - 1 / in_.coil.secondary_leak_ohm;
    FlybackVector into_a = out, into_b = out;
    const double stray_a = a.siemens + 1 / in_.side[0].tower_leak_ohm,
                 stray_b = b.siemens + 1 / in_.side[1].tower_leak_ohm;
    into_a[k_fly_tower] -= stray_a;
    into_a[k_fly_one] += a.siemens * a.volt;
    into_b[k_fly_plug] -= stray_b;
    into_b[k_fly_one] += b.siemens * b.volt;
    const double determinant = a.farad * b.farad + across * (a.farad + b.farad);
    FlybackVector tower, plug;
    for (std::size_t k = 0; k < k_fly_states; ++k) {
      tower[k] = ((b.farad + across) * into_a[k] - across * into_b[k]) / determinant;
      plug[k] = ((a.farad + across) * into_b[k] - across * into_a[k]) / determinant;
    }
    set_secondary(tower, plug);
  }

  const OpeningSettings& settings_;
  const PairInputs& in_;
  std::array<double, 2> lead_{}, share_{};
  std::array<Arc, 2> arc_{};
};

}  // namespace

PairOpening open_pair(const OpeningSettings& settings, const OpeningPort& port, const PairInputs& in) {
  const double each = settings.lead_farad + settings.gap_farad;
  PairOpening out;
  {
    PairFlyback course(settings, port, in, settings.secondary_farad + each / 2);
    // A loaded side has its crest long before the other: what is followed is their sum.
    watch_opening(course, settings, 1e12, [&] {
      GapState sum;
      for (std::size_t side = 0; side < 2; ++side) {
        const auto g = course.gap(side);
        out[side].alone_plug = std::max(out[side].alone_plug, g.plug);
        out[side].alone_tower = std::max(out[side].alone_tower, g.tower);
        sum.plug += g.tower;
        sum.plug_slope += g.plug_slope / course.share(side);
        sum.tower = sum.tower_at_break = sum.plug;
      }
      return sum;
    });
  }
  for (std::size_t side = 0; side < 2; ++side) {
    out[side].alone_plug += k_nothing;
    out[side].alone_tower += k_nothing;
    if (side == 1 && in.side[1] == in.side[0]) {  // the same course seen from the other end
      out[1].led = out[0].led;
      break;
    }
    PairFlyback course(settings, port, in, settings.secondary_farad + each);
    course.begin_struck(1 - side);
    out[side].led = watch_opening(course, settings, in.side[side].plug_leak_ohm, [&] { return course.gap(side); });
  }
  return out;
}

BurnReport burn_pair(const OpeningSettings& settings, const OpeningPort& port, const PairInputs& in,
                     const PairBurnInputs& firing) {
  constexpr double k_early_second = 6e-5;  // the switch's ringing is followed for so long after breakdown
  PairFlyback course(settings, port, in, settings.secondary_farad + settings.lead_farad + settings.gap_farad);
  const std::size_t side = firing.side, partner = 1 - side;
  BurnReport out;
  LowPass arc(course.step());
  double last = 0, partner_crest = 0;
  const auto watch = [&](double step) {
    arc.step(step);
    partner_crest = std::max(partner_crest, course.gap(partner).tower);
    out.switch_volt = std::max(out.switch_volt, course.state()[k_fly_meter]);
    const double seen = arc.next(course.struck(side) ? std::max(course.arc_ampere(side), 0.0) : 0.0);
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
  const auto strike = [&](std::size_t which) {
    if (course.struck(which) || course.gap(which).plug < firing.gives_way_volt[which]) return false;
    course.strike_side(which, in.side[which].arc_volt, settings.arc_ohm);
    return true;
  };
  double flash = -1, until = firing.strike_at_most_second;
  while (course.time() < until) {
    // The capacities empty through a gap within a fraction of a microsecond.
    const int part = course.time() < flash ? 64 : course.struck(side) ? 4 : 2;
    course.advance(Flyback::k_ticks / part);
    watch(course.step() / part);
    for (std::size_t which = 0; which < 2; ++which) {
      if (!strike(which)) continue;
      flash = course.time() + 2e-6;
      if (course.struck(side)) until = course.time() + k_early_second;
    }
  }
  if (course.struck(side)) {
    const double slow = 4e-6;
    course.coast(slow);
    const double thin_ohm = in.side[side].arc_volt / k_thin_ampere + settings.arc_ohm;
    bool thin = false;
    while (course.time() < firing.watch_second) {
      course.advance();
      watch(slow);
      const double volts = course.arc_volts(side);
      const bool thinner = volts < in.side[side].arc_volt + settings.arc_ohm * k_thin_ampere;
      if (thinner && volts < k_out_volt) break;
      if (thinner == thin) continue;
      thin = thinner;
      for (const std::size_t which : {side, partner})
        if (course.struck(which))
          course.strike_side(which, thin ? 0 : in.side[which].arc_volt, thin ? thin_ohm : settings.arc_ohm);
    }
  }
  // What only charged the partner's tower was no spark.
  const auto& other = in.side[partner];
  const double leaks = 1 / other.tower_leak_ohm + 1 / (other.plug_leak_ohm + other.lead_ohm);
  if (!course.struck(partner) && partner_crest * leaks < k_loop_ampere)
    out.spark_second = out.current_crest = out.mean_ampere = 0;
  out.mean_ampere = out.spark_second > 0 ? out.mean_ampere / out.spark_second : 0;
  out.switch_volt += k_nothing;
  out.arcs = course.has_arced() ? 1 : 0;
  return out;
}

}  // namespace lostspark::blocks
