// The stages: their tables, and the calls into the blocks.
#include <algorithm>
#include <cmath>
#include <initializer_list>

#include "blocks/coil_stages.hpp"
#include "blocks/laws.hpp"
#include "blocks/passage_stage.hpp"
#include "family.hpp"

namespace lostspark::flywheel_magneto {
namespace {

using blocks::StageIn;
using blocks::StageOut;

constexpr std::size_t k_loop = blocks::k_loop_terminals;
constexpr double k_no_coil = 1e15;        // the winding is no part of the running network: nothing to take out of it
constexpr double k_least_ampere = 1e-13;  // less than an open primary lets through: it must not drop volts there
constexpr double k_stop_ohm = 15;         // a kill line below this leaves no spark; docs/physics-magneto.md

/// The starter sees `volt` of what it has on a sound machine: a third of them only overcome friction (judgement).
double turning(double volt) {
  const auto s = supply_settings();
  const double emf = blocks::battery_rest_volt(s.state_of_charge),
               inner = blocks::battery_ohm(s.state_of_charge, s.fresh_ohm);
  const double usual = emf * s.starter_ohm / (s.starter_ohm + inner);
  return blocks::remainder_above(volt / usual + 1e-6, 0.35, 0.02) / 0.65;
}

void speed(StageIn i, StageOut out, bool starter) {
  const double cranking = i.positive(), running = i.positive();
  out.positive((starter ? cranking * turning(i.any()) : cranking) + running);
}

void interlock(StageIn i, StageOut out) {
  const double coil = i.positive(), hold = i.positive();
  out.put(std::log(std::max(i.any() / coil, 1e-12) / hold));
}

/// Order of passage_inputs().
struct Passing {
  blocks::PassageInputs in;
  blocks::PassageOutputs out;
  blocks::PrimaryLoop<k_loop> loop;
  double trigger_volt = 1;
};
Passing read_passage(StageIn& i, bool points) {
  Passing p;
  p.in.speed_rpm = i.positive();
  p.in.emf_volt = i.positive();
  p.in.degree = i.positive();
  p.in.opening = i.positive();
  p.in.primary_henry = i.positive();
  p.in.primary_ohm = i.positive();
  p.in.switch_ohm = i.positive();
  const double turns = i.positive(), winding = i.positive(), leak = i.positive();
  double plug = i.positive();
  for (int part = 0; part < 3; ++part) plug += i.positive();
  p.in.load_ohm = (winding + leak * plug / (leak + plug)) / (turns * turns);
  if (!points) p.trigger_volt = i.positive();
  const double still[k_loop] = {};
  p.loop = blocks::primary_loop<k_loop>(i.rest(), still, k_no_coil);
  p.out = blocks::pass(p.loop, p.in);
  return p;
}

void passage(StageIn i, StageOut out, bool points) {
  const auto p = read_passage(i, points);
  if (!points) out.put(std::log(p.out.emf_peak / p.trigger_volt));
  out.put(std::max(p.out.current, k_least_ampere));
  out.positive(p.out.emf_opening);
  out.positive(p.out.switch_volt);
  out.positive(p.out.emf_peak);
  // The current comes out of the core, so that the core's earth lifts downwards: counted as a meter set for it does.
  for (std::size_t k = 0; k < k_loop; ++k) out.put(-p.loop.node[k].at(p.out.current, p.out.switch_volt));
}

/// What the passage hands on. emf: in the coil, while the current is interrupted; closed_volt: across the switch until
/// then.
struct Driven {
  double current, emf, closed_volt;
};

/// Order of coil_inputs().
blocks::Swing read_swing(StageIn& i, const Driven& driven, bool points) {
  blocks::Swing s;
  s.settings.secondary_farad = 20e-12;
  s.settings.lead_farad = 8e-12;
  s.settings.core_ohm = 1.5e6;
  s.in.current = driven.current;
  s.in.driven = true;
  s.in.held_volt = driven.closed_volt;
  s.in.primary_henry = i.positive();
  s.in.primary_ohm = i.positive();
  s.in.turns = i.positive();
  s.in.coupling = i.positive();
  s.in.switch_farad = i.positive() + 0.5e-9;  // switch and wire have half a nanofarad of their own
  if (points)
    s.settings.limits = blocks::contact_breaker(i.positive());
  else
    s.settings.limits.clamp_volt = i.positive();
  s.in.secondary_ohm = i.positive();
  s.in.secondary_leak_ohm = i.positive();
  s.in.lead_ohm = i.positive();
  s.in.lead_ohm += i.positive();
  s.in.lead_ohm += i.positive();
  s.in.plug_leak_ohm = i.positive();
  s.in.meter_rise_second = i.positive();
  const double still[k_loop] = {};
  s.loop = blocks::primary_loop<k_loop>(i.rest(), still, k_no_coil);
  s.port = blocks::OpeningPort::of(s.loop);
  s.port.volt += driven.emf;
  return s;
}

void opening(StageIn i, StageOut out, bool points) {
  const Driven driven{i.positive(), i.positive(), i.positive()};
  const auto s = read_swing(i, driven, points);
  blocks::put_contact(out, (points ? blocks::open_contact : blocks::open_clamped)(s.settings, s.port, s.in));
}

void fire(StageIn i, StageOut out) {
  const auto contact = blocks::take_contact(i);
  blocks::evaluate_fire(contact, blocks::read_needs(i, 5, 3), out);
  out.positive(i.positive());
}

void peak(StageIn i, StageOut out, bool points) {
  const auto c = blocks::take_crest(i);
  const Driven driven{c.current, i.positive(), i.positive()};
  const auto s = read_swing(i, driven, points);
  const double volts = blocks::crest(c, s);
  const double flowing = c.current * (1 - s.loop.share / 2);
  for (std::size_t k = 0; k < k_loop; ++k) out.put(s.loop.node[k].at(flowing, volts));
}

void spark(StageIn i, StageOut out, bool points) {
  const Driven driven{i.positive(), i.positive(), i.positive()};
  const double shift = i.positive(), arc_volt = i.positive();
  const auto needs = blocks::read_needs(i, 5, 3);
  blocks::evaluate_spark(read_swing(i, driven, points), needs, arc_volt, shift, out);
}

// ------------------------------------------------------------------------------------------------ tables
class Writer {
 public:
  Writer(plugin::Tables& t, const Options& o) : t_(t), o_(o) {
    const auto c = o.coil();
    terminals_ = {c + ".core", c + ".primary", o.points ? "breaker_points.moving" : c + ".switch",
                  o.points ? "points_plate.plate" : c + ".foot"};
  }

