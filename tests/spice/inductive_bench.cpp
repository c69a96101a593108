// Transistor inductive ignition for the circuit simulator: the parameters of plugins/transistor_inductive and what they
// are in a deck.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <stdexcept>

#include "spice/deck.hpp"
#include "spice/family_bench.hpp"
#include "spice/inductive_parts.hpp"

namespace lostspark::spice {

namespace {

using Member = double InductiveParts::*;
constexpr double k_clamp_ampere = 0.04;  // what a clamp on the lead shows; common practice, no source

const std::map<std::string, Member, std::less<>>& parameters() {
  using P = InductiveParts;
  static const std::map<std::string, Member, std::less<>> table{
      {"cranking_speed_rpm", &P::rpm},
      {"battery_emf_volt", &P::battery_volt},
      {"battery_ohm", &P::battery_ohm},
      {"starter_ohm", &P::starter_ohm},
      {"starter_switch_ohm", &P::starter_switch_ohm},
      {"charge_emf_volt", &P::charge_volt},
      {"charge_ohm", &P::charge_ohm},
      {"fuse_ohm", &P::fuse_ohm},
      {"key_switch_ohm", &P::key_ohm},
      {"key_position_ohm", &P::key_position_ohm},
      {"lighting_ohm", &P::lighting_ohm},
      {"stop_switch_ohm", &P::stop_ohm},
      {"stop_position_ohm", &P::stop_position_ohm},
      {"stop_weld_ohm", &P::stop_weld_ohm},
      {"relay_contact_ohm", &P::relay_ohm},
      {"operator_ohm", &P::operator_ohm},
      {"alarm_ohm", &P::alarm_ohm},
      {"stand_switch_ohm", &P::stand_ohm},
      {"neutral_switch_ohm", &P::neutral_ohm},
      {"dwell_second", &P::dwell_second},
      {"module_drop_volt", &P::module_drop_volt},
      {"module_on_ohm", &P::module_on_ohm},
      {"module_output_ohm", &P::module_output_ohm},
      {"module_load_ohm", &P::module_load_ohm},
      {"cutout_volt", &P::cutout_volt},
      {"clamp_volt", &P::clamp_volt},
      {"snubber_farad", &P::snubber_farad},
      {"primary_henry", &P::primary_henry},
      {"primary_ohm", &P::primary_ohm},
      {"turns_ratio_one", &P::turns},
      {"coupling_one", &P::coupling},
      {"secondary_ohm", &P::secondary_ohm},
      {"secondary_meter_ohm", &P::secondary_meter_ohm},
      {"secondary_leak_ohm", &P::secondary_leak_ohm},
      {"pulse_emf_volt", &P::pulse_emf_volt},
      {"pulse_hertz", &P::pulse_hertz},
      {"pulse_ohm", &P::pulse_ohm},
      {"pulse_henry", &P::pulse_henry},
      {"pulse_foot_ohm", &P::pulse_foot_ohm},
      {"gate_input_ohm", &P::gate_input_ohm},
      {"gate_threshold_volt", &P::threshold_volt},
      {"load_lamp_ohm", &P::load_lamp_ohm},
      {"supply_lead_ohm", &P::supply_lead_ohm},
      {"stop_lead_ohm", &P::stop_lead_ohm},
      {"earth_lead_ohm", &P::earth_lead_ohm},
      {"loom_leak_ohm", &P::loom_leak_ohm},
      {"secondary_break_volt", &P::secondary_break_volt},
      {"lead_ohm", &P::lead_conductor_ohm},
      {"ht_joint_ohm", &P::lead_joint_ohm},
      {"cap_ohm", &P::cap_ohm},
      {"lead_break_volt", &P::lead_break_volt},
      {"joint_break_volt", &P::joint_break_volt},
      {"cap_break_volt", &P::cap_break_volt},
      {"seat_break_volt", &P::seat_break_volt},
      {"lead_flash_volt", &P::lead_flash_volt},
      {"cap_flash_volt", &P::cap_flash_volt},
      {"plug_flash_volt", &P::plug_flash_volt},
      {"plug_leak_ohm", &P::deposit_ohm},
      {"demand_volt", &P::demand_volt},
      {"arc_volt", &P::arc_volt},
  };
  return table;
}

InductiveParts parts_of(const Situation& s) {
  InductiveParts p;
  for (const auto& [id, value] : s.value) {
    if (id == "timing_shift_degree" || id == "meter_rise_second") continue;  // no electrical meaning; the meter's own
    const auto found = parameters().find(id);
    if (found == parameters().end()) throw std::runtime_error(fmt::format("no deck element for parameter '{}'", id));
    p.*found->second = value;
  }
  p.reference_rpm = s.typical.at("cranking_speed_rpm");
  p.cranks = s.condition == "cranking";
  if (s.condition == "cranking") {
    p.starter_switch_ohm = 1e-3;
  } else if (s.condition == "key_off") {
    p.key_position_ohm = 1e9;
  } else if (s.condition != "key_on") {
    throw std::runtime_error(fmt::format("the deck knows no condition '{}'", s.condition));
  }
  for (const auto& setup : s.setups) {
    if (setup == "gap_tester") p.fit_tester(12e3);
    if (setup == "load_lamp") p.load_lamp_ohm = 6.9;
    if (setup == "supply_bypassed") p.supply_lead_ohm = 0.05;
    if (setup == "stop_bypassed") p.stop_lead_ohm = 0.05;
    if (setup == "module_earthed") p.earth_lead_ohm = 0.02;
    if (setup == "stop_pressed") p.stop_position_ohm = 1e9;
  }
  return p;
}

bool has_alarm(const Situation& s) {
  const auto found = s.harness.options.find("alarm");
  return found != s.harness.options.end() && found->second == "true";
}

/// The module works: its pulse was there, and its supply never fell below where it resets. Measured, not assumed.
bool works(const Run& run, const InductiveParts& p) {
  return run.at("latched") > 0.5 && run.at("module_least_volt") > p.cutout_volt;
}

class InductiveBench : public FamilyBench {
 public:
  [[nodiscard]] const LinkEnds& links() const override {
    static const LinkEnds ends{
        {"battery_plus", {"battery.plus", "starter.battery"}},
        {"battery_minus", {"battery.minus", "earth"}},
        {"main_feed", {"starter.battery", "main_fuse.in"}},
        {"key_feed", {"main_fuse.out", "key_switch.in"}},
        {"stop_feed", {"key_switch.out", "stop_switch.in"}},
        {"relay_feed", {"stop_switch.out", "interlock_relay.in"}},
        {"alarm_feed", {"interlock_relay.out", "alarm_splice.in"}},
        {"coil_supply", {"alarm_splice.out", "ignition_coil.supply"}},
        {"module_supply", {"alarm_splice.out", "control_module.supply"}},
        {"coil_wire", {"ignition_coil.primary", "control_module.coil_out"}},
        {"pulse_wire", {"pulse_coil.hot", "control_module.gate"}},
        {"pulse_return", {"pulse_coil.foot", "control_module.gate_return"}},
        {"module_ground", {"control_module.ground", "earth"}},
    };
    return ends;
  }
  [[nodiscard]] bool makes_setup(std::string_view id) const override {
    return id == "gap_tester" || id == "load_lamp" || id == "supply_bypassed" || id == "stop_bypassed" ||
           id == "module_earthed" || id == "stop_pressed";
  }

