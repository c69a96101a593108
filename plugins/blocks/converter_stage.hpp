// A converter that charges a storage capacitor from a battery.
//
// A flyback converter with a fixed on-time in discontinuous mode takes the same energy out of every cycle: to its
// supply it is a resistance, to its load a source of power (the "loss-free resistor", S. Singer 1990, from memory;
// textbooks of power electronics). It stops when the capacitor has reached its end volts. Averaged over its cycles of
// 20 to 50 us.
#pragma once

namespace lostspark::blocks {

struct ConverterInputs {
  double input_ohm = 5;  ///< what it is to its supply while it charges
  double efficiency = 0.7;
  double end_volt = 280;  ///< where it stops
  double farad = 1e-6, leak_ohm = 8.3e6;
  double charge_second = 0.15;        ///< from one discharge to the next
  double draws = 1;                   ///< 0..1: something discharges the capacitor at all; scales what the supply shows
  const double* open_volt = nullptr;  ///< of supply and ground without the converter, to earth
  const double* harness = nullptr;    ///< packed, those two terminals
};

/// All > 0.
struct ConverterOutputs {
  double capacitor_volt = 0;
  double least_volt = 0;                    ///< between supply and ground while it charges
  double supply_volt = 0, ground_volt = 0;  ///< to earth, while it charges, as far as it draws
};

ConverterOutputs convert(const ConverterInputs& in);

}  // namespace lostspark::blocks
