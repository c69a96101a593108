// Battery-fed capacitor discharge for the circuit simulator: the parameters of plugins/dc_cdi and what they are in a
// deck.
#include <algorithm>
#include <cmath>

#include "spice/deck.hpp"
#include "spice/family_bench.hpp"
#include "spice/part_tables.hpp"

namespace lostspark::spice {

namespace {

constexpr double k_clamp_ampere = 0.05;  // what a clamp on the lead shows; common practice, no source
// Charging takes milliseconds of the turn's tens: the deck waits no longer than this before it fires.
constexpr double k_most_charge_second = 0.03;

struct DcParts : Parts, SupplyParts {
  double reference_speed = 400;
  double converter_ohm = 5, efficiency = 0.7, end_volt = 280, capacitor_leak_ohm = 8.3e6;
  double cutout_volt = 8, load_ohm = 80;
  double inhibit_pull_ohm = 2200, permit_volt = 3, inhibit_switch_ohm = 1e9;
  double load_lamp_ohm = 1e9, supply_lead_ohm = 1e9, earth_lead_ohm = 1e9;
  bool cranks = true, inhibits = true;

  DcParts() {
    pulse_henry = 0.09;
    lead_limit_ohm = 1e5;
  }
  [[nodiscard]] double ratio() const { return rpm / reference_speed; }
  [[nodiscard]] double pulse_second() const { return std::min(0.95 * 60 / rpm, k_most_charge_second); }
  [[nodiscard]] double stop_second() const {
    return cranks ? pulse_second() + 0.3 / (pulse_hertz * ratio()) + after_fire_second : 12e-3;
  }
};

const PartTable<DcParts>& table() {
  using P = DcParts;
  static const PartTable<P> all = [] {
    PartTable<P> t{{"cranking_speed_rpm", &P::rpm},
                   {"converter_ohm", &P::converter_ohm},
                   {"converter_efficiency_one", &P::efficiency},
                   {"converter_end_volt", &P::end_volt},
                   {"capacitor_farad", &P::storage_farad},
                   {"capacitor_leak_ohm", &P::capacitor_leak_ohm},
                   {"cutout_volt", &P::cutout_volt},
                   {"module_load_ohm", &P::load_ohm},
                   {"coupling_one", &P::coupling},
                   {"earth_lead_henry", &P::earth_lead_henry},
                   {"inhibit_pull_ohm", &P::inhibit_pull_ohm},
                   {"inhibit_threshold_volt", &P::permit_volt},
                   {"inhibit_switch_ohm", &P::inhibit_switch_ohm},
                   {"pulse_emf_volt", &P::pulse_emf_volt},
                   {"pulse_hertz", &P::pulse_hertz},
                   {"pulse_ohm", &P::pulse_ohm},
                   {"pulse_henry", &P::pulse_henry},
                   {"pulse_foot_ohm", &P::pulse_foot_ohm},
                   {"gate_input_ohm", &P::gate_ohm},
                   {"gate_threshold_volt", &P::gate_volt},
                   {"load_lamp_ohm", &P::load_lamp_ohm},
                   {"supply_lead_ohm", &P::supply_lead_ohm},
                   {"earth_lead_ohm", &P::earth_lead_ohm},
                   {"loom_leak_ohm", &P::loom_leak_ohm}};
    t.merge(discharge_table<P>());
    t.merge(supply_table<P>());
    return t;
  }();
  return all;
}

DcParts parts_of(const Situation& s) {
  DcParts p;
  for (const auto& [id, value] : s.value)
    if (!is_no_part(id)) set_part(p, table(), id, value);
  p.reference_speed = s.typical.at("cranking_speed_rpm");
  p.cranks = s.condition == "cranking";
  const auto inhibit = s.harness.options.find("inhibit");
  p.inhibits = inhibit == s.harness.options.end() || inhibit->second == "true";
  if (s.condition == "cranking") {
    p.starter_switch_ohm = 1e-3;
  } else if (s.condition == "key_off") {
    p.key_position_ohm = 1e9;
  } else if (s.condition != "key_on") {
    throw std::runtime_error(fmt::format("the deck knows no condition '{}'", s.condition));
  }
  for (const auto& setup : s.setups) {
    if (setup == "gap_tester") p.fit_tester(10e3);
    if (setup == "load_lamp") p.load_lamp_ohm = 6.9;
    if (setup == "supply_bypassed") p.supply_lead_ohm = 0.05;
    if (setup == "stop_bypassed") p.stop_lead_ohm = 0.05;
    if (setup == "module_earthed") p.earth_lead_ohm = 0.02;
    if (setup == "stop_pressed") p.stop_position_ohm = 1e9;
  }
  return p;
}

const std::vector<std::string> k_earth_tags{"control_module.ground", "ignition_coil.ground"};

std::string n(std::string_view id) { return Deck::node(id); }
std::string v(double value) { return Deck::number(value); }

/// What is there whether anything runs or not.
void add_contacts(Deck& deck, const DcParts& p) {
  add_supply_line(deck, p);
  deck.resistor("load_lamp", "control_module.supply", "control_module.ground", p.load_lamp_ohm);
  deck.resistor("supply_lead", "battery.plus", "control_module.supply", p.supply_lead_ohm);
  deck.resistor("earth_lead", "control_module.ground", "earth", p.earth_lead_ohm);
  deck.resistor("loom_coil", "ignition_coil.primary", "earth", p.loom_leak_ohm);
  deck.resistor("loom_pulse", "control_module.gate", "earth", p.loom_leak_ohm);
  deck.resistor("pulse_foot", "pulse_coil.foot", "earth", p.pulse_foot_ohm);
  if (p.inhibits) deck.resistor("inhibit_contact", "inhibit_switch.lead", "earth", p.inhibit_switch_ohm);
}

void add_dc_module(Deck& deck, const DcParts& p) {
  deck.line(fmt::format(".include \"{}/tests/spice/dccdi_stages.inc\"", LOSTSPARK_SOURCE_DIR));
  deck.line(fmt::format(
      "Xmodule {} {} {} {} {} {} dcmodule threshold={} input_ohm={} load_ohm={} in_ohm={} efficiency={} end_volt={} "
      "farad={} leak_ohm={} output_ohm={} pull_ohm={} permit_volt={} off_second={}",
      n("control_module.supply"), n("control_module.ground"), n("control_module.gate"), n("control_module.gate_return"),
      n("control_module.coil_out"), n("control_module.inhibit"), v(p.gate_volt), v(p.gate_ohm), v(p.load_ohm),
      v(p.converter_ohm), v(p.efficiency), v(p.end_volt), v(p.storage_farad), v(p.capacitor_leak_ohm), v(p.output_ohm),
      v(p.inhibit_pull_ohm), v(p.permit_volt), v(p.cranks ? p.pulse_second() : 1e-6)));
}

/// The module works: supply above its cut-out while it charged, and the capacitor was discharged. Measured, not
/// assumed.
bool works(const Run& run, const DcParts& p) {
  return run.at("least_supply_volt") > p.cutout_volt && run.at("volt_after") < 0.6 * run.at("volt_before");
}

class DcCdiBench : public FamilyBench {
 public:
  [[nodiscard]] const LinkEnds& links() const override {
    static const LinkEnds ends{
        {"battery_plus", {"battery.plus", "starter.battery"}},
        {"battery_minus", {"battery.minus", "earth"}},
        {"main_feed", {"starter.battery", "main_fuse.in"}},
        {"key_feed", {"main_fuse.out", "key_switch.in"}},
        {"stop_feed", {"key_switch.out", "stop_switch.in"}},
        {"module_supply", {"stop_switch.out", "control_module.supply"}},
        {"inhibit_wire", {"control_module.inhibit", "inhibit_switch.lead"}},
        {"coil_wire", {"control_module.coil_out", "ignition_coil.primary"}},
        {"coil_ground", {"ignition_coil.ground", "earth"}},
        {"pulse_wire", {"pulse_coil.hot", "control_module.gate"}},
        {"pulse_return", {"pulse_coil.foot", "control_module.gate_return"}},
        {"module_ground", {"control_module.ground", "earth"}},
    };
    return ends;
  }
  [[nodiscard]] bool makes_setup(std::string_view id) const override {
    static const std::vector<std::string_view> made{"gap_tester",       "load_lamp",      "supply_bypassed",
                                                    "stop_bypassed",    "module_earthed", "stop_pressed",
                                                    "inhibit_unplugged"};
    return std::find(made.begin(), made.end(), id) != made.end();
  }
  [[nodiscard]] std::vector<std::string> unplugs(std::string_view setup) const override {
    if (setup == "inhibit_unplugged") return {"control_module.inhibit"};
    return {};
  }