  [[nodiscard]] std::string deck(const Situation& s, const std::vector<Meter>& meters, Gap gap) const override {
    const auto p = parts_of(s);
    Deck deck("transistor ignition");
    add_inductive_parts(deck, p, has_alarm(s), gap == Gap::as_fitted);
    add_joints(deck, s, [](const std::string& point) { return point; });
    add_meters(deck, meters, fmt::format(" from={}", Deck::number(std::min(1e-3, p.end_second() / 2))));
    const double steady = p.cranks ? p.on_second() - 2e-4 : p.end_second() - 1e-4;
    for (std::size_t k = 0; k < meters.size(); ++k)
      deck.measure(fmt::format("m{}_steady", k),  // before the current rises; all against engine metal
                   fmt::format("FIND v({}) AT={}", Deck::node(meters[k].a), Deck::number(steady)));
    const std::string dwell =
        fmt::format(" from={} to={}", Deck::number(p.on_second() + 2e-5), Deck::number(p.off_second()));
    const std::string after = fmt::format(" from={}", Deck::number(p.off_second()));
    if (p.cranks) {
      for (std::size_t k = 0; k < meters.size(); ++k) {
        deck.measure(fmt::format("m{}_dwell_min", k),
                     fmt::format("MIN {}{}", Deck::meter_volts(fmt::format("m{}", k)), dwell));
        deck.measure(fmt::format("m{}_dwell_max", k),
                     fmt::format("MAX {}{}", Deck::meter_volts(fmt::format("m{}", k)), dwell));
      }
      deck.measure("primary_ampere", "MAX i(Vprimary)" + dwell);
      deck.measure("tower_volt", "MIN v(" + Deck::node("tower") + ")" + after);
      deck.measure("plug_volt", "MIN v(" + Deck::node("plug") + ")" + after);
      deck.measure("latched", fmt::format("FIND v(xmodule.latch) AT={}", Deck::number(p.on_second())));
      deck.line("Bleast least 0 V=v(" + Deck::node("control_module.supply") + "," +
                Deck::node("control_module.ground") + ")");
      deck.measure("module_least_volt", "MIN v(least)" + dwell);
    }
    deck.line(fmt::format(".tran 2u {} 0 1u UIC", Deck::number(p.end_second())));
    add_spark_measures(deck, p.cranks ? p.off_second() : 0, p.end_second());
    deck.line(".options reltol=1e-4 method=gear maxord=2");
    return deck.text();
  }

