#include "discharge_stage.hpp"

#include <algorithm>
#include <cmath>

#include "cubic.hpp"
#include "harness.hpp"
#include "laws.hpp"

namespace lostspark::blocks {
namespace {

enum : std::size_t { k_i1, k_i2, k_vc, k_tower, k_plug, k_states };
// Stray conductance at the discharge's terminals. Larger than in charging: ten megohms are nothing beside a discharge
// of microseconds, and they keep the matrix of an open circuit from becoming needlessly stiff.
constexpr double k_stray = 1e-7;
constexpr std::size_t k_steps = 96;  // long enough for the late crest of the current when the gap holds
constexpr std::size_t k_early = 6;   // halvings of the first step: a hundred ohms let the current rise within it
constexpr std::size_t k_samples = 1 + k_early + k_steps;
constexpr double k_least = 1e-12;  // floor of a gain

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

struct Crest {
  double value = 0;
  double position = 0;  ///< in samples
};

/// Crest of samples with known slopes: on the cubic beside the largest sample. Continuous also where another sample
/// becomes the largest. slope(k): change per step at sample k; width(k): steps from sample k to the next. Intervals
/// before `first` have no cubic: what is faster than they are would make it overshoot.
template <class Value, class Slope, class Width>
Crest crest_of(std::size_t count, std::size_t first, const Value& value, const Slope& slope, const Width& width) {
  std::size_t k = 0;
  double most = value(0);
  for (std::size_t j = 1; j < count; ++j) {
    const double v = value(j);
    if (v > most) {
      most = v;
      k = j;
    }
  }
  const Crest sample{most, static_cast<double>(k)};
  double da = slope(k), db;
  if (da <= 0) {
    if (k <= first || da == 0) return sample;
    --k;
    db = da;
    da = slope(k);
    if (da <= 0) return sample;
  } else {
    if (k < first || k + 1 == count) return sample;
    db = slope(k + 1);
    if (db >= 0) return sample;
  }
  const double a = value(k), b = value(k + 1), w = width(k), at = crest_position(a, da * w, b, db * w);
  return {cubic_at(a, da * w, b, db * w, at), static_cast<double>(k) + at};
}

/// Single-pole low pass of an evenly sampled signal taken as straight between samples; exact for any step.
struct LowPass {
  double keep, fresh = 0, old = 0, y = 0, u = 0;
  LowPass(double step, double time_constant, double start)
      : LowPass(step, time_constant, start, std::exp(-step / time_constant)) {}
  /// With exp(-step / time_constant) already known.
  LowPass(double step, double time_constant, double start, double decay) : keep(decay), u(start) {
    const double mean = (1 - keep) * time_constant / step;
    fresh = 1 - mean;
    old = mean - keep;
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

double floored(double v) { return std::max(v, 0.0) + k_least; }

/// The course with the gap holding, one array a quantity. Samples at 0, then 1/64, 1/32 ... 1/2 and 1, 2, 3 ... steps.
struct Course {
  using Samples = std::array<double, k_samples>;
  std::array<Samples, k_states> x;  ///< scaled states
  Samples current, volt_low, current_low, coil_ground, ground;
  double step = 0, rise = 0;  ///< seconds

  /// Steps from sample k to the next.
  static double width(std::size_t k) {
    return k > k_early ? 1 : std::ldexp(1.0, static_cast<int>(k == 0 ? 0 : k - 1) - static_cast<int>(k_early));
  }
  /// Change of a scaled state per step at sample k.
  [[nodiscard]] double slope(const Circuit& q, std::size_t state, std::size_t k) const {
    double sum = 0;
    for (std::size_t s = 0; s < k_states; ++s) sum += q.open[state][s] * x[s][k];
    return sum * step;
  }
  /// What the meter's filters gain per step: their input less what they hold.
  [[nodiscard]] double volt_low_slope(std::size_t k) const { return (x[k_vc][k] - volt_low[k]) * step / rise; }
  [[nodiscard]] double current_low_slope(std::size_t k) const { return (current[k] - current_low[k]) * step / rise; }
};

/// What the meter shows at the earth tags; low: behind its filter. The leads' inductance adds L dI/dt, which behind the
/// pole is L (I - low I) / rise.
struct Earths {
  Row coil_ground, ground, loop;
  double inductive;
  [[nodiscard]] double at_coil(double i, double volt_low, double current_low) const {
    return coil_ground.of(volt_low, current_low) + inductive * (i - current_low);
  }
  [[nodiscard]] double at_module(double v, double i, double volt_low, double current_low) const {
    return -ground.of(volt_low, current_low) - inductive * loop.of(v - volt_low, i - current_low);
  }
};

Course hold(const Circuit& q, const Earths& earths, const DischargeInputs& in, double step) {
  Course c;
  c.step = step;
  c.rise = in.meter_rise_second;
  // Squared up from a 64th of the step, so that the first step is seen from inside.
  auto phi = open_step(q, std::ldexp(step, -static_cast<int>(k_early)));
  double decay = std::exp(-std::ldexp(step, -static_cast<int>(k_early)) / c.rise);
  // At the start the meter shows nothing, but a path without the coil's inductance (a chafed output) begins with a
  // jump.
  for (auto& state : c.x) state[0] = 0;
  c.x[k_vc][0] = -1;
  c.current[0] = c.volt_low[0] = c.current_low[0] = 0;
  for (std::size_t k = 1; k <= k_early + 1; ++k) {
    if (k > 1) phi = product(phi, phi);
    for (std::size_t s = 0; s < k_states; ++s) c.x[s][k] = -phi[s][k_vc];
    c.current[k] = c.x[k_i1][k] * q.scale[k_i1];
    if (k > 2) decay *= decay;
    const LowPass low(Course::width(k - 1) * step, c.rise, 0, decay);
    c.volt_low[k] = low.keep * c.volt_low[k - 1] + low.fresh * c.x[k_vc][k] + low.old * c.x[k_vc][k - 1];
    c.current_low[k] = low.keep * c.current_low[k - 1] + low.fresh * c.current[k] + low.old * c.current[k - 1];
  }
  Matrix<k_states> columns;  // transposed, so that one step is five additions of whole columns
  for (std::size_t i = 0; i < k_states; ++i)
    for (std::size_t j = 0; j < k_states; ++j) columns[j][i] = phi[i][j];
  const LowPass low(step, c.rise, 0);
  Vector<k_states> x;
  for (std::size_t s = 0; s < k_states; ++s) x[s] = c.x[s][k_early + 1];
  for (std::size_t k = k_early + 2; k < k_samples; ++k) {
    Vector<k_states> next{};
    for (std::size_t s = 0; s < k_states; ++s)
      for (std::size_t i = 0; i < k_states; ++i) next[i] += columns[s][i] * x[s];
    x = next;
    for (std::size_t s = 0; s < k_states; ++s) c.x[s][k] = x[s];
    c.current[k] = x[k_i1] * q.scale[k_i1];
    c.volt_low[k] = low.keep * c.volt_low[k - 1] + low.fresh * x[k_vc] + low.old * c.x[k_vc][k - 1];
    c.current_low[k] = low.keep * c.current_low[k - 1] + low.fresh * c.current[k] + low.old * c.current[k - 1];
  }
  for (std::size_t k = 0; k < k_samples; ++k) {
    c.coil_ground[k] = earths.at_coil(c.current[k], c.volt_low[k], c.current_low[k]);
    c.ground[k] = earths.at_module(c.x[k_vc][k], c.current[k], c.volt_low[k], c.current_low[k]);
  }
  return c;
}

/// After breakdown, from the state in which the plug reaches each fraction of its crest: all fractions side by side.
void burn(const Circuit& q, const Earths& earths, const DischargeInputs& in, double step, const Course& course,
          const Crest& plug, DischargeGains& gains) {
  // Three steps at a time: after breakdown nothing that is read here is faster than a quarter period of some ten
  // microseconds; a break near the crest leaves the current its highest point as late as thirty.
  constexpr std::size_t k_arc_steps = 20, n = k_break_fractions.size();
  const double arc_step = 3 * step;
  // Rows of the powers of the step: what primary current and capacitor volts become of any state, j steps later.
  const auto phi = burning_step(q, arc_step);
  std::array<Vector<k_states + 1>, k_arc_steps + 1> to_current, to_volt;
  to_current[0] = {};
  to_volt[0] = {};
  to_current[0][k_i1] = q.scale[k_i1];
  to_volt[0][k_vc] = 1;
  for (std::size_t j = 0; j < k_arc_steps; ++j) {
    to_current[j + 1] = {};
    to_volt[j + 1] = {};
    for (std::size_t i = 0; i <= k_states; ++i)
      for (std::size_t k = 0; k <= k_states; ++k) {
        to_current[j + 1][k] += to_current[j][i] * phi[i][k];
        to_volt[j + 1][k] += to_volt[j][i] * phi[i][k];
      }
  }

  std::array<Vector<n>, k_states> z;  // states at the break
  Vector<n> volt_low, current_low, current_before, coil_ground_before, ground_before;
  double current_most = 0, coil_ground_most = 0, ground_most = course.ground[0];
  std::size_t at = 1;
  for (std::size_t f = 0; f < n; ++f) {
    const double level = k_break_fractions[f] * plug.value;
    const auto& volts = course.x[k_plug];
    for (; static_cast<double>(at) < plug.position && volts[at] < level; ++at) {
      current_most = std::max(current_most, course.current[at]);
      coil_ground_most = std::max(coil_ground_most, course.coil_ground[at]);
      ground_most = std::max(ground_most, course.ground[at]);
    }
    const double below = volts[at - 1], above = volts[at];
    // Never later than the crest: in the last interval the straight line may reach the level only beyond it, or not at
    // all.
    const double latest = std::clamp(plug.position - static_cast<double>(at - 1), 0.0, 1.0);
    const double part = above > below ? std::clamp((level - below) / (above - below), 0.0, latest) : latest;
    const auto between = [&](const Course::Samples& s) { return s[at - 1] + part * (s[at] - s[at - 1]); };
    for (std::size_t k = 0; k < k_states; ++k) z[k][f] = between(course.x[k]);
    gains.tower_at_break[f] = std::max(z[k_tower][f], 1e-9) / std::max(z[k_plug][f], 1e-9);
    volt_low[f] = between(course.volt_low);
    current_low[f] = between(course.current_low);
    current_before[f] = current_most;
    coil_ground_before[f] = coil_ground_most;
    ground_before[f] = ground_most;
  }

  // Rates of the states at the break: a row of a power of the step applied to them gives the slope at any later step.
  std::array<Vector<n>, k_states> rate{};
  for (std::size_t i = 0; i < k_states; ++i)
    for (std::size_t k = 0; k < k_states; ++k)
      for (std::size_t f = 0; f < n; ++f) rate[i][f] += q.open[i][k] * arc_step * z[k][f];
  for (std::size_t f = 0; f < n; ++f) rate[k_plug][f] -= q.plug_arc_rate * arc_step * z[k_plug][f];
  const double arc_rate = q.plug_arc_rate * arc_step / q.scale[k_plug];  // of the plug, per volt of arc

  std::array<Vector<n>, k_arc_steps + 1> current, volt, low_current, low_volt, coil_ground, ground;
  const LowPass low(arc_step, in.meter_rise_second, 0);
  for (std::size_t j = 0; j <= k_arc_steps; ++j) {
    Vector<n> i{}, v{};
    for (std::size_t s = 0; s < k_states; ++s)
      for (std::size_t f = 0; f < n; ++f) {
        i[f] += to_current[j][s] * z[s][f];
        v[f] += to_volt[j][s] * z[s][f];
      }
    for (std::size_t f = 0; f < n; ++f) {
      if (j > 0) {
        volt_low[f] = low.keep * volt_low[f] + low.fresh * v[f] + low.old * volt[j - 1][f];
        current_low[f] = low.keep * current_low[f] + low.fresh * i[f] + low.old * current[j - 1][f];
      }
      coil_ground[j][f] = earths.at_coil(i[f], volt_low[f], current_low[f]);
      ground[j][f] = earths.at_module(v[f], i[f], volt_low[f], current_low[f]);
    }
    current[j] = i;
    volt[j] = v;
    low_current[j] = current_low;
    low_volt[j] = volt_low;
  }

  // Arc volts per capacitor volt between which the crest is taken as straight: a plug burns at 600 V, a kick gives 200.
  constexpr double k_arc_ratio = 3;
  const double passed = arc_step / in.meter_rise_second;
  const auto even = [](std::size_t) { return 1.0; };
  for (std::size_t f = 0; f < n; ++f) {
    const auto slope_of = [&](const std::array<Vector<k_states + 1>, k_arc_steps + 1>& rows, std::size_t j,
                              double arc) {
      double sum = rows[j][k_plug] * arc_rate * arc;
      for (std::size_t s = 0; s < k_states; ++s) sum += rows[j][s] * rate[s][f];
      return sum;
    };
    const auto crest_with = [&](double arc) {
      return crest_of(
          k_arc_steps + 1, 0, [&](std::size_t j) { return current[j][f] + arc * to_current[j][k_states]; },
          [&](std::size_t j) { return slope_of(to_current, j, arc); }, even);
    };
    const double plain = std::max(current_before[f], crest_with(0).value);
    gains.current_fired[f] = floored(plain);
    gains.current_arc[f] = floored((plain - std::max(current_before[f], crest_with(k_arc_ratio).value)) / k_arc_ratio);
    const auto low_current_slope = [&](std::size_t j) { return (current[j][f] - low_current[j][f]) * passed; };
    const auto low_volt_slope = [&](std::size_t j) { return (volt[j][f] - low_volt[j][f]) * passed; };
    const Crest coil_crest = crest_of(
        k_arc_steps + 1, 0, [&](std::size_t j) { return coil_ground[j][f]; },
        [&](std::size_t j) {
          return earths.at_coil(slope_of(to_current, j, 0), low_volt_slope(j), low_current_slope(j));
        },
        even);
    const Crest ground_crest = crest_of(
        k_arc_steps + 1, 0, [&](std::size_t j) { return ground[j][f]; },
        [&](std::size_t j) {
          return earths.at_module(slope_of(to_volt, j, 0), slope_of(to_current, j, 0), low_volt_slope(j),
                                  low_current_slope(j));
        },
        even);
    gains.coil_ground_fired[f] = floored(std::max(coil_ground_before[f], coil_crest.value));
    gains.ground_fired[f] = floored(std::max(ground_before[f], ground_crest.value));
  }
}

}  // namespace

DischargeGains discharge(const DischargeSettings& settings, const DischargeInputs& in) {
  const Circuit q = build(settings, in);
  const double step = step_of(settings, in);
  const Earths earths{q.coil_ground, q.ground, q.loop, in.earth_henry / in.meter_rise_second};
  const Course c = hold(q, earths, in, step);
  const auto crest = [](const auto& value, const auto& slope) {
    return crest_of(k_samples, 1, value, slope, &Course::width);
  };
  const auto of_state = [&](std::size_t state) {
    return crest([&](std::size_t k) { return c.x[state][k]; }, [&](std::size_t k) { return c.slope(q, state, k); });
  };
  const auto behind_meter = [&](const Row& row) {
    const auto highest = crest([&](std::size_t k) { return row.of(c.volt_low[k], c.current_low[k]); },
                               [&](std::size_t k) { return row.of(c.volt_low_slope(k), c.current_low_slope(k)); });
    return floored(highest.value);
  };
  const auto current_slope = [&](std::size_t k) { return c.slope(q, k_i1, k) * q.scale[k_i1]; };
  DischargeGains gains;
  const Crest plug = of_state(k_plug);
  gains.plug = floored(plug.value * q.scale[k_plug]);
  gains.tower = floored(of_state(k_tower).value * q.scale[k_tower]);
  gains.current = floored(of_state(k_i1).value * q.scale[k_i1]);
  // Instantaneous: after 15 ns the current has only begun to rise.
  const double start = 15e-9, rate = -q.open[k_i1][k_vc] * q.scale[k_i1];
  const double first = rate * start / (1 - std::min(q.open[k_i1][k_i1], 0.0) * start);
  gains.coil_out_raw = floored(q.coil_out.of(-1, first));
  gains.primary_raw = floored(q.primary.of(-1, first));
  gains.coil_out = behind_meter(q.coil_out);
  gains.primary = behind_meter(q.primary);
  const auto coil_ground = crest(
      [&](std::size_t k) { return c.coil_ground[k]; },
      [&](std::size_t k) { return earths.at_coil(current_slope(k), c.volt_low_slope(k), c.current_low_slope(k)); });
  const auto ground = crest([&](std::size_t k) { return c.ground[k]; },
                            [&](std::size_t k) {
                              return earths.at_module(c.slope(q, k_vc, k), current_slope(k), c.volt_low_slope(k),
                                                      c.current_low_slope(k));
                            });
  gains.coil_ground = floored(coil_ground.value);
  gains.ground = floored(ground.value);
  gains.coil_ground_ohm = behind_meter(q.coil_ground) / gains.current;
  gains.ground_ohm = behind_meter({-q.ground.volt, -q.ground.current}) / gains.current;
  burn(q, earths, in, step, c, plug, gains);
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
