// Flywheel magnetos for the circuit simulator: the parameters of plugins/flywheel_magneto, with points or with a
// module, and what they are in a deck.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <stdexcept>

#include "spice/deck.hpp"
#include "spice/magneto_bench.hpp"
#include "spice/stages.hpp"

namespace lostspark::spice {

namespace {

constexpr double k_clamp_ampere = 0.03;    // what a clamp on the lead shows; common practice, no source
constexpr double k_on_second = 0.2e-3;     // the magnet arrives
constexpr double k_watched_second = 4e-3;  // after the primary is interrupted
constexpr double k_still_second = 5e-3;    // key in RUN, engine still
constexpr double k_emf_rpm = 500;          // speed for which the plugin states the EMF

std::string n(std::string_view id) { return Deck::node(id); }
std::string v(double value) { return Deck::number(value); }

/// The plugin's values, with what state and set-ups make of them.
struct Values {
  std::map<std::string, double, std::less<>> value;
  bool cranks = false, points = false, battery = false, guarded = false;

  explicit Values(const Situation& s) : value(s.value) {
    cranks = s.condition == "cranking";
    if (!cranks && s.condition != "key_run")
      throw std::runtime_error(fmt::format("the deck knows no condition '{}'", s.condition));
    points = value.contains("points_gap_one");
    battery = value.contains("battery_emf_volt");
    guarded = value.contains("relay_coil_ohm");
    if (cranks && battery) value["starter_switch_ohm"] = 1e-3;
    for (const auto& setup : s.setups) {
      if (setup == "gap_tester") {
        value["demand_volt"] = 8e3;
        value["plug_leak_ohm"] = 1e10;
        value["plug_flash_volt"] = 60e3;
        value["seat_break_volt"] = 1;
      }
      if (setup == "chain_bridged") value["chain_lead_ohm"] = 0.05;
      if (setup == "condenser_substituted") {
        value["switch_farad"] = 0.2e-6;
        value["condenser_leak_ohm"] = 1e9;
      }
    }
    if (battery) value["cranking_speed_rpm"] *= turning(s);
  }
  double operator()(const char* id) const {
    const auto found = value.find(id);
    if (found == value.end()) throw std::runtime_error(fmt::format("the plugin has no parameter '{}'", id));
    return found->second;
  }
  [[nodiscard]] double passage_second() const {
    return (*this)("passage_degree") / 360 * 60 / (*this)("cranking_speed_rpm");
  }
  [[nodiscard]] double emf_volt() const {
    return (*this)("passage_emf_volt") * (*this)("cranking_speed_rpm") / k_emf_rpm;
  }
  [[nodiscard]] double off_second() const { return k_on_second + (*this)("opening_one") * passage_second(); }
  [[nodiscard]] double end_second() const { return cranks ? off_second() + k_watched_second : k_still_second; }

