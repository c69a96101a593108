// The stages: their tables, and the calls into the blocks.
#include <algorithm>
#include <cmath>
#include <cstring>
#include <iterator>

#include "blocks/dwell_stage.hpp"
#include "blocks/inductive_firing.hpp"
#include "blocks/laws.hpp"
#include "family.hpp"

namespace lostspark::transistor_inductive {
namespace {

// Terminals of the primary loop, in the order of blocks::LoopTerminal; the dwell watches the module's supply as well.
constexpr const char* k_terminals[] = {"ignition_coil.supply", "ignition_coil.primary", "control_module.coil_out",
                                       "control_module.ground", "control_module.supply"};
constexpr std::size_t k_loop = blocks::k_loop_terminals, k_watched = blocks::k_dwell_terminals;
static_assert(std::size(k_terminals) == k_watched);

// Inputs of coil and high tension that opening and spark take, in this order.
constexpr const char* k_coil_parameters[] = {"primary_henry",    "primary_ohm", "turns_ratio_one", "coupling_one",
                                             "snubber_farad",    "clamp_volt",  "secondary_ohm",   "secondary_leak_ohm",
                                             "cap_ohm",          "lead_ohm",    "ht_joint_ohm",    "plug_leak_ohm",
                                             "meter_rise_second"};
constexpr std::size_t k_coil_count = std::size(k_coil_parameters);

void need_positive(const double* in, std::size_t count, const char* stage) {
  for (std::size_t k = 0; k < count; ++k)
    if (!(in[k] > 0))
      throw plugin::Refusal(std::string("stage '") + stage + "': input " + std::to_string(k) +
                            " must be more than zero (an absent part is a very small or large value)");
}

// ------------------------------------------------------------------------------------------------ dwell
constexpr std::size_t k_dwell_own = 8;

void dwell(const double* in, double* out) {
  need_positive(in, k_dwell_own, "dwell");
  const double* volts = in + k_dwell_own + 1;  // after the gate's
  const auto loop = blocks::primary_loop<k_watched>(volts + k_watched, volts, in[2]);
  blocks::DwellInputs d;
  d.dwell_second = in[0];
  d.primary_henry = in[1];
  d.primary_ohm = in[2];
  d.switch_volt = in[3];
  d.switch_ohm = in[4] + in[5];
  // Without a trigger the module never switches on, and the supply shows no load. Margins and current stay what they
  // would be: a reading that needs a trigger names that margin.
  const double trigger = std::log(std::max(in[k_dwell_own], 1e-9) / in[7]);
  d.switches = 1 / (1 + std::exp(-trigger / 0.05));
  const auto r = blocks::dwell(loop, volts, d);
  // What the module has between its own pins when the coil's current is highest.
  const double closed = volts[4] + (r.volt[4] - volts[4]) / std::max(d.switches, 1e-6);
  const double ground = volts[3] + (r.volt[3] - volts[3]) / std::max(d.switches, 1e-6);
  const double supply = blocks::remainder_above(std::max(closed, 0.0) + 1e-6, std::max(ground, 0.0), 0.01);
  std::size_t at = 0;
  out[at++] = std::log(supply / in[6]);
  out[at++] = r.current;
  for (std::size_t k = 0; k < k_watched; ++k) out[at++] = r.volt[k];
}

// ------------------------------------------------------------------------------------------------ opening
constexpr std::size_t k_table = blocks::k_opening_fractions.size();

blocks::OpeningInputs opening_inputs(double current, const double* in, blocks::OpeningSettings& settings) {
  blocks::OpeningInputs o;
  o.current = current;
  o.primary_henry = in[0];
  o.primary_ohm = in[1];
  o.turns = in[2];
  o.coupling = in[3];
  o.switch_farad = in[4];
  settings.limits.clamp_volt = in[5];
  o.secondary_ohm = in[6];
  o.secondary_leak_ohm = in[7];
  o.lead_ohm = in[8] + in[9] + in[10];
  o.plug_leak_ohm = in[11];
  o.meter_rise_second = in[12];
  return o;
}

void opening(const double* in, double* out) {
  need_positive(in, 1 + k_coil_count, "opening");
  const double* volts = in + 1 + k_coil_count;
  blocks::OpeningSettings settings;
  const auto inputs = opening_inputs(in[0], in + 1, settings);
  const auto loop = blocks::primary_loop<k_loop>(volts + k_loop, volts, inputs.primary_ohm);
  const auto r = blocks::open_coil(settings, blocks::OpeningPort::of(loop), inputs);
  // Volts of both ends of the coil's wire for a given crest across the switch. The current falls while the crest lasts;
  // with an open wire it does not flow there and terminal 1 stands at the supply.
  const auto &primary = loop.node[blocks::k_loop_primary], &output = loop.node[blocks::k_loop_output];
  const double flowing = in[0] * (1 - loop.share / 2);
  constexpr double k_nothing = 1e-9;
  std::size_t at = 0;
  out[at++] = r.plug_volt;
  out[at++] = r.tower_volt;
  out[at++] = r.switch_volt;
  out[at++] = r.switch_raw;
  out[at++] = r.body_ampere;
  out[at++] = std::max(primary.at(flowing, 0), k_nothing);
  out[at++] = std::max(primary.per_volt, k_nothing);
  out[at++] = std::max(output.at(flowing, 0), k_nothing);
  out[at++] = std::max(output.per_volt, k_nothing);
  for (std::size_t k = 0; k < k_table; ++k) out[at++] = r.tower_at_break[k];
  for (std::size_t k = 0; k < k_table; ++k) out[at++] = r.switch_at_break[k];
}
constexpr std::size_t k_opening_outputs = 9 + 2 * k_table;

// ------------------------------------------------------------------------------------------------ fire
enum FireInput : std::size_t {
  k_gate_volt,
  k_threshold,
  k_demand,
  k_secondary_break,
  k_lead_break,
  k_joint_break,
  k_cap_break,
  k_seat_break,
  k_lead_flash,
  k_cap_flash,
  k_plug_flash,
  k_speed,
  k_fire_inputs
};

void fire(const double* in, double* out) {
  const double* own = in + k_opening_outputs;
  need_positive(own + 1, k_fire_inputs - 1, "fire");  // the gate may be dead
  blocks::Opening o;
  o.plug_volt = in[0];
  o.tower_volt = in[1];
  o.switch_volt = in[2];
  o.switch_raw = in[3];
  o.body_ampere = in[4];
  for (std::size_t k = 0; k < k_table; ++k) {
    o.tower_at_break[k] = in[9 + k];
    o.switch_at_break[k] = in[9 + k_table + k];
  }
  blocks::InductiveFiringInputs f;
  f.gate_volt = own[k_gate_volt];
  f.gate_threshold_volt = own[k_threshold];
  f.demand_volt = own[k_demand];
  f.break_volt = own[k_secondary_break] + own[k_lead_break] + own[k_joint_break] + own[k_cap_break] + own[k_seat_break];
  f.flash_volt = blocks::lesser(blocks::lesser(own[k_lead_flash], own[k_cap_flash]), own[k_plug_flash]);
  const auto r = blocks::fire_coil(f, o);
  const double row[] = {r.trigger_margin,
                        r.spark_margin,
                        r.clamp_margin,
                        r.reserve_volt,
                        r.coil_reserve_volt,
                        r.plug_volt_spark,
                        own[k_speed],
                        in[5] + in[6] * r.switch_volt,
                        in[7] + in[8] * r.switch_volt};
  std::memcpy(out, row, sizeof row);
}

// ------------------------------------------------------------------------------------------------ stop, spark
void stop(const double* in, double* out) {
  need_positive(in, 1, "stop");
  out[0] = std::log(10 / in[0]);
}

void spark(const double* in, double* out) {
  constexpr std::size_t own = 12;  // current, demand, five breaks, arc, three flash-overs, timing shift
  need_positive(in, own + k_coil_count, "spark");
  const double* volts = in + own + k_coil_count;
  blocks::OpeningSettings settings;
  const auto inputs = opening_inputs(in[0], in + own, settings);
  const auto loop = blocks::primary_loop<k_loop>(volts + k_loop, volts, inputs.primary_ohm);
  blocks::BurnInputs firing;
  firing.demand_volt = in[1] + in[2] + in[3] + in[4] + in[5] + in[6];
  firing.arc_volt = in[7];
  const auto r = blocks::burn(settings, blocks::OpeningPort::of(loop), inputs, firing);
  // What flashes over elsewhere burns no gap.
  const double gap = std::min({in[8], in[9], in[10]}) > firing.demand_volt ? 1 : 0;
  out[0] = gap * r.spark_second + 1e-9;
  out[1] = gap * r.current_crest + 1e-9;
  out[2] = gap * r.mean_ampere + 1e-9;
  out[3] = in[11];
}

void inputs(plugin::Tables& t, std::int32_t kind, std::initializer_list<const char*> names) {
  for (const char* name : names) t.input(kind, name);
}

void loop_inputs(plugin::Tables& t, std::size_t count) {
  for (std::size_t k = 0; k < count; ++k) t.input(LS_INPUT_LINEAR_VOLTS, k_terminals[k], "earth");
  for (std::size_t k = 0; k < count; ++k) t.input(LS_INPUT_TERMINAL, k_terminals[k]);
}

}  // namespace

void add_stages(plugin::Tables& t) {
  t.stage("dwell", "current rising in the coil's primary");
  inputs(t, LS_INPUT_PARAMETER,
         {"dwell_second", "primary_henry", "primary_ohm", "module_drop_volt", "module_on_ohm", "module_output_ohm",
          "cutout_volt", "gate_threshold_volt"});
  t.input(LS_INPUT_LINEAR_VOLTS, "control_module.gate", "control_module.gate_return");
  loop_inputs(t, k_watched);
  t.output("supply_margin", LS_OUTPUT_MARGIN, "one", "ln(least supply of the module / where it resets)");
  t.output("current", LS_OUTPUT_VALUE, "ampere", "primary current as the module cuts it off");
  t.output("coil_supply_volt", LS_OUTPUT_TERMINAL_VOLTS, "volt", "least volts at the coil's supply", k_terminals[0]);
  t.output("primary_volt", LS_OUTPUT_TERMINAL_VOLTS, "volt", "terminal 1 at the end of the dwell", k_terminals[1]);
  t.output("coil_out_volt", LS_OUTPUT_TERMINAL_VOLTS, "volt", "module's output at the end of the dwell",
           k_terminals[2]);
  t.output("ground_volt", LS_OUTPUT_TERMINAL_VOLTS, "volt", "lift of the module's earth", k_terminals[3]);
  t.output("module_supply_volt", LS_OUTPUT_TERMINAL_VOLTS, "volt", "least volts at the module's supply",
           k_terminals[4]);

  t.stage("opening", "what the interrupted current makes");
  t.input(LS_INPUT_OUTPUT, "dwell.current");
  for (const char* name : k_coil_parameters) t.input(LS_INPUT_PARAMETER, name);
  loop_inputs(t, k_loop);
  std::vector<std::string> given;
  const auto value = [&](const std::string& id, const char* unit, const char* description) {
    given.push_back("opening." + id);
    t.output(id.c_str(), LS_OUTPUT_VALUE, unit, description);
  };
  value("plug_volt", "volt", "highest plug volts, gap holding");
  value("tower_volt", "volt", "highest tower volts, gap holding");
  value("switch_volt", "volt", "crest across the transistor as a meter shows it, gap holding");
  value("switch_raw_volt", "volt", "instantaneous crest across the transistor (no meter shows it)");
  value("body_ampere", "ampere", "through the plug's body, gap holding");
  value("primary_standing_volt", "volt", "terminal 1 beside what the transistor shares with it");
  value("primary_share", "one", "of the transistor's volts that terminal 1 sees");
  value("out_standing_volt", "volt", "module's output beside what the transistor shares with it");
  value("out_share", "one", "of the transistor's volts that the module's output sees");
  const auto table = [&](const std::string& id, const char* unit, const char* description) {
    for (double f : blocks::k_opening_fractions)
      value(id + "_" + std::to_string(static_cast<int>(f * 100 + 0.5)), unit, description);
  };
  table("tower_at_break", "one", "tower over plug volts as the gap breaks at this percentage of the reserve");
  table("switch_at_break", "volt", "meter's crest across the transistor until then");
  if (given.size() != k_opening_outputs) throw plugin::Refusal("the opening stage describes its outputs wrongly");

  t.stage("fire", "what is there against what is needed");
  for (const auto& id : given) t.input(LS_INPUT_OUTPUT, id.c_str());
  t.input(LS_INPUT_LINEAR_VOLTS, "control_module.gate", "control_module.gate_return");
  inputs(t, LS_INPUT_PARAMETER,
         {"gate_threshold_volt", "demand_volt", "secondary_break_volt", "lead_break_volt", "joint_break_volt",
          "cap_break_volt", "seat_break_volt", "lead_flash_volt", "cap_flash_volt", "plug_flash_volt",
          "cranking_speed_rpm"});
  t.output("trigger_margin", LS_OUTPUT_MARGIN, "one", "ln(pulse volts at the module / its threshold)");
  t.output("spark_margin", LS_OUTPUT_MARGIN, "one", "ln(reserve at the plug / demand of the gap)");
  t.output("clamp_margin", LS_OUTPUT_MARGIN, "one", "current in the lead against what a clamp shows; leaks count too");
  t.output("reserve_volt", LS_OUTPUT_VALUE, "volt", "highest volts at the plug's end of the lead, gap holding");
  t.output("coil_reserve_volt", LS_OUTPUT_VALUE, "volt", "highest volts at the coil's tower, gap holding");
  t.output("plug_volt_spark", LS_OUTPUT_VALUE, "volt", "volts on the lead as the gap breaks");
  t.output("speed_rpm", LS_OUTPUT_VALUE, "rpm", "crank speed");
  t.output("primary_volt", LS_OUTPUT_TERMINAL_VOLTS, "volt", "primary peak at the coil", "ignition_coil.primary");
  t.output("coil_out_volt", LS_OUTPUT_TERMINAL_VOLTS, "volt", "primary peak at the module", "control_module.coil_out");

  t.stage("stop", "does the run/stop switch stop the engine");
  t.input(LS_INPUT_PARAMETER, "stop_weld_ohm");
  t.output("run_on_margin", LS_OUTPUT_MARGIN, "one", "ln(10 ohm / what lies past the switch in stop): runs on above 0");

  t.stage("spark", "spark time and current, for the report", true);
  t.input(LS_INPUT_OUTPUT, "dwell.current");
  inputs(
      t, LS_INPUT_PARAMETER,
      {"demand_volt", "secondary_break_volt", "lead_break_volt", "joint_break_volt", "cap_break_volt",
       "seat_break_volt", "arc_volt", "lead_flash_volt", "cap_flash_volt", "plug_flash_volt", "timing_shift_degree"});
  for (const char* name : k_coil_parameters) t.input(LS_INPUT_PARAMETER, name);
  loop_inputs(t, k_loop);
  t.output("spark_second", LS_OUTPUT_VALUE, "second", "time the gap burns");
  t.output("spark_ampere", LS_OUTPUT_VALUE, "ampere", "crest of the spark current");
  t.output("spark_mean_ampere", LS_OUTPUT_VALUE, "ampere", "mean of the spark current");
  t.output("timing_shift_degree", LS_OUTPUT_VALUE, "degree", "ignition timing error");
}

void TransistorInductive::evaluate(int stage, const double* in, double* out) const {
  switch (stage) {
    case k_dwell:
      return dwell(in, out);
    case k_opening:
      return opening(in, out);
    case k_fire:
      return fire(in, out);
    case k_stop:
      return stop(in, out);
    case k_spark:
      return spark(in, out);
    default:
      throw plugin::Refusal("the family has no stage " + std::to_string(stage));
  }
}

}  // namespace lostspark::transistor_inductive
