#include "dwell_stage.hpp"

#include <algorithm>
#include <cmath>

#include "laws.hpp"

namespace lostspark::blocks {

DwellOutputs dwell(const PrimaryLoop<k_dwell_terminals>& loop, const double* open_volt, const DwellInputs& in) {
  constexpr double k_nothing = 1e-9;
  // The switch closed: its volts follow from what flows into it, which removes them from the loop's equations. It keeps
  // no more than what drives it, so that a dead supply gives no current backwards.
  const double inner = 1 / (1 + in.switch_ohm * loop.siemens);
  const double driving = std::max(loop.volt, 0.0) + k_nothing;
  const double kept = in.switch_volt * std::tanh(driving / in.switch_volt);
  const double fixed = inner * (kept + in.switch_ohm * loop.ampere);  // switch volts without coil current
  const double slope = inner * in.switch_ohm * loop.share;            // and per ampere of it
  const double volts = std::max(loop.volt - loop.share * fixed, 0.0);
  const double ohms = in.primary_ohm + loop.ohm + loop.share * slope;

  DwellOutputs out;
  out.settled = volts / ohms + k_nothing;
  out.time_constant = in.primary_henry / ohms;
  // A chafed wire between coil and switch carries current all the time: the dwell begins from there.
  const double before = std::clamp(loop.standing_current(in.primary_ohm), 0.0, out.settled);
  const double reached = out.settled - (out.settled - before) * std::exp(-in.dwell_second / out.time_constant);
  out.current = lesser(reached, in.limit_ampere);
  // What the limiter takes over stands across the switch; 0 while it does nothing.
  const double limited = 1 - std::pow(out.current / (reached + k_nothing), 8);
  const double taken = std::max((volts - ohms * out.current) / std::max(loop.share, 1e-3), 0.0);
  const double across = fixed + slope * out.current + limited * taken;
  out.switch_current = std::max(loop.ampere + loop.share * out.current - loop.siemens * across, 0.0) + k_nothing;
  for (std::size_t k = 0; k < k_dwell_terminals; ++k) {
    const double closed = loop.node[k].at(out.current, across);
    out.volt[k] = open_volt[k] + in.switches * (closed - open_volt[k]);
  }
  return out;
}

}  // namespace lostspark::blocks