 private:
  /// Speed of a starter against the usual: a third of its volts overcome friction, the rest turns. The same rule as the
  /// family's (judgement); its volts are found here by hand.
  [[nodiscard]] double turning(const Situation& s) const {
    double lost = (*this)("battery_ohm");
    for (const auto& j : s.harness.joints)
      if (j.a.starts_with("battery.") || j.b.starts_with("starter.battery") || j.a.starts_with("plus_post") ||
          j.a.starts_with("minus_post") || j.a.starts_with("battery_"))
        lost += j.ohm;
    const double starter = (*this)("starter_ohm");
    const double usual = s.typical.at("battery_emf_volt") * s.typical.at("starter_ohm") /
                         (s.typical.at("starter_ohm") + s.typical.at("battery_ohm"));
    const double volts = (*this)("battery_emf_volt") * starter / (starter + lost + 1e-3);
    return std::max(volts / usual - 0.35, 1e-3) / 0.65;
  }
};

HighTension high_tension(const Values& x) {
  HighTension h;
  h.lead_farad = 8e-12;
  h.lead_conductor_ohm = x("lead_ohm");
  h.lead_joint_ohm = x("ht_joint_ohm");
  h.cap_ohm = x("cap_ohm");
  h.lead_limit_ohm = 1e5;
  h.demand_volt = x("demand_volt");
  h.arc_volt = x("arc_volt");
  h.deposit_ohm = x("plug_leak_ohm");
  h.secondary_break_volt = x("secondary_break_volt");
  h.lead_break_volt = x("lead_break_volt");
  h.joint_break_volt = x("joint_break_volt");
  h.cap_break_volt = x("cap_break_volt");
  h.seat_break_volt = x("seat_break_volt");
  h.lead_flash_volt = x("lead_flash_volt");
  h.cap_flash_volt = x("cap_flash_volt");
  h.plug_flash_volt = x("plug_flash_volt");
  return h;
}

/// What earths the kill wire, and the battery's circuits.
void add_stops(Deck& deck, const Values& x) {
  for (const char* stop : {"kill_switch", "stop_lever", "key_switch"}) {
    const std::string id = stop;
    if (!x.value.contains(id + "_ohm")) continue;
    deck.resistor(id, id + ".lead", "earth", x((id + "_ohm").c_str()) + x((id + "_closed_ohm").c_str()));
    deck.resistor("operator_stop", id + ".lead", "earth", x("operator_stop_ohm"));
    deck.resistor("loom_leak", id + ".lead", "earth", x("loom_leak_ohm"));
  }
  if (x.value.contains("low_oil_switch_ohm"))
    deck.resistor("oil", "low_oil_switch.lead", "earth", x("low_oil_switch_ohm"));
  if (x.battery) {
    deck.line(fmt::format("Vcells cells {} {}", n("battery.minus"), v(x("battery_emf_volt"))));
    deck.line(fmt::format("Rcells cells {} {}", n("battery.plus"), v(x("battery_ohm"))));
    deck.line(fmt::format("Vcharge charge 0 {}", v(x("charge_emf_volt"))));
    deck.line(fmt::format("Rcharge charge {} {}", n("starter.battery"), v(x("charge_ohm"))));
    deck.resistor("starter_switch", "starter.battery", "starter.motor", x("starter_switch_ohm"));
    deck.resistor("starter_motor", "starter.motor", "earth", x("starter_ohm"));
  }
  if (!x.guarded) return;
  deck.resistor("key_feed", "key_switch.in", "key_switch.out", x("key_feed_ohm") + x("key_position_ohm"));
  deck.line(fmt::format("Xguard {} {} {} guard ohm={} hold_ampere={}", n("interlock_relay.hot"),
                        n("interlock_relay.chain"), n("interlock_relay.kill"), v(x("relay_coil_ohm")),
                        v(x("relay_hold_ampere"))));
  deck.resistor("relay_contact", "interlock_relay.kill", "earth", x("relay_contact_ohm"));
  for (const char* part : {"seat_switch", "blade_switch", "brake_switch"}) {
    const std::string id = part;
    deck.resistor(id, id + ".in", id + ".out", x((id + "_ohm").c_str()));
  }
  deck.resistor("operator_chain", "brake_switch.out", "brake_switch.contact", x("operator_chain_ohm"));
  deck.resistor("chain_lead", "interlock_relay.chain", "earth", x("chain_lead_ohm"));
}

/// A spark is possible: points work at every speed, a module answers to a least EMF. Measured, not assumed.
bool works(const Run& run, const Values& x) { return x.points || run.at("emf_volt") > x("trigger_volt"); }

class MagnetoBench : public FamilyBench {
 public:
  MagnetoBench(const std::string& block, const std::string& stopper)
      : block_(block),
        links_{
            {"core_earth", {block + ".core", "earth"}},
            {"points_lead", {block + ".primary", "breaker_points.moving"}},
            {"plate_earth", {"points_plate.plate", "earth"}},
            {"kill_wire", {block + ".kill", stopper + ".lead"}},
            {"oil_wire", {block + ".kill", "low_oil_switch.lead"}},
            {"relay_kill_wire", {block + ".kill", "interlock_relay.kill"}},
            {"battery_plus", {"battery.plus", "starter.battery"}},
            {"battery_minus", {"battery.minus", "earth"}},
            {"key_feed", {"starter.battery", "key_switch.in"}},
            {"relay_feed", {"key_switch.out", "interlock_relay.hot"}},
            {"seat_wire", {"interlock_relay.chain", "seat_switch.in"}},
            {"blade_wire", {"seat_switch.out", "blade_switch.in"}},
            {"brake_wire", {"blade_switch.out", "brake_switch.in"}},
            {"chain_earth", {"brake_switch.contact", "earth"}},
        } {}

  [[nodiscard]] const LinkEnds& links() const override { return links_; }
  [[nodiscard]] bool makes_setup(std::string_view id) const override {
    return id == "gap_tester" || id == "kill_unplugged" || id == "relay_unplugged" || id == "chain_bridged" ||
           id == "condenser_substituted";
  }
  [[nodiscard]] std::vector<std::string> unplugs(std::string_view setup) const override {
    if (setup == "kill_unplugged") return {block_ + ".kill"};
    if (setup == "relay_unplugged") return {"interlock_relay.kill"};
    return {};
  }