  [[nodiscard]] std::string ohm_deck(const Situation& s, const std::string& a, const std::string& b) const override {
    Deck deck("ohmmeter");
    add_inductive_resistances(deck, parts_of(s), has_alarm(s));
    add_joints(deck, s, [](const std::string& point) { return point; });
    add_ohmmeter(deck, a, b);
    return deck.text();
  }

  [[nodiscard]] Shown read(const std::string& kind, const Situation& s, const Run& run,
                           const std::function<double(const char*)>& pointer) const override {
    const auto p = parts_of(s);
    Shown shown;
    if (kind == "cranking_speed") {
      shown.value = p.rpm;
    } else if (kind == "pulse_peak" || kind == "pulse_return_peak") {
      shown.value = pointer("max");
    } else if (kind == "coil_supply_cranking") {
      shown.value = std::max(pointer("dwell_min"), 0.0);
    } else if (kind == "module_earth_cranking") {
      shown.value = std::max(pointer("dwell_max"), 0.0);
    } else if (kind == "primary_peak") {
      shown.value = works(run, p) ? pointer("max") : 0;
    } else if (kind == "primary_current") {
      shown.value = works(run, p) ? run.at("primary_ampere") : 0;
    } else if (kind == "plug_kilovolt") {
      shown.value = works(run, p) ? std::max(-run.at("tower_volt"), 0.0) / 1e3 : 0;
      shown.happens = works(run, p) && run.at("spark_second") > 0;
    } else if (kind == "reserve") {
      shown.value = works(run, p) ? std::max(-run.at("plug_volt") - p.break_volt(), 0.0) / 1e3 : 0;
    } else if (kind == "spark") {
      shown.happens = works(run, p) && run.at("spark_second") > 0;
    } else if (kind == "spark_current") {
      shown.happens = works(run, p) && run.at("body_ampere") > k_clamp_ampere;
    } else {  // an ordinary meter on something steady
      shown.value = std::abs(pointer("steady"));
    }
    return shown;
  }