  [[nodiscard]] std::string deck(const Situation& s, const std::vector<Meter>& meters, Gap gap) const override {
    const auto p = parts_of(s);
    Deck deck("battery-fed capacitor discharge");
    deck.line(fmt::format(".include \"{}\"", stages_file()));
    add_battery(deck, p);
    add_contacts(deck, p);
    deck.line(fmt::format("Xpulse {} {} winding emf={} freq={} ohm={} henry={} delay={}", n("pulse_coil.hot"),
                          n("pulse_coil.foot"), v(p.cranks ? p.pulse_emf_volt * p.ratio() : 0),
                          v(p.pulse_hertz * p.ratio()), v(p.pulse_ohm), v(p.pulse_henry), v(p.pulse_second())));
    add_dc_module(deck, p);
    add_coil(deck, p, "ignition_coil.primary", "tower", "ignition_coil.ground");
    add_lead_and_gap(deck, p, "tower", "plug", gap == Gap::as_fitted);
    add_joints_behind_leads(deck, s, k_earth_tags, p.earth_lead_henry);
    add_meters(deck, meters, " from=0.0005");
    const double steady = p.cranks ? p.pulse_second() - 2e-4 : p.stop_second() - 1e-4;
    const std::string charging = fmt::format(" from=0.0005 to={}", v(steady));
    for (std::size_t k = 0; k < meters.size(); ++k) {
      deck.measure(fmt::format("m{}_steady", k),  // all of them against engine metal
                   fmt::format("FIND v({}) AT={}", n(meters[k].a), v(steady)));
      deck.measure(fmt::format("m{}_charging", k),
                   fmt::format("MIN {}{}", Deck::meter_volts(fmt::format("m{}", k)), charging));
    }
    deck.line("Bleast least 0 V=v(" + n("control_module.supply") + "," + n("control_module.ground") + ")");
    deck.measure("least_supply_volt", "MIN v(least)" + charging);
    // The thyristor grounds the charged node, whether a coil is there to be fired or not.
    deck.line("Bstored stored 0 V=v(xmodule.cap," + n("control_module.ground") + ")");
    deck.measure("volt_before", "FIND v(stored) AT=" + v(steady));
    deck.measure("volt_after", "MIN v(stored) from=" + v(steady));
    const std::string after = fmt::format(" from={}", v(steady));
    deck.measure("primary_ampere", "MIN i(Vprimary)" + after);
    deck.measure("tower_volt", "MIN v(" + n("tower") + ")" + after);
    deck.measure("plug_volt", "MIN v(" + n("plug") + ")" + after);
    deck.line(fmt::format(".tran 2u {} 0 1u UIC", v(p.stop_second())));
    add_spark_measures(deck, steady, p.stop_second());
    return deck.text();
  }

