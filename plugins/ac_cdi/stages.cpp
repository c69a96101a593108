// The stages: their tables, and the calls into the blocks.
#include <cstring>

#include "blocks/firing_stage.hpp"
#include "blocks/laws.hpp"
#include "family.hpp"

namespace lostspark::ac_cdi {
namespace {

constexpr std::size_t k_gains = sizeof(blocks::DischargeGains) / sizeof(double);
static_assert(std::is_trivially_copyable_v<blocks::DischargeGains> &&
              std::is_standard_layout_v<blocks::DischargeGains> &&
              sizeof(blocks::DischargeGains) == k_gains * sizeof(double));

// Inputs that both the transfer and the spark stage take, in this order.
constexpr const char* k_transfer_parameters[] = {
    "capacitor_farad", "module_output_ohm", "primary_henry",      "primary_ohm",     "turns_ratio_one",
    "coupling_one",    "secondary_ohm",     "secondary_leak_ohm", "cap_ohm",         "lead_ohm",
    "ht_joint_ohm",    "plug_leak_ohm",     "meter_rise_second",  "earth_lead_henry"};
constexpr std::size_t k_transfer_count = std::size(k_transfer_parameters);
constexpr const char* k_transfer_terminals[] = {"control_module.ground", "control_module.coil_out",
                                                "ignition_coil.primary", "ignition_coil.ground"};

void need_positive(const double* in, std::size_t count, const char* stage) {
  for (std::size_t k = 0; k < count; ++k)
    if (!(in[k] > 0))
      throw plugin::Refusal(std::string("stage '") + stage + "': input " + std::to_string(k) +
                            " must be more than zero (an absent part is a very small or large value)");
}

blocks::DischargeInputs transfer_inputs(const double* in, const double* harness) {
  blocks::DischargeInputs d;
  d.capacitor_farad = in[0];
  d.output_ohm = in[1];
  d.primary_henry = in[2];
  d.primary_ohm = in[3];
  d.turns = in[4];
  d.coupling = in[5] < 0.999 ? in[5] : 0.999;
  d.secondary_ohm = in[6];
  d.secondary_leak_ohm = in[7];
  d.lead_ohm = in[8] + in[9] + in[10];
  d.plug_leak_ohm = in[11];
  d.meter_rise_second = in[12];
  d.earth_henry = in[13];
  d.harness = harness;
  return d;
}

void charge(const double* in, double* out) {
  constexpr std::size_t count = 7;
  need_positive(in, count, "charge");
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

void transfer(const double* in, double* out) {
  need_positive(in, k_transfer_count, "transfer");
  const auto gains = blocks::discharge(blocks::DischargeSettings{}, transfer_inputs(in, in + k_transfer_count));
  std::memcpy(out, &gains, sizeof gains);
}

// Order of the fire stage's inputs after the gains.
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
  k_plug_leak,
  k_arc,
  k_speed,
  k_fire_inputs
};

void fire(const double* in, double* out) {
  const double* own = in + 1 + k_gains;
  need_positive(own + 1, k_fire_inputs - 1, "fire");  // the gate may be dead
  blocks::DischargeGains gains;
  std::memcpy(static_cast<void*>(&gains), in + 1, sizeof gains);
  blocks::FiringInputs f;
  f.capacitor_volt = in[0];
  f.gate_volt = own[k_gate_volt];
  f.gate_threshold_volt = own[k_threshold];
  f.demand_volt = own[k_demand];
  f.break_volt = own[k_secondary_break] + own[k_lead_break] + own[k_joint_break] + own[k_cap_break] + own[k_seat_break];
  f.flash_volt = blocks::lesser(blocks::lesser(own[k_lead_flash], own[k_cap_flash]), own[k_plug_flash]);
  f.plug_leak_ohm = own[k_plug_leak];
  f.arc_volt = own[k_arc];
  const auto r = blocks::fire(f, gains);
  const double row[] = {r.trigger_margin,    r.spark_margin,     r.clamp_margin,    r.reserve_volt,
                        r.coil_reserve_volt, r.plug_volt_spark,  r.primary_current, r.primary_current_open,
                        r.coil_out_raw_volt, r.primary_raw_volt, own[k_speed],      r.coil_out_volt,
                        r.primary_volt,      r.coil_lug_volt,    r.ground_lug_volt, r.coil_ground_volt,
                        r.ground_volt};
  std::memcpy(out, row, sizeof row);
}

void spark(const double* in, double* out) {
  constexpr std::size_t own = 4;  // capacitor volts, demand, arc, timing shift
  need_positive(in + 1, own - 1 + k_transfer_count, "spark");
  const auto report = blocks::spark(blocks::DischargeSettings{}, transfer_inputs(in + own, in + own + k_transfer_count),
                                    {blocks::switched_volt(in[0]), in[1], in[2]});
  out[0] = report.spark_second + 1e-9;
  out[1] = report.current_crest + 1e-9;
  out[2] = in[3];
}

void inputs(plugin::Tables& t, std::int32_t kind, std::initializer_list<const char*> names) {
  for (const char* name : names) t.input(kind, name);
}

}  // namespace

void add_stages(plugin::Tables& t) {
  t.stage("charge", "charging the storage capacitor");
  inputs(t, LS_INPUT_PARAMETER,
         {"cranking_speed_rpm", "exciter_emf_volt", "exciter_ohm", "exciter_henry", "capacitor_farad",
          "capacitor_leak_ohm", "primary_ohm"});
  inputs(t, LS_INPUT_TERMINAL,
         {"exciter.hot", "exciter.foot", "control_module.source", "control_module.ground", "control_module.coil_out",
          "ignition_coil.primary", "ignition_coil.ground"});
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

  t.stage("transfer", "gains of the discharge, per volt of the capacitor");
  for (const char* name : k_transfer_parameters) t.input(LS_INPUT_PARAMETER, name);
  for (const char* name : k_transfer_terminals) t.input(LS_INPUT_TERMINAL, name);
  std::vector<std::string> gains;
  const auto gain = [&](const std::string& id, const char* unit, const char* description) {
    gains.push_back("transfer." + id);
    t.output(id.c_str(), LS_OUTPUT_VALUE, unit, description);
  };
  const auto table = [&](const std::string& id, const char* unit, const char* description) {
    for (double f : blocks::k_break_fractions)
      gain(id + "_" + std::to_string(static_cast<int>(f * 100 + 0.5)), unit, description);
  };
  gain("plug", "one", "plug volts, gap holding");
  gain("tower", "one", "tower volts, gap holding");
  table("tower_at_break", "one", "tower over plug volts as the gap breaks at this percentage of the reserve");
  gain("coil_out_raw", "one", "instantaneous output volts");
  gain("primary_raw", "one", "instantaneous primary volts");
  gain("coil_out", "one", "output volts as a meter shows them");
  gain("primary", "one", "primary volts as a meter shows them");
  gain("coil_ground", "one", "coil earth drop, gap holding");
  gain("ground", "one", "module earth drop, gap holding");
  gain("coil_ground_ohm", "ohm", "coil earth drop without its lead's inductance, per ampere in the primary");
  gain("ground_ohm", "ohm", "module earth drop without its lead's inductance, per ampere in the primary");
  gain("current", "siemens", "primary current, gap holding");
  table("current_fired", "siemens", "primary current, gap breaking at this percentage of the reserve");
  table("current_arc", "siemens", "what each volt of arc takes off it");
  table("coil_ground_fired", "one", "coil earth drop, gap breaking at this percentage");
  table("ground_fired", "one", "module earth drop, gap breaking at this percentage");
  if (gains.size() != k_gains) throw plugin::Refusal("the transfer stage describes its gains wrongly");

  t.stage("fire", "what is there against what is needed");
  t.input(LS_INPUT_OUTPUT, "charge.capacitor_volt");
  for (const auto& name : gains) t.input(LS_INPUT_OUTPUT, name.c_str());
  t.input(LS_INPUT_LINEAR_VOLTS, "control_module.gate", "control_module.ground");
  inputs(t, LS_INPUT_PARAMETER,
         {"gate_threshold_volt", "demand_volt", "secondary_break_volt", "lead_break_volt", "joint_break_volt",
          "cap_break_volt", "seat_break_volt", "lead_flash_volt", "cap_flash_volt", "plug_flash_volt", "plug_leak_ohm",
          "arc_volt", "cranking_speed_rpm"});
  t.output("trigger_margin", LS_OUTPUT_MARGIN, "one", "ln(pulse volts at the module / its threshold)");
  t.output("spark_margin", LS_OUTPUT_MARGIN, "one", "ln(reserve at the plug / demand of the gap)");
  t.output("clamp_margin", LS_OUTPUT_MARGIN, "one", "current in the lead against what a clamp shows; leaks count too");
  t.output("reserve_volt", LS_OUTPUT_VALUE, "volt", "highest volts at the plug's end of the lead, gap holding");
  t.output("coil_reserve_volt", LS_OUTPUT_VALUE, "volt", "highest volts at the coil's tower, gap holding");
  t.output("plug_volt_spark", LS_OUTPUT_VALUE, "volt", "volts on the lead as the gap breaks");
  t.output("primary_current", LS_OUTPUT_VALUE, "ampere", "primary current pulse, gap firing");
  t.output("primary_current_open", LS_OUTPUT_VALUE, "ampere", "primary current pulse, gap holding");
  t.output("coil_out_raw_volt", LS_OUTPUT_VALUE, "volt", "instantaneous peak at the output (no meter shows it)");
  t.output("primary_raw_volt", LS_OUTPUT_VALUE, "volt", "instantaneous peak at the coil (no meter shows it)");
  t.output("speed_rpm", LS_OUTPUT_VALUE, "rpm", "crank speed");
  t.output("coil_out_volt", LS_OUTPUT_TERMINAL_VOLTS, "volt", "output peak, negative set", "control_module.coil_out");
  t.output("primary_volt", LS_OUTPUT_TERMINAL_VOLTS, "volt", "primary peak, negative set", "ignition_coil.primary");
  t.output("coil_lug_volt", LS_OUTPUT_TERMINAL_VOLTS, "volt", "coil earth drop beyond its lead's inductance",
           "ignition_coil.ground");
  t.output("ground_lug_volt", LS_OUTPUT_TERMINAL_VOLTS, "volt",
           "module earth drop beyond its lead's inductance; the coil's current in the opposite sense",
           "control_module.ground");
  t.output("coil_ground_volt", LS_OUTPUT_TERMINAL_READING, "volt", "coil earth drop", "ignition_coil.ground");
  t.output("ground_volt", LS_OUTPUT_TERMINAL_READING, "volt", "module earth drop", "control_module.ground");

  t.stage("stop", "does the kill switch stop the engine");
  t.input(LS_INPUT_PARAMETER, "kill_switch_closed_ohm");
  t.output("run_on_margin", LS_OUTPUT_MARGIN, "one", "ln(kill switch closed / 100 ohm): runs on where above 0");

  t.stage("spark", "spark time and current, for the report", true);
  t.input(LS_INPUT_OUTPUT, "charge.capacitor_volt");
  inputs(t, LS_INPUT_PARAMETER, {"demand_volt", "arc_volt", "timing_shift_degree"});
  for (const char* name : k_transfer_parameters) t.input(LS_INPUT_PARAMETER, name);
  for (const char* name : k_transfer_terminals) t.input(LS_INPUT_TERMINAL, name);
  t.output("spark_second", LS_OUTPUT_VALUE, "second", "time the gap burns");
  t.output("spark_ampere", LS_OUTPUT_VALUE, "ampere", "crest of the spark current");
  t.output("timing_shift_degree", LS_OUTPUT_VALUE, "degree", "ignition timing error");
}

void AcCdi::evaluate(int stage, const double* in, double* out) const {
  switch (stage) {
    case k_charge:
      return charge(in, out);
    case k_transfer:
      return transfer(in, out);
    case k_fire:
      return fire(in, out);
    case k_stop:
      need_positive(in, 1, "stop");
      out[0] = std::log(in[0] / 100);
      return;
    case k_spark:
      return spark(in, out);
    default:
      throw plugin::Refusal("the family has no stage " + std::to_string(stage));
  }
}

}  // namespace lostspark::ac_cdi
