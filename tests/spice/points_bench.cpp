// Battery ignition with breaker points for the circuit simulator: the parameters of plugins/breaker_points and what
// they are in a deck. The first cylinder works; the second one's coil hangs on the same supply, its points open.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <stdexcept>

#include "spice/deck.hpp"
#include "spice/family_bench.hpp"
#include "spice/stages.hpp"

namespace lostspark::spice {

namespace {

constexpr double k_clamp_ampere = 0.03;    // what a clamp on the lead shows; common practice, no source
constexpr double k_on_second = 2e-3;       // points close
constexpr double k_longest_dwell = 20e-3;  // ten time constants of the primary: longer changes nothing
constexpr double k_watched_second = 6e-3;  // after the points have opened
constexpr double k_still_second = 30e-3;   // key on, engine still

std::string n(std::string_view id) { return Deck::node(id); }
std::string v(double value) { return Deck::number(value); }

/// The plugin's values, with what state and set-ups make of them.
struct Values {
  std::map<std::string, double, std::less<>> value;
  bool cranks = false, closed = false;

  explicit Values(const Situation& s) : value(s.value) {
    cranks = s.condition == "cranking";
    closed = s.condition == "points_1_closed";
    if (cranks)
      value["starter_switch_ohm"] = 1e-3;
    else if (!closed && s.condition != "points_open")
      throw std::runtime_error(fmt::format("the deck knows no condition '{}'", s.condition));
    for (const auto& setup : s.setups) {
      if (setup == "load_lamp_1") value["load_lamp_ohm_1"] = 6.9;
      if (setup == "gap_tester_1") {
        value["demand_volt_1"] = 12e3;
        value["plug_leak_ohm_1"] = 1e10;
        value["plug_flash_volt_1"] = 60e3;
        value["seat_break_volt_1"] = 1;
      }
    }
  }
  double operator()(const char* id) const {
    const auto found = value.find(id);
    if (found == value.end()) throw std::runtime_error(fmt::format("the plugin has no parameter '{}'", id));
    return found->second;
  }
  [[nodiscard]] double off_second() const {
    const auto& x = *this;
    const double cam_degree_second = 360 * (x("cranking_speed_rpm") / 2) / 60;
    return k_on_second + std::min(x("dwell_degree_1") / cam_degree_second, k_longest_dwell);
  }
  [[nodiscard]] double end_second() const { return cranks ? off_second() + k_watched_second : k_still_second; }
  [[nodiscard]] double steady_second() const { return cranks ? k_on_second - 1e-4 : end_second() - 1e-4; }
};

HighTension high_tension(const Values& x) {
  HighTension h;
  h.lead_farad = 15e-12;
  h.lead_conductor_ohm = x("lead_ohm_1");
  h.lead_joint_ohm = x("ht_joint_ohm_1");
  h.cap_ohm = x("cap_ohm_1");
  h.lead_limit_ohm = 1e5;
  h.demand_volt = x("demand_volt_1");
  h.arc_volt = x("arc_volt_1");
  h.deposit_ohm = x("plug_leak_ohm_1");
  h.secondary_break_volt = x("secondary_break_volt_1");
  h.lead_break_volt = x("lead_break_volt_1");
  h.joint_break_volt = x("joint_break_volt_1");
  h.cap_break_volt = x("cap_break_volt_1");
  h.seat_break_volt = x("seat_break_volt_1");
  h.lead_flash_volt = x("lead_flash_volt_1");
  h.cap_flash_volt = x("cap_flash_volt_1");
  h.plug_flash_volt = x("plug_flash_volt_1");
  return h;
}

void add_supply(Deck& deck, const Values& x) {
  deck.line(fmt::format("Vcells cells {} {}", n("battery.minus"), v(x("battery_emf_volt"))));
  deck.line(fmt::format("Rcells cells {} {}", n("battery.plus"), v(x("battery_ohm"))));
  deck.line(fmt::format("Vcharge charge 0 {}", v(x("charge_emf_volt"))));
  deck.line(fmt::format("Rcharge charge {} {}", n("starter.battery"), v(x("charge_ohm"))));
  deck.resistor("starter_switch", "starter.battery", "starter.motor", x("starter_switch_ohm"));
  deck.resistor("starter_motor", "starter.motor", "earth", x("starter_ohm"));
  deck.resistor("fuse", "main_fuse.in", "main_fuse.out", x("fuse_ohm"));
  deck.resistor("key", "key_switch.in", "key_switch.out", x("key_switch_ohm") + x("key_position_ohm"));
  deck.resistor("lighting", "key_switch.out", "earth", x("lighting_ohm"));
  deck.resistor("stop", "stop_switch.in", "stop_switch.out", x("stop_switch_ohm") + x("stop_position_ohm"));
  deck.resistor("stop_weld", "stop_switch.in", "stop_switch.out", x("stop_weld_ohm"));
  for (const char* c : {"1", "2"}) {
    const std::string coil = fmt::format("ignition_coil_{}", c);
    deck.resistor(std::string("lamp_") + c, coil + ".supply", "earth", x(fmt::format("load_lamp_ohm_{}", c).c_str()));
    deck.resistor(std::string("lead_") + c, "battery.plus", coil + ".supply",
                  x(fmt::format("supply_lead_ohm_{}", c).c_str()));
    deck.resistor(std::string("loom_") + c, coil + ".primary", "earth", x("loom_leak_ohm"));
  }
}

class PointsBench : public FamilyBench {
 public:
  [[nodiscard]] const LinkEnds& links() const override {
    static const LinkEnds ends{
        {"battery_plus", {"battery.plus", "starter.battery"}},
        {"battery_minus", {"battery.minus", "earth"}},
        {"main_feed", {"starter.battery", "main_fuse.in"}},
        {"key_feed", {"main_fuse.out", "key_switch.in"}},
        {"stop_feed", {"key_switch.out", "stop_switch.in"}},
        {"coil_supply_1", {"stop_switch.out", "ignition_coil_1.supply"}},
        {"coil_supply_2", {"stop_switch.out", "ignition_coil_2.supply"}},
        {"points_lead_1", {"ignition_coil_1.primary", "breaker_points_1.moving"}},
        {"points_lead_2", {"ignition_coil_2.primary", "breaker_points_2.moving"}},
        {"plate_earth", {"points_plate.plate", "earth"}},
    };
    return ends;
  }
  [[nodiscard]] bool makes_setup(std::string_view id) const override {
    return id == "gap_tester_1" || id == "load_lamp_1" || id == "points_lead_off_1";
  }
  [[nodiscard]] std::vector<std::string> unplugs(std::string_view setup) const override {
    if (setup == "points_lead_off_1") return {"breaker_points_1.moving"};
    return {};
  }