  [[nodiscard]] std::string ohm_deck(const Situation& s, const std::string& a, const std::string& b) const override {
    const auto p = parts_of(s);
    Deck deck("ohmmeter");
    add_battery_resistances(deck, p);
    add_contacts(deck, p);
    deck.resistor("pulse_winding", "pulse_coil.hot", "pulse_coil.foot", p.pulse_ohm);
    deck.resistor("gate", "control_module.gate", "control_module.gate_return", p.gate_ohm);
    deck.resistor("module_load", "control_module.supply", "control_module.ground", p.load_ohm);
    if (p.inhibits) deck.resistor("pull", "control_module.supply", "control_module.inhibit", p.inhibit_pull_ohm);
    deck.resistor("primary", "ignition_coil.primary", "ignition_coil.ground", p.primary_ohm);
    deck.resistor("secondary", "ignition_coil.ht", "ignition_coil.ground", p.secondary_meter_ohm);
    deck.resistor("lead_conductor", "ht_lead.coil_end", "ht_lead.cap_end", p.lead_conductor_ohm);
    deck.resistor("lead_joint", "ht_lead.cap_end", "plug_cap.lead_end", p.lead_joint_ohm);
    deck.resistor("cap", "plug_cap.lead_end", "plug_cap.plug_end", p.cap_ohm);
    add_joints_behind_leads(deck, s, k_earth_tags, 0);
    add_ohmmeter(deck, a, b);
    return deck.text();
  }

