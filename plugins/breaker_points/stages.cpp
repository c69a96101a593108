// The stages: their tables, and the calls into the blocks. Every circuit has steady and dwell, every cylinder opening,
// fire, peak and spark.
#include <algorithm>
#include <cmath>
#include <initializer_list>

#include "blocks/coil_stages.hpp"
#include "blocks/dwell_stage.hpp"
#include "blocks/laws.hpp"
#include "family.hpp"

namespace lostspark::breaker_points {
namespace {

using blocks::StageIn;
using blocks::StageOut;
using blocks::Swing;

constexpr std::size_t k_loop = blocks::k_loop_terminals, k_watched = blocks::k_dwell_terminals;
constexpr double k_contact_volt = 1e-3;  // what metal on metal keeps whatever the current: next to nothing

/// What the options change in the physics.
struct Layout {
  bool distributor = false;
  /// How much faster than behind a cam of one lobe the points open: a lobe of many lifts the heel within a smaller
  /// angle, on a flank that the heel can still follow. Square root of the lobes: judgement.
  double opening = 1;
};

// Order of coil_inputs().
Swing read_swing(StageIn& i, double current, const Layout& layout) {
  Swing s;
  s.settings.secondary_farad = 35e-12;
  s.settings.lead_farad = 15e-12;
  s.settings.core_ohm = 2.5e6;
  s.in.current = current;
  s.in.primary_henry = i.positive();
  const double cold = i.positive();
  s.in.primary_ohm = blocks::copper_ohm(cold, i.positive());
  s.in.turns = i.positive();
  s.in.coupling = i.positive();
  s.in.switch_farad = i.positive() + 0.5e-9;  // points and wire have half a nanofarad of their own
  s.settings.limits = blocks::contact_breaker(layout.opening * i.positive());
  s.in.secondary_ohm = i.positive();
  s.in.secondary_leak_ohm = i.positive();
  s.in.lead_ohm = i.positive();
  s.in.lead_ohm += i.positive();
  s.in.lead_ohm += i.positive();
  if (layout.distributor) s.in.lead_ohm += i.positive();
  s.in.plug_leak_ohm = i.positive();
  s.in.meter_rise_second = i.positive();
  const double* volts = i.rest();
  s.loop = blocks::primary_loop<k_loop>(volts + k_loop, volts, cold);
  s.port = blocks::OpeningPort::of(s.loop);
  return s;
}

blocks::Needs read_needs(StageIn& i, bool distributor) {
  return blocks::read_needs(i, distributor ? 8 : 5, distributor ? 6 : 3);
}

void battery(StageIn i, StageOut out) { out.positive(i.any()); }

// Key on, points closed, engine still: what a multimeter sees.
void steady(StageIn i, StageOut out) {
  const double primary_ohm = i.positive();
  const double supply = i.any(), coil = i.any(), contact = i.any();
  out.positive(supply);
  out.positive(coil / primary_ohm);
  out.positive(contact);
}

/// Winding resistances as they are at the temperature of the coil.
void winding(StageIn i, StageOut out) {
  const double celsius = i.positive();
  out.positive(blocks::copper_ohm(i.positive(), celsius));
  out.positive(blocks::copper_ohm(i.positive(), celsius));
}

void dwell(StageIn i, StageOut out) {
  blocks::DwellInputs d;
  const double degree = i.positive(), rpm = i.positive();
  d.dwell_second = blocks::dwell_second(2 * degree, rpm);  // the cam turns at half the crank's speed
  d.primary_henry = i.positive();
  const double cold = i.positive();
  d.primary_ohm = blocks::copper_ohm(cold, i.positive());
  d.switch_volt = k_contact_volt;
  d.switch_ohm = i.positive();
  const double* volts = i.rest();
  const auto loop = blocks::primary_loop<k_watched>(volts + k_watched, volts, cold);
  const auto r = blocks::dwell(loop, volts, d);
  out.positive(r.current);
  out.positive(r.volt[4] - r.volt[blocks::k_loop_supply]);
  out.positive(degree);
  out.positive(rpm);
  for (std::size_t k = 0; k < k_watched; ++k) out.put(r.volt[k]);
}

// ------------------------------------------------------------------------------------------------ opening to spark
void opening(StageIn i, StageOut out, const Layout& layout) {
  const double current = i.positive();
  const auto s = read_swing(i, current, layout);
  blocks::put_contact(out, blocks::open_contact(s.settings, s.port, s.in));
}

void fire(StageIn i, StageOut out, bool distributor) {
  const auto contact = blocks::take_contact(i);
  blocks::evaluate_fire(contact, read_needs(i, distributor), out);
}

void peak(StageIn i, StageOut out, const Layout& layout) {
  const auto c = blocks::take_crest(i);
  const auto s = read_swing(i, c.current, layout);
  const double volts = blocks::crest(c, s);
  // The current falls while the crest lasts; with an open wire it does not flow there and the points stand at nothing.
  const double flowing = c.current * (1 - s.loop.share / 2);
  for (std::size_t k = 0; k < k_loop; ++k) out.put(s.loop.node[k].at(flowing, volts));
}

void spark(StageIn i, StageOut out, const Layout& layout) {
  const double current = i.positive(), shift = i.positive(), arc_volt = i.positive();
  const auto needs = read_needs(i, layout.distributor);
  blocks::evaluate_spark(read_swing(i, current, layout), needs, arc_volt, shift, out);
}

/// The worst of the cylinders, rounded where two are as bad.
void all_cylinders(StageIn i, StageOut out, int cylinders) {
  constexpr double k_sharp = 24;
  double least = i.any(), sum = 1;
  for (int n = 2; n <= cylinders; ++n) {
    const double m = i.any(), lower = std::min(m, least), higher = std::max(m, least);
    sum = m < least ? sum * std::exp(k_sharp * (lower - higher)) + 1 : sum + std::exp(k_sharp * (lower - higher));
    least = lower;
  }
  out.put(least - std::log(sum) / k_sharp);
}

// ------------------------------------------------------------------------------------------------ tables
class Writer {
 public:
  Writer(plugin::Tables& t, const Options& o) : t_(t), o_(o) {}

