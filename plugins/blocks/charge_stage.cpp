#include "charge_stage.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <complex>
#include <numbers>

#include "harness.hpp"
#include "laws.hpp"

namespace lostspark::blocks {
namespace {

constexpr double k_nothing_volt = 1e-6;  // floor of every peak: logarithms stay finite, slopes stay smooth
constexpr double k_left_volt = 1e-3;     // capacitor volts that count as none
constexpr int k_steps_per_cycle = 16;
constexpr int k_kept = 5;  // hot, foot, source, module ground, coil_out; the coil's two nodes are eliminated

/// sin and cos on the grid of one cycle.
struct Circle {
  std::array<double, k_steps_per_cycle> sine, cosine;
  Circle() {
    for (int k = 0; k < k_steps_per_cycle; ++k) {
      const double angle = 2 * std::numbers::pi * k / k_steps_per_cycle;
      sine[static_cast<std::size_t>(k)] = std::sin(angle);
      cosine[static_cast<std::size_t>(k)] = std::cos(angle);
    }
  }
};
const Circle k_circle;

using State = Vector<2>;  // exciter current, capacitor volts

enum Mode : std::uint8_t { k_off, k_charging, k_limited, k_clamped, k_modes };

/// A linear form of the state plus a constant.
struct Form {
  double current = 0, volt = 0, constant = 0;
  [[nodiscard]] double of(const State& x) const { return current * x[0] + volt * x[1] + constant; }
  [[nodiscard]] double slope(const State& rate) const { return current * rate[0] + volt * rate[1]; }
  friend Form operator-(const Form& a, const Form& b) {
    return {a.current - b.current, a.volt - b.volt, a.constant - b.constant};
  }
};

/// The circuit in one diode mode.
struct System {
  std::array<Form, k_kept> node;  ///< volts of the kept nodes
  Form diode;                     ///< volts across the charge diode beyond its drop
  Form clamp;                     ///< volts across the reverse-clamp diode beyond its drop
  Form over_limit;                ///< volts of the capacitor's upper side above the limiter
  Matrix<2> a{};
  State drive{}, constant{};       ///< x' = a x + drive sin(w t) + constant
  State sine{}, cosine{}, rest{};  ///< particular solution: sine sin + cosine cos + rest
  Exponential2 exponential;
  Matrix<2> step{};

