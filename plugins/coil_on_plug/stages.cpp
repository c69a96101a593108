// The stages: their tables, and the calls into the blocks.
#include <algorithm>
#include <array>
#include <cmath>
#include <cstring>

#include "blocks/dwell_stage.hpp"
#include "blocks/inductive_firing.hpp"
#include "blocks/laws.hpp"
#include "family.hpp"

namespace lostspark::coil_on_plug {
namespace {

constexpr std::size_t k_loop = blocks::k_loop_terminals, k_watched = blocks::k_dwell_terminals;
constexpr double k_nothing = 1e-9;

/// Terminals of a cylinder's primary loop in the order of blocks::LoopTerminal; the dwell watches the unit's supply too.
std::array<std::string, k_watched> terminals(int n) {
  const auto coil = of("ignition_coil", n);
  return {coil + ".supply", coil + ".primary", "control_unit." + of("driver", n), "control_unit.ground",
          "control_unit.supply"};
}

/// Inputs of coil and high tension that opening and spark take; '#' is followed by the cylinder.
constexpr const char* k_coil_parameters[] = {
    "primary_henry#", "primary_ohm#",       "turns_ratio_one#", "coupling_one",   "snubber_farad", "clamp_volt",
    "secondary_ohm",  "secondary_leak_ohm#", "boot_leak_ohm#",  "well_leak_ohm#", "boot_ohm#",     "plug_leak_ohm#",
    "meter_rise_second"};
constexpr std::size_t k_coil_count = std::size(k_coil_parameters);

std::string named(const char* pattern, int n) {
  std::string id = pattern;
  if (id.back() == '#') id.replace(id.size() - 1, 1, "_" + std::to_string(n));
  return id;
}

void need_positive(const double* in, std::size_t count, const char* stage) {
  for (std::size_t k = 0; k < count; ++k)
    if (!(in[k] > 0))
      throw plugin::Refusal(std::string("stage '") + stage + "': input " + std::to_string(k) +
                            " must be more than zero (an absent part is a very small or large value)");
}

/// The least of several margins, its corners rounded.
class Least {
 public:
  void take(double margin) {
    margin = std::min(margin, 12.0);
    value_ = first_ ? margin : std::min(value_, margin) - std::log1p(std::exp(-8 * std::abs(value_ - margin))) / 8;
    first_ = false;
  }
  [[nodiscard]] double value() const { return value_; }

