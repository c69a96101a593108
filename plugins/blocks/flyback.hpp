// The course of an opening, event by event: shared by open_coil() and burn().
#pragma once

#include <cstddef>

#include "dense.hpp"
#include "opening_stage.hpp"

namespace lostspark::blocks {

/// States of the course; the last entry is the constant 1.
enum FlybackState : std::size_t {
  k_fly_i1,
  k_fly_i2,
  k_fly_switch,
  k_fly_tower,
  k_fly_plug,
  k_fly_meter,
  k_fly_one,
  k_fly_states
};
using FlybackVector = Vector<k_fly_states>;

/// What conducts across the switch, and the gap.
enum class Across : unsigned char { open, clamp, reverse, arc };

/// Steps through the circuit, one grid step at a time. States in volt and ampere.
class Flyback {
 public:
  Flyback(const OpeningSettings& settings, const OpeningPort& port, const OpeningInputs& in);

  /// A grid step has so many ticks; events fall on ticks (tens of picoseconds).
  static constexpr int k_halvings = 14, k_ticks = 1 << k_halvings;
  [[nodiscard]] double step() const { return step_; }      ///< second
  [[nodiscard]] double time() const { return now_.time; }  ///< second since the switch opened
  [[nodiscard]] FlybackVector state() const;               ///< volt, ampere
  [[nodiscard]] double slope(FlybackState of) const;       ///< per second
  [[nodiscard]] bool has_arced() const { return now_.arced; }
  [[nodiscard]] double highest_switch_volt() const { return now_.highest; }

  /// One grid step, or part of it, with everything that happens across the switch in it.
  void advance(int ticks = k_ticks);
  /// Goes to where the plug reaches `volt` within one grid step and says true; false if it does not within it (state
  /// then as after advance()).
  bool advance_until_plug(double volt);
  /// The gap burns from now on, with these numbers in place of earlier ones.
  void strike(double arc_volt, double arc_ohm);
  /// From now on the switch stays open whatever comes, in steps of this length: the slow decay of a spark.
  void coast(double step);

 protected:
  /// Coil and switch, which all secondaries share; the rows of tower and plug are left to whoever derives from it.
  struct Coil {
    double secondary_farad = 0;  ///< all that the secondary charges, as one capacity: sets the step
    double core_ohm = 0;         ///< of the loss beside the secondary's own resistance: 1 / (1 / core + 1 / ohm)
    bool both_ends = false;      ///< the state k_fly_plug is the volts of the secondary's other end
  };
  Flyback(const SwitchLimits& limits, const OpeningPort& port, const OpeningInputs& in, const Coil& coil);
  /// Rates of tower and plug, unscaled; forgets what was computed with earlier ones.
  void set_secondary(const FlybackVector& tower, const FlybackVector& plug);
  /// Puts a state where it is said to be, volt or ampere.
  void put(FlybackState state, double value) { now_.x[state] = value / scale_[state]; }

 private:
  struct Ladder {
    bool ready = false;
    std::array<Matrix<k_fly_states>, k_halvings + 1> of{};  ///< exp(a h / 2^k)
  };
  [[nodiscard]] Matrix<k_fly_states> rates(Across across) const;
  const Ladder& ladder(Across across);
  void move(int ticks);
  [[nodiscard]] double reached_switch() const;  ///< ampere that the coil sends into the switch
  [[nodiscard]] double into_switch() const;     ///< and what is left of it at the volts across the switch
  struct Held {
    double volt, ohm;
  };
  [[nodiscard]] Held held(Across across) const;
  [[nodiscard]] double stands(double t) const;  ///< volts that a contact stands
  [[nodiscard]] bool over() const;              ///< an event lies behind
  void settle();
  void change();

  struct Moment {
    FlybackVector x{};  ///< scaled
    double time = 0, highest = 0;
    Across across = Across::open;
    bool arced = false;
  };
  SwitchLimits limits_;
  OpeningPort port_;
  double switch_farad_, gap_farad_ = 0, step_ = 0;
  Matrix<k_fly_states> open_{};                    ///< unscaled rates, switch open, gap holding
  double to_i1_ = 0, to_i2_ = 0, meter_rate_ = 0;  ///< how volts across the switch enter the rates
  FlybackVector scale_{};
  Moment now_;
  std::array<Ladder, 4> ladders_{};
  bool coasting_ = false;
  double arc_siemens_ = 0, arc_drive_ = 0;  ///< of the burning gap, over its capacity
};

}  // namespace lostspark::blocks