  [[nodiscard]] State particular(double s, double c) const {
    return {sine[0] * s + cosine[0] * c + rest[0], sine[1] * s + cosine[1] * c + rest[1]};
  }
  [[nodiscard]] State rate(const State& x, double s) const {
    return {a[0][0] * x[0] + a[0][1] * x[1] + drive[0] * s + constant[0],
            a[1][0] * x[0] + a[1][1] * x[1] + drive[1] * s + constant[1]};
  }
};

struct Circuit {
  Matrix<k_kept> outside;  ///< harness and primary, no branch of the module
  double emf, frequency, ohm, henry, farad, leak_siemens, diode_siemens, drop, limit_volt, limit_siemens;
};

System build(const Circuit& q, Mode mode, double step) {
  constexpr std::size_t hot = k_exciter_hot, foot = k_exciter_foot, source = k_module_source, ground = k_module_ground,
                        out = k_module_coil_out;
  System system;
  Matrix<k_kept> y = q.outside;
  std::array<Vector<3>, k_kept> v{};  // right-hand sides for unit current, unit capacitor volts, constants
  v[hot][0] = 1;
  v[foot][0] = -1;
  const bool charging = mode == k_charging || mode == k_limited;
  // The capacitor's upper side lies at v(out) + capacitor volts; branches from there are stamped at `out`.
  join(y, out, ground, q.leak_siemens);
  v[out][1] -= q.leak_siemens;
  v[ground][1] += q.leak_siemens;
  if (mode == k_limited) {
    join(y, out, ground, q.limit_siemens);
    v[out][1] -= q.limit_siemens;
    v[ground][1] += q.limit_siemens;
    v[out][2] += q.limit_siemens * q.limit_volt;
    v[ground][2] -= q.limit_siemens * q.limit_volt;
  }
  if (charging) {
    join(y, source, out, q.diode_siemens);
    v[source][1] += q.diode_siemens;
    v[out][1] -= q.diode_siemens;
    v[source][2] += q.diode_siemens * q.drop;
    v[out][2] -= q.diode_siemens * q.drop;
  }
  if (mode == k_clamped) {
    join(y, ground, source, q.diode_siemens);
    v[ground][2] += q.diode_siemens * q.drop;
    v[source][2] -= q.diode_siemens * q.drop;
  }
  solve_symmetric(y, v);
  for (std::size_t k = 0; k < k_kept; ++k) system.node[k] = {v[k][0], v[k][1], v[k][2]};
  const Form top{system.node[out].current, system.node[out].volt + 1, system.node[out].constant};
  system.diode = system.node[source] - top;
  system.diode.constant -= q.drop;
  system.clamp = system.node[ground] - system.node[source];
  system.clamp.constant -= q.drop;
  const Form over_ground = top - system.node[ground];
  system.over_limit = over_ground;
  system.over_limit.constant -= q.limit_volt;

  const Form across = system.node[hot] - system.node[foot];
  system.a[0][0] = -(q.ohm + across.current) / q.henry;
  system.a[0][1] = -across.volt / q.henry;
  system.constant[0] = -across.constant / q.henry;
  system.drive = {q.emf / q.henry, 0};
  Form into{-q.leak_siemens * over_ground.current, -q.leak_siemens * over_ground.volt,
            -q.leak_siemens * over_ground.constant};
  const auto add = [&into](const Form& f, double siemens) {
    into.current += siemens * f.current;
    into.volt += siemens * f.volt;
    into.constant += siemens * f.constant;
  };
  if (charging) add(system.diode, q.diode_siemens);
  if (mode == k_limited) add(system.over_limit, -q.limit_siemens);
  system.a[1][0] = into.current / q.farad;
  system.a[1][1] = into.volt / q.farad;
  system.constant[1] = into.constant / q.farad;

  const double w = 2 * std::numbers::pi * q.frequency;
  using Complex = std::complex<double>;
  const Complex p(-system.a[0][0], w), r(-system.a[1][1], w);
  const Complex determinant = p * r - system.a[0][1] * system.a[1][0];
  const Complex scale = system.drive[0] / determinant;
  const Complex first = r * scale, second = system.a[1][0] * scale;
  system.sine = {first.real(), second.real()};
  system.cosine = {first.imag(), second.imag()};
  const double plain = system.a[0][0] * system.a[1][1] - system.a[0][1] * system.a[1][0];
  system.rest = {(system.a[0][1] * system.constant[1] - system.a[1][1] * system.constant[0]) / plain,
                 (system.a[1][0] * system.constant[0] - system.a[0][0] * system.constant[1]) / plain};
  system.exponential = Exponential2(system.a);
  system.step = system.exponential.at(step);
  return system;
}

/// Largest value of a sampled quantity: all points, and between them the crest of the sine plus constant through three
/// neighbours of the grid in one mode (exact for a winding without transient).
struct Peak {
  static constexpr double k_sine = 0.38268343236508977, k_cosine = 0.92387953251128674;  // of one step, 22.5 degrees
  static constexpr double k_inverse_versine = 1 / (1 - k_cosine), k_inverse_sine = 1 / (2 * k_sine);
  double value = 0, before = 0, last = 0;
  int run = 0;
  void point(double v) { value = std::max(value, v); }
  void grid(double v) {
    point(v);
    if (run >= 2 && last > before && last > v) {
      const double along = (last - (before + v) / 2) * k_inverse_versine, across = (v - before) * k_inverse_sine;
      point(last - along + std::sqrt(along * along + across * across));
    }
    before = last;
    last = v;
    ++run;
  }
  void break_run() { run = 0; }
};

class March {
 public:
  March(const Circuit& circuit, double firing_second, double diode_end_ohm)
      : circuit_(circuit),
        w_(2 * std::numbers::pi * circuit.frequency),
        step_(1 / (circuit.frequency * k_steps_per_cycle)),
        end_(firing_second) {
    system_[k_off] = build(circuit_, k_off, step_);
    built_[k_off] = true;
    // The diode's drop vanishes with the volts that drive it, so that nothing is clipped at the last half volt.
    const auto& off = system_[k_off];
    const auto& f = off.diode;
    const double s = f.current * off.sine[0] + f.volt * off.sine[1],
                 c = f.current * off.cosine[0] + f.volt * off.cosine[1];
    const double drop = std::max(junction_drop(std::hypot(s, c), diode_end_ohm), 1e-6);
    system_[k_off].diode.constant -= drop;
    system_[k_off].clamp.constant -= drop;
    circuit_.drop = drop;
  }