 private:
  double value_ = 0;
  bool first_ = true;
};

double log_ratio(double have, double need) { return std::log(std::max(have, k_nothing) / need); }

// ------------------------------------------------------------------------------------------------ start
// Inputs: volts that the unit decides by, in the order of add_start(); then relay_hold_volt, unit_logic_one, speed,
// gate threshold (inductive), key code (immobiliser).
void start(const Options& options, const double* in, double* out) {
  constexpr double k_sensor_needs = 4, k_swing_needs = 2.5, k_permits = 2.5;  // volts of the unit's inputs, judgement
  std::size_t at = 0;
  const double unit = in[at++], relay = in[at++];
  const double first = in[at++], second = options.hall_crank_sensor ? in[at++] : 0.0;
  double cam_swing = 0, cam_supply = 0, stand = 0, tip = 0;
  if (options.cam_sensor) cam_swing = in[at++], cam_supply = in[at++];
  if (options.stand_switch) stand = in[at++];
  if (options.tip_sensor) tip = in[at++];
  const double* own = in + at;
  need_positive(own, options.hall_crank_sensor ? 3 : 4, "start");
  at = 0;
  const double hold = own[at++], logic = own[at++], speed = own[at++];
  Least trigger, permit;
  double swing = 0;
  if (options.hall_crank_sensor) {
    trigger.take(log_ratio(first, k_swing_needs));
    trigger.take(log_ratio(second, k_sensor_needs));
    swing = first * blocks::lesser(1, second / k_sensor_needs);
  } else {
    trigger.take(log_ratio(first, own[at++]));
  }
  const double held = log_ratio(relay, hold);
  permit.take(held);
  permit.take(std::log(logic));
  if (options.stand_switch) permit.take(log_ratio(k_permits, std::max(stand, 1e-3)));
  if (options.tip_sensor) permit.take(log_ratio(k_permits, std::max(tip, 1e-3)));
  if (options.immobiliser) permit.take(std::log(own[at++]));
  Least both;
  both.take(trigger.value());
  both.take(permit.value());
  std::size_t o = 0;
  out[o++] = log_ratio(unit, 5.5);
  out[o++] = std::min(held, 12.0);
  out[o++] = trigger.value();
  out[o++] = permit.value();
  // Without trigger or permission no driver switches, and the supply shows no load.
  out[o++] = 1 / (1 + std::exp(-both.value() / 0.03)) + k_nothing;
  out[o++] = speed;
  if (options.hall_crank_sensor) out[o++] = swing + k_nothing;
  if (options.cam_sensor) out[o++] = cam_swing * blocks::lesser(1, cam_supply / k_sensor_needs) + k_nothing;
}

void add_start(plugin::Tables& t, const Options& options) {
  t.stage("start", "may and can the unit fire");
  const auto volts = [&](const char* a, const char* b) { t.input(LS_INPUT_LINEAR_VOLTS, a, b); };
  volts("control_unit.supply", "control_unit.ground");
  volts("main_relay.coil", "main_relay.coil_foot");
  if (options.hall_crank_sensor) {
    volts("control_unit.sensor_supply", "control_unit.crank");
    volts("crank_sensor.supply", "crank_sensor.ground");
  } else {
    volts("control_unit.gate", "control_unit.gate_return");
  }
  if (options.cam_sensor) {
    volts("control_unit.sensor_supply", "control_unit.cam");
    volts("cam_sensor.supply", "cam_sensor.ground");
  }
  if (options.stand_switch) volts("control_unit.stand", "earth");
  if (options.tip_sensor) volts("control_unit.tip", "earth");
  for (const char* id : {"relay_hold_volt", "unit_logic_one", "cranking_speed_rpm"}) t.input(LS_INPUT_PARAMETER, id);
  if (!options.hall_crank_sensor) t.input(LS_INPUT_PARAMETER, "gate_threshold_volt");
  if (options.immobiliser) t.input(LS_INPUT_PARAMETER, "key_code_one");
  t.output("power_margin", LS_OUTPUT_MARGIN, "one", "ln(volts at the unit, nothing firing / 5.5)");
  t.output("relay_margin", LS_OUTPUT_MARGIN, "one", "ln(volts at the main relay's coil / what holds it)");
  t.output("trigger_margin", LS_OUTPUT_MARGIN, "one", "ln(what comes from the crank sensor / what the unit needs)");
  t.output("permit_margin", LS_OUTPUT_MARGIN, "one", "relay held, stand, tip, key code, the unit itself: the least of them");
  t.output("switching", LS_OUTPUT_VALUE, "one", "0..1: the drivers switch");
  t.output("speed_rpm", LS_OUTPUT_VALUE, "rpm", "crank speed");
  if (options.hall_crank_sensor) t.output("crank_swing_volt", LS_OUTPUT_VALUE, "volt", "swing of the crank signal");
  if (options.cam_sensor) t.output("cam_swing_volt", LS_OUTPUT_VALUE, "volt", "swing of the cam signal");
}

// ------------------------------------------------------------------------------------------------ dwell
constexpr const char* k_dwell_parameters[] = {"dwell_second",  "primary_henry#", "primary_ohm#", "driver_drop_volt",
                                              "driver_on_ohm", "driver_ohm#",    "cutout_volt",  "snubber_farad"};
constexpr std::size_t k_dwell_own = std::size(k_dwell_parameters);

void loop_inputs(plugin::Tables& t, int n, std::size_t count) {
  const auto names = terminals(n);
  for (std::size_t k = 0; k < count; ++k) t.input(LS_INPUT_LINEAR_VOLTS, names[k].c_str(), "earth");
  for (std::size_t k = 0; k < count; ++k) t.input(LS_INPUT_TERMINAL, names[k].c_str());
}

/// Openings are computed at currents of a grid and read between: a fault of the supply changes the current a little and
/// no opening, so the same few of them serve all. Neighbours are a factor apart; in between logarithms are linear.
constexpr double k_grid_step = 0.13;
/// Loop of a sound harness; what differs by less is the same.
constexpr double k_sound_share = 1e-5, k_sound_siemens = 1e-6, k_sound_ampere = 1e-5;

void dwell(const double* in, double* out) {
  need_positive(in, k_dwell_own + 1, "dwell");
  const double* volts = in + k_dwell_own + 1;
  const auto loop = blocks::primary_loop<k_watched>(volts + k_watched, volts, in[2]);
  blocks::DwellInputs d;
  d.dwell_second = in[0];
  d.primary_henry = in[1];
  d.primary_ohm = in[2];
  d.switch_volt = in[3];
  d.switch_ohm = in[4] + in[5];
  const auto r = blocks::dwell(loop, volts, d);
  const double switching = std::min(in[k_dwell_own], 1.0);
  const auto shown = [&](std::size_t k) { return volts[k] + switching * (r.volt[k] - volts[k]); };
  // What the unit has between its own pins when the coil's current is highest.
  const double supply = blocks::remainder_above(std::max(r.volt[k_loop], 0.0) + 1e-6,
                                                std::max(r.volt[blocks::k_loop_ground], 0.0), 0.01);
  const double place = std::log(r.current) / k_grid_step, below = std::floor(place);
  const bool sound = std::abs(1 - loop.share) < k_sound_share && loop.siemens < k_sound_siemens &&
                     std::abs(loop.ampere) < k_sound_ampere;
  const auto& output = loop.node[blocks::k_loop_output];
  std::size_t at = 0;
  out[at++] = std::log(supply / in[6]);
  out[at++] = r.current;
  out[at++] = std::max(shown(blocks::k_loop_supply), 0.0) + 1e-6;
  out[at++] = std::max(shown(blocks::k_loop_ground), 0.0) + 1e-6;
  out[at++] = std::exp(below * k_grid_step);
  out[at++] = place - below + k_nothing;
  out[at++] = sound ? 1 : std::max(loop.share, k_nothing);
  out[at++] = sound ? k_nothing : std::max(loop.siemens, k_nothing);
  out[at++] = sound ? k_nothing : std::max(loop.ampere, k_nothing);
  // The current falls while the crest lasts.
  out[at++] = std::max(output.at(r.current * (1 - loop.share / 2), 0), k_nothing);
  out[at++] = std::max(output.per_volt, k_nothing);
  // Across the driver no more comes up than the loop's own volts and what the current can swing its capacity to.
  out[at++] = std::max(loop.volt, 0.0) + r.current * std::sqrt(in[1] / in[7]) + k_nothing;
}

void add_dwell(plugin::Tables& t, int n) {
  t.stage(of("dwell", n).c_str(), ("current rising in coil " + std::to_string(n)).c_str());
  for (const char* id : k_dwell_parameters) t.input(LS_INPUT_PARAMETER, named(id, n).c_str());
  t.input(LS_INPUT_OUTPUT, "start.switching");
  loop_inputs(t, n, k_watched);
  t.output("supply_margin", LS_OUTPUT_MARGIN, "one", "ln(least supply of the unit / where it resets)");
  t.output("current", LS_OUTPUT_VALUE, "ampere", "primary current as the unit cuts it off");
  t.output("coil_supply_volt", LS_OUTPUT_VALUE, "volt", "least volts at the coil's supply");
  t.output("unit_lift_volt", LS_OUTPUT_VALUE, "volt", "lift of the unit's earth");
  t.output("grid_ampere", LS_OUTPUT_VALUE, "ampere", "the current's lower neighbour among those that openings are computed at");
  t.output("grid_part", LS_OUTPUT_VALUE, "one", "how far the current lies above it, 0..1");
  t.output("share", LS_OUTPUT_VALUE, "one", "of the coil's current that reaches the driver");
  t.output("leak_siemens", LS_OUTPUT_VALUE, "siemens", "of the driver's wire to metal");
  t.output("leak_ampere", LS_OUTPUT_VALUE, "ampere", "into the driver without the coil's current");
  t.output("out_standing_volt", LS_OUTPUT_VALUE, "volt", "driver pin beside what the driver shares with it");
  t.output("out_share", LS_OUTPUT_VALUE, "one", "of the driver's volts that its pin sees");
  t.output("most_volt", LS_OUTPUT_VALUE, "volt", "that can come up across the driver");
}

// ------------------------------------------------------------------------------------------------ opening
constexpr std::size_t k_table = blocks::k_opening_fractions.size(), k_opening_values = 4,
                      k_one_opening = k_opening_values + 2 * k_table, k_opening_outputs = 2 * k_one_opening;
constexpr std::size_t k_opening_own = 4;  // grid current, share, leak siemens, leak ampere

blocks::OpeningInputs opening_inputs(double current, const double* in, blocks::OpeningSettings& settings) {
  constexpr double k_most_ohm = 1e5;  // no resistor stands tens of kilovolts: the gap it burns is in the breaks
  blocks::OpeningInputs o;
  o.current = current;
  o.primary_henry = in[0];
  o.primary_ohm = in[1];
  o.turns = in[2];
  o.coupling = in[3];
  o.switch_farad = in[4];
  settings.limits.clamp_volt = in[5];
  o.secondary_ohm = in[6];
  o.secondary_leak_ohm = 1 / (1 / in[7] + 1 / in[8] + 1 / in[9]);
  o.lead_ohm = blocks::lesser(in[10], k_most_ohm);
  o.plug_leak_ohm = in[11];
  o.meter_rise_second = in[12];
  return o;
}

void opening(const double* in, double* out) {
  need_positive(in, k_opening_own + k_coil_count, "opening");
  blocks::OpeningSettings settings;
  auto inputs = opening_inputs(in[0], in + k_opening_own, settings);
  // Battery volts and the harness's resistance do not matter beside the clamp's volts and the coil's inductance: within
  // 0.5 % of the reserve from 6 to 15 volt and up to 2 ohm.
  const blocks::OpeningPort port{12, 0.1, in[1], in[3], in[2]};
  std::size_t at = 0;
  for (int side = 0; side < 2; ++side) {
    const auto r = blocks::open_coil(settings, port, inputs);
    out[at++] = r.plug_volt;
    out[at++] = r.tower_volt;
    out[at++] = r.switch_volt;
    out[at++] = r.body_ampere;
    for (std::size_t k = 0; k < k_table; ++k) out[at++] = std::max(r.tower_at_break[k], k_nothing);
    for (std::size_t k = 0; k < k_table; ++k) out[at++] = std::max(r.switch_at_break[k], k_nothing);
    inputs.current *= std::exp(k_grid_step);
  }
}

std::vector<std::string> add_opening(plugin::Tables& t, int n) {
  const auto stage = of("opening", n), dwell_stage = of("dwell", n);
  t.stage(stage.c_str(), ("what the interrupted current of coil " + std::to_string(n) + " makes").c_str());
  for (const char* id : {".grid_ampere", ".share", ".leak_siemens", ".leak_ampere"})
    t.input(LS_INPUT_OUTPUT, (dwell_stage + id).c_str());
  for (const char* id : k_coil_parameters) t.input(LS_INPUT_PARAMETER, named(id, n).c_str());
  std::vector<std::string> given;
  const auto value = [&](const std::string& id, const char* unit, const char* description) {
    given.push_back(stage + "." + id);
    t.output(id.c_str(), LS_OUTPUT_VALUE, unit, description);
  };
  for (const std::string side : {"_low", "_high"}) {
    value("plug_volt" + side, "volt", "highest plug volts, gap holding, at the grid's current below or above");
    value("tower_volt" + side, "volt", "highest tower volts, gap holding");
    value("switch_volt" + side, "volt", "crest across the driver as a meter shows it, gap holding");
    value("body_ampere" + side, "ampere", "through the plug's body, gap holding");
    const auto table = [&](const std::string& id, const char* unit, const char* description) {
      for (double f : blocks::k_opening_fractions)
        value(id + "_" + std::to_string(static_cast<int>(f * 100 + 0.5)) + side, unit, description);
    };
    table("tower_at_break", "one", "tower over plug volts as the gap breaks at this percentage of the reserve");
    table("switch_at_break", "volt", "meter's crest across the driver until then");
  }
  if (given.size() != k_opening_outputs) throw plugin::Refusal("the opening stage describes its outputs wrongly");
  return given;
}

// ------------------------------------------------------------------------------------------------ fire
constexpr const char* k_fire_parameters[] = {"demand_volt#", "secondary_break_volt#", "boot_break_volt#",
                                             "seat_break_volt#", "plug_flash_volt#"};

void fire(const double* in, double* out) {
  const double* own = in + k_opening_outputs + 4;
  need_positive(in, k_opening_outputs + 4 + std::size(k_fire_parameters), "fire");
  const double part = std::clamp(in[k_opening_outputs], 0.0, 1.0);
  std::array<double, k_one_opening> at;
  for (std::size_t k = 0; k < k_one_opening; ++k) at[k] = in[k] * std::pow(in[k_one_opening + k] / in[k], part);
  blocks::Opening o;
  o.plug_volt = at[0];
  o.tower_volt = at[1];
  o.switch_volt = at[2];
  o.body_ampere = at[3];
  for (std::size_t k = 0; k < k_table; ++k) {
    o.tower_at_break[k] = at[k_opening_values + k];
    o.switch_at_break[k] = at[k_opening_values + k_table + k];
  }
  blocks::InductiveFiringInputs f;
  f.demand_volt = own[0];
  f.break_volt = own[1] + own[2] + own[3];
  f.flash_volt = own[4];
  const auto r = blocks::fire_coil(f, o);
  out[0] = r.spark_margin;
  out[1] = r.reserve_volt;
  out[2] = r.coil_reserve_volt;
  out[3] = r.plug_volt_spark;
  // A gap that breaks early does not save the driver: the leakage of the windings alone drives it into its clamp. What it
  // then shows is what it shows where the gap breaks at a sixth of the reserve.
  f.demand_volt = std::max(f.demand_volt, o.plug_volt / 6);
  const double across = blocks::lesser(blocks::fire_coil(f, o).switch_volt, in[k_opening_outputs + 3]);
  out[4] = in[k_opening_outputs + 1] + in[k_opening_outputs + 2] * across;
}

void add_fire(plugin::Tables& t, int n, const std::vector<std::string>& given) {
  t.stage(of("fire", n).c_str(), ("what is there against what plug " + std::to_string(n) + " needs").c_str());
  for (const auto& id : given) t.input(LS_INPUT_OUTPUT, id.c_str());
  for (const char* id : {".grid_part", ".out_standing_volt", ".out_share", ".most_volt"})
    t.input(LS_INPUT_OUTPUT, (of("dwell", n) + id).c_str());
  for (const char* id : k_fire_parameters) t.input(LS_INPUT_PARAMETER, named(id, n).c_str());
  t.output("spark_margin", LS_OUTPUT_MARGIN, "one", "ln(reserve at the plug / demand of the gap)");
  t.output("reserve_volt", LS_OUTPUT_VALUE, "volt", "highest volts at the plug's end of the boot, gap holding");
  t.output("coil_reserve_volt", LS_OUTPUT_VALUE, "volt", "highest volts at the coil's tower, gap holding");
  t.output("plug_volt_spark", LS_OUTPUT_VALUE, "volt", "volts at the tower as the gap breaks");
  t.output("unit_peak_volt", LS_OUTPUT_VALUE, "volt", "primary peak at the unit's pin");
}

// ------------------------------------------------------------------------------------------------ lift, spark
void lift(const double* in, int cylinders, double* out) {
  out[0] = in[0];
  for (int n = 1; n < cylinders; ++n) out[0] = std::max(out[0], in[n]);
}

void spark(const double* in, double* out) {
  constexpr std::size_t own = 6;  // current, demand, three breaks, arc
  need_positive(in, own + k_coil_count, "spark");
  const double* volts = in + own + k_coil_count;
  blocks::OpeningSettings settings;
  const auto inputs = opening_inputs(in[0], in + own, settings);
  const auto loop = blocks::primary_loop<k_loop>(volts + k_loop, volts, inputs.primary_ohm);
  blocks::BurnInputs firing;
  firing.demand_volt = in[1] + in[2] + in[3] + in[4];
  firing.arc_volt = in[5];
  const auto r = blocks::burn(settings, blocks::OpeningPort::of(loop), inputs, firing);
  out[0] = r.spark_second + k_nothing;
  out[1] = r.current_crest + k_nothing;
  out[2] = r.mean_ampere + k_nothing;
}

void add_spark(plugin::Tables& t, int n) {
  t.stage(of("spark", n).c_str(), ("spark time and current of plug " + std::to_string(n) + ", for the report").c_str(),
          true);
  t.input(LS_INPUT_OUTPUT, (of("dwell", n) + ".current").c_str());
  for (const char* id : {"demand_volt#", "secondary_break_volt#", "boot_break_volt#", "seat_break_volt#", "arc_volt#"})
    t.input(LS_INPUT_PARAMETER, named(id, n).c_str());
  for (const char* id : k_coil_parameters) t.input(LS_INPUT_PARAMETER, named(id, n).c_str());
  loop_inputs(t, n, k_loop);
  t.output("spark_second", LS_OUTPUT_VALUE, "second", "time the gap burns");
  t.output("spark_ampere", LS_OUTPUT_VALUE, "ampere", "crest of the spark current");
  t.output("spark_mean_ampere", LS_OUTPUT_VALUE, "ampere", "mean of the spark current");
}

}  // namespace

// Order: start; dwell, opening, fire of each cylinder; lift; spark of each cylinder.
void add_stages(plugin::Tables& t, const Options& options) {
  add_start(t, options);
  for (int n = 1; n <= options.cylinders; ++n) {
    add_dwell(t, n);
    const auto given = add_opening(t, n);
    add_fire(t, n, given);
  }
  t.stage("lift", "earth of the unit");
  for (int n = 1; n <= options.cylinders; ++n) t.input(LS_INPUT_OUTPUT, (of("dwell", n) + ".unit_lift_volt").c_str());
  t.output("unit_lift_volt", LS_OUTPUT_VALUE, "volt", "lift of the unit's earth, the largest of all cylinders");
  t.stage("stop", "does the run/stop switch stop the engine");
  t.input(LS_INPUT_PARAMETER, "stop_weld_ohm");
  t.output("run_on_margin", LS_OUTPUT_MARGIN, "one", "ln(10 ohm / what lies past the switch in stop): runs on above 0");
  for (int n = 1; n <= options.cylinders; ++n) add_spark(t, n);
}

void evaluate_stage(const Options& options, int stage, const double* in, double* out) {
  const int cylinders = options.cylinders;
  if (stage == 0) return start(options, in, out);
  if (stage <= 3 * cylinders) {
    switch ((stage - 1) % 3) {
      case 0:
        return dwell(in, out);
      case 1:
        return opening(in, out);
      default:
        return fire(in, out);
    }
  }
  if (stage == 3 * cylinders + 1) return lift(in, cylinders, out);
  if (stage == 3 * cylinders + 2) {
    need_positive(in, 1, "stop");
    out[0] = std::log(10 / in[0]);
    return;
  }
  if (stage <= 4 * cylinders + 2) return spark(in, out);
  throw plugin::Refusal("the family has no stage " + std::to_string(stage));
}

}  // namespace lostspark::coil_on_plug
