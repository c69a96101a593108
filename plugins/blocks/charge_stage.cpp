#include "charge_stage.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <complex>
#include <numbers>

#include "cubic.hpp"
#include "harness.hpp"
#include "laws.hpp"

namespace lostspark::blocks {
namespace {

constexpr double k_nothing_volt = 1e-6;  // floor of every peak: logarithms stay finite, slopes stay smooth
constexpr double k_left_volt = 1e-3;     // capacitor volts that count as none
constexpr int k_steps_per_cycle = 16;
constexpr double k_stiff = 3;       // time constants in a piece above which a transient counts as over
constexpr int k_most_events = 200;  // far more than any circuit switches in a turn
constexpr int k_kept = 5;           // hot, foot, source, module ground, coil_out; the coil's two nodes are eliminated

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
  Form coil_ground;               ///< volts of the coil's earth tag, which is eliminated
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
  Vector<k_kept> to_coil_ground;  ///< the coil's earth tag from the kept nodes
  double emf, frequency, ohm, henry, farad, leak_siemens, diode_siemens, drop, limit_volt, limit_siemens;
};

constexpr std::size_t hot = k_exciter_hot, foot = k_exciter_foot, source = k_module_source, ground = k_module_ground,
                      out = k_module_coil_out;

/// Conductances at the kept nodes in one diode mode, the capacitor's volts held. Its upper side lies at v(out) + capacitor
/// volts; branches from there are stamped at `out`.
Matrix<k_kept> nodal(const Circuit& q, Mode mode) {
  Matrix<k_kept> y = q.outside;
  join(y, out, ground, q.leak_siemens);
  if (mode == k_limited) join(y, out, ground, q.limit_siemens);
  if (mode == k_charging || mode == k_limited) join(y, source, out, q.diode_siemens);
  if (mode == k_clamped) join(y, ground, source, q.diode_siemens);
  return y;
}

/// A peak, and what the circuit was in then.
struct Peak {
  double volt = 0;
  Mode mode = k_off;
  double diode_ampere = 0;
};

/// What a meter's load works against at `node`: everything there, the exciter's own winding included.
double source_ohm(Circuit q, const Peak& peak, std::size_t node) {
  // A diode that passes nanoamperes holds nothing up against a meter's microamperes: its slope at the peak's current.
  q.diode_siemens = 1 / (1 / q.diode_siemens + k_slope_volt / (std::max(peak.diode_ampere, 0.0) + k_saturation_ampere));
  auto y = nodal(q, peak.mode);
  const double reactance = 2 * std::numbers::pi * q.frequency * q.henry;
  join(y, hot, foot, 1 / std::hypot(q.ohm, reactance));
  std::array<Vector<1>, k_kept> v{};
  v[node][0] = 1;
  solve_symmetric(y, v);
  return v[node][0];
}

System build(const Circuit& q, Mode mode, double step) {
  System system;
  Matrix<k_kept> y = nodal(q, mode);
  std::array<Vector<3>, k_kept> v{};  // right-hand sides for unit current, unit capacitor volts, constants
  v[hot][0] = 1;
  v[foot][0] = -1;
  const bool charging = mode == k_charging || mode == k_limited;
  v[out][1] -= q.leak_siemens;
  v[ground][1] += q.leak_siemens;
  if (mode == k_limited) {
    v[out][1] -= q.limit_siemens;
    v[ground][1] += q.limit_siemens;
    v[out][2] += q.limit_siemens * q.limit_volt;
    v[ground][2] -= q.limit_siemens * q.limit_volt;
  }
  if (charging) {
    v[source][1] += q.diode_siemens;
    v[out][1] -= q.diode_siemens;
    v[source][2] += q.diode_siemens * q.drop;
    v[out][2] -= q.diode_siemens * q.drop;
  }
  if (mode == k_clamped) {
    v[ground][2] += q.diode_siemens * q.drop;
    v[source][2] -= q.diode_siemens * q.drop;
  }
  solve_symmetric(y, v);
  for (std::size_t k = 0; k < k_kept; ++k) {
    system.node[k] = {v[k][0], v[k][1], v[k][2]};
    system.coil_ground.current += q.to_coil_ground[k] * v[k][0];
    system.coil_ground.volt += q.to_coil_ground[k] * v[k][1];
    system.coil_ground.constant += q.to_coil_ground[k] * v[k][2];
  }
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
    for (int n = 0; now_.t < end_;) {
      const double next = std::min((n + 1) * step_, end_);
      const bool whole = next != end_;
      const Moment end = whole ? at_grid(next, n + 1) : at(next);
      Event event{mode_, end};
      if (events < k_most_events) find_event(end, event);
      // Before the mode changes: in the new one a trace of current left by the root's tolerance, times an open
      // winding's megohms, would pass for a peak.
      watch(event.when);
      if (event.to != mode_) {
        ++events;
        now_ = event.when;
        on_grid_ = false;
        enter(event.to);
        continue;
      }
      now_ = end;
      on_grid_ = whole;
      ++n;
    }
  }

