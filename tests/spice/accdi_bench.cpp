// AC-CDI for the circuit simulator: the parameters of plugins/ac_cdi and what they are in a deck.
#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <stdexcept>

#include "spice/deck.hpp"
#include "spice/family_bench.hpp"
#include "spice/stages.hpp"

namespace lostspark::spice {

namespace {

constexpr double k_clamp_ampere = 0.05;  // what a clamp on the lead shows; common practice, no source

using Member = double Parts::*;

const std::map<std::string, Member, std::less<>>& parameters() {
  static const std::map<std::string, Member, std::less<>> table{
      {"cranking_speed_rpm", &Parts::rpm},
      {"exciter_emf_volt", &Parts::exciter_emf_volt},
      {"exciter_ohm", &Parts::exciter_ohm},
      {"exciter_henry", &Parts::exciter_henry},
      {"exciter_core_leak_ohm", &Parts::exciter_short_ohm},
      {"exciter_foot_ohm", &Parts::exciter_foot_ohm},
      {"pulse_emf_volt", &Parts::pulse_emf_volt},
      {"pulse_hertz", &Parts::pulse_hertz},
      {"pulse_ohm", &Parts::pulse_ohm},
      {"pulse_henry", &Parts::pulse_henry},
      {"pulse_foot_ohm", &Parts::pulse_foot_ohm},
      {"gate_input_ohm", &Parts::gate_ohm},
      {"gate_threshold_volt", &Parts::gate_volt},
      {"capacitor_farad", &Parts::storage_farad},
      {"module_input_ohm", &Parts::module_input_short_ohm},
      {"module_output_ohm", &Parts::output_ohm},
      {"kill_bridge_ohm", &Parts::kill_bridge_ohm},
      {"primary_henry", &Parts::primary_henry},
      {"primary_ohm", &Parts::primary_ohm},
      {"turns_ratio_one", &Parts::turns},
      {"coupling_one", &Parts::coupling},
      {"secondary_ohm", &Parts::secondary_ohm},
      {"secondary_meter_ohm", &Parts::secondary_meter_ohm},
      {"secondary_leak_ohm", &Parts::secondary_leak_ohm},
      {"secondary_break_volt", &Parts::secondary_break_volt},
      {"lead_ohm", &Parts::lead_conductor_ohm},
      {"ht_joint_ohm", &Parts::lead_joint_ohm},
      {"cap_ohm", &Parts::cap_ohm},
      {"lead_break_volt", &Parts::lead_break_volt},
      {"joint_break_volt", &Parts::joint_break_volt},
      {"cap_break_volt", &Parts::cap_break_volt},
      {"seat_break_volt", &Parts::seat_break_volt},
      {"lead_flash_volt", &Parts::lead_flash_volt},
      {"cap_flash_volt", &Parts::cap_flash_volt},
      {"plug_flash_volt", &Parts::plug_flash_volt},
      {"plug_leak_ohm", &Parts::deposit_ohm},
      {"demand_volt", &Parts::demand_volt},
      {"arc_volt", &Parts::arc_volt},
      {"kill_switch_ohm", &Parts::kill_switch_ohm},
      {"kill_switch_closed_ohm", &Parts::kill_closed_ohm},
      {"key_switch_ohm", &Parts::key_switch_ohm},
      {"tether_switch_ohm", &Parts::tether_switch_ohm},
      {"operator_stop_ohm", &Parts::operator_stop_ohm},
      {"loom_leak_ohm", &Parts::loom_leak_ohm},
      {"earth_lead_henry", &Parts::earth_lead_henry},
  };
  return table;
}

bool has_link(const Harness& harness, std::string_view id) {
  return std::any_of(harness.links.begin(), harness.links.end(), [&](const Link& l) { return l.id == id; });
}

/// Switches of the kill line and what leaks beside them.
void add_contacts(Deck& deck, const Situation& s, const Parts& p) {
  deck.resistor("kill_contact", "kill_switch.lead", "kill_switch.contact", p.kill_switch_ohm);
  deck.resistor("kill_closed", "kill_switch.contact", "earth", p.kill_closed_ohm);
  deck.resistor("operator_stop", "kill_switch.lead", "earth", p.operator_stop_ohm);
  if (has_link(s.harness, "key_wire")) deck.resistor("key_contact", "key_switch.lead", "earth", p.key_switch_ohm);
  if (has_link(s.harness, "tether_wire"))
    deck.resistor("tether_contact", "tether_switch.lead", "earth", p.tether_switch_ohm);
  deck.resistor("loom_source", "control_module.source", "earth", p.loom_leak_ohm);
  deck.resistor("loom_coil", "ignition_coil.primary", "earth", p.loom_leak_ohm);
  deck.resistor("kill_bridge", "control_module.source", "control_module.kill", p.kill_bridge_ohm);
}

const std::vector<std::string> k_earth_tags{"control_module.ground", "ignition_coil.ground"};

void set_parameter(Parts& parts, std::string_view id, double value) {
  if (id == "timing_shift_degree" || id == "meter_rise_second") return;  // no electrical meaning; the meter's own
  if (id == "capacitor_leak_ohm") {
    // The plugin states the leak of capacitor and open thyristor together; here the thyristor has its own.
    const double rest = 1 / value - 1 / parts.switch_off_ohm;
    parts.storage_leak_ohm = rest > 1e-12 ? 1 / rest : 1e12;
    return;
  }
  const auto found = parameters().find(id);
  if (found == parameters().end()) throw std::runtime_error(fmt::format("no deck element for parameter '{}'", id));
  parts.*found->second = value;
}

Parts parts_of(const Situation& s) {
  Parts p;
  for (const auto& [id, value] : s.value) set_parameter(p, id, value);
  p.pulse_reference_rpm = s.typical.at("cranking_speed_rpm");
  if (s.condition == "idle") {
    p.rpm *= 2.8;
    p.demand_volt *= 1.2;
  } else if (s.condition != "cranking" && s.condition != "key_off") {
    throw std::runtime_error(fmt::format("the deck knows no condition '{}'", s.condition));
  }
  for (const auto& setup : s.setups) {
    if (setup == "gap_tester") p.fit_tester(8000);
    if (setup == "kill_switch_off") p.kill_switch_ohm = 1e-3;
  }
  return p;
}

class AcCdiBench : public FamilyBench {
 public:
  [[nodiscard]] const LinkEnds& links() const override {
    static const LinkEnds ends{
        {"exciter_wire", {"exciter.hot", "control_module.source"}},
        {"pulse_wire", {"pulse_coil.hot", "control_module.gate"}},
        {"coil_wire", {"control_module.coil_out", "ignition_coil.primary"}},
        {"module_ground", {"control_module.ground", "earth"}},
        {"coil_ground", {"ignition_coil.ground", "earth"}},
        {"kill_wire", {"control_module.kill", "kill_switch.lead"}},
        {"key_wire", {"control_module.kill", "key_switch.lead"}},
        {"tether_wire", {"control_module.kill", "tether_switch.lead"}},
    };
    return ends;
  }
  [[nodiscard]] bool makes_setup(std::string_view id) const override {
    return id == "gap_tester" || id == "kill_switch_off" || !unplugs(id).empty();
  }
  [[nodiscard]] std::vector<std::string> unplugs(std::string_view setup) const override {
    if (setup == "kill_unplugged") return {"control_module.kill"};
    if (setup == "module_and_kill_unplugged") return {"control_module.kill", "control_module.source"};
    return {};
  }

