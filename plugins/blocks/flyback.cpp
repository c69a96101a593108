#include "flyback.hpp"

#include <algorithm>
#include <cmath>

#include "laws.hpp"

namespace lostspark::blocks {
namespace {
constexpr double k_diode_volt = 0.7;
constexpr double k_step_fraction = 1.0 / 128;  // of sqrt(L1 C): a quarter of a swing has 200 steps
constexpr int k_events_a_step = 24;            // more would be chatter; the rest of the step goes on as it is
}  // namespace

Flyback::Flyback(const SwitchLimits& limits, const OpeningPort& port, const OpeningInputs& in, const Coil& coil)
    : limits_(limits), port_(port), switch_farad_(in.switch_farad) {
  const double l1 = in.primary_henry, l2 = l1 * in.turns * in.turns;
  const double mutual = std::min(in.coupling, 0.999) * in.turns * l1, determinant = l1 * l2 - mutual * mutual;

  // Volts over the windings, as rows over the states: u1 over the primary, u2 = -(secondary's).
  FlybackVector u1{}, u2{};
  u1[k_fly_one] = port.volt;
  u1[k_fly_i1] = -(port.ohm + in.primary_ohm);
  u2[k_fly_i2] = -coil.core_ohm;
  u2[k_fly_tower] = -coil.core_ohm / in.secondary_ohm;
  if (coil.both_ends) u2[k_fly_plug] = u2[k_fly_tower];
  for (std::size_t k = 0; k < k_fly_states; ++k) {
    open_[k_fly_i1][k] = (l2 * u1[k] - mutual * u2[k]) / determinant;
    open_[k_fly_i2][k] = (l1 * u2[k] - mutual * u1[k]) / determinant;
  }
  to_i1_ = -l2 * port.share / determinant;
  to_i2_ = mutual * port.share / determinant;
  open_[k_fly_i1][k_fly_switch] = to_i1_;
  open_[k_fly_i2][k_fly_switch] = to_i2_;

  auto& v = open_[k_fly_switch];
  v[k_fly_i1] = port.share / switch_farad_;
  v[k_fly_switch] = -port.siemens / switch_farad_;
  v[k_fly_one] = port.ampere / switch_farad_;

  meter_rate_ = 1 / in.meter_rise_second;
  open_[k_fly_meter][k_fly_switch] = meter_rate_;
  open_[k_fly_meter][k_fly_meter] = -meter_rate_;

  const double farad = switch_farad_ + in.turns * in.turns * coil.secondary_farad;
  step_ = k_step_fraction * std::sqrt(l1 * farad);
  const double impedance = std::sqrt(l1 / farad);
  scale_ = {1 / impedance, 1 / (impedance * in.turns), 1, in.turns, in.turns, 1, 1};
  now_.x[k_fly_one] = 1;
  now_.x[k_fly_i1] = in.current * impedance;
}

Flyback::Flyback(const OpeningSettings& settings, const OpeningPort& port, const OpeningInputs& in)
    : Flyback(settings.limits, port, in,
              {settings.secondary_farad + settings.lead_farad + settings.gap_farad,
               1 / (1 / settings.core_ohm + 1 / in.secondary_ohm)}) {
  gap_farad_ = settings.gap_farad;
  const double tower_farad = settings.secondary_farad + settings.lead_farad;
  const double core = 1 / (1 / settings.core_ohm + 1 / in.secondary_ohm);
  // An ignition lead is never below 100 ohm at these rates of rise; and no resistor stands tens of kilovolts.
  const double lead = lesser(in.lead_ohm, 1e5) + 100;
  // The winding's inner end stands at core (i2 + tower / R2).
  FlybackVector tower{}, plug{};
  tower[k_fly_i2] = core / in.secondary_ohm / tower_farad;
  tower[k_fly_tower] =
      (core / (in.secondary_ohm * in.secondary_ohm) - 1 / in.secondary_ohm - 1 / in.secondary_leak_ohm - 1 / lead) /
      tower_farad;
  tower[k_fly_plug] = 1 / (lead * tower_farad);
  plug[k_fly_tower] = 1 / (lead * gap_farad_);
  plug[k_fly_plug] = -(1 / lead + 1 / in.plug_leak_ohm) / gap_farad_;
  set_secondary(tower, plug);
  if (in.held_volt <= 0 && !in.driven) return;
  const double impedance = 1 / scale_[k_fly_i1];
  now_.x[k_fly_switch] = now_.x[k_fly_meter] = in.held_volt;
  const double primary = port.volt - (port.ohm + in.primary_ohm) * in.current - port.share * in.held_volt;
  const double made = -in.coupling * primary;
  now_.x[k_fly_tower] = now_.x[k_fly_plug] = in.driven ? made : std::max(made, 0.0);
  // Those volts have driven a current through the core's losses for a while; it stands beside the primary's. Never more
  // than a part of that: through a low leak it would not have come up.
  const double losing = made / (1 / (1 / settings.core_ohm + 1 / in.secondary_leak_ohm)) * in.turns * in.turns;
  now_.x[k_fly_i2] = std::clamp(losing, 0.0, in.current / 4) * impedance;
}

void Flyback::set_secondary(const FlybackVector& tower, const FlybackVector& plug) {
  open_[k_fly_tower] = tower;
  open_[k_fly_plug] = plug;
  for (auto& l : ladders_) l.ready = false;
}

FlybackVector Flyback::state() const {
  FlybackVector x;
  for (std::size_t k = 0; k < k_fly_states; ++k) x[k] = now_.x[k] * scale_[k];
  return x;
}

double Flyback::slope(FlybackState of) const {
  const auto x = state();
  double sum = 0;
  if (of == k_fly_meter) return meter_rate_ * (x[k_fly_switch] - x[k_fly_meter]);
  for (std::size_t k = 0; k < k_fly_states; ++k) sum += open_[of][k] * x[k];
  return sum;
}

// Rates in scaled states. Where something conducts across the switch its volts follow from the coil's current.
Matrix<k_fly_states> Flyback::rates(Across across) const {
  auto a = open_;
  if (across != Across::open) {
    const auto [volt, ohm] = held(across);
    const double inner = 1 / (1 + ohm * port_.siemens);
    const double fixed = inner * (volt + ohm * port_.ampere), per_ampere = inner * ohm * port_.share;
    for (std::size_t row : {k_fly_i1, k_fly_i2, k_fly_meter}) {
      const double weight = a[row][k_fly_switch];
      a[row][k_fly_switch] = 0;
      a[row][k_fly_i1] += weight * per_ampere;
      a[row][k_fly_one] += weight * fixed;
    }
    a[k_fly_switch] = {};
  }
  for (std::size_t i = 0; i < k_fly_states; ++i)
    for (std::size_t j = 0; j < k_fly_states; ++j) a[i][j] *= scale_[j] / scale_[i];
  return a;
}

const Flyback::Ladder& Flyback::ladder(Across across) {
  auto& l = ladders_[static_cast<std::size_t>(across)];
  if (l.ready) return l;
  auto a = rates(across);
  for (auto& row : a)
    for (double& value : row) value *= std::ldexp(step_, -k_halvings);
  l.of[k_halvings] = exponential(a);
  for (int k = k_halvings; k-- > 0;)
    l.of[static_cast<std::size_t>(k)] =
        product(l.of[static_cast<std::size_t>(k) + 1], l.of[static_cast<std::size_t>(k) + 1]);
  l.ready = true;
  return l;
}

double Flyback::reached_switch() const { return port_.ampere + port_.share * now_.x[k_fly_i1] * scale_[k_fly_i1]; }
double Flyback::into_switch() const { return reached_switch() - port_.siemens * now_.x[k_fly_switch]; }

Flyback::Held Flyback::held(Across across) const {
  if (across == Across::clamp) return {limits_.clamp_volt, limits_.clamp_ohm};
  if (across == Across::arc) return {limits_.arc_volt, limits_.arc_ohm};
  return {-k_diode_volt, 0};
}

double Flyback::stands(double t) const { return contact_stands(limits_, t); }

bool Flyback::over() const {
  if (coasting_) return false;
  const double v = now_.x[k_fly_switch];
  switch (now_.across) {
    case Across::open:
      return v > limits_.clamp_volt || (limits_.reverse_diode && v < -k_diode_volt) || std::abs(v) > stands(now_.time);
    case Across::clamp:
      return into_switch() < 0;
    case Across::reverse:
      return into_switch() > 0;
    case Across::arc:
      return std::abs(into_switch()) < limits_.arc_least_ampere;
  }
  return false;
}

/// While something conducts across the switch its volts follow from the coil's current.
void Flyback::settle() {
  if (now_.across == Across::open) return;
  const auto [volt, ohm] = held(now_.across);
  now_.x[k_fly_switch] = (volt + ohm * reached_switch()) / (1 + ohm * port_.siemens);
}

void Flyback::change() {
  if (now_.across != Across::open) {
    if (now_.across == Across::clamp) now_.x[k_fly_switch] = limits_.clamp_volt;
    now_.across = Across::open;
    return;
  }
  const double v = now_.x[k_fly_switch];
  if (v > limits_.clamp_volt) {
    now_.across = Across::clamp;
  } else if (limits_.reverse_diode && v < -k_diode_volt) {
    now_.across = Across::reverse;
  } else {
    now_.arced = true;
    now_.x[k_fly_switch] = limits_.arc_volt;  // what the condenser held is gone
    if (std::abs(into_switch()) >= limits_.arc_least_ampere) now_.across = Across::arc;
  }
  settle();
}

void Flyback::move(int ticks) {
  const auto& l = ladder(now_.across);
  now_.time += step_ * ticks / k_ticks;
  for (int k = 0; k <= k_halvings; ++k)
    if ((ticks >> (k_halvings - k) & 1) != 0) now_.x = product(l.of[static_cast<std::size_t>(k)], now_.x);
  settle();
}

void Flyback::advance(int ticks) {
  for (int event = 0; ticks > 0; ++event) {
    const auto before = now_;
    move(ticks);
    if (event >= k_events_a_step || !over()) break;
    // The last tick before the event, by halving; then the one in which it lies.
    now_ = before;
    int gone = 0;
    for (int part = k_ticks >> 1; part > 0; part >>= 1) {
      if (gone + part >= ticks) continue;
      const auto here = now_;
      move(part);
      if (over())
        now_ = here;
      else
        gone += part;
    }
    move(1);
    ticks -= gone + 1;
    if (over()) change();
  }
  now_.highest = std::max(now_.highest, now_.x[k_fly_switch]);
}

bool Flyback::advance_until_plug(double volt) {
  const auto reached = [&] { return now_.x[k_fly_plug] * scale_[k_fly_plug] >= volt; };
  const auto before = now_;
  advance();
  if (!reached()) return false;
  now_ = before;
  for (int part = k_ticks >> 1; part > 0; part >>= 1) {
    const auto here = now_;
    advance(part);
    if (reached()) now_ = here;
  }
  advance(1);
  return true;
}

void Flyback::strike(double arc_volt, double arc_ohm) {
  const double siemens = 1 / (arc_ohm * gap_farad_), drive = arc_volt * siemens;
  open_[k_fly_plug][k_fly_plug] -= siemens - arc_siemens_;
  open_[k_fly_plug][k_fly_one] += drive - arc_drive_;
  arc_siemens_ = siemens;
  arc_drive_ = drive;
  for (auto& l : ladders_) l.ready = false;
}

void Flyback::coast(double step) {
  step_ = step;
  coasting_ = true;
  now_.across = Across::open;
  for (auto& l : ladders_) l.ready = false;
}

}  // namespace lostspark::blocks
