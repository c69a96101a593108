// Outboard capacitor discharge for the circuit simulator: the parameters of plugins/outboard_cdi and what they are in a
// deck. The deck fires cylinder 1; the other cylinders hang on the same box with quiet triggers.
#include <algorithm>
#include <cmath>

#include "spice/deck.hpp"
#include "spice/family_bench.hpp"
#include "spice/part_tables.hpp"

namespace lostspark::spice {

namespace {

constexpr double k_clamp_ampere = 0.05;  // what a clamp on the lead shows; common practice, no source

struct BoxParts {
  double low_core_leak_ohm = 1e9, low_foot_ohm = 0.02;
  double high_emf_volt = 32, high_hertz = 40, high_ohm = 60, high_henry = 0.02, high_foot_ohm = 0.02,
         high_input_ohm = 1e5;
  double stator_load = 1, box_input_ohm = 1e9, stop_bridge_ohm = 0.02, capacitor_leak_ohm = 8.3e6;
  double limiter_ohm = 1e9, key_ohm = 1e9, key_closed_ohm = 0.1, operator_ohm = 1e9, remote_ohm = 1e9,
         lanyard_ohm = 1e9;
  double speed = 400, usual_speed = 400;
  double trigger_hertz = 100, trigger_henry = 0.02, trigger_foot_ohm = 0.02, gate_input_ohm = 1000;
  int cylinders = 3;
  [[nodiscard]] double ratio() const { return speed / usual_speed; }
};

struct CylinderParts : Parts {
  double trigger_emf_volt = 4, trigger_ohm = 45;
  CylinderParts() { lead_limit_ohm = 1e5; }
};

struct Outboard : BoxParts {
  CylinderParts shared;  ///< storage, coupling, winding, gate: what all cylinders have in common
  std::vector<CylinderParts> cylinder;
  /// The capacitor charges from rest over 0.96 of the time between two sparks.
  [[nodiscard]] double fire_second() const { return 0.96 * 60 / speed / cylinders; }
  [[nodiscard]] double end_second() const { return fire_second() + 0.3 / (trigger_hertz * ratio()) + 1.5e-3; }
};

const PartTable<BoxParts>& box_table() {
  using P = BoxParts;
  static const PartTable<P> all{{"cranking_speed_rpm", &P::speed},
                                {"exciter_core_leak_ohm", &P::low_core_leak_ohm},
                                {"exciter_foot_ohm", &P::low_foot_ohm},
                                {"high_emf_volt", &P::high_emf_volt},
                                {"high_hertz", &P::high_hertz},
                                {"high_ohm", &P::high_ohm},
                                {"high_henry", &P::high_henry},
                                {"high_foot_ohm", &P::high_foot_ohm},
                                {"high_input_ohm", &P::high_input_ohm},
                                {"stator_load_one", &P::stator_load},
                                {"box_input_ohm", &P::box_input_ohm},
                                {"stop_bridge_ohm", &P::stop_bridge_ohm},
                                {"capacitor_leak_ohm", &P::capacitor_leak_ohm},
                                {"limiter_sensor_ohm", &P::limiter_ohm},
                                {"key_switch_ohm", &P::key_ohm},
                                {"key_switch_closed_ohm", &P::key_closed_ohm},
                                {"operator_stop_ohm", &P::operator_ohm},
                                {"remote_leak_ohm", &P::remote_ohm},
                                {"lanyard_switch_ohm", &P::lanyard_ohm},
                                {"trigger_hertz", &P::trigger_hertz},
                                {"trigger_henry", &P::trigger_henry},
                                {"trigger_foot_ohm", &P::trigger_foot_ohm},
                                {"gate_input_ohm", &P::gate_input_ohm}};
  return all;
}

const PartTable<CylinderParts>& shared_table() {
  using P = CylinderParts;
  static const PartTable<P> all{{"exciter_emf_volt", &P::exciter_emf_volt},
                                {"exciter_ohm", &P::exciter_ohm},
                                {"exciter_henry", &P::exciter_henry},
                                {"capacitor_farad", &P::storage_farad},
                                {"coupling_one", &P::coupling},
                                {"gate_threshold_volt", &P::gate_volt},
                                {"earth_lead_henry", &P::earth_lead_henry},
                                {"loom_leak_ohm", &P::loom_leak_ohm}};
  return all;
}

const PartTable<CylinderParts>& cylinder_table() {
  using P = CylinderParts;
  static const PartTable<P> all = [] {
    PartTable<P> t{{"trigger_emf_volt", &P::trigger_emf_volt}, {"trigger_ohm", &P::trigger_ohm}};
    t.merge(discharge_table<P>());
    return t;
  }();
  return all;
}

Outboard parts_of(const Situation& s) {
  Outboard p;
  if (const auto found = s.harness.options.find("cylinders"); found != s.harness.options.end())
    p.cylinders = std::stoi(found->second);
  p.cylinder.resize(static_cast<std::size_t>(p.cylinders));
  const auto own = [](const std::string& id) {  // "demand_volt_2": of cylinder 2
    const auto bar = id.rfind('_');
    const bool digit = bar + 2 == id.size() && std::isdigit(static_cast<unsigned char>(id.back())) != 0;
    return digit ? static_cast<std::size_t>(id.back() - '0') : 0;
  };
  for (const auto& [id, value] : s.value) {
    if (is_no_part(id)) continue;
    if (const auto number = own(id); number > 0)
      set_part(p.cylinder.at(number - 1), cylinder_table(), id.substr(0, id.size() - 2), value);
    else if (shared_table().count(id) == 1)
      set_part(p.shared, shared_table(), id, value);
    else
      set_part(static_cast<BoxParts&>(p), box_table(), id, value);
  }
  p.usual_speed = s.typical.at("cranking_speed_rpm");
  if (s.condition != "cranking" && s.condition != "key_off")
    throw std::runtime_error(fmt::format("the deck knows no condition '{}'", s.condition));
  for (const auto& setup : s.setups) {
    if (setup == "gap_tester")
      for (auto& c : p.cylinder) c.fit_tester(8000);
    if (setup == "key_in_stop") p.key_ohm = 1e-3;
    if (setup == "rectifier_unplugged") p.stator_load = 1;
  }
  for (auto& c : p.cylinder) c.coupling = p.shared.coupling;
  return p;
}

std::string n(std::string_view id) { return Deck::node(id); }
std::string v(double value) { return Deck::number(value); }
std::string of(const char* stem, std::size_t k) { return fmt::format("{}_{}", stem, k + 1); }

std::vector<std::string> earth_tags(const Outboard& p) {
  std::vector<std::string> tags{"switch_box.ground"};
  for (std::size_t k = 0; k < p.cylinder.size(); ++k) tags.push_back(of("ignition_coil", k) + ".ground");
  return tags;
}

bool has_link(const Situation& s, std::string_view id) {
  return std::any_of(s.harness.links.begin(), s.harness.links.end(), [&](const Link& l) { return l.id == id; });
}

/// What is there whether anything turns or not.
void add_contacts(Deck& deck, const Situation& s, const Outboard& p) {
  deck.resistor("low_core", "charge_low.hot", "earth", p.low_core_leak_ohm);
  deck.resistor("low_foot", "charge_low.foot", "earth", p.low_foot_ohm);
  deck.resistor("high_foot", "charge_high.foot", "earth", p.high_foot_ohm);
  deck.resistor("high_input", "switch_box.high", "earth", p.high_input_ohm);
  deck.resistor("stop_bridge", "switch_box.source", "switch_box.stop", p.stop_bridge_ohm);
  deck.resistor("box_input", "switch_box.source", "switch_box.ground", p.box_input_ohm);
  deck.resistor("key", "key_switch.lead", "key_switch.contact", p.key_ohm);
  deck.resistor("key_closed", "key_switch.contact", "earth", p.key_closed_ohm);
  deck.resistor("operator", "key_switch.lead", "earth", p.operator_ohm);
  deck.resistor("remote", "key_switch.lead", "earth", p.remote_ohm);
  deck.resistor("lanyard", "lanyard_switch.lead", "earth", p.lanyard_ohm);
  deck.resistor("loom_source", "switch_box.source", "earth", p.shared.loom_leak_ohm);
  deck.resistor("loom_coil", "ignition_coil_1.primary", "earth", p.shared.loom_leak_ohm);
  if (has_link(s, "limiter_wire")) deck.resistor("limiter", "limiter_sensor.lead", "earth", p.limiter_ohm);
  for (std::size_t k = 0; k < p.cylinder.size(); ++k) {
    deck.resistor(of("trigger_foot", k), of("trigger_coil", k) + ".foot", "earth", p.trigger_foot_ohm);
    deck.resistor(of("gate", k), "switch_box." + of("gate", k), "earth", p.gate_input_ohm);
  }
}

class OutboardBench : public FamilyBench {
 public:
  [[nodiscard]] const LinkEnds& links() const override {
    static const LinkEnds ends = [] {
      LinkEnds all{{"low_wire", {"charge_low.hot", "switch_box.source"}},
                   {"high_wire", {"charge_high.hot", "switch_box.high"}},
                   {"box_ground", {"switch_box.ground", "earth"}},
                   {"stop_wire", {"switch_box.stop", "key_switch.lead"}},
                   {"lanyard_wire", {"switch_box.stop", "lanyard_switch.lead"}},
                   {"limiter_wire", {"switch_box.limiter", "limiter_sensor.lead"}}};
      for (std::size_t k = 0; k < 3; ++k) {
        all[of("trigger_wire", k)] = {of("trigger_coil", k) + ".hot", "switch_box." + of("gate", k)};
        all[of("coil_wire", k)] = {"switch_box." + of("output", k), of("ignition_coil", k) + ".primary"};
        all[of("coil_ground", k)] = {of("ignition_coil", k) + ".ground", "earth"};
      }
      return all;
    }();
    return ends;
  }
  [[nodiscard]] bool makes_setup(std::string_view id) const override {
    return id == "gap_tester" || id == "key_in_stop" || id == "rectifier_unplugged" || !unplugs(id).empty();
  }
  [[nodiscard]] std::vector<std::string> unplugs(std::string_view setup) const override {
    if (setup == "stop_unplugged") return {"switch_box.stop"};
    if (setup == "box_and_stop_unplugged") return {"switch_box.stop", "switch_box.source"};
    return {};
  }

