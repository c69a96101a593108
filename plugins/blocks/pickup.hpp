// Inductive pickup (pulse coil) with an input of a control unit that takes the difference of its two wires: nothing of
// it touches the supply but at engine metal, where the coil's foot is riveted.
#pragma once

#include <string>

#include "tables.hpp"

namespace lostspark::blocks {

struct PickupSettings {
  std::string component = "pulse_coil", title = "pulse coil";
  double emf_volt = 3.5;  ///< peak at the usual cranking speed; in proportion to speed
  double hertz = 100;     ///< of its half-wave at that speed
  double ohm = 220, henry = 0.09;
  double input_ohm = 1000;
  double threshold_volt = 0.8;
  double open_share = 0, weak_share = 0, gap_share = 0, hot_share = 0;
};

/// Relative EMF of a pickup at an air gap: falls as exp(-gap / 0.8 mm) (engineering judgement), 1 at `healthy_metre`.
double pickup_gap_factor(double gap_metre, double healthy_metre = 0.7e-3);

/// Component settings.component (hot, foot), terminals gate and gate_return of `unit`, parameters pulse_emf_volt,
/// pulse_ohm ..., gate_threshold_volt, and the modes of the coil. `speed`: parameter that EMF and frequency follow.
void add_pickup(plugin::Tables& t, const PickupSettings& settings, const char* unit, const char* speed);

}  // namespace lostspark::blocks
