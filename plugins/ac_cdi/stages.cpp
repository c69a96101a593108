// The stages: their tables, and the calls into the blocks.
#include <cmath>
#include <cstring>

#include "blocks/charge_stage.hpp"
#include "blocks/discharge_tables.hpp"
#include "family.hpp"

namespace lostspark::ac_cdi {
namespace {

void charge(const double* in, double* out) {
  constexpr std::size_t count = 7;
  blocks::need_positive(in, count, "charge");
  blocks::ChargeInputs c;
  c.speed_rpm = in[0];
  c.emf_volt = in[1];
  c.exciter_ohm = in[2];
  c.exciter_henry = in[3];
  c.capacitor_farad = in[4];
  c.capacitor_leak_ohm = in[5];
  c.primary_ohm = in[6];
  c.harness = in + count;
  const auto r = blocks::charge(blocks::ChargeSettings{}, c);
  const double row[] = {r.capacitor_volt, r.coil_out_volt, r.primary_volt,     r.hot_volt, r.foot_volt,
                        r.source_volt,    r.ground_volt,   r.coil_ground_volt, r.hot_ohm,  r.source_ohm};
  std::memcpy(out, row, sizeof row);
}

blocks::DischargeNames names() {
  blocks::DischargeNames n;
  n.capacitor_volt = "charge.capacitor_volt";
  n.gate = "control_module.gate";
  n.gate_return = "control_module.ground";
  return n;
}

}  // namespace

void add_stages(plugin::Tables& t) {
  t.stage("charge", "charging the storage capacitor");
  for (const char* name : {"cranking_speed_rpm", "exciter_emf_volt", "exciter_ohm", "exciter_henry", "capacitor_farad",
                           "capacitor_leak_ohm", "primary_ohm"})
    t.input(LS_INPUT_PARAMETER, name);
  for (const char* name : {"exciter.hot", "exciter.foot", "control_module.source", "control_module.ground",
                           "control_module.coil_out", "ignition_coil.primary", "ignition_coil.ground"})
    t.input(LS_INPUT_TERMINAL, name);
  t.output("capacitor_volt", LS_OUTPUT_VALUE, "volt", "capacitor volts when the thyristor fires");
  t.output("coil_out_charging_volt", LS_OUTPUT_VALUE, "volt", "wrong-polarity peak at the output while charging");
  t.output("primary_charging_volt", LS_OUTPUT_VALUE, "volt", "wrong-polarity peak at the coil while charging");
  t.output("hot_volt", LS_OUTPUT_TERMINAL_VOLTS, "volt", "exciter output peak", "exciter.hot");
  t.output("foot_volt", LS_OUTPUT_TERMINAL_VOLTS, "volt", "exciter foot peak", "exciter.foot");
  t.output("source_volt", LS_OUTPUT_TERMINAL_VOLTS, "volt", "module input peak", "control_module.source");
  t.output("ground_volt", LS_OUTPUT_TERMINAL_VOLTS, "volt", "module earth peak while charging",
           "control_module.ground");
  t.output("coil_ground_volt", LS_OUTPUT_TERMINAL_VOLTS, "volt", "coil earth peak while charging",
           "ignition_coil.ground");
  t.output("hot_ohm", LS_OUTPUT_TERMINAL_OHM, "ohm", "source resistance at the exciter output", "exciter.hot");
  t.output("source_ohm", LS_OUTPUT_TERMINAL_OHM, "ohm", "source resistance at the module input",
           "control_module.source");

  blocks::add_discharge_stages(t, names());

  t.stage("stop", "does the kill switch stop the engine");
  t.input(LS_INPUT_PARAMETER, "kill_switch_closed_ohm");
  t.output("run_on_margin", LS_OUTPUT_MARGIN, "one", "ln(kill switch closed / 100 ohm): runs on where above 0");

  blocks::add_discharge_report(t, names());
}

void AcCdi::evaluate(int stage, const double* in, double* out) const {
  switch (stage) {
    case k_charge:
      return charge(in, out);
    case k_transfer:
      return blocks::evaluate_transfer(in, out);
    case k_fire:
      return blocks::evaluate_fire(in, out, false);
    case k_stop:
      blocks::need_positive(in, 1, "stop");
      out[0] = std::log(in[0] / 100);
      return;
    case k_spark:
      return blocks::evaluate_spark(in, out);
    default:
      throw plugin::Refusal("the family has no stage " + std::to_string(stage));
  }
}

}  // namespace lostspark::ac_cdi