  [[nodiscard]] std::string deck(const Situation& s, const std::vector<Meter>& meters, Gap gap) const override {
    const auto p = parts_of(s);
    Deck deck("outboard capacitor discharge, cranking");
    deck.line(fmt::format(".include \"{}\"", stages_file()));
    deck.line(fmt::format(".include \"{}/tests/spice/outboard_stages.inc\"", LOSTSPARK_SOURCE_DIR));
    deck.line(fmt::format("Xlow {} {} winding emf={} freq={} ohm={} henry={}", n("charge_low.hot"),
                          n("charge_low.foot"), v(p.shared.exciter_emf_volt * p.stator_load * p.speed / 400),
                          v(p.speed / 60 * 2 * p.cylinders), v(p.shared.exciter_ohm), v(p.shared.exciter_henry)));
    deck.line(fmt::format("Xhigh {} {} winding emf={} freq={} ohm={} henry={}", n("charge_high.hot"),
                          n("charge_high.foot"), v(p.high_emf_volt * p.ratio()), v(p.high_hertz * p.ratio()),
                          v(p.high_ohm), v(p.high_henry)));
    deck.line(fmt::format("Xcharge {} cap {} odcharge farad={} leak_ohm={}", n("switch_box.source"),
                          n("switch_box.ground"), v(p.shared.storage_farad), v(p.capacitor_leak_ohm)));
    add_contacts(deck, s, p);
    for (std::size_t k = 0; k < p.cylinder.size(); ++k) {
      const auto& c = p.cylinder[k];
      const auto coil = of("ignition_coil", k), trigger = of("trigger_coil", k);
      deck.line(fmt::format("Xtrigger{} {} {} winding emf={} freq={} ohm={} henry={} delay={}", k, n(trigger + ".hot"),
                            n(trigger + ".foot"), v(k == 0 ? c.trigger_emf_volt * p.ratio() : 0),
                            v(p.trigger_hertz * p.ratio()), v(c.trigger_ohm), v(p.trigger_henry), v(p.fire_second())));
      deck.line(fmt::format("Xoutput{} cap {} {} {} odoutput gate_volt={} output_ohm={}", k,
                            n("switch_box." + of("output", k)), n("switch_box." + of("gate", k)),
                            n("switch_box.ground"), v(p.shared.gate_volt), v(c.output_ohm)));
      if (k == 0) {
        add_coil(deck, c, coil + ".primary", "tower", coil + ".ground");
        continue;
      }
      // A coil that nothing fires is its winding.
      deck.line(fmt::format("Lquiet{} {} quiet{} {}", k, n(coil + ".primary"), k, v(c.primary_henry)));
      deck.line(fmt::format("Rquiet{} quiet{} {} {}", k, k, n(coil + ".ground"), v(c.primary_ohm)));
    }
    add_lead_and_gap(deck, p.cylinder.front(), "tower", "plug", gap == Gap::as_fitted);
    add_joints_behind_leads(deck, s, earth_tags(p), p.shared.earth_lead_henry);
    add_meters(deck, meters);
    const std::string after = fmt::format(" from={}", v(p.fire_second()));
    deck.measure("primary_ampere", "MAX i(Vprimary)" + after);
    deck.measure("tower_volt", "MAX v(" + n("tower") + ")" + after);
    deck.measure("plug_volt", "MAX v(" + n("plug") + ")" + after);
    deck.measure("latched", "MAX i(v.xoutput0.vlatch)" + after);
    deck.line(fmt::format(".tran 2u {} 0 1u UIC", v(p.end_second())));
    add_spark_measures(deck, p.fire_second(), p.end_second());
    return deck.text();
  }

