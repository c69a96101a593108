#include "inductive_firing.hpp"

#include <algorithm>
#include <cmath>

#include "fraction_table.hpp"
#include "laws.hpp"

namespace lostspark::blocks {

InductiveFiringOutputs fire_coil(const InductiveFiringInputs& in, const Opening& opening) {
  constexpr double k_nothing = 1e-6;
  InductiveFiringOutputs out;
  out.trigger_margin = std::log(std::max(in.gate_volt, 1e-9) / in.gate_threshold_volt);
  const double limited = lesser(opening.plug_volt, in.flash_volt);
  out.reserve_volt = remainder_above(limited, in.break_volt) + k_nothing;
  out.coil_reserve_volt = lesser(opening.tower_volt, in.flash_volt) + k_nothing;
  out.spark_margin = std::log(out.reserve_volt / in.demand_volt);
  const double needed = in.demand_volt + in.break_volt, fraction = needed / opening.plug_volt;
  out.plug_volt_spark = needed * at_fraction(k_opening_fractions, opening.tower_at_break, fraction);
  out.switch_volt = at_fraction(k_opening_fractions, opening.switch_at_break, fraction);
  // A deposit carries current through the plug's body without a spark: the clamp cannot tell.
  const double leak = std::log((opening.body_ampere * limited / opening.plug_volt + 1e-12) / in.clamp_ampere);
  const double m = out.spark_margin, higher = std::max(m, leak), lower = std::min(m, leak);
  out.clamp_margin = higher + std::log1p(std::exp(8 * (lower - higher))) / 8;
  return out;
}

}  // namespace lostspark::blocks
