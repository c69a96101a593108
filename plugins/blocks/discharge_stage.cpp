#include "discharge_stage.hpp"

#include <algorithm>
#include <cmath>

#include "harness.hpp"
#include "laws.hpp"

namespace lostspark::blocks {
namespace {

enum : std::size_t { k_i1, k_i2, k_vc, k_tower, k_plug, k_states };
// Stray conductance at the discharge's terminals. Larger than in charging: ten megohms are nothing beside a discharge
// of microseconds, and they keep the matrix of an open circuit from becoming needlessly stiff.
constexpr double k_stray = 1e-7;
constexpr std::size_t k_steps = 96;  // long enough for the late crest of the current when the gap holds
constexpr double k_least = 1e-12;    // floor of a gain

/// Volts of a harness node, or a current: linear in capacitor volts and primary current.
struct Row {
  double volt = 0, current = 0;
  [[nodiscard]] double of(double v, double i) const { return volt * v + current * i; }
};

/// The circuit reduced to its states. Signs: the capacitor starts at -1 V, so that coil volts come out positive.
struct Circuit {
  Row ground, coil_out, primary, coil_ground, loop;  ///< loop: current through the switch
  Vector<k_states> scale{};
  Matrix<k_states> open{};   ///< x' = open x in scaled states
  double plug_arc_rate = 0;  ///< 1 / (arc ohm * gap farad)
};

Circuit build(const DischargeSettings& settings, const DischargeInputs& in) {
  Circuit q;
  auto y = unpack_harness<k_discharge_terminals>(in.harness, k_stray);
  const double g = 1 / (settings.switch_ohm + in.output_ohm);
  join(y, k_fire_coil_out, k_fire_ground, g);
  std::array<Vector<2>, k_discharge_terminals> v{};
  v[k_fire_coil_out][0] = -g;
  v[k_fire_ground][0] = g;
  v[k_fire_primary][1] = -1;
  v[k_fire_coil_ground][1] = 1;
  solve_symmetric(y, v);
  q.ground = {v[k_fire_ground][0], v[k_fire_ground][1]};
  q.coil_out = {v[k_fire_coil_out][0], v[k_fire_coil_out][1]};
  q.primary = {v[k_fire_primary][0], v[k_fire_primary][1]};
  q.coil_ground = {v[k_fire_coil_ground][0], v[k_fire_coil_ground][1]};
  q.loop = {g * (q.coil_out.volt - q.ground.volt + 1), g * (q.coil_out.current - q.ground.current)};

  const double l1 = in.primary_henry, l2 = l1 * in.turns * in.turns, mutual = in.coupling * in.turns * l1;
  const double determinant = l1 * l2 - mutual * mutual;
  const double core = 1 / (1 / settings.core_ohm + 1 / in.secondary_ohm);  // seen by the secondary's inductance
  const double to_tower = core / in.secondary_ohm;
  // Volts across both windings, before the inductance matrix is inverted: rows over the states.
  Vector<k_states> u1{}, u2{};
  u1[k_vc] = q.primary.volt - q.coil_ground.volt;
  u1[k_i1] = q.primary.current - q.coil_ground.current - in.primary_ohm;
  u2[k_i2] = -core;
  u2[k_tower] = to_tower;
  u2[k_vc] = -to_tower * q.coil_ground.volt;  // the tower is counted from earth, the winding from the coil's foot
  u2[k_i1] = -to_tower * q.coil_ground.current;
  Matrix<k_states> a{};
  for (std::size_t k = 0; k < k_states; ++k) {
    a[k_i1][k] = (l2 * u1[k] - mutual * u2[k]) / determinant;
    a[k_i2][k] = (l1 * u2[k] - mutual * u1[k]) / determinant;
  }
  a[k_vc][k_vc] = -q.loop.volt / in.capacitor_farad;
  a[k_vc][k_i1] = -q.loop.current / in.capacitor_farad;

  const double tower_farad = settings.secondary_farad + settings.lead_farad;
  // An ignition lead is never below 100 ohm at these rates of rise; and no resistor stands tens of kilovolts, so above
  // about 100 kilohm the volts jump over it (the gap they jump is part of the demand).
  const double lead = lesser(in.lead_ohm, 1e5) + 100;
  // Tower node: (u - tower) / R2 - tower / leak - (tower - plug) / lead, u the winding's inner end.
  for (std::size_t k = 0; k < k_states; ++k) a[k_tower][k] = u2[k] / in.secondary_ohm;
  a[k_tower][k_vc] += q.coil_ground.volt / in.secondary_ohm + q.coil_ground.volt / in.secondary_leak_ohm;
  a[k_tower][k_i1] += q.coil_ground.current / in.secondary_ohm + q.coil_ground.current / in.secondary_leak_ohm;
  a[k_tower][k_tower] -= 1 / in.secondary_ohm + 1 / in.secondary_leak_ohm + 1 / lead;
  a[k_tower][k_plug] += 1 / lead;
  for (double& value : a[k_tower]) value /= tower_farad;
  a[k_plug][k_tower] = 1 / (lead * settings.gap_farad);
  a[k_plug][k_plug] = -(1 / lead + 1 / in.plug_leak_ohm) / settings.gap_farad;
  q.plug_arc_rate = 1 / (settings.arc_ohm * settings.gap_farad);

  const double impedance = std::sqrt(l1 / in.capacitor_farad);
  q.scale = {1 / impedance, 1 / (impedance * in.turns), 1, in.turns, in.turns};
  for (std::size_t i = 0; i < k_states; ++i)
    for (std::size_t j = 0; j < k_states; ++j) q.open[i][j] = a[i][j] * q.scale[j] / q.scale[i];
  return q;
}

/// exp over one step with the gap burning; the sixth state is the arc's volts (constant).
Matrix<k_states + 1> burning_step(const Circuit& q, double step) {
  Matrix<k_states + 1> a{};
  for (std::size_t i = 0; i < k_states; ++i)
    for (std::size_t j = 0; j < k_states; ++j) a[i][j] = q.open[i][j] * step;
  a[k_plug][k_plug] -= q.plug_arc_rate * step;
  a[k_plug][k_states] = q.plug_arc_rate * step / q.scale[k_plug];
  return exponential(a);
}
Matrix<k_states> open_step(const Circuit& q, double step) {
  Matrix<k_states> a = q.open;
  for (auto& row : a)
    for (double& value : row) value *= step;
  return exponential(a);
}

/// Largest value of an evenly sampled quantity, with the vertex of the parabola through three samples.
struct Crest {
  double value = 0, before = 0, last = 0;
  void sample(double v) {
    value = std::max(value, v);
    if (last > before && last > v && last > 0.9 * value) {
      const double bend = before - 2 * last + v, lean = v - before;
      value = std::max(value, last - lean * lean / (8 * bend));
    }
    before = last;
    last = v;
  }
  [[nodiscard]] bool falling() const { return last < before && before <= value; }
};

/// Single-pole low pass of an evenly sampled signal taken as straight between samples; exact for any step.
struct LowPass {
  double keep, fresh, old, y = 0, u = 0;
  LowPass(double step, double time_constant, double start) : u(start) {
    keep = std::exp(-step / time_constant);
    const double mean = (1 - keep) * time_constant / step;
    fresh = 1 - mean;
    old = mean - keep;
  }
  void resume(double at, double input) {
    y = at;
    u = input;
  }
  double next(double v) {
    y = keep * y + fresh * v + old * u;
    u = v;
    return y;
  }
};

double step_of(const DischargeSettings& settings, const DischargeInputs& in) {
  return settings.step_second * std::sqrt(in.primary_henry * in.capacitor_farad / 0.35e-9);
}

/// What the meter's filters hold.
struct Slow {
  double volt = 0, current = 0;
};

}  // namespace

DischargeGains discharge(const DischargeSettings& settings, const DischargeInputs& in) {
  const Circuit q = build(settings, in);
  const double step = step_of(settings, in);
  const auto phi = open_step(q, step);
  std::array<Vector<k_states>, k_steps + 1> x;
  std::array<Slow, k_steps + 1> slow;
  x[0] = {0, 0, -1, 0, 0};

  DischargeGains gains;
  Crest plug, tower, current, coil_out, primary, coil_ground, ground;
  LowPass volt_low(step, in.meter_rise_second, -1), current_low(step, in.meter_rise_second, 0);
  const double inductive = in.earth_henry / in.meter_rise_second;
  const auto at_coil_ground = [&](double i1, const Slow& low) {
    return q.coil_ground.of(low.volt, low.current) + inductive * (i1 - low.current);
  };
  const auto at_ground = [&](double vc, double i1, const Slow& low) {
    return -q.ground.of(low.volt, low.current) - inductive * q.loop.of(vc - low.volt, i1 - low.current);
  };
  std::size_t crest_step = 1;
  // A path without the coil's inductance (a chafed output) starts with a jump of current.
  ground.sample(at_ground(-1, 0, {}));
  for (std::size_t k = 1; k <= k_steps; ++k) {
    x[k] = product(phi, x[k - 1]);
    const double vc = x[k][k_vc], i1 = x[k][k_i1] * q.scale[k_i1];
    const Slow low{volt_low.next(vc), current_low.next(i1)};
    slow[k] = low;
    current.sample(i1);
    if (x[k][k_plug] > x[crest_step][k_plug]) crest_step = k;
    plug.sample(x[k][k_plug]);
    tower.sample(x[k][k_tower]);
    coil_out.sample(q.coil_out.of(low.volt, low.current));
    primary.sample(q.primary.of(low.volt, low.current));
    coil_ground.sample(at_coil_ground(i1, low));
    ground.sample(at_ground(vc, i1, low));
  }
  const auto floored = [](double v) { return std::max(v, 0.0) + k_least; };
  gains.plug = floored(plug.value * q.scale[k_plug]);
  gains.tower = floored(tower.value * q.scale[k_tower]);
  gains.current = floored(current.value);
  const double start = 15e-9, rate = -q.open[k_i1][k_vc] * q.scale[k_i1];
  const double first = rate * start / (1 - std::min(q.open[k_i1][k_i1], 0.0) * start);
  gains.coil_out_raw = floored(q.coil_out.of(-1, first));
  gains.primary_raw = floored(q.primary.of(-1, first));
  gains.coil_out = floored(coil_out.value);
  gains.primary = floored(primary.value);
  gains.coil_ground = floored(coil_ground.value);
  gains.ground = floored(ground.value);

  // After breakdown: from the state at which the plug reaches each fraction of its crest.
  const auto phi_arc = burning_step(q, step);
  constexpr std::size_t k_arc_steps = 48;
  std::array<double, k_arc_steps + 1> forced;  // primary current that one volt of arc alone would drive
  std::size_t forced_known = 0;
  Vector<k_states + 1> arc_only{};
  arc_only[k_states] = 1;
  forced[0] = 0;
  std::size_t at = 1;
  double current_before = 0, coil_ground_before = 0, ground_before = 0;
  for (std::size_t f = 0; f < k_break_fractions.size(); ++f) {
    const double level = k_break_fractions[f] * plug.value;
    while (at < crest_step && x[at][k_plug] < level) {
      const double vc = x[at][k_vc], i1 = x[at][k_i1] * q.scale[k_i1];
      current_before = std::max(current_before, i1);
      coil_ground_before = std::max(coil_ground_before, at_coil_ground(i1, slow[at]));
      ground_before = std::max(ground_before, at_ground(vc, i1, slow[at]));
      ++at;
    }
    const double below = x[at - 1][k_plug], above = x[at][k_plug];
    const double part = above > below ? std::clamp((level - below) / (above - below), 0.0, 1.0) : 0.0;
    Vector<k_states + 1> z{};
    for (std::size_t k = 0; k < k_states; ++k) z[k] = x[at - 1][k] + part * (x[at][k] - x[at - 1][k]);
    gains.tower_at_break[f] = std::max(z[k_tower], 1e-9) / std::max(z[k_plug], 1e-9);
    const double vc = z[k_vc], i1 = z[k_i1] * q.scale[k_i1];
    volt_low.resume(slow[at - 1].volt + part * (slow[at].volt - slow[at - 1].volt), vc);
    current_low.resume(slow[at - 1].current + part * (slow[at].current - slow[at - 1].current), i1);
    Crest current_fired, coil_ground_fired, ground_fired;
    const auto take = [&](double v, double i, const Slow& low) {
      current_fired.sample(i);
      coil_ground_fired.sample(at_coil_ground(i, low));
      ground_fired.sample(at_ground(v, i, low));
    };
    take(vc, i1, {volt_low.y, current_low.y});
    std::size_t crest_at = 0;
    for (std::size_t k = 1; k <= k_arc_steps; ++k) {
      z = product(phi_arc, z);
      if (k > forced_known) {
        arc_only = product(phi_arc, arc_only);
        forced[k] = arc_only[k_i1] * q.scale[k_i1];
        forced_known = k;
      }
      const double v = z[k_vc], i = z[k_i1] * q.scale[k_i1], old = current_fired.value;
      take(v, i, {volt_low.next(v), current_low.next(i)});
      if (current_fired.last > old)
        crest_at = k;
      else if (coil_ground_fired.falling() && ground_fired.falling() && k > crest_at + 1)
        break;
    }
    gains.current_fired[f] = floored(std::max(current_before, current_fired.value));
    gains.current_arc[f] = floored(-forced[crest_at]);
    gains.coil_ground_fired[f] = floored(std::max(coil_ground_before, coil_ground_fired.value));
    gains.ground_fired[f] = floored(std::max(ground_before, ground_fired.value));
  }
  return gains;
}

SparkReport spark(const DischargeSettings& settings, const DischargeInputs& in, const SparkInputs& firing) {
  constexpr double k_watched_second = 400e-6, k_filter_second = 2e-6, k_burning_ampere = 4e-3;
  const Circuit q = build(settings, in);
  const double step = step_of(settings, in) / 2;
  const auto phi = open_step(q, step);
  const auto phi_arc = burning_step(q, step);
  Vector<k_states + 1> x{};
  x[k_vc] = -firing.capacitor_volt;
  const double plug_scale = q.scale[k_plug];
  SparkReport report;
  LowPass low(step, k_filter_second, 0);
  double sign = 0;  // of the burning arc; 0: no arc
  for (int k = 0; k * step < k_watched_second; ++k) {
    const auto old = x;
    double ampere = 0;
    if (sign == 0) {
      Vector<k_states> y;
      std::copy_n(x.begin(), k_states, y.begin());
      y = product(phi, y);
      std::copy_n(y.begin(), k_states, x.begin());
      const double volt = x[k_plug] * plug_scale;
      if (std::abs(volt) >= firing.demand_volt) {
        // Breakdown inside the step: go back to where the gap reached its demand.
        const double before = old[k_plug] * plug_scale, level = std::copysign(firing.demand_volt, volt);
        const double part = volt != before ? std::clamp((level - before) / (volt - before), 0.0, 1.0) : 1.0;
        for (std::size_t j = 0; j < k_states; ++j) x[j] = old[j] + part * (x[j] - old[j]);
        sign = volt > 0 ? 1 : -1;
        x[k_states] = sign * firing.arc_volt;
      }
    } else {
      x = product(phi_arc, x);
      ampere = sign * (x[k_plug] * plug_scale - sign * firing.arc_volt) / settings.arc_ohm;
      if (ampere <= 0) {
        ampere = 0;
        sign = 0;
      }
    }
    const double seen = low.next(ampere);
    report.current_crest = std::max(report.current_crest, seen);
    if (seen > k_burning_ampere) report.spark_second += step;
  }
  return report;
}

}  // namespace lostspark::blocks