  [[nodiscard]] std::string deck(const Situation& s, const std::vector<Meter>& meters, Gap gap) const override {
    const Values x(s);
    Deck deck("breaker points");
    deck.line(fmt::format(".include \"{}/tests/spice/points_stages.inc\"", LOSTSPARK_SOURCE_DIR));
    add_supply(deck, x);
    deck.ammeter("primary", "ignition_coil_1.supply", "coil_inner");
    const double copper = 1 + 0.00393 * (x("coil_celsius") - 20);
    deck.line(fmt::format("Xcoil {} {} {} pointscoil henry={} ohm={} turns={} coupling={} ohm2={} leak_ohm={}",
                          n("coil_inner"), n("ignition_coil_1.primary"), n("tower"), v(x("primary_henry_1")),
                          v(x("primary_ohm_1") * copper), v(x("turns_ratio_one_1")), v(x("coupling_one")),
                          v(x("secondary_ohm_1")), v(x("secondary_leak_ohm_1"))));
    deck.resistor("other_coil", "ignition_coil_2.supply", "ignition_coil_2.primary", x("primary_ohm_2"));
    deck.resistor("other_points", "breaker_points_2.moving", "points_plate.plate",
                  1 / (1 / x("points_insulation_ohm_2") + 1 / x("condenser_leak_ohm_2")));
    const double never = 1e3;
    deck.line(fmt::format(
        "Xpoints {} {} breaker ohm={} on_second={} off_second={} gap={} farad={} leak_ohm={} insulation_ohm={}",
        n("breaker_points_1.moving"), n("points_plate.plate"), v(x("points_ohm_1")),
        v(x.closed   ? 1e-6
          : x.cranks ? k_on_second
                     : never),
        v(x.cranks ? x.off_second() : 2 * never), v(x("points_gap_one_1")), v(x("condenser_farad_1")),
        v(x("condenser_leak_ohm_1")), v(x("points_insulation_ohm_1"))));
    add_lead_and_gap(deck, high_tension(x), "tower", "plug", gap == Gap::as_fitted);
    add_joints(deck, s, [](const std::string& point) { return point; });
    add_meters(deck, meters, fmt::format(" from={}", v(x.cranks ? x.off_second() : 0)));
    const auto steady = fmt::format(" AT={}", v(x.steady_second()));
    for (std::size_t k = 0; k < meters.size(); ++k) {
      deck.line(fmt::format("Bd{0} d{0} 0 V=v({1})-{2}", k, n(meters[k].a),
                            meters[k].b == "earth" ? std::string("0") : "v(" + n(meters[k].b) + ")"));
      deck.measure(fmt::format("m{}_steady", k), fmt::format("FIND v(d{}){}", k, steady));
    }
    deck.line(fmt::format("Bpost post 0 V=v({})-v({})", n("battery.plus"), n("battery.minus")));
    deck.line(fmt::format("Blost lost 0 V=v({})-v({})", n("battery.plus"), n("ignition_coil_1.supply")));
    deck.line(fmt::format("Bface faces 0 V=v({})-v({})", n("breaker_points_1.moving"), n("points_plate.plate")));
    deck.measure("post_volt", "FIND v(post)" + steady);
    deck.measure("lost_volt", "FIND v(lost)" + steady);
    deck.measure("contact_volt", "FIND v(faces)" + steady);
    deck.measure("steady_ampere", "FIND i(Vprimary)" + steady);
    if (x.cranks) {
      deck.measure("lost_peak_volt", fmt::format("FIND v(lost) AT={}", v(x.off_second() - 2e-6)));
      deck.measure("opening_ampere", fmt::format("FIND i(Vprimary) AT={}", v(x.off_second() - 2e-6)));
      const auto after = fmt::format(" from={}", v(x.off_second()));
      deck.measure("tower_volt", "MIN v(" + n("tower") + ")" + after);
      deck.measure("plug_volt", "MIN v(" + n("plug") + ")" + after);
    }
    deck.line(fmt::format(".tran 2u {} 0 1u UIC", v(x.end_second())));
    add_spark_measures(deck, x.cranks ? x.off_second() : 0, x.end_second());
    deck.line(".options reltol=1e-4 method=gear maxord=2");
    return deck.text();
  }

