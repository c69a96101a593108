// The stages: their tables, and the calls into the blocks. Every circuit has steady and dwell, every cylinder opening,
// fire, peak and spark.
#include <algorithm>
#include <cmath>
#include <initializer_list>

#include "blocks/contact_stage.hpp"
#include "blocks/dwell_stage.hpp"
#include "blocks/fraction_table.hpp"
#include "blocks/inductive_firing.hpp"
#include "blocks/laws.hpp"
#include "family.hpp"

namespace lostspark::breaker_points {
namespace {

using blocks::lesser;

constexpr std::size_t k_loop = blocks::k_loop_terminals, k_watched = blocks::k_dwell_terminals;
constexpr std::size_t k_table = blocks::k_opening_fractions.size();
constexpr double k_nothing = 1e-9;
constexpr double k_contact_volt = 1e-3;  // what metal on metal keeps whatever the current: next to nothing

/// A stage's inputs, one after the other; parameters and outputs must be above zero.
class In {
 public:
  In(const double* at, const char* stage) : at_(at), first_(at), stage_(stage) {}
  double positive() {
    if (!(*at_ > 0))
      throw plugin::Refusal(std::string("stage '") + stage_ + "': input " + std::to_string(at_ - first_) +
                            " must be more than zero (an absent part is a very small or large value)");
    return *at_++;
  }
  double any() { return *at_++; }
  [[nodiscard]] const double* rest() const { return at_; }

 private:
  const double *at_, *first_;
  const char* stage_;
};

class Out {
 public:
  explicit Out(double* at) : at_(at) {}
  void put(double value) { *at_++ = value; }
  void positive(double value) { *at_++ = std::max(value, k_nothing); }

