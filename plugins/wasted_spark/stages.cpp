// The stages: their tables, and the calls into the blocks.
#include <algorithm>
#include <cmath>
#include <iterator>

#include "blocks/dwell_stage.hpp"
#include "blocks/laws.hpp"
#include "blocks/pair_firing.hpp"
#include "openings.hpp"

namespace lostspark::wasted_spark {
namespace {

using blocks::StageIn;
using blocks::StageOut;

constexpr std::size_t k_loop = blocks::k_loop_terminals, k_watched = blocks::k_dwell_terminals;
constexpr double k_nothing = 1e-9;

/// Terminals of a coil's primary loop in the order of blocks::LoopTerminal; the dwell watches the unit's supply too.
std::array<std::string, k_watched> terminals(int pair) {
  const auto coil = of("ignition_coil", pair);
  return {coil + ".supply", coil + ".primary", "ignition_unit." + of("output", pair), "ignition_unit.ground",
          "ignition_unit.supply"};
}

void loop_inputs(plugin::Tables& t, int pair, std::size_t count) {
  const auto names = terminals(pair);
  for (std::size_t k = 0; k < count; ++k) t.input(LS_INPUT_LINEAR_VOLTS, names[k].c_str(), "earth");
  for (std::size_t k = 0; k < count; ++k) t.input(LS_INPUT_TERMINAL, names[k].c_str());
}

// ------------------------------------------------------------------------------------------------ trigger
void trigger(const Options& options, StageIn in, StageOut out) {
  constexpr double k_never = 12;  // ln: that far met
  const double threshold = in.positive(), speed = in.positive();
  const double hold = options.engine_unit ? in.positive() : 1, key_code = options.engine_unit ? in.positive() : 1;
  const double margin = std::log(std::max(in.any(), k_nothing) / threshold);
  out.put(margin);
  double least = margin;
  if (options.engine_unit) {
    const double relay = std::min(std::log(std::max(in.any(), k_nothing) / hold), k_never);
    const double permit = std::min(relay, std::min(std::log(key_code), k_never));
    out.put(relay);
    out.put(permit);
    least = std::min(margin, permit);
  }
  // Without trigger or permission no transistor switches, and the supply shows no load.
  out.positive(1 / (1 + std::exp(-least / 0.05)));
  out.positive(speed);
}

void add_trigger(plugin::Tables& t, const Options& options) {
  t.stage("trigger", options.engine_unit ? "may and can the unit fire" : "does the unit hear the pulse coil");
  parameters(t, {"gate_threshold_volt", "cranking_speed_rpm"});
  if (options.engine_unit) parameters(t, {"relay_hold_volt", "key_code_one"});
  t.input(LS_INPUT_LINEAR_VOLTS, "ignition_unit.gate", "ignition_unit.gate_return");
  if (options.engine_unit) t.input(LS_INPUT_LINEAR_VOLTS, "main_relay.coil", "main_relay.coil_foot");
  t.output("trigger_margin", LS_OUTPUT_MARGIN, "one", "ln(pulse volts at the unit / its threshold)");
  if (options.engine_unit) {
    t.output("relay_margin", LS_OUTPUT_MARGIN, "one", "ln(volts at the main relay's coil / what holds it)");
    t.output("permit_margin", LS_OUTPUT_MARGIN, "one", "relay held, key code: the lesser of them");
  }
  t.output("switching", LS_OUTPUT_VALUE, "one", "0..1: the unit switches");
  t.output("speed_rpm", LS_OUTPUT_VALUE, "rpm", "crank speed");
}

// ------------------------------------------------------------------------------------------------ dwell
constexpr const char* k_dwell_parameters[] = {"dwell_second", "primary_henry#", "primary_ohm#", "unit_drop_volt",
                                              "unit_on_ohm",  "output_ohm#",    "cutout_volt",  "snubber_farad"};

/// Loop of a sound harness; what differs by less is the same.
constexpr double k_sound_share = 1e-5, k_sound_siemens = 1e-6, k_sound_ampere = 1e-5;

void dwell(StageIn in, StageOut out) {
  blocks::DwellInputs d;
  d.dwell_second = in.positive();
  d.primary_henry = in.positive();
  d.primary_ohm = in.positive();
  d.switch_volt = in.positive();
  d.switch_ohm = in.positive();
  d.switch_ohm += in.positive();
  const double cutout = in.positive(), snubber = in.positive();
  d.switches = std::min(in.positive(), 1.0);
  const double* volts = in.rest();
  const auto loop = blocks::primary_loop<k_watched>(volts + k_watched, volts, d.primary_ohm);
  const auto r = blocks::dwell(loop, volts, d);
  // What the unit has between its own pins when the coil's current is highest, trigger or not.
  const auto loaded = [&](std::size_t k) { return volts[k] + (r.volt[k] - volts[k]) / std::max(d.switches, 1e-6); };
  const double supply =
      blocks::remainder_above(std::max(loaded(k_loop), 0.0) + 1e-6, std::max(loaded(blocks::k_loop_ground), 0.0), 0.01);
  out.put(std::log(supply / cutout));
  out.positive(r.current);
  for (double v : r.volt) out.put(v);
  const double place = std::log(r.current) / k_grid_step, below = std::floor(place);
  const bool sound = std::abs(1 - loop.share) < k_sound_share && loop.siemens < k_sound_siemens &&
                     std::abs(loop.ampere) < k_sound_ampere;
  out.positive(std::exp(below * k_grid_step));
  out.positive(place - below);
  out.positive(sound ? 1 : loop.share);
  out.positive(sound ? 0 : loop.siemens);
  out.positive(sound ? 0 : loop.ampere);
  // Battery volts and the sound harness's resistance do not matter beside the clamp's volts and the coil's inductance:
  // within 0.5 % of the reserve from 6 to 15 volt and up to 2 ohm.
  out.positive(sound ? 12 : loop.volt);
  out.positive(sound ? 0.1 : loop.ohm);
  // Volts of both ends of the coil's wire for a given crest across the switch; the current falls while the crest lasts.
  const double flowing = r.current * (1 - loop.share / 2);
  for (const std::size_t k : {blocks::k_loop_primary, blocks::k_loop_output}) {
    out.positive(loop.node[k].at(flowing, 0));
    out.positive(loop.node[k].per_volt);
  }
  // Across the switch no more comes up than the loop's own volts and what the current can swing its capacity to.
  out.positive(std::max(loop.volt, 0.0) + r.current * std::sqrt(d.primary_henry / snubber));
}

void add_dwell(plugin::Tables& t, const Options& options, int pair) {
  const auto names = terminals(pair);
  t.stage(of("dwell", pair).c_str(), ("current rising in coil" + coil_number(options, pair)).c_str());
  parameters(t, k_dwell_parameters, pair);
  t.input(LS_INPUT_OUTPUT, "trigger.switching");
  loop_inputs(t, pair, k_watched);
  const auto value = [&](const char* id, const char* unit, const char* description) {
    t.output(id, LS_OUTPUT_VALUE, unit, description);
  };
  t.output("supply_margin", LS_OUTPUT_MARGIN, "one", "ln(least supply of the unit / where it resets)");
  value("current", "ampere", "primary current as the unit cuts it off");
  constexpr const char* k_volts[][2] = {{"coil_supply_volt", "least volts at the coil's supply"},
                                        {"primary_volt", "terminal 1 at the end of the dwell"},
                                        {"output_volt", "unit's output at the end of the dwell"},
                                        {"ground_volt", "lift of the unit's earth"},
                                        {"unit_supply_volt", "least volts at the unit's supply"}};
  for (std::size_t k = 0; k < k_watched; ++k)
    t.output(k_volts[k][0], LS_OUTPUT_TERMINAL_VOLTS, "volt", k_volts[k][1], names[k].c_str());
  value("grid_ampere", "ampere", "the current's lower neighbour among those that openings are computed at");
  value("grid_part", "one", "how far the current lies above it, 0..1");
  value("share", "one", "of the coil's current that reaches the unit");
  value("leak_siemens", "siemens", "of the coil's wire to metal");
  value("leak_ampere", "ampere", "into the unit without the coil's current");
  value("drive_volt", "volt", "that drive the coil's current on; 12 in a sound harness");
  value("drive_ohm", "ohm", "in its way; 0.1 in a sound harness");
  value("primary_standing_volt", "volt", "terminal 1 beside what the transistor shares with it");
  value("primary_share", "one", "of the transistor's volts that terminal 1 sees");
  value("output_standing_volt", "volt", "unit's output beside what the transistor shares with it");
  value("output_share", "one", "of the transistor's volts that the unit's output sees");
  value("most_volt", "volt", "that can come up across the transistor");
}

// ------------------------------------------------------------------------------------------------ fire
constexpr const char* k_needs_parameters[] = {"demand_volt#",      "tower_break_volt#", "lead_break_volt#",
                                              "joint_break_volt#", "cap_break_volt#",   "seat_break_volt#",
                                              "lead_flash_volt#",  "cap_flash_volt#",   "plug_flash_volt#"};

/// What one side's gap, breaks and insulation stand.
blocks::Needs take_needs(StageIn& in) { return blocks::read_needs(in, 5, 3); }

/// Where a side gives way as the partner of another's spark.
double gives_way(const blocks::Needs& n, double exhaust_part, double secondary_break) {
  return blocks::lesser(n.demand * exhaust_part + n.breaks + secondary_break, n.flash);
}

void fire(const Options& options, int cylinder, StageIn in, StageOut out) {
  const double part = std::min(in.positive(), 1.0), exhaust_part = in.positive(), secondary_break = in.positive();
  const auto own = take_needs(in), partner = take_needs(in);
  const double tower_leak = in.positive(), deposit = in.positive(), cap = in.positive();
  const auto o = take_opening(in, part, options.side_of(cylinder) == 1);
  blocks::PairFiringInputs f;
  f.demand_volt = own.demand;
  f.break_volt = own.breaks + secondary_break;
  f.flash_volt = own.flash;
  f.partner_volt = gives_way(partner, exhaust_part, secondary_break);
  // Through a deposit the current comes only where nothing before it is open.
  const double broken = (partner.breaks + secondary_break) / 300;
  f.partner_siemens = 1 / tower_leak + 1 / ((deposit + cap) * (1 + broken * broken));
  const auto r = blocks::fire_pair(f, o[0], o[1]);
  out.put(r.strike_margin);
  out.put(r.close_margin);
  out.put(r.spark_margin);
  out.put(r.clamp_margin);
  out.positive(r.reserve_volt);
  out.positive(r.coil_reserve_volt);
  out.positive(r.plug_volt_spark);
  out.positive(r.switch_volt);
}

void add_fire(plugin::Tables& t, const Options& options, int cylinder, const std::vector<std::string>& given) {
  const int pair = options.pair_of(cylinder), partner = options.partner_of(cylinder);
  t.stage(of("fire", cylinder).c_str(),
          ("what is there against what plug " + std::to_string(cylinder) + " needs, the partner on its exhaust stroke")
              .c_str());
  t.input(LS_INPUT_OUTPUT, (of("dwell", pair) + ".grid_part").c_str());
  t.input(LS_INPUT_PARAMETER, "exhaust_part_one");
  t.input(LS_INPUT_PARAMETER, of("secondary_break_volt", pair).c_str());
  parameters(t, k_needs_parameters, cylinder);
  parameters(t, k_needs_parameters, partner);
  for (const char* id : {"tower_leak_ohm", "plug_leak_ohm", "cap_ohm"})
    t.input(LS_INPUT_PARAMETER, of(id, partner).c_str());
  for (const auto& id : given) t.input(LS_INPUT_OUTPUT, id.c_str());
  const auto value = [&](const char* id, const char* description) {
    t.output(id, LS_OUTPUT_VALUE, "volt", description);
  };
  t.output("strike_margin", LS_OUTPUT_MARGIN, "one", "ln(reserve at the plug / demand of the gap): it gives way");
  t.output("close_margin", LS_OUTPUT_MARGIN, "one", "the partner's side lets the current through");
  t.output("spark_margin", LS_OUTPUT_MARGIN, "one", "the lesser of the two");
  t.output("clamp_margin", LS_OUTPUT_MARGIN, "one", "current in the lead against what a clamp shows; leaks count too");
  value("reserve_volt", "highest volts at the plug's end of the lead, gap holding");
  value("coil_reserve_volt", "highest volts at the coil's tower, gap holding");
  value("plug_volt_spark", "volts at the tower as the gap breaks");
  value("switch_volt", "crest across the transistor as a meter shows it");
}

// ------------------------------------------------------------------------------------------------ peak
void peak(StageIn in, StageOut out) {
  const double crest = in.positive();
  const std::array<double, 4> line{in.positive(), in.positive(), in.positive(), in.positive()};
  const double across = blocks::lesser(crest, in.positive());
  out.put(line[0] + line[1] * across);
  out.put(line[2] + line[3] * across);
}

void add_peak(plugin::Tables& t, const Options& options, int pair) {
  t.stage(of("peak", pair).c_str(), ("primary peak of coil" + coil_number(options, pair)).c_str());
  t.input(LS_INPUT_OUTPUT, (of("fire", options.of_pair(pair)[0]) + ".switch_volt").c_str());
  for (const char* id :
       {".primary_standing_volt", ".primary_share", ".output_standing_volt", ".output_share", ".most_volt"})
    t.input(LS_INPUT_OUTPUT, (of("dwell", pair) + id).c_str());
  const auto names = terminals(pair);
  t.output("primary_volt", LS_OUTPUT_TERMINAL_VOLTS, "volt", "primary peak at the coil",
           names[blocks::k_loop_primary].c_str());
  t.output("output_volt", LS_OUTPUT_TERMINAL_VOLTS, "volt", "primary peak at the unit",
           names[blocks::k_loop_output].c_str());
}

// ------------------------------------------------------------------------------------------------ stop, spark
void spark(const Options& options, int cylinder, StageIn in, StageOut out) {
  const auto own_side = static_cast<std::size_t>(options.side_of(cylinder));
  const double current = in.positive(), exhaust_part = in.positive(), secondary_break = in.positive();
  const auto own = take_needs(in), partner = take_needs(in);
  const double timing = in.positive();
  auto settings = blocks::pair_settings();
  auto pair = take_pair(in, settings);
  pair.coil.current = current;
  const double* volts = in.rest();
  const auto loop = blocks::primary_loop<k_loop>(volts + k_loop, volts, pair.coil.primary_ohm);
  blocks::PairBurnInputs firing;
  firing.side = own_side;
  firing.gives_way_volt[own_side] = own.demand + own.breaks + secondary_break;
  firing.gives_way_volt[1 - own_side] = gives_way(partner, exhaust_part, secondary_break);
  // What flashes over elsewhere burns no gap.
  const bool elsewhere = own.flash < firing.gives_way_volt[own_side];
  const auto r =
      elsewhere ? blocks::BurnReport{} : blocks::burn_pair(settings, blocks::OpeningPort::of(loop), pair, firing);
  out.positive(r.spark_second);
  out.positive(r.current_crest);
  out.positive(r.mean_ampere);
  out.positive(timing);
}

void add_spark(plugin::Tables& t, const Options& options, int cylinder) {
  const int pair = options.pair_of(cylinder), partner = options.partner_of(cylinder);
  t.stage(of("spark", cylinder).c_str(),
          ("spark time and current of plug " + std::to_string(cylinder) + ", for the report").c_str(), true);
  t.input(LS_INPUT_OUTPUT, (of("dwell", pair) + ".current").c_str());
  t.input(LS_INPUT_PARAMETER, "exhaust_part_one");
  t.input(LS_INPUT_PARAMETER, of("secondary_break_volt", pair).c_str());
  parameters(t, k_needs_parameters, cylinder);
  parameters(t, k_needs_parameters, partner);
  t.input(LS_INPUT_PARAMETER, "timing_shift_degree");
  add_pair_inputs(t, options, pair);
  loop_inputs(t, pair, k_loop);
  blocks::add_spark_outputs(t);
}

}  // namespace

// Order: trigger; dwell, opening, fire of both cylinders, peak of each pair; stop (where there is a run switch); spark
// of each cylinder.
void add_stages(plugin::Tables& t, const Options& options) {
  add_trigger(t, options);
  for (int pair = 1; pair <= options.pairs; ++pair) {
    add_dwell(t, options, pair);
    const auto given = add_opening(t, options, pair);
    for (int cylinder : options.of_pair(pair)) add_fire(t, options, cylinder, given);
    add_peak(t, options, pair);
  }
  if (!options.engine_unit) {
    t.stage("stop", "does the run/stop switch stop the engine");
    t.input(LS_INPUT_PARAMETER, "stop_weld_ohm");
    t.output("run_on_margin", LS_OUTPUT_MARGIN, "one",
             "ln(10 ohm / what lies past the switch in stop): runs on above 0");
  }
  for (int c = 1; c <= options.cylinders(); ++c) add_spark(t, options, c);
}

void evaluate_stage(const Options& options, int stage, const double* in, double* out) {
  constexpr int k_of_pair = 5;
  const StageOut to(out);
  if (stage == 0) return trigger(options, {in, "trigger"}, to);
  if (stage <= k_of_pair * options.pairs) {
    const int pair = (stage - 1) / k_of_pair + 1;
    const auto cylinders = options.of_pair(pair);
    switch ((stage - 1) % k_of_pair) {
      case 0:
        return dwell({in, "dwell"}, to);
      case 1:
        return evaluate_opening({in, "opening"}, to);
      case 2:
        return fire(options, cylinders[0], {in, "fire"}, to);
      case 3:
        return fire(options, cylinders[1], {in, "fire"}, to);
      default:
        return peak({in, "peak"}, to);
    }
  }
  const int rest = stage - k_of_pair * options.pairs, reports = options.engine_unit ? 1 : 2;
  if (rest < reports) {
    out[0] = std::log(10 / StageIn(in, "stop").positive());
    return;
  }
  const int cylinder = rest - reports + 1;
  if (cylinder > options.cylinders()) throw plugin::Refusal("the family has no stage " + std::to_string(stage));
  spark(options, cylinder, {in, "spark"}, to);
}

}  // namespace lostspark::wasted_spark
