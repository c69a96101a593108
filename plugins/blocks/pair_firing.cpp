#include "pair_firing.hpp"

#include <algorithm>
#include <cmath>

#include "fraction_table.hpp"
#include "laws.hpp"

namespace lostspark::blocks {
namespace {

// A partner that gives way late takes its charge along: up to a fifth of the reserve where it strikes at its own crest
// (simulated, 1.5 to 7 ampere: 1 to 3 % at 0.6 of it, 3 to 8 at 0.8, 4 to 12 at 0.9, 20 at 1).
constexpr double k_late_part = 0.2;
constexpr double k_tower_over_gap = 3.5;  // 35 pF of a tower with its gap, 10 pF of the gap alone (pair_settings())

/// The greater of two margins, the corner rounded; and the lesser.
double greater(double a, double b) {
  const double higher = std::max(a, b), lower = std::min(a, b);
  return higher + std::log1p(std::exp(8 * (lower - higher))) / 8;
}
double least(double a, double b) { return -greater(-a, -b); }

}  // namespace

PairFiringOutputs fire_pair(const PairFiringInputs& in, const PairSideOpening& own, const PairSideOpening& partner) {
  constexpr double k_nothing = 1e-6;
  PairFiringOutputs out;
  // How far the partner gives way while this gap holds.
  const double early = std::clamp(in.partner_volt / partner.alone_plug, 1e-6, 1.0);
  const double led = 1 / (1 + std::exp(-std::log(partner.alone_plug / in.partner_volt) / 0.02));
  const double late = 1 - k_late_part * std::pow(early, 8);
  const double plug = std::pow(own.alone_plug, 1 - led) * std::pow(late * own.led.plug_volt, led);
  const double tower = plug * own.led.tower_volt / own.led.plug_volt;
  const double limited = lesser(plug, in.flash_volt);
  out.reserve_volt = remainder_above(limited, in.break_volt) + k_nothing;
  out.coil_reserve_volt = lesser(tower, in.flash_volt) + k_nothing;
  out.strike_margin = std::log(out.reserve_volt / in.demand_volt);
  out.close_margin = greater(std::log(partner.led.plug_volt / in.partner_volt),
                             std::log((partner.led.tower_volt * in.partner_siemens + 1e-12) / k_loop_ampere));
  out.spark_margin = least(out.strike_margin, out.close_margin);
  const double needed = in.demand_volt + in.break_volt, fraction = needed / own.led.plug_volt;
  out.plug_volt_spark = needed * at_fraction(k_opening_fractions, own.led.tower_at_break, fraction);
  // A gap that breaks early does not save the driver: the leakage of the windings alone drives it into its clamp. What
  // it then shows is what it shows where the gap breaks at a sixth of the reserve.
  out.switch_volt = at_fraction(k_opening_fractions, own.led.switch_at_break, std::max(fraction, 1.0 / 6)) + k_nothing;
  // A deposit carries current through the plug's body without a spark: the clamp cannot tell.
  const double leak = std::log((led * own.led.body_ampere * limited / own.led.plug_volt + 1e-12) / in.clamp_ampere);
  // Nor from what charges the partner's tower where the loop stays open: its capacities over the gap's.
  const double charging = std::log((k_tower_over_gap * partner.led.body_ampere + 1e-12) / in.clamp_ampere);
  out.clamp_margin = greater(greater(out.spark_margin, leak), least(out.strike_margin, charging));
  return out;
}

}  // namespace lostspark::blocks
