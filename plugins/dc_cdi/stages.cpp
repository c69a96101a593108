// The stages: their tables, and the calls into the blocks.
#include <algorithm>
#include <cmath>

#include "blocks/converter_stage.hpp"
#include "family.hpp"

namespace lostspark::dc_cdi {
namespace {

blocks::DischargeNames names() {
  blocks::DischargeNames n;
  n.capacitor_volt = "convert.capacitor_volt";
  n.gate = "control_module.gate";
  n.gate_return = "control_module.gate_return";
  n.on_battery = true;
  return n;
}

enum ConvertInput : std::size_t {
  k_speed,
  k_ohm,
  k_efficiency,
  k_end,
  k_farad,
  k_leak,
  k_cutout,
  k_threshold,
  k_output_ohm,
  k_inhibit_threshold,  // only with an inhibit input
};

void convert(const Options& options, const double* in, double* out) {
  const std::size_t count = options.inhibit ? k_inhibit_threshold + 1 : k_inhibit_threshold;
  blocks::need_positive(in, count, "convert");
  const double* volts = in + count;  // gate, supply, ground, inhibit
  const double trigger = std::log(std::max(volts[0], 1e-9) / in[k_threshold]);
  const double permit = options.inhibit ? std::log(std::max(volts[3], 1e-9) / in[k_inhibit_threshold]) : 0;
  blocks::ConverterInputs c;
  c.input_ohm = in[k_ohm];
  c.efficiency = in[k_efficiency];
  c.end_volt = in[k_end];
  c.farad = in[k_farad];
  c.leak_ohm = in[k_leak];
  c.charge_second = 60 / in[k_speed];
  c.open_volt = volts + 1;
  c.harness = volts + (options.inhibit ? 4 : 3);
  // A capacitor that is never discharged needs no current: nothing then dips the supply.
  const auto side = [](double margin) { return 1 / (1 + std::exp(-margin / 0.05)); };
  c.draws = side(trigger) * (options.inhibit ? side(permit) : 1) / (1 + in[k_output_ohm] / 1e3);
  const auto r = blocks::convert(c);
  std::size_t at = 0;
  out[at++] = std::log(r.least_volt / in[k_cutout]);
  if (options.inhibit) out[at++] = permit;
  out[at++] = r.capacitor_volt;
  out[at++] = r.supply_volt;
  out[at++] = r.ground_volt;
}

}  // namespace

void add_stages(plugin::Tables& t, const Options& options) {
  t.stage("convert", "converter that charges the storage capacitor");
  for (const char* name :
       {"cranking_speed_rpm", "converter_ohm", "converter_efficiency_one", "converter_end_volt", "capacitor_farad",
        "capacitor_leak_ohm", "cutout_volt", "gate_threshold_volt", "module_output_ohm"})
    t.input(LS_INPUT_PARAMETER, name);
  if (options.inhibit) t.input(LS_INPUT_PARAMETER, "inhibit_threshold_volt");
  t.input(LS_INPUT_LINEAR_VOLTS, "control_module.gate", "control_module.gate_return");
  for (const char* name : {"control_module.supply", "control_module.ground"})
    t.input(LS_INPUT_LINEAR_VOLTS, name, "earth");
  if (options.inhibit) t.input(LS_INPUT_LINEAR_VOLTS, "control_module.inhibit", "control_module.ground");
  for (const char* name : {"control_module.supply", "control_module.ground"}) t.input(LS_INPUT_TERMINAL, name);
  t.output("supply_margin", LS_OUTPUT_MARGIN, "one", "ln(least supply of the module / where its converter stops)");
  if (options.inhibit)
    t.output("permit_margin", LS_OUTPUT_MARGIN, "one", "ln(volts of the inhibit input / what permits a spark)");
  t.output("capacitor_volt", LS_OUTPUT_VALUE, "volt", "capacitor volts when the thyristor fires");
  t.output("supply_volt", LS_OUTPUT_TERMINAL_VOLTS, "volt", "least volts at the module's supply",
           "control_module.supply");
  t.output("ground_volt", LS_OUTPUT_TERMINAL_VOLTS, "volt", "lift of the module's earth while charging",
           "control_module.ground");

  blocks::add_discharge_stages(t, names());

  t.stage("stop", "does the run/stop switch stop the engine");
  t.input(LS_INPUT_PARAMETER, "stop_weld_ohm");
  t.output("run_on_margin", LS_OUTPUT_MARGIN, "one", "ln(10 ohm / what lies past the switch in stop): runs on above 0");

  blocks::add_discharge_report(t, names());
}

void evaluate_stage(const Options& options, int stage, const double* in, double* out) {
  switch (stage) {
    case k_convert:
      return convert(options, in, out);
    case k_transfer:
      return blocks::evaluate_transfer(in, out);
    case k_fire:
      return blocks::evaluate_fire(in, out, true);
    case k_stop:
      blocks::need_positive(in, 1, "stop");
      out[0] = std::log(10 / in[0]);
      return;
    case k_spark:
      return blocks::evaluate_spark(in, out);
    default:
      throw plugin::Refusal("the family has no stage " + std::to_string(stage));
  }
}

}  // namespace lostspark::dc_cdi
