#include "converter_stage.hpp"

#include <algorithm>
#include <cmath>

#include "harness.hpp"
#include "laws.hpp"

namespace lostspark::blocks {

ConverterOutputs convert(const ConverterInputs& in) {
  constexpr double k_nothing = 1e-6;  // volt
  auto y = unpack_harness<2>(in.harness);
  std::array<Vector<1>, 2> x{};
  x[0][0] = 1;
  x[1][0] = -1;
  solve_symmetric(y, x);  // volts per ampere that flows from ground to supply inside the converter, reversed
  const double open = std::max(in.open_volt[0] - in.open_volt[1], 0.0);
  const double ampere = open / (in.input_ohm + x[0][0] - x[1][0]);
  ConverterOutputs out;
  out.least_volt = ampere * in.input_ohm + k_nothing;
  out.supply_volt = std::max(in.open_volt[0] - in.draws * ampere * x[0][0], 0.0) + k_nothing;
  out.ground_volt = std::max(in.open_volt[1] - in.draws * ampere * x[1][0], 0.0) + k_nothing;
  // d(energy)/dt = power - what leaks; energy C V^2 / 2.
  const double power = in.efficiency * out.least_volt * out.least_volt / in.input_ohm;
  const double settled = power * in.leak_ohm;
  const double reached = std::sqrt(settled * -std::expm1(-2 * in.charge_second / (in.leak_ohm * in.farad)));
  out.capacitor_volt = lesser(reached + k_nothing, in.end_volt);
  return out;
}

}  // namespace lostspark::blocks