  std::vector<StageKind> run() {
    begin(StageKind::speed, "speed", "how fast the engine turns");
    parameters({"cranking_speed_rpm", "running_speed_rpm"});
    if (o_.starter()) t_.input(LS_INPUT_LINEAR_VOLTS, "starter.motor", "earth");
    value("rpm", "rpm", "crank speed");
    if (o_.interlock) {
      begin(StageKind::interlock, "interlock", "does the interlock relay hold");
      parameters({"relay_coil_ohm", "relay_hold_ampere"});
      t_.input(LS_INPUT_LINEAR_VOLTS, "interlock_relay.hot", "interlock_relay.chain");
      margin("held_margin", "ln(current in the relay's coil / what holds it): earths the kill wire below 0");
    }
    begin(StageKind::passage, "passage", "current that the passing magnet drives");
    passage_inputs();
    if (!o_.points) margin("trigger_margin", "ln(EMF of the primary / what the module answers to)");
    value("current", "ampere", "primary current as it is interrupted");
    value("emf_volt", "volt", "EMF of the primary at that moment");
    value("closed_volt", "volt", "across the closed switch at that moment");
    value("emf_peak_volt", "volt", "highest EMF of the primary");
    terminal_volts();

    begin(StageKind::opening, "opening", "what the interrupted current makes");
    given({"passage.current", "passage.emf_volt", "passage.closed_volt"});
    coil_inputs();
    blocks::add_contact_outputs(t_, o_.points ? "points" : "module");

    begin(StageKind::fire, "fire", "what is there against what is needed");
    blocks::add_contact_inputs(t_, "opening");
    needs_inputs();
    given({"speed.rpm"});
    blocks::add_fire_outputs(t_);
    value("speed_rpm", "rpm", "crank speed");

    begin(StageKind::peak, "peak", "peak on the primary and its kill wire");
    blocks::add_crest_inputs(t_, "passage.current", "fire", "opening");
    given({"passage.emf_volt", "passage.closed_volt"});
    coil_inputs();
    terminal_volts();

    begin(StageKind::stop, "stop", "does the engine stop");
    const auto closed = o_.stopper() + "_closed_ohm";
    parameters({closed.c_str()});
    margin("run_on_margin", "ln(what earths the kill wire in stop / 15 ohm): runs on above 0");

    begin(StageKind::spark, "spark", "spark time and current, for the report", true);
    given({"passage.current", "passage.emf_volt", "passage.closed_volt"});
    parameters({"timing_shift_degree", "arc_volt"});
    needs_inputs();
    coil_inputs();
    blocks::add_spark_outputs(t_);
    return std::move(kinds_);
  }