  /// Peaks are those of the whole turn, as a peak meter holds them: a module may fire before its pulse.
  [[nodiscard]] std::string deck(const Situation& s, const std::vector<Meter>& meters, Gap gap) const override {
    const Parts p = parts_of(s);
    Deck deck("capacitor discharge ignition, cranking");
    add_exciter(deck, p, "exciter.hot", "exciter.foot");
    deck.resistor("exciter_foot", "exciter.foot", "earth", p.exciter_foot_ohm);
    add_pulse_coil(deck, p, "pulse_coil.hot", "pulse_coil.foot");
    deck.resistor("pulse_foot", "pulse_coil.foot", "earth", p.pulse_foot_ohm);
    add_module(deck, p, "control_module.source", "control_module.gate", "control_module.coil_out",
               "control_module.ground");
    add_coil(deck, p, "ignition_coil.primary", "tower", "ignition_coil.ground");
    add_lead_and_gap(deck, p, "tower", "plug", gap == Gap::as_fitted);
    add_contacts(deck, s, p);
    add_joints_behind_leads(deck, s, k_earth_tags, p.earth_lead_henry);
    add_meters(deck, meters);
    add_analysis(deck, p, "tower");
    deck.measure("plug_volt", fmt::format("MIN v({})", Deck::node("plug")));
    return deck.text();
  }

