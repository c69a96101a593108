// The stages: their tables, and the calls into the blocks.
#include <cmath>
#include <cstring>

#include "blocks/charge_stage.hpp"
#include "family.hpp"

namespace lostspark::outboard_cdi {
namespace {

/// Cycles of the winding between two sparks, whatever the number of cylinders: magnets come in proportion.
constexpr double k_cycles = 2;

void charge(const Options& options, const double* in, double* out) {
  constexpr std::size_t count = 7;
  blocks::need_positive(in, count, "charge");
  blocks::ChargeInputs c;
  c.speed_rpm = in[0];
  c.emf_volt = in[1] * in[6];
  c.exciter_ohm = in[2];
  c.exciter_henry = in[3];
  c.capacitor_farad = in[4];
  c.capacitor_leak_ohm = in[5];
  c.primary_ohm = 1;
  // The capacitor stands on the box's earth: no coil lies in the charging current's way.
  const auto packed = blocks::harness_without_coil(in + count);
  c.harness = packed.data();
  blocks::ChargeSettings s;
  s.reference_rpm = 400;
  s.pole_pairs = k_cycles * options.cylinders;
  s.firing_turn = 0.96 / options.cylinders;
  const auto r = blocks::charge(s, c);
  const double row[] = {r.capacitor_volt, r.hot_volt, r.foot_volt, r.source_volt,
                        r.ground_volt,    r.hot_ohm,  r.source_ohm};
  std::memcpy(out, row, sizeof row);
}

}  // namespace

void add_stages(plugin::Tables& t, const Options& options) {
  t.stage("charge", "charging the storage capacitor from one spark to the next");
  for (const char* name : {"cranking_speed_rpm", "exciter_emf_volt", "exciter_ohm", "exciter_henry", "capacitor_farad",
                           "capacitor_leak_ohm", "stator_load_one"})
    t.input(LS_INPUT_PARAMETER, name);
  for (const char* name : {"charge_low.hot", "charge_low.foot", "switch_box.source", "switch_box.ground"})
    t.input(LS_INPUT_TERMINAL, name);
  t.output("capacitor_volt", LS_OUTPUT_VALUE, "volt", "capacitor volts when a thyristor fires");
  t.output("hot_volt", LS_OUTPUT_TERMINAL_VOLTS, "volt", "low-speed winding, output peak", "charge_low.hot");
  t.output("foot_volt", LS_OUTPUT_TERMINAL_VOLTS, "volt", "low-speed winding, foot peak", "charge_low.foot");
  t.output("source_volt", LS_OUTPUT_TERMINAL_VOLTS, "volt", "box input peak", "switch_box.source");
  t.output("ground_volt", LS_OUTPUT_TERMINAL_VOLTS, "volt", "box earth peak while charging", "switch_box.ground");
  t.output("hot_ohm", LS_OUTPUT_TERMINAL_OHM, "ohm", "source resistance at the winding's output", "charge_low.hot");
  t.output("source_ohm", LS_OUTPUT_TERMINAL_OHM, "ohm", "source resistance at the box input", "switch_box.source");
  for (int n = 1; n <= options.cylinders; ++n) blocks::add_discharge_stages(t, discharge_names(n));
  t.stage("stop", "does the key stop the engine");
  t.input(LS_INPUT_PARAMETER, "key_switch_closed_ohm");
  t.output("run_on_margin", LS_OUTPUT_MARGIN, "one", "ln(key's stop contact closed / 100 ohm): runs on where above 0");
  for (int n = 1; n <= options.cylinders; ++n) blocks::add_discharge_report(t, discharge_names(n));
}

void evaluate_stage(const Options& options, int stage, const double* in, double* out) {
  const int stop = 1 + 2 * options.cylinders;
  if (stage == 0) return charge(options, in, out);
  if (stage > 0 && stage < stop)
    return stage % 2 == 1 ? blocks::evaluate_transfer(in, out) : blocks::evaluate_fire(in, out, false);
  if (stage == stop) {
    blocks::need_positive(in, 1, "stop");
    out[0] = std::log(in[0] / 100);
    return;
  }
  if (stage > stop && stage <= stop + options.cylinders) return blocks::evaluate_spark(in, out);
  throw plugin::Refusal("the family has no stage " + std::to_string(stage));
}

}  // namespace lostspark::outboard_cdi