  [[nodiscard]] ChargeOutputs result() const {
    ChargeOutputs r;
    // Millivolts of either sign are left by currents in the earths: rounded off, so that the logarithm does not jump.
    r.capacitor_volt = (now_.x[1] + std::sqrt(now_.x[1] * now_.x[1] + 4 * k_left_volt * k_left_volt)) / 2;
    r.hot_volt = hot_.volt + k_nothing_volt;
    r.source_volt = source_.volt + k_nothing_volt;
    r.foot_volt = foot_ + k_nothing_volt;
    r.ground_volt = ground_ + k_nothing_volt;
    r.coil_ground_volt = coil_ground_ + k_nothing_volt;
    r.coil_out_volt = out_ + k_nothing_volt;
    r.hot_ohm = source_ohm(circuit_, hot_, k_exciter_hot);
    r.source_ohm = source_ohm(circuit_, source_, k_module_source);
    return r;
  }
  /// Volts of the kept nodes when coil_out was highest.
  [[nodiscard]] const Vector<k_kept>& nodes_at_highest_out() const { return at_out_; }

 private:
  /// State at one instant of the present mode; transient: its part that decays by exp(A t).
  struct Moment {
    double t = 0, sine = 0, cosine = 1;
    State x{}, transient{};
  };
  struct Event {
    Mode to;
    Moment when;
  };

  void enter(Mode mode) {
    if (mode_ == k_limited && mode == k_off) now_.x[1] = std::min(now_.x[1], circuit_.limit_volt);
    mode_ = mode;
    if (!built_[mode]) {
      system_[mode] = build(circuit_, mode, step_);
      built_[mode] = true;
    }
    const State p = system_[mode].particular(now_.sine, now_.cosine);
    now_.transient = {now_.x[0] - p[0], now_.x[1] - p[1]};
  }

  /// Exact, later in the present mode.
  [[nodiscard]] Moment at(double t) const {
    return later(t, std::sin(w_ * t), std::cos(w_ * t), system_[mode_].exponential.at(t - now_.t));
  }
  /// The same at the n-th point of the grid, where angle and (from grid to grid) exponential are known.
  [[nodiscard]] Moment at_grid(double t, int n) const {
    const auto k = static_cast<std::size_t>(n % k_steps_per_cycle);
    return later(t, k_circle.sine[k], k_circle.cosine[k],
                 on_grid_ ? system_[mode_].step : system_[mode_].exponential.at(t - now_.t));
  }
  [[nodiscard]] Moment later(double t, double sine, double cosine, const Matrix<2>& transition) const {
    Moment m{t, sine, cosine, system_[mode_].particular(sine, cosine), product(transition, now_.transient)};
    m.x[0] += m.transient[0];
    m.x[1] += m.transient[1];
    return m;
  }
  [[nodiscard]] double slope_at(const Form& f, const Moment& m) const {
    return f.slope(system_[mode_].rate(m.x, m.sine));
  }
  /// The present moment with what decays fast taken off: an open winding's current, a limited capacitor's volts. The
  /// phasor is exact; only the slow rest of the transient is taken as following.
  struct Settled {
    State x, rate;
  };
  [[nodiscard]] Settled settled(double length) const {
    const auto& m = system_[mode_];
    const auto& a = m.a;
    State z = now_.transient, dz;
    if (-a[0][0] * length > k_stiff) {
      z[0] = -a[0][1] / a[0][0] * z[1];
      dz[1] = a[1][0] * z[0] + a[1][1] * z[1];
      dz[0] = -a[0][1] / a[0][0] * dz[1];
    } else if (-a[1][1] * length > k_stiff) {
      z[1] = -a[1][0] / a[1][1] * z[0];
      dz[0] = a[0][0] * z[0] + a[0][1] * z[1];
      dz[1] = -a[1][0] / a[1][1] * dz[0];
    } else {
      dz = product(a, z);
    }
    Settled s;
    for (std::size_t k = 0; k < 2; ++k) {
      s.x[k] = now_.x[k] - now_.transient[k] + z[k];
      s.rate[k] = w_ * (m.sine[k] * now_.cosine - m.cosine[k] * now_.sine) + dz[k];
    }
    return s;
  }