  [[nodiscard]] Shown read(const std::string& kind, const Situation& s, const Run& run,
                           const std::function<double(const char*)>& pointer) const override {
    const auto p = parts_of(s);
    const bool live = works(run, p);
    Shown shown;
    if (kind == "cranking_speed") {
      shown.value = p.rpm;
    } else if (kind == "pulse_peak" || kind == "pulse_return_peak") {
      shown.value = pointer("max");
    } else if (kind == "module_supply_cranking") {
      // A capacitor that nothing discharges stays charged: the deck starts with an empty one.
      const bool charges = run.at("volt_after") < 0.6 * run.at("volt_before");
      shown.value = std::max(charges ? pointer("charging") : pointer("steady"), 0.0);
    } else if (kind == "primary_peak") {
      shown.value = live ? std::max(-pointer("min"), 0.0) : 0;
    } else if (kind == "coil_earth_drop" || kind == "module_earth_drop") {
      shown.value = live ? std::max(pointer("max"), -pointer("min")) : 0;
    } else if (kind == "primary_current") {
      shown.value = live ? -run.at("primary_ampere") : 0;
    } else if (kind == "plug_kilovolt") {
      shown.value = live ? std::max(-run.at("tower_volt"), 0.0) / 1e3 : 0;
      shown.happens = live && run.at("spark_second") > 0;
    } else if (kind == "reserve") {
      shown.value = live ? std::max(-run.at("plug_volt") - p.break_volt(), 0.0) / 1e3 : 0;
    } else if (kind == "spark") {
      shown.happens = live && run.at("spark_second") > 0;
    } else if (kind == "spark_current") {
      shown.happens = live && run.at("body_ampere") > k_clamp_ampere;
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
    // Floors: a hundredth of a volt, the meter's step; half a volt for peaks, the peak meter's floor; a twentieth of a
    // kilovolt, a tenth of the pickup's.
    static const std::vector<Bound> all = [] {
      std::vector<Bound> list;
      for (const char* steady :
           {"battery_cranking", "earth_cable_cranking", "fuse_supply", "fuse_supply_loaded", "key_supply",
            "key_supply_loaded", "stop_supply", "stop_supply_loaded", "module_supply", "module_supply_loaded",
            "module_supply_stopped", "module_supply_cranking", "module_earth_loaded", "inhibit_volts"})
        list.push_back({steady, 0.05, 0.01, 0});
      list.push_back({"pulse_peak", 0.05, 0.05, 0});
      list.push_back({"pulse_return_peak", 0.05, 0.05, 0});
      list.push_back({"primary_peak", 0.05, 0.5, 5});
      list.push_back({"primary_current", 0.05, 0.005, 0.5});
      list.push_back({"plug_kilovolt", 0.05, 0.05, 0.5});
      list.push_back({"reserve", 0.05, 0, 0.5});
      return list;
    }();
    return all;
  }
  [[nodiscard]] const std::vector<std::pair<std::string, double>>& dead_limits() const override {
    static const std::vector<std::pair<std::string, double>> all{{"primary_peak", 5}, {"reserve", 0.5}};
    return all;
  }
  [[nodiscard]] const std::vector<std::pair<std::string, std::string>>& columns() const override {
    static const std::vector<std::pair<std::string, std::string>> all{{"battery V", "battery_cranking"},
                                                                      {"least supply V", "module_supply_cranking"},
                                                                      {"supply, lamp V", "module_supply_loaded"},
                                                                      {"inhibit V", "inhibit_volts"},
                                                                      {"pulse V", "pulse_peak"},
                                                                      {"primary V", "primary_peak"},
                                                                      {"primary A", "primary_current"},
                                                                      {"plug kV", "plug_kilovolt"},
                                                                      {"reserve kV", "reserve"},
                                                                      {"coil earth V", "coil_earth_drop"},
                                                                      {"module earth V", "module_earth_drop"}};
    return all;
  }
  [[nodiscard]] bool meter_feels(std::string_view parameter) const override {
    return parameter == "pulse_ohm" || parameter == "primary_ohm" || parameter == "fuse_ohm" ||
           parameter == "stop_switch_ohm" || parameter == "stop_position_ohm";
  }
};

}  // namespace

const FamilyBench& dc_cdi_bench() {
  static const DcCdiBench bench;
  return bench;
}

}  // namespace lostspark::spice
