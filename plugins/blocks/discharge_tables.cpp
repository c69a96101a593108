#include "discharge_tables.hpp"

#include <array>
#include <cmath>
#include <cstring>
#include <iterator>
#include <string_view>
#include <type_traits>
#include <vector>

#include "firing_stage.hpp"
#include "laws.hpp"
#include "tables.hpp"

namespace lostspark::blocks {
namespace {

constexpr std::size_t k_gains = sizeof(DischargeGains) / sizeof(double);
static_assert(std::is_trivially_copyable_v<DischargeGains> && std::is_standard_layout_v<DischargeGains> &&
              sizeof(DischargeGains) == k_gains * sizeof(double));

struct Taken {
  const char* id;
  bool of_cylinder;  ///< takes the suffix
};
// Inputs that both the transfer and the spark stage take, in this order.
constexpr Taken k_transfer_parameters[] = {
    {"capacitor_farad", false},   {"module_output_ohm", true},  {"primary_henry", true},
    {"primary_ohm", true},        {"turns_ratio_one", true},    {"coupling_one", false},
    {"secondary_ohm", true},      {"secondary_leak_ohm", true}, {"cap_ohm", true},
    {"lead_ohm", true},           {"ht_joint_ohm", true},       {"plug_leak_ohm", true},
    {"meter_rise_second", false}, {"earth_lead_henry", false}};
constexpr std::size_t k_transfer_count = std::size(k_transfer_parameters);

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
constexpr Taken k_fire_parameters[] = {
    {"gate_threshold_volt", false}, {"demand_volt", true},      {"secondary_break_volt", true},
    {"lead_break_volt", true},      {"joint_break_volt", true}, {"cap_break_volt", true},
    {"seat_break_volt", true},      {"lead_flash_volt", true},  {"cap_flash_volt", true},
    {"plug_flash_volt", true},      {"plug_leak_ohm", true},    {"arc_volt", true},
    {"cranking_speed_rpm", false}};

constexpr Taken k_spark_parameters[] = {{"demand_volt", true}, {"arc_volt", true}, {"timing_shift_degree", false}};

DischargeInputs transfer_inputs(const double* in, const double* harness) {
  DischargeInputs d;
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

/// Fills the tables of one cylinder's stage.
class StageWriter {
 public:
  StageWriter(plugin::Tables& t, const DischargeNames& names) : t_(t), n_(names) {}
  void stage(const char* stem, const char* title, bool report_only = false) {
    t_.stage((stem + n_.suffix).c_str(), title, report_only);
  }
  template <std::size_t N>
  void parameters(const Taken (&rows)[N]) {
    for (const auto& row : rows) t_.input(LS_INPUT_PARAMETER, (row.id + (row.of_cylinder ? n_.suffix : "")).c_str());
  }
  void loop() {
    for (const auto& terminal : {n_.ground, n_.coil_out, n_.primary, n_.coil_ground})
      t_.input(LS_INPUT_TERMINAL, terminal.c_str());
  }
  void capacitor() { t_.input(LS_INPUT_OUTPUT, n_.capacitor_volt.c_str()); }
  void value(const std::string& id, const char* unit, const char* description) {
    t_.output(id.c_str(), LS_OUTPUT_VALUE, unit, description);
  }

 private:
  plugin::Tables& t_;
  const DischargeNames& n_;
};

/// Ids of the gains, "transfer.plug" ...; writes them as outputs of the transfer stage.
std::vector<std::string> write_gains(StageWriter& w, const std::string& stage) {
  std::vector<std::string> gains;
  const auto gain = [&](const std::string& id, const char* unit, const char* description) {
    gains.push_back(stage + "." + id);
    w.value(id, unit, description);
  };
  const auto table = [&](const std::string& id, const char* unit, const char* description) {
    for (double f : k_break_fractions)
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
  return gains;
}

}  // namespace

void need_positive(const double* in, std::size_t count, const char* stage) {
  for (std::size_t k = 0; k < count; ++k)
    if (!(in[k] > 0))
      throw plugin::Refusal(std::string("stage '") + stage + "': input " + std::to_string(k) +
                            " must be more than zero (an absent part is a very small or large value)");
}

void add_discharge_parameters(plugin::Tables& t, double capacitor_farad) {
  PartWriter p(t);
  p.parameter("capacitor_farad", "farad", capacitor_farad, 0.03, "storage capacitor");
  p.parameter("coupling_one", "one", 0.90, 0, "coupling of the windings");
  p.parameter("meter_rise_second", "second", 1e-6, 0, "response of the peak meter, time constant of one pole");
  p.parameter("earth_lead_henry", "henry", 0.2e-6, 0.4, "inductance of the earth leads of module and coil");
}

void add_discharge_coil(plugin::Tables& t, const CoilSettings& s) {
  PartWriter p(t);
  const auto id = [&](const char* stem) { return stem + s.suffix; };
  p.parameter(id("module_output_ohm"), "ohm", 0.001, 0,
              "series resistance of the module's discharge path beyond the healthy one");
  p.parameter(id("primary_henry"), "henry", s.primary_henry, 0, "coil primary");
  p.parameter(id("primary_ohm"), "ohm", s.primary_ohm, 0.05, "coil primary");
  p.parameter(id("turns_ratio_one"), "one", s.turns, 0.08, "secondary over primary turns: gain of the coil");
  p.parameter(id("secondary_ohm"), "ohm", s.secondary_ohm, 0, "coil secondary as the spark sees it");
  p.parameter(id("secondary_meter_ohm"), "ohm", s.secondary_ohm, 0.05,
              "coil secondary as an ohmmeter sees it, breaks included");
  p.parameter(id("secondary_leak_ohm"), "ohm", 1e10, 0, "leak across the secondary: insulation, tracking");
  p.parameter(id("secondary_break_volt"), "volt", 1, 0, "gap inside a burnt secondary, added to the demand");
  const auto coil = id("ignition_coil");
  p.part(coil, s.title.c_str(), "PRI", 3);
  p.terminal(coil, "primary", "1", "coil primary");
  p.terminal(coil, "ground", "31", "coil mounting earth");
  p.terminal(coil, "ht", "4", "coil high tension");
  p.ohm(id("primary_winding"), coil + ".primary", coil + ".ground", id("primary_ohm"), LS_IN_OHM_TESTS);
  p.ohm(id("secondary_winding"), coil + ".ht", coil + ".ground", id("secondary_meter_ohm"), LS_IN_OHM_TESTS);
}

void add_discharge_coil_modes(plugin::Tables& t, const CoilShares& share, const std::string& suffix,
                              const std::string& number) {
  ModeWriter w(t);
  const auto id = [&](const char* stem) { return stem + suffix; };
  w.of(id("ignition_coil"));
  w.repair("replace", (number.empty() ? "replace the ignition coil" : "replace ignition coil" + number).c_str(),
           "replace", 12, 0.95, 3);
  w.mode("open_primary", "open primary", "replace", share.open_primary, k_constant, {{id("primary_ohm"), 1e11, 1e11}},
         "nothing flows through the coil: no spark; a module that charges through the coil then shows a positive peak");
  w.mode("shorted_primary", "shorted turns in the primary", "replace", share.shorted_primary, k_constant,
         {scale(id("primary_ohm"), 0.95, 0.5),
          scale(id("primary_henry"), 0.9, 0.25),
          scale(id("turns_ratio_one"), 1.05, 2.0),
          {id("secondary_leak_ohm"), 2e5, 1e4}},
         "a closed turn takes the energy: current up, reserve down");
  w.mode("open_secondary", "open secondary, burnt winding", "replace", share.open_secondary, k_constant,
         {{id("secondary_meter_ohm"), 1e5, 5e7}, {id("secondary_break_volt"), 2e3, 16e3}},
         "the spark jumps a gap inside the winding first", "SEC");
  w.mode("secondary_leak", "secondary leak, tracking", "replace", share.secondary_leak, wavering(k_hot | k_wet),
         {{id("secondary_leak_ohm"), 4e5, 1e4}}, "high tension creeps away through cracked or wet insulation", "SEC");
  w.mode("wrong_part", "wrong part fitted", "replace", share.wrong_part, k_constant,
         {{id("primary_ohm"), 0.8, 3},
          {id("primary_henry"), 1e-3, 7e-3},
          {id("secondary_meter_ohm"), 6e3, 12e3},
          {id("secondary_ohm"), 6e3, 12e3}},
         "a coil of the inductive kind: less current, a thin spark");
}

void add_discharge_stages(plugin::Tables& t, const DischargeNames& n) {
  StageWriter w(t, n);
  w.stage("transfer", "gains of the discharge, per volt of the capacitor");
  w.parameters(k_transfer_parameters);
  w.loop();
  const auto gains = write_gains(w, "transfer" + n.suffix);

  w.stage("fire", "what is there against what is needed");
  w.capacitor();
  for (const auto& name : gains) t.input(LS_INPUT_OUTPUT, name.c_str());
  t.input(LS_INPUT_LINEAR_VOLTS, n.gate.c_str(), n.gate_return.c_str());
  w.parameters(k_fire_parameters);
  if (n.on_battery)
    for (const auto& terminal : {n.ground, n.coil_ground}) t.input(LS_INPUT_LINEAR_VOLTS, terminal.c_str(), "earth");
  t.output("trigger_margin", LS_OUTPUT_MARGIN, "one", "ln(pulse volts at the module / its threshold)");
  t.output("spark_margin", LS_OUTPUT_MARGIN, "one", "ln(reserve at the plug / demand of the gap)");
  t.output("clamp_margin", LS_OUTPUT_MARGIN, "one", "current in the lead against what a clamp shows; leaks count too");
  w.value("reserve_volt", "volt", "highest volts at the plug's end of the lead, gap holding");
  w.value("coil_reserve_volt", "volt", "highest volts at the coil's tower, gap holding");
  w.value("plug_volt_spark", "volt", "volts on the lead as the gap breaks");
  w.value("primary_current", "ampere", "primary current pulse, gap firing");
  w.value("primary_current_open", "ampere", "primary current pulse, gap holding");
  w.value("coil_out_raw_volt", "volt", "instantaneous peak at the output (no meter shows it)");
  w.value("primary_raw_volt", "volt", "instantaneous peak at the coil (no meter shows it)");
  w.value("speed_rpm", "rpm", "crank speed");
  t.output("coil_out_volt", LS_OUTPUT_TERMINAL_VOLTS, "volt",
           n.negative ? "output peak, negative set" : "output peak, positive set", n.coil_out.c_str());
  t.output("primary_volt", LS_OUTPUT_TERMINAL_VOLTS, "volt",
           n.negative ? "primary peak, negative set" : "primary peak, positive set", n.primary.c_str());
  t.output("coil_lug_volt", LS_OUTPUT_TERMINAL_VOLTS, "volt", "coil earth drop beyond its lead's inductance",
           n.coil_ground.c_str());
  t.output("ground_lug_volt", LS_OUTPUT_TERMINAL_VOLTS, "volt",
           "module earth drop beyond its lead's inductance; the coil's current in the opposite sense",
           n.ground.c_str());
  t.output("coil_ground_volt", LS_OUTPUT_TERMINAL_READING, "volt", "coil earth drop", n.coil_ground.c_str());
  t.output("ground_volt", LS_OUTPUT_TERMINAL_READING, "volt", "module earth drop", n.ground.c_str());
}

void add_discharge_report(plugin::Tables& t, const DischargeNames& n) {
  StageWriter w(t, n);
  w.stage("spark", "spark time and current, for the report", true);
  w.capacitor();
  w.parameters(k_spark_parameters);
  w.parameters(k_transfer_parameters);
  w.loop();
  w.value("spark_second", "second", "time the gap burns");
  w.value("spark_ampere", "ampere", "crest of the spark current");
  w.value("timing_shift_degree", "degree", "ignition timing error");
}

void evaluate_transfer(const double* in, double* out) {
  need_positive(in, k_transfer_count, "transfer");
  const auto gains = discharge(DischargeSettings{}, transfer_inputs(in, in + k_transfer_count));
  std::memcpy(out, &gains, sizeof gains);
}

void evaluate_fire(const double* in, double* out, bool on_battery) {
  const double* own = in + 1 + k_gains;
  need_positive(own + 1, k_fire_inputs - 1, "fire");  // the gate may be dead
  DischargeGains gains;
  std::memcpy(static_cast<void*>(&gains), in + 1, sizeof gains);
  FiringInputs f;
  f.capacitor_volt = in[0];
  f.gate_volt = own[k_gate_volt];
  f.gate_threshold_volt = own[k_threshold];
  f.demand_volt = own[k_demand];
  f.break_volt = own[k_secondary_break] + own[k_lead_break] + own[k_joint_break] + own[k_cap_break] + own[k_seat_break];
  f.flash_volt = lesser(lesser(own[k_lead_flash], own[k_cap_flash]), own[k_plug_flash]);
  f.plug_leak_ohm = own[k_plug_leak];
  f.arc_volt = own[k_arc];
  auto r = fire(f, gains);
  if (on_battery) {
    // The discharge leaves the module by its earth and comes back through the coil's: it adds to the standing lift at
    // the one and takes from it at the other.
    const double standing = own[k_fire_inputs], coil_standing = own[k_fire_inputs + 1];
    r.coil_lug_volt = coil_standing - r.coil_lug_volt;
    r.ground_lug_volt = standing - r.ground_lug_volt;
    r.ground_volt += standing;
    r.coil_ground_volt = std::hypot(r.coil_ground_volt - coil_standing, 1e-6);
  }
  const double row[] = {r.trigger_margin,    r.spark_margin,     r.clamp_margin,    r.reserve_volt,
                        r.coil_reserve_volt, r.plug_volt_spark,  r.primary_current, r.primary_current_open,
                        r.coil_out_raw_volt, r.primary_raw_volt, own[k_speed],      r.coil_out_volt,
                        r.primary_volt,      r.coil_lug_volt,    r.ground_lug_volt, r.coil_ground_volt,
                        r.ground_volt};
  std::memcpy(out, row, sizeof row);
}

void evaluate_spark(const double* in, double* out) {
  constexpr std::size_t own = 1 + std::size(k_spark_parameters);
  need_positive(in + 1, own - 1 + k_transfer_count, "spark");
  const auto report = spark(DischargeSettings{}, transfer_inputs(in + own, in + own + k_transfer_count),
                            {switched_volt(in[0]), in[1], in[2]});
  out[0] = report.spark_second + 1e-9;
  out[1] = report.current_crest + 1e-9;
  out[2] = in[3];
}

}  // namespace lostspark::blocks