  [[nodiscard]] std::string ohm_deck(const Situation& s, const std::string& a, const std::string& b) const override {
    const Parts p = parts_of(s);
    Deck deck("ohmmeter");
    deck.resistor("exciter_winding", "exciter.hot", "exciter.foot", p.exciter_ohm);
    deck.resistor("exciter_short", "exciter.hot", "earth", p.exciter_short_ohm);
    deck.resistor("exciter_foot", "exciter.foot", "earth", p.exciter_foot_ohm);
    deck.resistor("pulse_winding", "pulse_coil.hot", "pulse_coil.foot", p.pulse_ohm);
    deck.resistor("pulse_foot", "pulse_coil.foot", "earth", p.pulse_foot_ohm);
    deck.resistor("gate", "control_module.gate", "control_module.ground", p.gate_ohm);
    deck.resistor("module_input", "control_module.source", "control_module.ground", p.module_input_short_ohm);
    deck.resistor("primary", "ignition_coil.primary", "ignition_coil.ground", p.primary_ohm);
    deck.resistor("secondary", "ignition_coil.ht", "ignition_coil.ground", p.secondary_meter_ohm);
    deck.resistor("lead_conductor", "ht_lead.coil_end", "ht_lead.cap_end", p.lead_conductor_ohm);
    deck.resistor("lead_joint", "ht_lead.cap_end", "plug_cap.lead_end", p.lead_joint_ohm);
    deck.resistor("cap", "plug_cap.lead_end", "plug_cap.plug_end", p.cap_ohm);
    add_contacts(deck, s, p);
    add_joints_behind_leads(deck, s, k_earth_tags, 0);
    add_ohmmeter(deck, a, b);
    return deck.text();
  }

  [[nodiscard]] Shown read(const std::string& kind, const Situation& s, const Run& run,
                           const std::function<double(const char*)>& pointer) const override {
    const Parts parts = parts_of(s);
    Shown shown;
    if (kind == "exciter_peak" || kind == "exciter_peak_unplugged" || kind == "pulse_peak") {
      shown.value = pointer("max");
    } else if (kind == "primary_peak") {
      shown.value = std::max(-pointer("min"), 0.0);
    } else if (kind == "coil_earth_drop" || kind == "module_earth_drop") {
      shown.value = std::max(pointer("max"), -pointer("min"));
    } else if (kind == "primary_current") {
      shown.value = -run.at("primary_ampere");
    } else if (kind == "plug_kilovolt") {
      shown.value = -run.at("tower_volt") / 1e3;
      shown.happens = run.at("spark_turn_second") > 0;
    } else if (kind == "reserve") {
      shown.value = std::max(-run.at("plug_volt") - parts.break_volt(), 0.0) / 1e3;
    } else if (kind == "cranking_speed") {
      shown.value = parts.rpm;
    } else if (kind == "spark") {
      shown.happens = run.at("spark_turn_second") > 0;
    } else if (kind == "spark_current") {
      shown.happens = run.at("body_ampere") > k_clamp_ampere;
    } else {
      throw std::runtime_error(fmt::format("no way to read test kind '{}' from a deck", kind));
    }
    return shown;
  }

  [[nodiscard]] bool compares(std::string_view condition, const std::vector<std::string>&) const override {
    return condition == "cranking";
  }
  [[nodiscard]] const std::vector<Bound>& bounds() const override {
    static const std::vector<Bound> all{{"exciter_peak", 0.05, 0.5, 0},  // 0.5 V: the meter's floor
                                        {"exciter_peak_unplugged", 0.05, 0.5, 0}, {"primary_peak", 0.05, 0, 5},
                                        {"primary_current", 0.05, 0, 0.5},  // 5 V across the coil's about 10 ohm
                                        {"plug_kilovolt", 0.05, 0, 0.5},          {"reserve", 0.05, 0, 0.5}};
    return all;
  }
  [[nodiscard]] const std::vector<std::pair<std::string, double>>& dead_limits() const override {
    static const std::vector<std::pair<std::string, double>> all{{"primary_peak", 5}, {"reserve", 0.5}};
    return all;
  }
  [[nodiscard]] const std::vector<std::pair<std::string, std::string>>& columns() const override {
    static const std::vector<std::pair<std::string, std::string>> all{
        {"exciter peak V", "exciter_peak"},  {"pulse peak V", "pulse_peak"},         {"primary V", "primary_peak"},
        {"primary A", "primary_current"},    {"plug kV", "plug_kilovolt"},           {"reserve kV", "reserve"},
        {"coil earth V", "coil_earth_drop"}, {"module earth V", "module_earth_drop"}};
    return all;
  }
  [[nodiscard]] bool meter_feels(std::string_view parameter) const override {
    return parameter == "exciter_ohm" || parameter == "pulse_ohm" || parameter == "primary_ohm";
  }
  /// What the exciter gives with the kill lead off does not depend on the gap.
  [[nodiscard]] bool blind_to_gap(std::string_view kind) const override { return kind.starts_with("exciter_peak"); }
};

}  // namespace

const FamilyBench& ac_cdi_bench() {
  static const AcCdiBench bench;
  return bench;
}

}  // namespace lostspark::spice