  void run() {
    enter(k_off);
    int events = 0;
    for (int n = 0; t_ < end_;) {
      const double next = std::min((n + 1) * step_, end_);
      const bool whole = next != end_;
      const double length = next - t_;
      const auto& m = system_[mode_];
      double s, c;
      Vector<2> z;
      if (whole) {
        const auto k = static_cast<std::size_t>((n + 1) % k_steps_per_cycle);
        s = k_circle.sine[k];
        c = k_circle.cosine[k];
      } else {
        s = std::sin(w_ * next);
        c = std::cos(w_ * next);
      }
      z = product(whole && on_grid_ ? m.step : m.exponential.at(length), z_);
      State x = m.particular(s, c);
      x[0] += z[0];
      x[1] += z[1];
      Mode to = mode_;
      double when = length;
      if (events < 200) find_event(x, s, length, to, when);
      if (to != mode_) {
        ++events;
        advance_to(t_ + when, when);
        // Taken in the old mode: in the new one a trace of current left by the root's tolerance, times an open
        // winding's megohms, would pass for a peak.
        points();
        enter(to);
        continue;
      }
      t_ = next;
      x_ = x;
      z_ = z;
      sine_ = s;
      cosine_ = c;
      on_grid_ = whole;
      ++n;
      if (whole)
        grid();
      else
        points();
    }
  }

  [[nodiscard]] ChargeOutputs result() const {
    ChargeOutputs r;
    // Millivolts of either sign are left by currents in the earths: rounded off, so that the logarithm does not jump.
    r.capacitor_volt = (x_[1] + std::sqrt(x_[1] * x_[1] + 4 * k_left_volt * k_left_volt)) / 2;
    r.hot_volt = hot_.value + k_nothing_volt;
    r.source_volt = source_.value + k_nothing_volt;
    r.foot_volt = foot_ + k_nothing_volt;
    r.ground_volt = ground_ + k_nothing_volt;
    r.coil_out_volt = out_ + k_nothing_volt;
    return r;
  }
  /// Volts of the kept nodes when coil_out was highest.
  [[nodiscard]] const Vector<k_kept>& nodes_at_highest_out() const { return at_out_; }

 private:
  void enter(Mode mode) {
    if (mode_ == k_limited && mode == k_off) x_[1] = std::min(x_[1], circuit_.limit_volt);
    mode_ = mode;
    if (!built_[mode]) {
      system_[mode] = build(circuit_, mode, step_);
      built_[mode] = true;
    }
    const State p = system_[mode].particular(sine_, cosine_);
    z_ = {x_[0] - p[0], x_[1] - p[1]};
    hot_.break_run();
    source_.break_run();
  }

  /// Exact state after `length` in the present mode.
  State state_after(double length, double& s, double& c, Vector<2>& z) const {
    const auto& m = system_[mode_];
    s = std::sin(w_ * (t_ + length));
    c = std::cos(w_ * (t_ + length));
    z = product(m.exponential.at(length), z_);
    State x = m.particular(s, c);
    x[0] += z[0];
    x[1] += z[1];
    return x;
  }
  void advance_to(double t, double length) {
    x_ = state_after(length, sine_, cosine_, z_);
    t_ = t;
    on_grid_ = false;
  }