  [[nodiscard]] std::string deck(const Situation& s, const std::vector<Meter>& meters, Gap gap) const override {
    const Values x(s);
    Deck deck("flywheel magneto");
    for (const char* file : {"magneto_stages.inc", "points_stages.inc"})
      deck.line(fmt::format(".include \"{}/tests/spice/{}\"", LOSTSPARK_SOURCE_DIR, file));
    add_stops(deck, x);
    deck.resistor("kill_bridge", block_ + ".kill", block_ + ".primary", x("kill_bridge_ohm"));
    deck.resistor("kill_tab", block_ + ".primary", "earth", x("kill_tab_leak_ohm"));
    deck.ammeter("primary", "coil_end", block_ + ".primary");
    deck.line(
        fmt::format("Xcoil {} {} {} emf magcoil peak_volt={} on_second={} passage_second={} henry={} ohm={} "
                    "turns={} coupling={} ohm2={} leak_ohm={}",
                    n(block_ + ".core"), n("coil_end"), n("tower"), v(x.cranks ? x.emf_volt() : 0), v(k_on_second),
                    v(x.passage_second()), v(x("primary_henry")), v(x("primary_ohm")), v(x("turns_ratio_one")),
                    v(x("coupling_one")), v(x("secondary_ohm")), v(x("secondary_leak_ohm"))));
    const double never = 1e3;
    if (x.points)
      deck.line(fmt::format(
          "Xpoints {} {} breaker ohm={} on_second={} off_second={} gap={} farad={} leak_ohm={} insulation_ohm={}",
          n("breaker_points.moving"), n("points_plate.plate"), v(x("switch_ohm")), v(1e-6),
          v(x.cranks ? x.off_second() : never), v(x("points_gap_one")), v(x("switch_farad")),
          v(x("condenser_leak_ohm")), v(x("points_insulation_ohm"))));
    else
      deck.line(fmt::format("Xmodule {} {} magmodule off_second={} on_ohm={} clamp_volt={} farad={} leak_ohm={}",
                            n(block_ + ".primary"), n(block_ + ".core"), v(x.cranks ? x.off_second() : never),
                            v(x("switch_ohm") + 2 * x("module_wire_ohm")), v(x("module_clamp_volt")),
                            v(x("switch_farad") + 0.5e-9), v(x("points_insulation_ohm"))));
    add_lead_and_gap(deck, high_tension(x), "tower", "plug", gap == Gap::as_fitted);
    add_joints(deck, s, [](const std::string& point) { return point; });
    add_meters(deck, meters, fmt::format(" from={}", v(x.cranks ? x.off_second() : 0)));
    for (std::size_t k = 0; k < meters.size(); ++k) {
      deck.measure(fmt::format("m{}_steady", k),
                   fmt::format("FIND v({}) AT={}", n(meters[k].a), v(x.cranks ? k_on_second / 2 : k_still_second / 2)));
      if (x.cranks)
        deck.measure(fmt::format("m{}_passage", k),
                     fmt::format("MIN {} to={}", Deck::meter_volts(fmt::format("m{}", k)), v(x.off_second() - 1e-6)));
    }
    if (x.cranks) {
      const auto after = fmt::format(" from={}", v(x.off_second()));
      deck.measure("opening_ampere", fmt::format("FIND i(Vprimary) AT={}", v(x.off_second() - 1e-6)));
      deck.measure("emf_volt", "MAX v(emf)");
      deck.measure("tower_volt", "MIN v(" + n("tower") + ")" + after);
      deck.measure("plug_volt", "MIN v(" + n("plug") + ")" + after);
    }
    deck.line(fmt::format(".tran 2u {} 0 1u UIC", v(x.end_second())));
    add_spark_measures(deck, x.cranks ? x.off_second() : 0, x.end_second());
    deck.line(".options reltol=1e-4 method=gear maxord=2");
    return deck.text();
  }

  [[nodiscard]] std::vector<OhmPart> ohm_parts(const Situation& s) const override {
    auto parts = lead_ohm_parts("");
    parts.push_back({block_ + ".primary", block_ + ".core", {"primary_ohm"}});
    parts.push_back({block_ + ".ht", block_ + ".core", {"secondary_meter_ohm"}});
    parts.push_back({block_ + ".kill", block_ + ".primary", {"kill_bridge_ohm"}});
    parts.push_back({block_ + ".primary", "earth", {"kill_tab_leak_ohm"}});
    parts.push_back({"low_oil_switch.lead", "earth", {"low_oil_switch_ohm"}});
    for (const std::string stop : {"kill_switch", "stop_lever", "key_switch"}) {
      if (!s.value.contains(stop + "_ohm")) continue;
      parts.push_back({stop + ".lead", "earth", {stop + "_ohm", stop + "_closed_ohm"}});
      parts.push_back({stop + ".lead", "earth", {"operator_stop_ohm"}});
      parts.push_back({stop + ".lead", "earth", {"loom_leak_ohm"}});
    }
    if (s.value.contains("points_gap_one")) {
      std::vector<std::string> faces{"switch_ohm"};
      if (s.condition != "points_closed") faces.push_back("points_position_ohm");
      for (const auto& way : {faces, {"condenser_leak_ohm"}, {"points_insulation_ohm"}})
        parts.push_back({"breaker_points.moving", "points_plate.plate", way});
    }
    for (const std::string part : {"seat_switch", "blade_switch", "brake_switch"})
      parts.push_back({part + ".in", part + ".out", {part + "_ohm"}});
    return parts;
  }