  [[nodiscard]] std::string ohm_deck(const Situation& s, const std::string& a, const std::string& b) const override {
    const auto p = parts_of(s);
    Deck deck("ohmmeter");
    add_contacts(deck, s, p);
    deck.resistor("low_winding", "charge_low.hot", "charge_low.foot", p.shared.exciter_ohm);
    deck.resistor("high_winding", "charge_high.hot", "charge_high.foot", p.high_ohm);
    for (std::size_t k = 0; k < p.cylinder.size(); ++k) {
      const auto& c = p.cylinder[k];
      const auto coil = of("ignition_coil", k), trigger = of("trigger_coil", k), lead = of("ht_lead", k),
                 cap = of("plug_cap", k);
      deck.resistor(of("trigger", k), trigger + ".hot", trigger + ".foot", c.trigger_ohm);
      deck.resistor(of("primary", k), coil + ".primary", coil + ".ground", c.primary_ohm);
      deck.resistor(of("secondary", k), coil + ".ht", coil + ".ground", c.secondary_meter_ohm);
      deck.resistor(of("lead", k), lead + ".coil_end", lead + ".cap_end", c.lead_conductor_ohm);
      deck.resistor(of("joint", k), lead + ".cap_end", cap + ".lead_end", c.lead_joint_ohm);
      deck.resistor(of("cap", k), cap + ".lead_end", cap + ".plug_end", c.cap_ohm);
    }
    add_joints_behind_leads(deck, s, earth_tags(p), 0);
    add_ohmmeter(deck, a, b);
    return deck.text();
  }