  /// Earliest zero of the conditions that end the mode, within the step that ends in `end`.
  void find_event(const Moment& end, Event& event) const {
    const auto& m = system_[mode_];
    switch (mode_) {
      case k_off:
        rising(m.diode, end, k_charging, event);
        rising(m.clamp, end, k_clamped, event);
        break;
      case k_charging:
        // The capacitor is highest where the diode lets go: look for the limiter up to there, not beyond.
        falling(m.diode, end, k_off, event);
        rising(m.over_limit, event.when, k_limited, event);
        break;
      case k_limited:
        falling(m.diode, end, k_off, event);
        falling(m.over_limit, end, k_charging, event);
        break;
      default:
        falling(m.clamp, end, k_off, event);
        break;
    }
  }
  void falling(const Form& f, const Moment& end, Mode target, Event& event) const {
    rising({-f.current, -f.volt, -f.constant}, end, target, event);
  }
  /// f <= 0 now; looks for the first time it becomes > 0.
  void rising(const Form& f, const Moment& end, Mode target, Event& event) const {
    const auto& a = system_[mode_].a;
    const double length = end.t - now_.t, f1 = f.of(end.x);
    const bool stiff = -a[0][0] * length > k_stiff;
    Moment high = end;
    if (f1 <= 0) {
      // A short excursion between two grid points: near the crest of the cubic through both ends, then near the zero of
      // the exact slope. The estimate is trusted to a thousandth, or a thirtieth while a transient runs.
      if (mode_ != k_off && (stiff || -a[1][1] * length > k_stiff)) return;
      const double slope1 = slope_at(f, end) * length;
      if (slope1 >= 0) return;
      const Settled start = settled(length);
      const double slope0 = f.slope(start.rate) * length, f0 = f.of(start.x);
      if (slope0 <= 0 || f0 > 0) return;
      const double part = crest_position(f0, slope0, f1, slope1), decays = -a[0][0] * length;
      const double trusted = circuit_.emf * (decays > 0.3 && decays < 30 ? 0.03 : 0.001);
      if (cubic_at(f0, slope0, f1, slope1, part) < -trusted) return;
      high = at(now_.t + part * length);
      if (f.of(high.x) <= 0) {
        const double slope = slope_at(f, high) * length;
        const double second =
            slope > 0 ? part + (1 - part) * slope / (slope - slope1) : part * slope0 / (slope0 - slope);
        high = at(now_.t + second * length);
        if (f.of(high.x) <= 0) return;
      }
    }
    const Moment root = zero_before(f, high, end, stiff);
    if (event.to == mode_ || root.t < event.when.t) event = {target, root};
  }

  /// Zero of f after now and up to `high`, where f > 0: guess from the cubic over the step or from the fast transient,
  /// then Newton on the exact solution, kept between its brackets.
  [[nodiscard]] Moment zero_before(const Form& f, const Moment& high, const Moment& end, bool stiff) const {
    const double f0 = f.of(now_.x), length = end.t - now_.t;
    if (f0 >= 0 && slope_at(f, now_) >= 0) return now_;
    double least = now_.t, most = high.t, guess;
    const Settled steady = settled(length);
    const double quasi = f.of(steady.x);
    if (stiff && quasi > 0 && f0 < 0) {
      guess = now_.t + std::log((quasi - f0) / quasi) / -system_[mode_].a[0][0];
    } else {
      const double a = std::min(quasi, 0.0), da = f.slope(steady.rate) * length;
      const double b = f.of(end.x), db = slope_at(f, end) * length;
      double u = 0, v = (most - now_.t) / length;
      for (int k = 0; k < 5; ++k) {
        const double middle = (u + v) / 2;
        (cubic_at(a, da, b, db, middle) > 0 ? v : u) = middle;
      }
      const double fu = cubic_at(a, da, b, db, u), fv = cubic_at(a, da, b, db, v);
      guess = now_.t + (fv > fu ? u - fu * (v - u) / (fv - fu) : (u + v) / 2) * length;
    }
    const double enough = 1e-5 * circuit_.drop + 1e-8 * circuit_.emf;
    Moment m = high;
    for (int k = 0; k < 40; ++k) {
      if (!(guess > least && guess < most)) guess = (least + most) / 2;
      m = at(guess);
      const double value = f.of(m.x);
      if (std::abs(value) <= enough || most - least < 1e-12) break;
      (value > 0 ? most : least) = guess;
      const double slope = slope_at(f, m);
      guess = slope > 0 ? guess - value / slope : least;
    }
    return m;
  }

  /// Highest value inside the piece where it rises at its start and falls at its end, else 0: two steps of false
  /// position on the slope; the value's error is the square of what they leave.
  [[nodiscard]] double crest_between(const Form& f, const Moment& end) const {
    double low = now_.t, high = end.t, rising = slope_at(f, now_), falling = slope_at(f, end), most = 0;
    if (!(rising > 0 && falling < 0)) return 0;
    for (int k = 0; k < 2; ++k) {
      const Moment m = at(low + (high - low) * rising / (rising - falling));
      most = std::max(most, f.of(m.x));
      const double slope = slope_at(f, m);
      if (slope > 0) {
        low = m.t;
        rising = slope;
      } else {
        high = m.t;
        falling = slope;
      }
    }
    return most;
  }