  [[nodiscard]] Shown read(const std::string& kind, const Situation& s, const Run& run,
                           const std::function<double(const char*)>& pointer) const override {
    const Values x(s);
    Shown shown;
    if (kind == "cranking_speed") {
      shown.value = x("cranking_speed_rpm");
    } else if (kind == "kill_peak") {
      shown.value = works(run, x) ? std::max(pointer("max"), 0.0) : 0;
    } else if (kind == "core_lift") {
      shown.value = std::max(-pointer("passage"), 0.0);
    } else if (kind == "plug_kilovolt") {
      shown.value = works(run, x) ? std::max(-run.at("tower_volt"), 0.0) / 1e3 : 0;
      shown.happens = works(run, x) && run.at("spark_second") > 0;
    } else if (kind == "reserve") {
      shown.value = works(run, x) ? std::max(-run.at("plug_volt") - high_tension(x).break_volt(), 0.0) / 1e3 : 0;
    } else if (kind == "spark") {
      shown.happens = works(run, x) && run.at("spark_second") > 0;
    } else if (kind == "spark_current") {
      shown.happens = works(run, x) && run.at("body_ampere") > k_clamp_ampere;
    } else {  // an ordinary meter on something steady
      shown.value = std::abs(pointer("steady"));
    }
    return shown;
  }

  [[nodiscard]] bool compares(std::string_view condition, const std::vector<std::string>& setups) const override {
    if (condition == "key_run") return setups.empty();
    return condition == "cranking" &&
           std::all_of(setups.begin(), setups.end(), [&](const std::string& id) { return makes_setup(id); });
  }
  [[nodiscard]] const std::vector<Bound>& bounds() const override {
    // Floors: a hundredth of a volt, the multimeter's step; half a volt for peaks; a twentieth of a kilovolt.
    static const std::vector<Bound> all{{"kill_peak", 0.05, 0.5, 20},
                                        {"core_lift", 0.05, 0.01, 0},
                                        {"plug_kilovolt", 0.05, 0.05, 0.5},
                                        {"reserve", 0.05, 0.05, 0.5},
                                        {"cranking_speed", 0.05, 0, 0},
                                        {"battery_cranking", 0.05, 0.01, 0},
                                        {"earth_cable_cranking", 0.05, 0.01, 0},
                                        {"key_supply", 0.05, 0.01, 0},
                                        {"relay_supply", 0.05, 0.01, 0},
                                        {"chain_relay", 0.05, 0.01, 0},
                                        {"chain_blade", 0.05, 0.01, 0},
                                        {"chain_brake", 0.05, 0.01, 0},
                                        {"chain_earth_volts", 0.05, 0.01, 0}};
    return all;
  }
  [[nodiscard]] const std::vector<std::pair<std::string, double>>& dead_limits() const override {
    static const std::vector<std::pair<std::string, double>> all{{"reserve", 0.5}};
    return all;
  }
  [[nodiscard]] const std::vector<std::pair<std::string, std::string>>& columns() const override {
    static const std::vector<std::pair<std::string, std::string>> all{{"speed rpm", "cranking_speed"},
                                                                      {"kill wire V", "kill_peak"},
                                                                      {"plug kV", "plug_kilovolt"},
                                                                      {"reserve kV", "reserve"}};
    return all;
  }
  [[nodiscard]] bool meter_feels(std::string_view) const override { return false; }

 private:
  std::string block_;
  LinkEnds links_;
};

}  // namespace

const FamilyBench& flywheel_magneto_bench(const model::Vehicle& vehicle) {
  static const MagnetoBench points("ignition_coil", "kill_switch"), lever("ignition_module", "stop_lever"),
      key("ignition_module", "key_switch"), button("ignition_module", "kill_switch");
  if (vehicle.find_parameter("points_gap_one")) return points;
  if (vehicle.find_parameter("stop_lever_ohm")) return lever;
  return vehicle.find_parameter("key_switch_ohm") ? key : button;
}

}  // namespace lostspark::spice
