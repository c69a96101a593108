#include "coil_stages.hpp"

#include <algorithm>
#include <cmath>
#include <iterator>

#include "fraction_table.hpp"
#include "laws.hpp"

namespace lostspark::blocks {
namespace {

constexpr const char* k_courses[] = {"standing", "arcing"};
constexpr const char* k_crests[] = {"_plug_volt", "_tower_volt", "_switch_volt", "_body_ampere"};

std::string percent(double fraction) { return std::to_string(static_cast<int>(fraction * 100 + 0.5)); }

void put_opening(StageOut& out, const Opening& o) {
  for (double v : {o.plug_volt, o.tower_volt, o.switch_volt, o.body_ampere}) out.positive(v);
  for (double v : o.tower_at_break) out.positive(v);
}

Opening take_opening(StageIn& in) {
  Opening o;
  o.plug_volt = in.positive();
  o.tower_volt = in.positive();
  o.switch_volt = in.positive();
  o.body_ampere = in.positive();
  for (double& v : o.tower_at_break) v = in.positive();
  return o;
}

void value(plugin::Tables& t, const std::string& id, const char* unit, const std::string& description) {
  t.output(id.c_str(), LS_OUTPUT_VALUE, unit, description.c_str());
}

}  // namespace

double StageIn::positive() {
  if (!(*at_ > 0))
    throw plugin::Refusal(std::string("stage '") + stage_ + "': input " + std::to_string(at_ - first_) +
                          " must be more than zero (an absent part is a very small or large value)");
  return *at_++;
}

Needs read_needs(StageIn& in, int breaks, int flashes) {
  Needs n;
  n.demand = in.positive();
  for (int k = 0; k < breaks; ++k) n.breaks += in.positive();
  n.flash = in.positive();
  for (int k = 1; k < flashes; ++k) n.flash = lesser(n.flash, in.positive());
  return n;
}

ContactOpening open_clamped(const OpeningSettings& settings, const OpeningPort& port, const OpeningInputs& in) {
  constexpr double k_never = 10;  // ln: an arc is that far away
  ContactOpening out;
  out.standing = out.arcing = open_coil(settings, port, in);
  out.arc_margin.fill(k_never);
  return out;
}

// ------------------------------------------------------------------------------------------------ opening, fire
void put_contact(StageOut& out, const ContactOpening& contact) {
  put_opening(out, contact.standing);
  put_opening(out, contact.arcing);
  for (double m : contact.arc_margin) out.positive(std::exp(m));
}

ContactOpening take_contact(StageIn& in) {
  ContactOpening contact;
  contact.standing = take_opening(in);
  contact.arcing = take_opening(in);
  for (double& m : contact.arc_margin) m = std::log(in.positive());
  return contact;
}

void add_contact_outputs(plugin::Tables& t, const char* switch_title) {
  for (const std::string course : k_courses) {
    const auto words = std::string(switch_title) + " " + course;
    value(t, course + "_plug_volt", "volt", "highest plug volts, gap holding, " + words);
    value(t, course + "_tower_volt", "volt", "highest tower volts, gap holding, " + words);
    value(t, course + "_switch_volt", "volt", "crest across the switch as a meter shows it, " + words);
    value(t, course + "_body_ampere", "ampere", "through the plug's body, gap holding, " + words);
    for (double f : k_opening_fractions)
      value(t, course + "_tower_at_" + percent(f), "one", "tower over plug volts as the gap breaks at this percentage");
  }
  for (double f : k_opening_fractions)
    value(t, "arc_margin_" + percent(f), "one",
          "least of what the " + std::string(switch_title) + " stands over its volts until the gap breaks");
}

void add_contact_inputs(plugin::Tables& t, const std::string& opening) {
  const auto given = [&](const std::string& id) { t.input(LS_INPUT_OUTPUT, (opening + "." + id).c_str()); };
  for (const std::string course : k_courses) {
    for (const char* id : k_crests) given(course + id);
    for (double f : k_opening_fractions) given(course + "_tower_at_" + percent(f));
  }
  for (double f : k_opening_fractions) given("arc_margin_" + percent(f));
}

void evaluate_fire(const ContactOpening& contact, const Needs& needs, StageOut& out, double clamp_ampere) {
  InductiveFiringInputs f;
  f.gate_volt = f.gate_threshold_volt = 1;
  f.demand_volt = needs.demand;
  f.break_volt = needs.breaks;
  f.flash_volt = needs.flash;
  f.clamp_ampere = clamp_ampere;
  // The contact may stand until the gap breaks, though it would not with the gap holding.
  const double jump = lesser(needs.demand + needs.breaks, needs.flash);
  const double until = at_fraction(k_opening_fractions, contact.arc_margin, jump / contact.standing.plug_volt);
  const auto seen = fire_coil(f, seen_opening(contact, until));
  const auto held = fire_coil(f, seen_opening(contact, contact.arc_margin.back()));
  out.put(seen.spark_margin);
  out.put(seen.clamp_margin);
  out.put(until);
  out.positive(held.reserve_volt);
  out.positive(seen.coil_reserve_volt);
  out.positive(seen.plug_volt_spark);
  out.positive(jump);
  out.positive(arcing_part(until));
}

void add_fire_outputs(plugin::Tables& t) {
  t.output("spark_margin", LS_OUTPUT_MARGIN, "one", "ln(reserve at the plug / demand of the gap)");
  t.output("clamp_margin", LS_OUTPUT_MARGIN, "one", "current in the lead against what a clamp shows; leaks count too");
  t.output("arc_margin", LS_OUTPUT_MARGIN, "one", "ln(what the switch stands / its volts): it arcs below 0");
  value(t, "reserve_volt", "volt", "highest volts at the plug's end of the lead, gap holding");
  value(t, "coil_reserve_volt", "volt", "highest volts at the coil's tower, gap holding");
  value(t, "plug_volt_spark", "volt", "volts on the lead as the gap breaks");
  value(t, "jump_volt", "volt", "where gap or insulation gives way");
  value(t, "arcing_part", "one", "how much of an arc at the switch is seen");
}

// ------------------------------------------------------------------------------------------------ peak
CrestInputs take_crest(StageIn& in) {
  CrestInputs c;
  for (double* v : {&c.current, &c.jump_volt, &c.arcing_part, &c.plug_volt, &c.standing_volt, &c.arcing_volt})
    *v = in.positive();
  return c;
}

void add_crest_inputs(plugin::Tables& t, const std::string& current, const std::string& fire,
                      const std::string& opening) {
  for (const auto& id : {current, fire + ".jump_volt", fire + ".arcing_part", opening + ".standing_plug_volt",
                         opening + ".standing_switch_volt", opening + ".arcing_switch_volt"})
    t.input(LS_INPUT_OUTPUT, id.c_str());
}

double crest(const CrestInputs& c, Swing s) {
  s.settings.limits.arc_start_volt = s.settings.limits.arc_knee_volt = 1e9;
  const double broken = 1 / (1 + std::exp(-std::log(c.plug_volt / c.jump_volt) / 0.02));
  double volts = c.standing_volt;
  if (broken > 1e-6 && c.arcing_part < 1 - 1e-6) {
    BurnInputs firing;
    firing.demand_volt = std::min(c.jump_volt, 0.98 * c.plug_volt);
    firing.watch_second = 0;
    volts = between_courses(volts, burn(s.settings, s.port, s.in, firing).switch_volt, broken);
  }
  return between_courses(volts, c.arcing_volt, c.arcing_part);
}

// ------------------------------------------------------------------------------------------------ spark
void evaluate_spark(const Swing& s, const Needs& needs, double arc_volt, double timing_shift, StageOut& out) {
  BurnInputs firing;
  firing.arc_volt = arc_volt;
  firing.demand_volt = needs.demand + needs.breaks;
  // What flashes over elsewhere burns no gap.
  const bool elsewhere = needs.flash < firing.demand_volt;
  const auto r = elsewhere ? BurnReport{} : burn(s.settings, s.port, s.in, firing);
  out.positive(r.spark_second);
  out.positive(r.current_crest);
  out.positive(r.mean_ampere);
  out.positive(timing_shift);
}

void add_spark_outputs(plugin::Tables& t) {
  value(t, "spark_second", "second", "time the gap burns");
  value(t, "spark_ampere", "ampere", "crest of the spark current");
  value(t, "spark_mean_ampere", "ampere", "mean of the spark current");
  value(t, "timing_shift_degree", "degree", "ignition timing error");
}

}  // namespace lostspark::blocks
