#include "passage_stage.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace lostspark::blocks {
using std::numbers::pi;

PassageOutputs pass(const PrimaryLoop<k_loop_terminals>& loop, const PassageInputs& in) {
  PassageOutputs out;
  const double time = in.degree / (6 * in.speed_rpm);
  out.emf_peak = in.emf_volt * in.speed_rpm / k_passage_rpm;
  // The closed switch keeps ohms of what flows into it; what the harness leads past it is no share of that.
  const double inner = 1 / (1 + in.switch_ohm * loop.siemens);
  const double ohm = in.primary_ohm + loop.ohm + loop.share * loop.share * inner * in.switch_ohm;
  const double left = in.load_ohm / (in.load_ohm + ohm);
  const double omega = pi / time, reactance = omega * in.primary_henry, decay = left * ohm / in.primary_henry;
  const double within = std::min(in.opening, 1.0) * time, after = std::max(in.opening - 1, 0.0) * time;
  const double lossy = left * ohm;
  const double driven =
      left * out.emf_peak / (lossy * lossy + reactance * reactance) *
      (lossy * std::sin(omega * within) - reactance * std::cos(omega * within) + reactance * std::exp(-decay * within));
  out.current = driven * std::exp(-decay * after);
  out.emf_opening = std::max(out.emf_peak * std::sin(omega * within), 0.0);
  out.switch_volt = inner * in.switch_ohm * loop.share * out.current;
  return out;
}

}  // namespace lostspark::blocks