  [[nodiscard]] bool fires_cylinder_one() const override { return true; }

  [[nodiscard]] Shown read(const std::string& kind, const Situation& s, const Run& run,
                           const std::function<double(const char*)>& pointer) const override {
    const auto p = parts_of(s);
    Shown shown;
    if (kind == "charge_peak" || kind == "charge_peak_unplugged" || kind == "high_peak" || kind == "trigger_peak_1") {
      shown.value = pointer("max");
    } else if (kind == "primary_peak_1") {
      shown.value = std::max(pointer("max"), 0.0);
    } else if (kind == "coil_earth_drop_1" || kind == "box_earth_drop") {
      shown.value = std::max(pointer("max"), -pointer("min"));
    } else if (kind == "primary_current_1") {
      shown.value = run.at("primary_ampere");
    } else if (kind == "plug_kilovolt_1") {
      shown.value = run.at("tower_volt") / 1e3;
      shown.happens = run.at("spark_turn_second") > 0;
    } else if (kind == "reserve_1") {
      shown.value = std::max(run.at("plug_volt") - p.cylinder.front().break_volt(), 0.0) / 1e3;
    } else if (kind == "cranking_speed") {
      shown.value = p.speed;
    } else if (kind == "spark_1") {
      shown.happens = run.at("spark_turn_second") > 0;
    } else if (kind == "spark_current_1") {
      shown.happens = run.at("body_ampere") > k_clamp_ampere;
    } else {
      throw std::runtime_error(fmt::format("no way to read test kind '{}' from a deck", kind));
    }
    return shown;
  }