  [[nodiscard]] std::string ohm_deck(const Situation&, const std::string&, const std::string&) const override {
    throw std::runtime_error("no ohmmeter decks for breaker points");
  }

  [[nodiscard]] Shown read(const std::string& kind, const Situation& s, const Run& run,
                           const std::function<double(const char*)>& pointer) const override {
    Shown shown;
    if (kind == "battery_cranking") {
      shown.value = run.at("post_volt");
    } else if (kind == "supply_drop_1") {
      shown.value = run.at("lost_volt");
    } else if (kind == "supply_drop_peak_1") {
      shown.value = run.at("lost_peak_volt");
    } else if (kind == "points_drop_1") {
      shown.value = run.at("contact_volt");
    } else if (kind == "primary_current_1") {
      shown.value = run.at("steady_ampere");
    } else if (kind == "primary_peak_1") {
      shown.value = std::max(pointer("max"), 0.0);
    } else if (kind == "plug_kilovolt_1") {
      shown.value = std::max(-run.at("tower_volt"), 0.0) / 1e3;
      shown.happens = run.at("spark_second") > 0;
    } else if (kind == "reserve_1") {
      shown.value = std::max(-run.at("plug_volt") - high_tension(Values(s)).break_volt(), 0.0) / 1e3;
    } else if (kind == "spark_1") {
      shown.happens = run.at("spark_second") > 0;
    } else if (kind == "spark_current_1") {
      shown.happens = run.at("body_ampere") > k_clamp_ampere;
    } else {  // an ordinary meter on something steady
      shown.value = std::abs(pointer("steady"));
    }
    return shown;
  }

  [[nodiscard]] bool compares(std::string_view condition, const std::vector<std::string>& setups) const override {
    if (condition == "points_1_closed") return setups.empty();
    if (condition == "points_open")
      return setups.empty() || setups == std::vector<std::string>{"load_lamp_1"} ||
             setups == std::vector<std::string>{"points_lead_off_1"};
    return condition == "cranking" && (setups.empty() || setups == std::vector<std::string>{"gap_tester_1"});
  }
  [[nodiscard]] const std::vector<Bound>& bounds() const override {
    // Floors: a hundredth of a volt, the meter's step; half a volt for peaks; a twentieth of a kilovolt.
    static const std::vector<Bound> all{{"primary_peak_1", 0.05, 0.5, 20},
                                        {"primary_current_1", 0.05, 0.005, 0},
                                        {"plug_kilovolt_1", 0.05, 0.05, 0.5},
                                        {"reserve_1", 0.05, 0.05, 0.5},
                                        {"supply_drop_peak_1", 0.05, 0.01, 0}};
    return all;
  }
  [[nodiscard]] const std::vector<std::pair<std::string, double>>& dead_limits() const override {
    static const std::vector<std::pair<std::string, double>> all{{"primary_peak_1", 20}, {"reserve_1", 0.5}};
    return all;
  }
  [[nodiscard]] const std::vector<std::pair<std::string, std::string>>& columns() const override {
    static const std::vector<std::pair<std::string, std::string>> all{{"battery V", "battery_cranking"},
                                                                      {"lost before coil V", "supply_drop_1"},
                                                                      {"lost, cranking V", "supply_drop_peak_1"},
                                                                      {"over points V", "points_drop_1"},
                                                                      {"plate V", "plate_lift_1"},
                                                                      {"primary A", "primary_current_1"},
                                                                      {"primary V", "primary_peak_1"},
                                                                      {"plug kV", "plug_kilovolt_1"},
                                                                      {"reserve kV", "reserve_1"}};
    return all;
  }
  [[nodiscard]] bool meter_feels(std::string_view) const override { return false; }
};

}  // namespace

const FamilyBench& breaker_points_bench() {
  static const PointsBench bench;
  return bench;
}

}  // namespace lostspark::spice