  std::vector<StageKind> run() {
    begin(StageKind::battery, "battery", "volts between the battery's posts");
    t_.input(LS_INPUT_LINEAR_VOLTS, "battery.plus", "battery.minus");
    value("post_volt", "volt", "between the battery's posts");
    for (int c = 1; c <= o_.circuits(); ++c) of_circuit(c);
    for (int n = 1; n <= o_.cylinders; ++n) of_cylinder(n);
    if (o_.cylinders > 1) {
      begin(StageKind::all, "all", "the worst cylinder");
      for (int n = 1; n <= o_.cylinders; ++n) given("fire" + o_.of_cylinder(n) + ".spark_margin");
      t_.output("spark_margin", LS_OUTPUT_MARGIN, "one", "least of the cylinders' spark margins");
    }
    begin(StageKind::stop, "stop", "does the run/stop switch stop the engine");
    t_.input(LS_INPUT_PARAMETER, "stop_weld_ohm");
    t_.output("run_on_margin", LS_OUTPUT_MARGIN, "one",
              "ln(10 ohm / what lies past the switch in stop): runs on above 0");
    return std::move(kinds_);
  }

 private:
  void begin(StageKind kind, const std::string& id, const char* title, bool report = false) {
    kinds_.push_back(kind);
    t_.stage(id.c_str(), title, report);
  }
  void value(const std::string& id, const char* unit, const char* description) {
    t_.output(id.c_str(), LS_OUTPUT_VALUE, unit, description);
  }
  void parameter(const std::string& id) { t_.input(LS_INPUT_PARAMETER, id.c_str()); }
  void parameters(std::initializer_list<const char*> stems, const std::string& suffix) {
    for (const char* stem : stems) parameter(stem + suffix);
  }
  void given(const std::string& id) { t_.input(LS_INPUT_OUTPUT, id.c_str()); }
  void volts(const std::string& a, const std::string& b) { t_.input(LS_INPUT_LINEAR_VOLTS, a.c_str(), b.c_str()); }