 private:
  double* at_;
};

/// Coil, condenser, points and high tension of one cylinder, and the loop they work in.
struct Swing {
  blocks::OpeningSettings settings;
  blocks::OpeningInputs in;
  blocks::PrimaryLoop<k_loop> loop;
  blocks::OpeningPort port;
};

// Order of coil_inputs().
Swing read_swing(In& i, double current, bool distributor) {
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
  s.settings.limits = blocks::contact_breaker(i.positive());
  s.in.secondary_ohm = i.positive();
  s.in.secondary_leak_ohm = i.positive();
  s.in.lead_ohm = i.positive();
  s.in.lead_ohm += i.positive();
  s.in.lead_ohm += i.positive();
  if (distributor) s.in.lead_ohm += i.positive();
  s.in.plug_leak_ohm = i.positive();
  s.in.meter_rise_second = i.positive();
  const double* volts = i.rest();
  s.loop = blocks::primary_loop<k_loop>(volts + k_loop, volts, cold);
  s.port = blocks::OpeningPort::of(s.loop);
  return s;
}

/// Gaps in series and where the insulation gives way first.
struct Needs {
  double demand = 0, breaks = 0, flash = 0;
};
Needs read_needs(In& i, bool distributor) {
  Needs n;
  n.demand = i.positive();
  for (int k = 0; k < (distributor ? 8 : 5); ++k) n.breaks += i.positive();
  n.flash = i.positive();
  for (int k = 1; k < (distributor ? 6 : 3); ++k) n.flash = lesser(n.flash, i.positive());
  return n;
}

void battery(In i, Out out) { out.positive(i.any()); }

// Key on, points closed, engine still: what a multimeter sees.
void steady(In i, Out out) {
  const double primary_ohm = i.positive();
  const double supply = i.any(), coil = i.any(), contact = i.any();
  out.positive(supply);
  out.positive(coil / primary_ohm);
  out.positive(contact);
}

/// Winding resistances as they are at the temperature of the coil.
void winding(In i, Out out) {
  const double celsius = i.positive();
  out.positive(blocks::copper_ohm(i.positive(), celsius));
  out.positive(blocks::copper_ohm(i.positive(), celsius));
}

void dwell(In i, Out out) {
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

// ------------------------------------------------------------------------------------------------ opening
void put_opening(Out& out, const blocks::Opening& o) {
  for (double v : {o.plug_volt, o.tower_volt, o.switch_volt, o.body_ampere}) out.positive(v);
  for (double v : o.tower_at_break) out.positive(v);
}
blocks::Opening take_opening(In& i) {
  blocks::Opening o;
  o.plug_volt = i.positive();
  o.tower_volt = i.positive();
  o.switch_volt = i.positive();
  o.body_ampere = i.positive();
  for (double& v : o.tower_at_break) v = i.positive();
  return o;
}

void opening(In i, Out out, bool distributor) {
  const double current = i.positive();
  const auto s = read_swing(i, current, distributor);
  const auto r = blocks::open_contact(s.settings, s.port, s.in);
  put_opening(out, r.standing);
  put_opening(out, r.arcing);
  for (double m : r.arc_margin) out.positive(std::exp(m));
}

// ------------------------------------------------------------------------------------------------ fire
void fire(In i, Out out, bool distributor) {
  blocks::ContactOpening contact;
  contact.standing = take_opening(i);
  contact.arcing = take_opening(i);
  for (double& m : contact.arc_margin) m = std::log(i.positive());
  const auto needs = read_needs(i, distributor);
  blocks::InductiveFiringInputs f;
  f.gate_volt = f.gate_threshold_volt = 1;
  f.demand_volt = needs.demand;
  f.break_volt = needs.breaks;
  f.flash_volt = needs.flash;
  f.clamp_ampere = 0.03;
  // The contact may stand until the gap breaks, though it would not with the gap holding.
  const double jump = lesser(needs.demand + needs.breaks, needs.flash);
  const double until =
      blocks::at_fraction(blocks::k_opening_fractions, contact.arc_margin, jump / contact.standing.plug_volt);
  const auto seen = blocks::fire_coil(f, blocks::seen_opening(contact, until));
  const auto held = blocks::fire_coil(f, blocks::seen_opening(contact, contact.arc_margin.back()));
  out.put(seen.spark_margin);
  out.put(seen.clamp_margin);
  out.put(until);
  out.positive(held.reserve_volt);
  out.positive(seen.coil_reserve_volt);
  out.positive(seen.plug_volt_spark);
  out.positive(jump);
  out.positive(blocks::arcing_part(until));
}

// ------------------------------------------------------------------------------------------------ peak at terminal 1
// A contact has no clamp: when the gap breaks, the coil's stray inductance rings on, higher than before.
void peak(In i, Out out, bool distributor) {
  const double current = i.positive(), jump = i.positive(), arcing = i.positive();
  const double plug_volt = i.positive(), standing_volt = i.positive(), arcing_volt = i.positive();
  auto s = read_swing(i, current, distributor);
  s.settings.limits.arc_start_volt = s.settings.limits.arc_knee_volt = 1e9;
  const double broken = 1 / (1 + std::exp(-std::log(plug_volt / jump) / 0.02));
  double crest = standing_volt;
  if (broken > 1e-6 && arcing < 1 - 1e-6) {
    blocks::BurnInputs firing;
    firing.demand_volt = std::min(jump, 0.98 * plug_volt);
    firing.watch_second = 0;
    const auto r = blocks::burn(s.settings, s.port, s.in, firing);
    crest = blocks::between_courses(standing_volt, r.switch_volt, broken);
  }
  crest = blocks::between_courses(crest, arcing_volt, arcing);
  // The current falls while the crest lasts; with an open wire it does not flow there and the points stand at nothing.
  const double flowing = current * (1 - s.loop.share / 2);
  for (std::size_t k = 0; k < k_loop; ++k) out.put(s.loop.node[k].at(flowing, crest));
}

void spark(In i, Out out, bool distributor) {
  const double current = i.positive(), shift = i.positive();
  blocks::BurnInputs firing;
  firing.arc_volt = i.positive();
  const auto needs = read_needs(i, distributor);
  const auto s = read_swing(i, current, distributor);
  firing.demand_volt = needs.demand + needs.breaks;
  const bool elsewhere = needs.flash < firing.demand_volt;
  const auto r = elsewhere ? blocks::BurnReport{} : blocks::burn(s.settings, s.port, s.in, firing);
  out.positive(r.spark_second);
  out.positive(r.current_crest);
  out.positive(r.mean_ampere);
  out.positive(shift);
}

/// The worst of the cylinders, rounded where two are as bad.
void all_cylinders(In i, Out out, int cylinders) {
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
  void opening_outputs(const std::string& course, const std::string& words) {
    value(course + "_plug_volt", "volt", ("highest plug volts, gap holding, " + words).c_str());
    value(course + "_tower_volt", "volt", ("highest tower volts, gap holding, " + words).c_str());
    value(course + "_switch_volt", "volt", ("crest across the points as a meter shows it, " + words).c_str());
    value(course + "_body_ampere", "ampere", ("through the plug's body, gap holding, " + words).c_str());
    for (double f : blocks::k_opening_fractions)
      value(course + "_tower_at_" + percent(f), "one", "tower over plug volts as the gap breaks at this percentage");
  }
  static std::string percent(double fraction) { return std::to_string(static_cast<int>(fraction * 100 + 0.5)); }

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
    opening_outputs("standing", "points standing");
    opening_outputs("arcing", "points arcing");
    for (double f : blocks::k_opening_fractions)
      value("arc_margin_" + percent(f), "one", "least of what the points stand over their volts until the gap breaks");

    begin(StageKind::fire, fire, "what is there against what is needed");
    for (const char* course : {"standing", "arcing"}) {
      for (const char* id : {"_plug_volt", "_tower_volt", "_switch_volt", "_body_ampere"})
        given(opening + "." + course + id);
      for (double f : blocks::k_opening_fractions) given(opening + "." + course + "_tower_at_" + percent(f));
    }
    for (double f : blocks::k_opening_fractions) given(opening + ".arc_margin_" + percent(f));
    needs_inputs(c, n);
    t_.output("spark_margin", LS_OUTPUT_MARGIN, "one", "ln(reserve at the plug / demand of the gap)");
    t_.output("clamp_margin", LS_OUTPUT_MARGIN, "one",
              "current in the lead against what a clamp shows; leaks count too");
    t_.output("arc_margin", LS_OUTPUT_MARGIN, "one", "ln(what the points stand / their volts): they arc below 0");
    value("reserve_volt", "volt", "highest volts at the plug's end of the lead, gap holding");
    value("coil_reserve_volt", "volt", "highest volts at the coil's tower, gap holding");
    value("plug_volt_spark", "volt", "volts on the lead as the gap breaks");
    value("jump_volt", "volt", "where gap or insulation gives way");
    value("arcing_part", "one", "how much of an arc at the points is seen");

    begin(StageKind::peak, "peak" + s, "peak at terminal 1");
    given(current);
    given(fire + ".jump_volt");
    given(fire + ".arcing_part");
    given(opening + ".standing_plug_volt");
    given(opening + ".standing_switch_volt");
    given(opening + ".arcing_switch_volt");
    coil_inputs(c, n);
    terminal_volts(c, k_loop);

    begin(StageKind::spark, "spark" + s, "spark time and current, for the report", true);
    given(current);
    parameter("timing_shift_degree" + o_.of_circuit(c));
    parameter("arc_volt" + s);
    needs_inputs(c, n);
    coil_inputs(c, n);
    value("spark_second", "second", "time the gap burns");
    value("spark_ampere", "ampere", "crest of the spark current");
    value("spark_mean_ampere", "ampere", "mean of the spark current");
    value("timing_shift_degree", "degree", "ignition timing error");
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
  const Out to(out);
  switch (stages_[static_cast<std::size_t>(stage)]) {
    case StageKind::battery:
      return battery(In(in, "battery"), to);
    case StageKind::steady:
      return steady(In(in, "steady"), to);
    case StageKind::dwell:
      return dwell(In(in, "dwell"), to);
    case StageKind::winding:
      return winding(In(in, "winding"), to);
    case StageKind::opening:
      return opening(In(in, "opening"), to, distributor_);
    case StageKind::fire:
      return fire(In(in, "fire"), to, distributor_);
    case StageKind::peak:
      return peak(In(in, "peak"), to, distributor_);
    case StageKind::spark:
      return spark(In(in, "spark"), to, distributor_);
    case StageKind::all:
      return all_cylinders(In(in, "all"), to, cylinders_);
    case StageKind::stop: {
      In i(in, "stop");
      out[0] = std::log(10 / i.positive());
      return;
    }
  }
}

}  // namespace lostspark::breaker_points