  /// Takes the peaks of the piece from now to `end`, both in the present mode.
  void watch(const Moment& end) {
    const auto& node = system_[mode_].node;
    const auto higher = [&](const Form& form, Peak& peak) {
      const double most = std::max(form.of(now_.x), form.of(end.x));
      // A sine rises by two percent at most between two points of the grid.
      if (most <= 0.97 * peak.volt) return;
      const double crest = std::max(form.of(end.x), crest_between(form, end));
      if (crest <= peak.volt) return;
      const Form& through = mode_ == k_clamped ? system_[mode_].clamp : system_[mode_].diode;
      peak = {crest, mode_, circuit_.diode_siemens * std::max(through.of(now_.x), through.of(end.x))};
    };
    higher(node[k_exciter_hot], hot_);
    higher(node[k_module_source], source_);
    foot_ = std::max(foot_, std::abs(node[k_exciter_foot].of(end.x)));
    earth(node[k_module_ground], end, ground_);
    earth(system_[mode_].coil_ground, end, coil_ground_);
    const double out_now = node[k_module_coil_out].of(end.x);
    if (out_now <= out_) return;
    out_ = out_now;
    for (std::size_t k = 0; k < k_kept; ++k) at_out_[k] = node[k].of(end.x);
  }

  /// Largest magnitude at an earth tag: of either sign, and also in a piece between two events, where a short pulse of
  /// charging current begins and ends at nothing.
  void earth(const Form& form, const Moment& end, double& peak) const {
    const double length = end.t - now_.t, most = std::max(std::abs(form.of(now_.x)), std::abs(form.of(end.x)));
    if (length > 0.99 * step_ && most <= 0.97 * peak) return;
    peak = std::max(peak, most);
    const double slope = slope_at(form, now_), sign = slope > 0 ? 1 : -1;
    if (most + std::abs(slope) * length <= peak) return;
    peak = std::max(peak, crest_between({sign * form.current, sign * form.volt, sign * form.constant}, end));
  }

  Circuit circuit_;
  double w_, step_, end_;
  std::array<System, k_modes> system_;
  std::array<bool, k_modes> built_{};
  Mode mode_ = k_off;
  Moment now_;
  bool on_grid_ = true;
  Peak hot_, source_;
  double foot_ = 0, ground_ = 0, coil_ground_ = 0, out_ = 0;
  Vector<k_kept> at_out_{};
};

}  // namespace

std::array<double, k_charge_terminals*(k_charge_terminals + 1) / 2> harness_without_coil(const double* packed) {
  constexpr double k_joined = 1e3;  // siemens between the capacitor's foot and the module's earth
  std::array<double, k_charge_terminals*(k_charge_terminals + 1) / 2> all{};
  const auto at = [&all](std::size_t i, std::size_t j) -> double& { return all[i * (i + 1) / 2 + j]; };
  constexpr std::size_t given = (k_module_ground + 1) * (k_module_ground + 2) / 2;
  std::copy(packed, packed + given, all.begin());
  at(k_module_ground, k_module_ground) += k_joined;
  at(k_module_coil_out, k_module_ground) = -k_joined;
  at(k_module_coil_out, k_module_coil_out) = k_joined;
  at(k_coil_primary, k_coil_primary) = 1;
  at(k_coil_ground, k_coil_ground) = 1;
  return all;
}

ChargeOutputs charge(const ChargeSettings& settings, const ChargeInputs& in) {
  auto y7 = unpack_harness<k_charge_terminals>(in.harness);
  join(y7, k_coil_primary, k_coil_ground, 1 / in.primary_ohm);
  const auto y6 = without_last(y7);
  Circuit circuit;
  circuit.outside = without_last(y6);
  // The coil's two nodes carry no current of the module's: volts there follow from those of the kept nodes.
  Vector<k_kept> to_primary;
  for (std::size_t k = 0; k < k_kept; ++k) {
    to_primary[k] = -y6[k_coil_primary][k] / y6[k_coil_primary][k_coil_primary];
    circuit.to_coil_ground[k] =
        -(y7[k_coil_ground][k] + y7[k_coil_ground][k_coil_primary] * to_primary[k]) / y7[k_coil_ground][k_coil_ground];
  }
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
  double primary = 0;
  for (std::size_t k = 0; k < k_kept; ++k) primary += to_primary[k] * march.nodes_at_highest_out()[k];
  result.primary_volt = std::max(primary, 0.0) + k_nothing_volt;
  return result;
}

}  // namespace lostspark::blocks
