#include "firing_stage.hpp"

#include <algorithm>
#include <cmath>

#include "fraction_table.hpp"
#include "laws.hpp"

namespace lostspark::blocks {
namespace {

using Table = std::array<double, k_break_fractions.size()>;

double at_fraction(const Table& y, double x) { return blocks::at_fraction(k_break_fractions, y, x); }

constexpr double k_pulse_ohm = 10;      // volts over current of the discharge at its crest, a few ohms to tens
constexpr double k_instant_ohm = 4400;  // and 15 ns after the switch has closed

}  // namespace

double switched_volt(double capacitor_volt) { return capacitor_volt - junction_drop(capacitor_volt, k_pulse_ohm); }

FiringOutputs fire(const FiringInputs& in, const DischargeGains& gains) {
  constexpr double k_nothing = 1e-6;  // volt, ampere: floors
  FiringOutputs out;
  const double volt = switched_volt(in.capacitor_volt) + 1e-9;
  const double instant = in.capacitor_volt - junction_drop(in.capacitor_volt, k_instant_ohm);
  out.trigger_margin = std::log(std::max(in.gate_volt, 1e-9) / in.gate_threshold_volt);

  const double unbroken = volt * gains.plug;
  const double limited = lesser(unbroken, in.flash_volt);
  out.reserve_volt = remainder_above(limited, in.break_volt) + k_nothing;
  out.coil_reserve_volt = lesser(volt * gains.tower, in.flash_volt) + k_nothing;
  out.spark_margin = std::log(out.reserve_volt / in.demand_volt);

  const double needed = in.demand_volt + in.break_volt, fraction = needed / (unbroken + k_nothing);
  out.plug_volt_spark = needed * at_fraction(gains.tower_at_break, fraction);
  out.primary_current_open = volt * gains.current + k_nothing;
  const double arc = in.arc_volt * at_fraction(gains.current_arc, fraction);
  const double without_arc = volt * at_fraction(gains.current_fired, fraction) + k_nothing;
  out.primary_current = remainder_above(without_arc, arc);
  const double kept = out.primary_current / without_arc;  // the arc takes as much off the drops in the earths

  // A deposit carries current through the plug's body without a spark: the clamp cannot tell.
  const double leak = std::log((limited / in.plug_leak_ohm + 1e-12) / in.clamp_ampere), m = out.spark_margin;
  const double higher = std::max(m, leak), lower = std::min(m, leak);
  out.clamp_margin = higher + std::log1p(std::exp(8 * (lower - higher))) / 8;

  // Earth drops are read while the plug fires or fails to; weigh by the margin so that nothing jumps.
  const double weight = 1 / (1 + std::exp(-m / 0.05));
  const auto earth = [&](double open, const Table& fired) {
    return volt * ((1 - weight) * open + weight * kept * at_fraction(fired, fraction)) + k_nothing;
  };
  out.coil_ground_volt = earth(gains.coil_ground, gains.coil_ground_fired);
  out.ground_volt = earth(gains.ground, gains.ground_fired);
  const double ampere = (1 - weight) * out.primary_current_open + weight * out.primary_current;
  out.coil_lug_volt = ampere * gains.coil_ground_ohm;
  out.ground_lug_volt = -ampere * gains.ground_ohm;
  out.coil_out_volt = volt * gains.coil_out + k_nothing;
  out.primary_volt = volt * gains.primary + k_nothing;
  out.coil_out_raw_volt = instant * gains.coil_out_raw + k_nothing;
  out.primary_raw_volt = instant * gains.primary_raw + k_nothing;
  return out;
}

}  // namespace lostspark::blocks