 private:
  void begin(StageKind kind, const char* id, const char* title, bool report = false) {
    kinds_.push_back(kind);
    t_.stage(id, title, report);
  }
  void value(const char* id, const char* unit, const char* description) {
    t_.output(id, LS_OUTPUT_VALUE, unit, description);
  }
  void margin(const char* id, const char* description) { t_.output(id, LS_OUTPUT_MARGIN, "one", description); }
  void parameters(std::initializer_list<const char*> ids) {
    for (const char* id : ids) t_.input(LS_INPUT_PARAMETER, id);
  }
  void given(std::initializer_list<const char*> ids) {
    for (const char* id : ids) t_.input(LS_INPUT_OUTPUT, id);
  }
  void harness() {
    for (const auto& terminal : terminals_) t_.input(LS_INPUT_TERMINAL, terminal.c_str());
  }
  void terminal_volts() {
    constexpr const char* ids[] = {"core_volt", "primary_volt", "switch_volt", "foot_volt"};
    constexpr const char* what[] = {"core", "primary", "switch", "earth side of the switch"};
    for (std::size_t k = 0; k < k_loop; ++k)
      t_.output(ids[k], LS_OUTPUT_TERMINAL_VOLTS, "volt", what[k], terminals_[k].c_str());
  }
  void passage_inputs() {
    given({"speed.rpm"});
    parameters({"passage_emf_volt", "passage_degree", "opening_one", "primary_henry", "primary_ohm", "switch_ohm",
                "turns_ratio_one", "secondary_ohm", "secondary_leak_ohm", "plug_leak_ohm", "cap_ohm", "lead_ohm",
                "ht_joint_ohm"});
    if (!o_.points) parameters({"trigger_volt"});
    harness();
  }
  // Order of read_swing().
  void coil_inputs() {
    parameters({"primary_henry", "primary_ohm", "turns_ratio_one", "coupling_one", "switch_farad",
                o_.points ? "points_gap_one" : "module_clamp_volt", "secondary_ohm", "secondary_leak_ohm", "cap_ohm",
                "lead_ohm", "ht_joint_ohm", "plug_leak_ohm", "meter_rise_second"});
    harness();
  }
  // Order of blocks::read_needs().
  void needs_inputs() {
    parameters({"demand_volt", "secondary_break_volt", "lead_break_volt", "joint_break_volt", "cap_break_volt",
                "seat_break_volt", "lead_flash_volt", "cap_flash_volt", "plug_flash_volt"});
  }

  plugin::Tables& t_;
  const Options& o_;
  std::vector<std::string> terminals_;
  std::vector<StageKind> kinds_;
};

}  // namespace

std::vector<StageKind> add_stages(plugin::Tables& t, const Options& options) { return Writer(t, options).run(); }

void FlywheelMagneto::evaluate(int stage, const double* in, double* out) const {
  if (stage < 0 || static_cast<std::size_t>(stage) >= stages_.size())
    throw plugin::Refusal("the family has no stage " + std::to_string(stage));
  const StageOut to(out);
  switch (stages_[static_cast<std::size_t>(stage)]) {
    case StageKind::speed:
      return speed(StageIn(in, "speed"), to, starter_);
    case StageKind::interlock:
      return interlock(StageIn(in, "interlock"), to);
    case StageKind::passage:
      return passage(StageIn(in, "passage"), to, points_);
    case StageKind::opening:
      return opening(StageIn(in, "opening"), to, points_);
    case StageKind::fire:
      return fire(StageIn(in, "fire"), to);
    case StageKind::peak:
      return peak(StageIn(in, "peak"), to, points_);
    case StageKind::spark:
      return spark(StageIn(in, "spark"), to, points_);
    case StageKind::stop: {
      StageIn i(in, "stop");
      out[0] = std::log(i.positive() / k_stop_ohm);
      return;
    }
  }
}

}  // namespace lostspark::flywheel_magneto
