// Opening: the switch of an inductive ignition interrupts the primary current; what was stored in the coil goes into
// the capacities, the clamp, the losses and, where the gap breaks, into the spark.
//
// Six states (primary and secondary current, volts of the switch, tower and plug, the meter's pointer) between events:
// clamp conducts, reverse diode conducts, contact arcs, gap burns. Between events the circuit is linear and goes
// forward by matrix exponentials; the moment of an event is found by halving the step, so no step error enters.
#pragma once

#include <array>
#include <cstddef>

#include "primary_loop.hpp"

namespace lostspark::blocks {

/// demand / reserve at which the state at breakdown is tabulated.
inline constexpr std::array<double, 7> k_opening_fractions{0.03, 0.08, 0.2, 0.4, 0.6, 0.8, 1.0};

/// What interrupts the current.
struct SwitchLimits {
  double clamp_volt = 400, clamp_ohm = 0.5;  ///< a transistor's clamp; 1e9 volt: none
  bool reverse_diode = true;                 ///< conducts below -0.7 V (transistors; contacts do not)
  /// A contact stands so much as it opens: volts at once, volts a second, up to a knee, then slower. 1e9: no arc.
  double arc_start_volt = 1e9, arc_rise = 0, arc_knee_volt = 1e9, arc_rise_beyond = 0;
  double arc_volt = 15, arc_ohm = 0.5, arc_least_ampere = 0.4;  ///< once struck: until the current falls below
};

/// Volts that a contact stands, so long after it began to open.
double contact_stands(const SwitchLimits& limits, double second);

/// Contact breaker; numbers are engineering judgement on contact physics.
inline SwitchLimits contact_breaker() {
  SwitchLimits s;
  s.clamp_volt = 1e9;
  s.reverse_diode = false;
  s.arc_start_volt = 20;
  s.arc_rise = 16e6;
  s.arc_knee_volt = 330;
  s.arc_rise_beyond = 2e6;
  return s;
}

struct OpeningSettings {
  double secondary_farad = 22e-12;  ///< winding, across it
  double lead_farad = 8e-12, gap_farad = 10e-12;
  double core_ohm = 2e6;  ///< core and dielectric loss, across the secondary
  double arc_ohm = 2000;  ///< of the burning gap, beside its arc volts
  SwitchLimits limits;
  /// A contact whose race against the volts is watched without letting it arc: Opening::stands_at_break. nullptr: none.
  const SwitchLimits* watched = nullptr;
};

struct OpeningInputs {
  double current = 4;  ///< primary, as the switch opens, ampere
  /// Across the switch just before: 0 for one that was closed; the arc's volts for an arc that goes out. The falling
  /// current then keeps volts on the secondary already.
  double held_volt = 0;
  /// The current was still changing as a magnet drove it, and the secondary stands at what that made: volts of either
  /// polarity. Battery coils leave it out: a hundred volts at the end of a dwell.
  bool driven = false;
  double primary_henry = 5e-3, primary_ohm = 2.2, turns = 70, coupling = 0.96;
  double switch_farad = 1e-9;  ///< across the switch: a transistor's capacity, or the condenser
  double secondary_ohm = 9e3, secondary_leak_ohm = 1e10;
  double lead_ohm = 5e3;            ///< cap, lead, joint in series
  double plug_leak_ohm = 1e10;      ///< deposit across the gap
  double meter_rise_second = 1e-6;  ///< time constant of the meter's single pole
};

/// Crests until the gap's volts have passed theirs, all > 0.
struct Opening {
  double plug_volt = 0;    ///< at the plug, gap holding
  double tower_volt = 0;   ///< at the coil's tower, gap holding
  double switch_volt = 0;  ///< across the switch as the meter shows it, gap holding
  double switch_raw = 0;   ///< instantaneous
  double body_ampere = 0;  ///< through the plug's body, gap holding, 2 us low pass: deposit and capacity
  double arcs = 0;         ///< 1 where the contact has struck an arc
  std::array<double, k_opening_fractions.size()> tower_at_break{};   ///< tower over plug volts as the gap breaks
  std::array<double, k_opening_fractions.size()> switch_at_break{};  ///< meter's crest up to that moment, volt
  /// What a watched contact stands over the volts across it, least value up to that moment; the last: gap holding.
  std::array<double, k_opening_fractions.size()> stands_at_break{};
};

/// The loop's numbers without its nodes: all that the opening needs.
struct OpeningPort {
  double volt = 12, ohm = 0.1, share = 1, ampere = 0, siemens = 1e-9;
  template <std::size_t N>
  static OpeningPort of(const PrimaryLoop<N>& loop) {
    return {loop.volt, loop.ohm, loop.share, loop.ampere, loop.siemens};
  }
};

Opening open_coil(const OpeningSettings& settings, const OpeningPort& port, const OpeningInputs& in);

struct BurnInputs {
  double demand_volt = 6000, arc_volt = 600;
  double strike_at_most_second = 3e-4;  ///< the gap strikes within this time or not at all
  double watch_second = 6e-3;
};
struct BurnReport {
  double spark_second = 0;   ///< time the gap carries more than 4 mA
  double current_crest = 0;  ///< ampere of the arc after a 2 us low pass
  double mean_ampere = 0;    ///< of the arc, over that time
  double body_crest = 0;     ///< ampere through the plug's body after a 2 us low pass
  double switch_volt = 0;    ///< meter's crest across the switch, the gap breaking
  double arcs = 0;           ///< 1 where the contact has struck an arc
};
/// Goes on after breakdown until the spark dies. For reports and for switches whose crest comes after breakdown
/// (contact breakers): about 60 us of work.
BurnReport burn(const OpeningSettings& settings, const OpeningPort& port, const OpeningInputs& in,
                const BurnInputs& firing);

}  // namespace lostspark::blocks