  /// Earliest zero of the conditions that end the mode, within the step that ends in state x1.
  void find_event(const State& x1, double s1, double length, Mode& to, double& when) const {
    const auto& m = system_[mode_];
    switch (mode_) {
      case k_off:
        rising(m.diode, x1, s1, length, k_charging, to, when);
        rising(m.clamp, x1, s1, length, k_clamped, to, when);
        break;
      case k_charging:
        falling(m.diode, x1, s1, length, k_off, to, when);
        rising(m.over_limit, x1, s1, length, k_limited, to, when);
        break;
      case k_limited:
        falling(m.diode, x1, s1, length, k_off, to, when);
        falling(m.over_limit, x1, s1, length, k_charging, to, when);
        break;
      default:
        falling(m.clamp, x1, s1, length, k_off, to, when);
        break;
    }
  }
  void falling(const Form& f, const State& x1, double s1, double length, Mode target, Mode& to, double& when) const {
    rising({-f.current, -f.volt, -f.constant}, x1, s1, length, target, to, when);
  }
  /// f <= 0 now; looks for the first time it becomes > 0.
  void rising(const Form& f, const State& x1, double s1, double length, Mode target, Mode& to, double& when) const {
    const auto& m = system_[mode_];
    const double f1 = f.of(x1);
    double high = length;
    if (f1 <= 0) {
      // A short excursion between two grid points: the crest of the cubic through both ends. Only where the transient
      // of the mode is not faster than the step, or its start slope says nothing.
      if (-m.a[0][0] * length > 3 || -m.a[1][1] * length > 3) {
        if (mode_ != k_off) return;
      }
      const double slope1 = f.slope(m.rate(x1, s1)) * length;
      if (slope1 >= 0) return;
      State x0 = x_;
      if (-m.a[0][0] * length > 3) x0[0] -= z_[0];  // quasi-steady start
      const double slope0 = f.slope(m.rate(x0, sine_)) * length, f0 = f.of(x0);
      if (slope0 <= 0 || f0 > 0) return;
      const double part = slope0 / (slope0 - slope1);
      if (hermite(f0, slope0, f1, slope1, part) <= 1e-9) return;
      high = part * length;
      double s, c;
      Vector<2> z;
      if (f.of(state_after(high, s, c, z)) <= 0) return;
    }
    const double root = zero_before(f, high, f1, x1, s1, length);
    if (root < when || (root == when && to == mode_)) {
      when = root;
      to = target;
    }
  }
  static double hermite(double f0, double d0, double f1, double d1, double s) {
    const double r = 1 - s;
    return f0 * (1 + 2 * s) * r * r + d0 * s * r * r + f1 * s * s * (3 - 2 * s) - d1 * s * s * r;
  }

  /// Zero of f in (0, high], f(high) > 0: guess from a cubic or from the fast transient, then bracketed Newton on the
  /// exact solution.
  [[nodiscard]] double zero_before(const Form& f, double high, double f1, const State& x1, double s1,
                                   double length) const {
    const auto& m = system_[mode_];
    double low = 0, guess;
    const double f0 = f.of(x_);
    if (f0 >= 0 && f.slope(m.rate(x_, sine_)) >= 0) return 0;
    State steady = x_;
    steady[0] -= z_[0];
    const double fast = -m.a[0][0], quasi = f.of(steady);
    if (fast * length > 3 && quasi > 0 && f0 < 0) {
      guess = std::log((quasi - f0) / quasi) / fast;
    } else {
      const State& from = fast * length > 3 ? steady : x_;
      const double a = std::min(f.of(from), 0.0), da = f.slope(m.rate(from, sine_)) * length,
                   d1 = f.slope(m.rate(x1, s1)) * length;
      double u = 0, v = high / length;
      for (int k = 0; k < 6; ++k) {
        const double middle = (u + v) / 2;
        (hermite(a, da, f1, d1, middle) > 0 ? v : u) = middle;
      }
      guess = (u + v) / 2 * length;
    }
    const double enough = 1e-6 * circuit_.drop + 1e-9 * circuit_.emf;
    for (int k = 0; k < 30; ++k) {
      if (!(guess > low && guess < high)) guess = (low + high) / 2;
      double s, c;
      Vector<2> z;
      const State x = state_after(guess, s, c, z);
      const double value = f.of(x);
      if (std::abs(value) <= enough || high - low < 1e-12) return guess;
      (value > 0 ? high : low) = guess;
      const double slope = f.slope(m.rate(x, s));
      guess = slope > 0 ? guess - value / slope : low;
    }
    return guess;
  }