  [[nodiscard]] bool compares(std::string_view condition, const std::vector<std::string>& setups) const override {
    const auto is = [&](const char* only) { return setups == std::vector<std::string>{only}; };
    return condition == "cranking" &&
           (setups.empty() || is("gap_tester") || is("stop_unplugged") || is("box_and_stop_unplugged"));
  }
  [[nodiscard]] const std::vector<Bound>& bounds() const override {
    // Floors: the peak meter's half volt; a twentieth of a kilovolt, a tenth of the pickup's. Dead: 5 V at the primary.
    static const std::vector<Bound> all{{"charge_peak", 0.05, 0.5, 0},        {"charge_peak_unplugged", 0.05, 0.5, 0},
                                        {"high_peak", 0.05, 0.5, 0},          {"trigger_peak_1", 0.05, 0.05, 0},
                                        {"primary_peak_1", 0.05, 0, 5},       {"primary_current_1", 0.05, 0, 0.5},
                                        {"plug_kilovolt_1", 0.05, 0.05, 0.5}, {"reserve_1", 0.05, 0, 0.5}};
    return all;
  }
  [[nodiscard]] const std::vector<std::pair<std::string, double>>& dead_limits() const override {
    static const std::vector<std::pair<std::string, double>> all{{"primary_peak_1", 5}, {"reserve_1", 0.5}};
    return all;
  }
  /// A capacitor that stands on the box's earth cannot swing below it: the rectifier's two diodes then carry the coil's
  /// current on, where the program's discharge rings back as in a module with the capacitor before the coil. Crests
  /// come before that; the spark ends otherwise (docs/spice-deviations.md has both times, beyond 15 % in four of ten
  /// cases).
  [[nodiscard]] double spark_time_relative() const override { return 0.5; }
  [[nodiscard]] const std::vector<std::pair<std::string, std::string>>& columns() const override {
    static const std::vector<std::pair<std::string, std::string>> all{
        {"charge peak V", "charge_peak"}, {"high-speed V", "high_peak"},         {"trigger V", "trigger_peak_1"},
        {"primary V", "primary_peak_1"},  {"primary A", "primary_current_1"},    {"plug kV", "plug_kilovolt_1"},
        {"reserve kV", "reserve_1"},      {"coil earth V", "coil_earth_drop_1"}, {"box earth V", "box_earth_drop"}};
    return all;
  }
  [[nodiscard]] bool meter_feels(std::string_view parameter) const override {
    return parameter == "exciter_ohm" || parameter == "high_ohm" || parameter == "trigger_ohm_1" ||
           parameter == "primary_ohm_1";
  }
};

}  // namespace

const FamilyBench& outboard_cdi_bench() {
  static const OutboardBench bench;
  return bench;
}

}  // namespace lostspark::spice