  [[nodiscard]] std::vector<std::string> terminals(int c, std::size_t count) const {
    const auto coil = "ignition_coil" + o_.of_circuit(c);
    std::vector<std::string> all{coil + ".supply", coil + ".primary", "breaker_points" + o_.of_circuit(c) + ".moving",
                                 "points_plate.plate", "battery.plus"};
    all.resize(count);
    return all;
  }
  void loop_inputs(int c, std::size_t count) {
    const auto all = terminals(c, count);
    for (const auto& terminal : all) volts(terminal, "earth");
    for (const auto& terminal : all) t_.input(LS_INPUT_TERMINAL, terminal.c_str());
  }
  void terminal_volts(int c, std::size_t count) {
    constexpr const char* ids[] = {"supply_volt", "primary_volt", "points_volt", "plate_volt", "battery_volt"};
    constexpr const char* what[] = {"coil's supply, terminal 15", "terminal 1", "moving point", "points plate",
                                    "battery's plus post"};
    const auto all = terminals(c, count);
    for (std::size_t k = 0; k < count; ++k)
      t_.output(ids[k], LS_OUTPUT_TERMINAL_VOLTS, "volt", what[k], all[k].c_str());
  }
  // Order of read_swing().
  void coil_inputs(int c, int n) {
    const auto s = o_.of_circuit(c), cylinder = o_.of_cylinder(n);
    parameters({"primary_henry", "primary_ohm"}, s);
    parameter("coil_celsius");
    parameter("turns_ratio_one" + s);
    parameter("coupling_one");
    parameters({"condenser_farad", "points_gap_one", "secondary_ohm", "secondary_leak_ohm"}, s);
    parameters({"cap_ohm", "lead_ohm", "ht_joint_ohm"}, cylinder);
    if (o_.distributor) parameter("king_ohm");
    parameter("plug_leak_ohm" + cylinder);
    parameter("meter_rise_second");
    loop_inputs(c, k_loop);
  }
  // Order of read_needs().
  void needs_inputs(int c, int n) {
    const auto cylinder = o_.of_cylinder(n);
    parameter("demand_volt" + cylinder);
    parameter("secondary_break_volt" + o_.of_circuit(c));
    parameters({"lead_break_volt", "joint_break_volt", "cap_break_volt", "seat_break_volt"}, cylinder);
    if (o_.distributor) parameters({"king_break_volt", "distributor_break_volt", "rotor_gap_volt"}, "");
    parameters({"lead_flash_volt", "cap_flash_volt", "plug_flash_volt"}, cylinder);
    if (o_.distributor) parameters({"king_flash_volt", "distributor_flash_volt", "rotor_flash_volt"}, "");
  }
  void of_circuit(int c) {
    const auto s = o_.of_circuit(c), coil = "ignition_coil" + s, points = "breaker_points" + s;
    begin(StageKind::steady, "steady" + s, "key on, points closed, engine still");
    parameter("primary_ohm" + s);
    volts("battery.plus", coil + ".supply");
    volts(coil + ".supply", coil + ".primary");
    volts(points + ".moving", "points_plate.plate");
    value("supply_drop_volt", "volt", "lost between the battery's plus post and the coil");
    value("current", "ampere", "primary current");
    value("contact_volt", "volt", "over the closed points");
    begin(StageKind::dwell, "dwell" + s, "current rising in the coil's primary");
    parameter("dwell_degree" + s);
    parameter("cranking_speed_rpm");
    parameters({"primary_henry", "primary_ohm"}, s);
    parameter("coil_celsius");
    parameter("points_ohm" + s);
    loop_inputs(c, k_watched);
    value("current", "ampere", "primary current as the points open");
    value("supply_drop_volt", "volt", "peak of what is lost between the battery's plus post and the coil");
    value("dwell_degree", "degree", "dwell, degrees of the cam");
    value("speed_rpm", "rpm", "crank speed");
    terminal_volts(c, k_watched);
    begin(StageKind::winding, "winding" + s, "the coil as an ohmmeter sees it");
    parameter("coil_celsius");
    parameters({"primary_ohm", "secondary_meter_ohm"}, s);
    value("primary_ohm", "ohm", "primary winding at the coil's temperature");
    value("secondary_ohm", "ohm", "secondary winding at the coil's temperature");
  }

  void of_cylinder(int n) {
    const int c = o_.circuit_of(n);
    const auto s = o_.of_cylinder(n), opening = "opening" + s, fire = "fire" + s,
               current = "dwell" + o_.of_circuit(c) + ".current";
    begin(StageKind::opening, opening, "what the interrupted current makes");
    given(current);
    coil_inputs(c, n);
    blocks::add_contact_outputs(t_, "points");

    begin(StageKind::fire, fire, "what is there against what is needed");
    blocks::add_contact_inputs(t_, opening);
    needs_inputs(c, n);
    blocks::add_fire_outputs(t_);

    begin(StageKind::peak, "peak" + s, "peak at terminal 1");
    blocks::add_crest_inputs(t_, current, fire, opening);
    coil_inputs(c, n);
    terminal_volts(c, k_loop);

    begin(StageKind::spark, "spark" + s, "spark time and current, for the report", true);
    given(current);
    parameter("timing_shift_degree" + o_.of_circuit(c));
    parameter("arc_volt" + s);
    needs_inputs(c, n);
    coil_inputs(c, n);
    blocks::add_spark_outputs(t_);
  }

  plugin::Tables& t_;
  const Options& o_;
  std::vector<StageKind> kinds_;
};

}  // namespace

std::vector<StageKind> add_stages(plugin::Tables& t, const Options& options) { return Writer(t, options).run(); }

void BreakerPoints::evaluate(int stage, const double* in, double* out) const {
  if (stage < 0 || static_cast<std::size_t>(stage) >= stages_.size())
    throw plugin::Refusal("the family has no stage " + std::to_string(stage));
  const StageOut to(out);
  const Layout layout{distributor_, distributor_ ? std::sqrt(static_cast<double>(cylinders_)) : 1};
  switch (stages_[static_cast<std::size_t>(stage)]) {
    case StageKind::battery:
      return battery(StageIn(in, "battery"), to);
    case StageKind::steady:
      return steady(StageIn(in, "steady"), to);
    case StageKind::dwell:
      return dwell(StageIn(in, "dwell"), to);
    case StageKind::winding:
      return winding(StageIn(in, "winding"), to);
    case StageKind::opening:
      return opening(StageIn(in, "opening"), to, layout);
    case StageKind::fire:
      return fire(StageIn(in, "fire"), to, distributor_);
    case StageKind::peak:
      return peak(StageIn(in, "peak"), to, layout);
    case StageKind::spark:
      return spark(StageIn(in, "spark"), to, layout);
    case StageKind::all:
      return all_cylinders(StageIn(in, "all"), to, cylinders_);
    case StageKind::stop: {
      StageIn i(in, "stop");
      out[0] = std::log(10 / i.positive());
      return;
    }
  }
}

}  // namespace lostspark::breaker_points