  void other_nodes() {
    const auto& node = system_[mode_].node;
    foot_ = std::max(foot_, std::abs(node[k_exciter_foot].of(x_)));
    ground_ = std::max(ground_, std::abs(node[k_module_ground].of(x_)));
    const double out = node[k_module_coil_out].of(x_);
    if (out <= out_) return;
    out_ = out;
    for (std::size_t k = 0; k < k_kept; ++k) at_out_[k] = node[k].of(x_);
  }
  void points() {
    const auto& node = system_[mode_].node;
    hot_.point(node[k_exciter_hot].of(x_));
    source_.point(node[k_module_source].of(x_));
    other_nodes();
  }
  void grid() {
    const auto& node = system_[mode_].node;
    hot_.grid(node[k_exciter_hot].of(x_));
    source_.grid(node[k_module_source].of(x_));
    other_nodes();
  }

  Circuit circuit_;
  double w_, step_, end_;
  std::array<System, k_modes> system_;
  std::array<bool, k_modes> built_{};
  Mode mode_ = k_off;
  double t_ = 0, sine_ = 0, cosine_ = 1;
  bool on_grid_ = true;
  State x_{};
  Vector<2> z_{};
  Peak hot_, source_;
  double foot_ = 0, ground_ = 0, out_ = 0;
  Vector<k_kept> at_out_{};
};

}  // namespace

ChargeOutputs charge(const ChargeSettings& settings, const ChargeInputs& in) {
  auto y7 = unpack_harness<k_charge_terminals>(in.harness);
  join(y7, k_coil_primary, k_coil_ground, 1 / in.primary_ohm);
  const auto y6 = without_last(y7);
  Circuit circuit;
  circuit.outside = without_last(y6);
  circuit.emf = emf_at_speed(in.emf_volt, in.speed_rpm, settings.reference_rpm);
  circuit.frequency = in.speed_rpm / 60 * settings.pole_pairs;
  circuit.ohm = in.exciter_ohm;
  circuit.henry = in.exciter_henry;
  circuit.farad = in.capacitor_farad;
  circuit.leak_siemens = 1 / in.capacitor_leak_ohm;
  circuit.diode_siemens = 1 / settings.diode_ohm;
  circuit.drop = 0;  // set by March from the volts that drive it
  circuit.limit_volt = settings.limit_volt;
  circuit.limit_siemens = 1 / settings.limit_ohm;
  March march(circuit, settings.firing_turn * 60 / in.speed_rpm, settings.diode_end_ohm);
  march.run();
  ChargeOutputs result = march.result();
  const auto& kept = march.nodes_at_highest_out();
  double primary = 0;
  for (std::size_t k = 0; k < k_kept; ++k) primary -= y6[k_coil_primary][k] * kept[k];
  primary /= y6[k_coil_primary][k_coil_primary];
  double coil_ground = -y7[k_coil_ground][k_coil_primary] * primary;
  for (std::size_t k = 0; k < k_kept; ++k) coil_ground -= y7[k_coil_ground][k] * kept[k];
  coil_ground /= y7[k_coil_ground][k_coil_ground];
  result.primary_volt = std::max(primary, 0.0) + k_nothing_volt;
  result.coil_ground_volt = std::max(coil_ground, 0.0) + k_nothing_volt;
  return result;
}

}  // namespace lostspark::blocks
