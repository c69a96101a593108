// Textbook laws that several families need, SI units. Sources are named in docs/physics.md.
#pragma once

#include <cmath>
#include <numbers>

namespace lostspark::blocks {

/// Energy of a charged capacitor, joule.
inline double capacitor_energy(double farad, double volt) { return farad * volt * volt / 2; }

/// Crest of the secondary when a capacitor C1 at `volt` is tipped through an ideal transformer onto C2, no losses.
inline double two_capacitor_limit(double volt, double turns, double c1_farad, double c2_farad) {
  return 2 * turns * volt * c1_farad / (c1_farad + turns * turns * c2_farad);
}

/// Volts left on a leaking capacitor after a time.
inline double leaked_volt(double volt, double ohm, double farad, double second) {
  return volt * std::exp(-second / (ohm * farad));
}

/// Copper winding: ohms at 20 celsius -> ohms at a temperature (coefficient 0.00393 per kelvin at 20 celsius, IEC
/// 60028).
inline double copper_ohm(double ohm_at_20, double celsius) { return ohm_at_20 * (1 + 0.00393 * (celsius - 20)); }

/// Peak EMF of a winding under a turning magnet at another speed: in proportion.
inline double emf_at_speed(double volt_at_reference, double rpm, double reference_rpm) {
  return volt_at_reference * rpm / reference_rpm;
}

/// Silicon junction of the decks' diodes: emission coefficient 1.8 at 27 celsius, saturation current.
inline constexpr double k_slope_volt = 0.0465, k_saturation_ampere = 1e-9;

/// Drop of a silicon junction (saturation current 1 nA, emission coefficient 1.8: 46.5 mV for each factor e of current)
/// fed by `volt` behind `ohm`, taken as constant over the pulse. It never exceeds what drives it: what is left,
/// volt - junction_drop(volt), falls smoothly to zero (as the cube) instead of being clipped.
inline double junction_drop(double volt, double ohm) {
  if (!(volt > 1e-12)) return 0;
  const double drop = k_slope_volt * std::log1p(volt / (ohm * k_saturation_ampere));
  return drop * std::tanh(volt / drop);
}

/// The smaller of two positive limits with a rounded corner (p-norm, p = 8: 8 % low where both are equal, 0.01 % where
/// one is three times the other).
inline double lesser(double a, double b) {
  const double ratio = a < b ? a / b : b / a, r2 = ratio * ratio, r4 = r2 * r2;
  return (a < b ? a : b) / std::sqrt(std::sqrt(std::sqrt(1 + r4 * r4)));
}

/// a - b where a > b, and a small positive rest (a fraction of a) where b takes all; smooth.
inline double remainder_above(double a, double b, double fraction = 0.02) {
  const double difference = a - b, width = fraction * a;
  const double root = std::sqrt(difference * difference + width * width);
  return difference > 0 ? (difference + root) / 2 : width * width / (2 * (root - difference));
}

}  // namespace lostspark::blocks