  [[nodiscard]] bool compares(std::string_view condition, const std::vector<std::string>& setups) const override {
    if (condition == "key_on") return true;
    return condition == "cranking" && (setups.empty() || setups == std::vector<std::string>{"gap_tester"});
  }
  [[nodiscard]] const std::vector<Bound>& bounds() const override {
    // Floors: a hundredth of a volt, the meter's step; half a volt for peaks, the peak meter's floor; a
    // twentieth of a kilovolt, a tenth of the pickup's.
    static const std::vector<Bound> all{
        {"battery_cranking", 0.05, 0.01, 0},     {"earth_cable_cranking", 0.05, 0.01, 0},
        {"coil_supply", 0.05, 0.01, 0},          {"coil_supply_loaded", 0.05, 0.01, 0},
        {"fuse_supply", 0.05, 0.01, 0},          {"fuse_supply_loaded", 0.05, 0.01, 0},
        {"key_supply", 0.05, 0.01, 0},           {"key_supply_loaded", 0.05, 0.01, 0},
        {"stop_supply", 0.05, 0.01, 0},          {"stop_supply_loaded", 0.05, 0.01, 0},
        {"relay_supply", 0.05, 0.01, 0},         {"relay_supply_loaded", 0.05, 0.01, 0},
        {"alarm_supply", 0.05, 0.01, 0},         {"alarm_supply_loaded", 0.05, 0.01, 0},
        {"module_supply", 0.05, 0.01, 0},        {"coil_supply_stopped", 0.05, 0.01, 0},
        {"coil_supply_cranking", 0.05, 0.01, 0}, {"module_earth_cranking", 0.05, 0.01, 0},
        {"module_earth_loaded", 0.05, 0.01, 0},  {"coil_wire_volts", 0.05, 0.01, 0},
        {"pulse_peak", 0.05, 0.05, 0},           {"pulse_return_peak", 0.05, 0.05, 0},
        {"primary_peak", 0.05, 0.5, 20},         {"primary_current", 0.05, 0.005, 0.1},
        {"plug_kilovolt", 0.05, 0.05, 0.5},      {"reserve", 0.05, 0, 0.5}};
    return all;
  }
  [[nodiscard]] const std::vector<std::pair<std::string, double>>& dead_limits() const override {
    static const std::vector<std::pair<std::string, double>> all{{"primary_peak", 20}, {"reserve", 0.5}};
    return all;
  }
  [[nodiscard]] const std::vector<std::pair<std::string, std::string>>& columns() const override {
    static const std::vector<std::pair<std::string, std::string>> all{{"battery V", "battery_cranking"},
                                                                      {"least supply V", "coil_supply_cranking"},
                                                                      {"supply, lamp V", "coil_supply_loaded"},
                                                                      {"module earth V", "module_earth_cranking"},
                                                                      {"pulse V", "pulse_peak"},
                                                                      {"primary V", "primary_peak"},
                                                                      {"primary A", "primary_current"},
                                                                      {"plug kV", "plug_kilovolt"},
                                                                      {"reserve kV", "reserve"}};
    return all;
  }
  [[nodiscard]] bool meter_feels(std::string_view parameter) const override {
    return parameter == "pulse_ohm" || parameter == "primary_ohm" || parameter.starts_with("relay_") ||
           parameter == "fuse_ohm" || parameter == "operator_ohm" || parameter == "alarm_ohm" ||
           parameter == "stop_switch_ohm";
  }
};

}  // namespace

const FamilyBench& transistor_inductive_bench() {
  static const InductiveBench bench;
  return bench;
}

}  // namespace lostspark::spice
