// Battery ignition with breaker points for the circuit simulator: the parameters of plugins/breaker_points and what
// they are in a deck. A twin: the first cylinder works; the second one's coil hangs on the same supply, its points
// open. With a distributor: the one coil fires the first cylinder through king lead, cap and rotor.
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
  bool cranks = false, closed = false, distributor = false;

  explicit Values(const Situation& s) : value(s.value), distributor(s.value.contains("king_ohm")) {
    cranks = s.condition == "cranking";
    closed = s.condition == "points" + suffix() + "_closed";
    if (cranks) {
      value["starter_switch_ohm"] = 1e-3;
      if (value.contains("ballast_bypass_ohm")) value["ballast_bypass_ohm"] = 0.02;
    } else if (!closed && s.condition != "points_open")
      throw std::runtime_error(fmt::format("the deck knows no condition '{}'", s.condition));
    for (const auto& setup : s.setups) {
      if (setup == "load_lamp" + suffix()) value["load_lamp_ohm" + suffix()] = 6.9;
      if (setup == "gap_tester_1" || setup == "king_tester") {
        value["demand_volt_1"] = 12e3;
        value["plug_leak_ohm_1"] = 1e10;
        value["plug_flash_volt_1"] = 60e3;
        value["seat_break_volt_1"] = 1;
      }
      if (setup == "king_tester") {  // cap, rotor, plug lead and plug take no part
        for (const char* gap : {"distributor_break_volt", "rotor_gap_volt", "lead_break_volt_1", "joint_break_volt_1",
                                "cap_break_volt_1"})
          value[gap] = 1;
        for (const char* flash :
             {"distributor_flash_volt", "rotor_flash_volt", "lead_flash_volt_1", "cap_flash_volt_1"})
          value[flash] = 60e3;
        value["lead_ohm_1"] = value["cap_ohm_1"] = 1;
        value["ht_joint_ohm_1"] = 0.2;
      }
    }
  }
  /// Of coil, points and condenser: one of them behind a distributor.
  [[nodiscard]] std::string suffix() const { return distributor ? "" : "_1"; }
  /// A parameter of the circuit.
  [[nodiscard]] double circuit(const char* stem) const { return (*this)((stem + suffix()).c_str()); }
  /// How fast the points open, against the right gap behind a cam of one lobe; a cam of n lobes: as the square root of
  /// n, the family's judgement.
  [[nodiscard]] double opening() const {
    std::size_t lobes = 1;
    if (distributor)
      while (value.contains(fmt::format("demand_volt_{}", lobes + 1))) ++lobes;
    return circuit("points_gap_one") * std::sqrt(static_cast<double>(lobes));
  }
  double operator()(const char* id) const {
    const auto found = value.find(id);
    if (found == value.end()) throw std::runtime_error(fmt::format("the plugin has no parameter '{}'", id));
    return found->second;
  }
  [[nodiscard]] double off_second() const {
    const auto& x = *this;
    const double cam_degree_second = 360 * (x("cranking_speed_rpm") / 2) / 60;
    return k_on_second + std::min(x.circuit("dwell_degree") / cam_degree_second, k_longest_dwell);
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
  h.secondary_break_volt = x.circuit("secondary_break_volt");
  h.lead_break_volt = x("lead_break_volt_1");
  h.joint_break_volt = x("joint_break_volt_1");
  h.cap_break_volt = x("cap_break_volt_1");
  h.seat_break_volt = x("seat_break_volt_1");
  h.lead_flash_volt = x("lead_flash_volt_1");
  h.cap_flash_volt = x("cap_flash_volt_1");
  h.plug_flash_volt = x("plug_flash_volt_1");
  if (x.distributor) {  // in series with the plug lead
    h.lead_conductor_ohm += x("king_ohm");
    h.lead_break_volt += x("king_break_volt") + x("distributor_break_volt") + x("rotor_gap_volt");
    h.lead_flash_volt =
        std::min({h.lead_flash_volt, x("king_flash_volt"), x("distributor_flash_volt"), x("rotor_flash_volt")});
  }
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
  for (const char* c : x.distributor ? std::vector<const char*>{""} : std::vector<const char*>{"_1", "_2"}) {
    const std::string coil = fmt::format("ignition_coil{}", c);
    deck.resistor(std::string("load_lamp") + c, coil + ".supply", "earth",
                  x(fmt::format("load_lamp_ohm{}", c).c_str()));
    deck.resistor(std::string("supply_lead") + c, "battery.plus", coil + ".supply",
                  x(fmt::format("supply_lead_ohm{}", c).c_str()));
    deck.resistor(std::string("loom_leak") + c, coil + ".primary", "earth", x("loom_leak_ohm"));
  }
  if (!x.value.contains("ballast_ohm")) return;
  deck.resistor("ballast", "ballast.in", "ballast.out", x("ballast_ohm"));
  deck.resistor("ballast_bypass", "ballast.in", "ballast.out", x("ballast_bypass_ohm") + x("ballast_bypass_wire_ohm"));
}

class PointsBench : public FamilyBench {
 public:
  explicit PointsBench(bool distributor) : distributor_(distributor), s_(distributor ? "" : "_1") {
    if (!distributor) return;
    bounds_.push_back({"king_reserve", 0.05, 0.05, 0.5});
    dead_.push_back({"king_reserve", 0.5});
  }

  [[nodiscard]] const LinkEnds& links() const override {
    static const LinkEnds distributor{
        {"battery_plus", {"battery.plus", "starter.battery"}},
        {"battery_minus", {"battery.minus", "earth"}},
        {"main_feed", {"starter.battery", "main_fuse.in"}},
        {"key_feed", {"main_fuse.out", "key_switch.in"}},
        {"stop_feed", {"key_switch.out", "stop_switch.in"}},
        {"ballast_feed", {"stop_switch.out", "ballast.in"}},
        {"coil_supply", {"ballast.out", "ignition_coil.supply"}},
        {"points_lead", {"ignition_coil.primary", "breaker_points.moving"}},
        {"plate_earth", {"points_plate.plate", "earth"}},
    };
    static const LinkEnds twin{
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
    return distributor_ ? distributor : twin;
  }
  [[nodiscard]] bool makes_setup(std::string_view id) const override {
    return id == "gap_tester_1" || id == "load_lamp" + s_ || id == "points_lead_off" + s_ || id == "king_tester";
  }
  [[nodiscard]] std::vector<std::string> unplugs(std::string_view setup) const override {
    if (setup == "points_lead_off" + s_) return {"breaker_points" + s_ + ".moving"};
    return {};
  }

  [[nodiscard]] std::string deck(const Situation& s, const std::vector<Meter>& meters, Gap gap) const override {
    const Values x(s);
    Deck deck("breaker points");
    deck.line(fmt::format(".include \"{}/tests/spice/points_stages.inc\"", LOSTSPARK_SOURCE_DIR));
    add_supply(deck, x);
    const auto coil = "ignition_coil" + s_, points = "breaker_points" + s_;
    deck.ammeter("primary", coil + ".supply", "coil_inner");
    const double copper = 1 + 0.00393 * (x("coil_celsius") - 20);
    deck.line(fmt::format("Xcoil {} {} {} pointscoil henry={} ohm={} turns={} coupling={} ohm2={} leak_ohm={}",
                          n("coil_inner"), n(coil + ".primary"), n("tower"), v(x.circuit("primary_henry")),
                          v(x.circuit("primary_ohm") * copper), v(x.circuit("turns_ratio_one")), v(x("coupling_one")),
                          v(x.circuit("secondary_ohm")), v(x.circuit("secondary_leak_ohm"))));
    if (!distributor_) {
      deck.resistor("other_coil", "ignition_coil_2.supply", "ignition_coil_2.primary", x("primary_ohm_2"));
      deck.resistor("other_points", "breaker_points_2.moving", "points_plate.plate",
                    1 / (1 / x("points_insulation_ohm_2") + 1 / x("condenser_leak_ohm_2")));
    }
    const double never = 1e3;
    deck.line(fmt::format(
        "Xpoints {} {} breaker ohm={} on_second={} off_second={} gap={} farad={} leak_ohm={} insulation_ohm={}",
        n(points + ".moving"), n("points_plate.plate"), v(x.circuit("points_ohm")),
        v(x.closed   ? 1e-6
          : x.cranks ? k_on_second
                     : never),
        v(x.cranks ? x.off_second() : 2 * never), v(x.opening()), v(x.circuit("condenser_farad")),
        v(x.circuit("condenser_leak_ohm")), v(x.circuit("points_insulation_ohm"))));
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
    deck.line(fmt::format("Blost lost 0 V=v({})-v({})", n("battery.plus"), n(coil + ".supply")));
    deck.line(fmt::format("Bface faces 0 V=v({})-v({})", n(points + ".moving"), n("points_plate.plate")));
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

  [[nodiscard]] bool fires_cylinder_one() const override { return true; }
  [[nodiscard]] bool answers(std::string_view kind) const override {
    return kind != "spark_all" && kind != "cranking_speed" && !kind.starts_with("dwell");
  }
  [[nodiscard]] std::vector<OhmPart> ohm_parts(const Situation& s) const override {
    auto parts = lead_ohm_parts("_1");
    const auto coil = "ignition_coil" + s_;
    const double copper = 1 + 0.00393 * (s.value.at("coil_celsius") - 20);
    parts.push_back({coil + ".supply", coil + ".primary", {"primary_ohm" + s_}, copper});
    parts.push_back({coil + ".ht", coil + ".supply", {"secondary_meter_ohm" + s_}});
    parts.push_back({"king_lead.coil_end", "king_lead.cap_end", {"king_ohm"}});
    for (const auto& way : std::vector<std::vector<std::string>>{{"points_ohm" + s_, "points_position_ohm" + s_},
                                                                 {"condenser_leak_ohm" + s_},
                                                                 {"points_insulation_ohm" + s_}})
      parts.push_back({"breaker_points" + s_ + ".moving", "points_plate.plate", way});
    return parts;
  }

  [[nodiscard]] Shown read(const std::string& kind, const Situation& s, const Run& run,
                           const std::function<double(const char*)>& pointer) const override {
    Shown shown;
    if (kind == "battery_cranking") {
      shown.value = run.at("post_volt");
    } else if (kind == "supply_drop" + s_) {
      shown.value = run.at("lost_volt");
    } else if (kind == "supply_drop_peak" + s_) {
      shown.value = run.at("lost_peak_volt");
    } else if (kind == "points_drop" + s_) {
      shown.value = run.at("contact_volt");
    } else if (kind == "primary_current" + s_) {
      shown.value = run.at("steady_ampere");
    } else if (kind == "primary_peak" + s_) {
      shown.value = std::max(pointer("max"), 0.0);
    } else if (kind == "plug_kilovolt_1") {
      shown.value = std::max(-run.at("tower_volt"), 0.0) / 1e3;
      shown.happens = run.at("spark_second") > 0;
    } else if (kind == "reserve_1" || kind == "king_reserve") {
      shown.value = std::max(-run.at("plug_volt") - high_tension(Values(s)).break_volt(), 0.0) / 1e3;
    } else if (kind == "spark_1" || kind == "king_spark") {
      shown.happens = run.at("spark_second") > 0;
    } else if (kind == "spark_current_1") {
      shown.happens = run.at("body_ampere") > k_clamp_ampere;
    } else {  // an ordinary meter on something steady
      shown.value = std::abs(pointer("steady"));
    }
    return shown;
  }

  [[nodiscard]] bool compares(std::string_view condition, const std::vector<std::string>& setups) const override {
    const auto only = [&](const std::string& id) { return setups == std::vector<std::string>{id}; };
    if (condition == "points" + s_ + "_closed") return setups.empty();
    if (condition == "points_open") return setups.empty() || only("load_lamp" + s_) || only("points_lead_off" + s_);
    return condition == "cranking" && (setups.empty() || only("gap_tester_1") || only("king_tester"));
  }
  [[nodiscard]] const std::vector<Bound>& bounds() const override { return bounds_; }
  [[nodiscard]] const std::vector<std::pair<std::string, double>>& dead_limits() const override { return dead_; }
  [[nodiscard]] const std::vector<std::pair<std::string, std::string>>& columns() const override { return columns_; }
  [[nodiscard]] bool meter_feels(std::string_view) const override { return false; }

 private:
  bool distributor_;
  std::string s_;  // suffix of the circuit
  // Floors: a hundredth of a volt, the meter's step; half a volt for peaks; a twentieth of a kilovolt.
  std::vector<Bound> bounds_{{"primary_peak" + s_, 0.05, 0.5, 20},
                             {"primary_current" + s_, 0.05, 0.005, 0},
                             {"plug_kilovolt_1", 0.05, 0.05, 0.5},
                             {"reserve_1", 0.05, 0.05, 0.5},
                             {"supply_drop_peak" + s_, 0.05, 0.01, 0}};
  std::vector<std::pair<std::string, double>> dead_{{"primary_peak" + s_, 20}, {"reserve_1", 0.5}};
  std::vector<std::pair<std::string, std::string>> columns_{{"battery V", "battery_cranking"},
                                                            {"lost before coil V", "supply_drop" + s_},
                                                            {"lost, cranking V", "supply_drop_peak" + s_},
                                                            {"over points V", "points_drop" + s_},
                                                            {"plate V", "plate_lift" + s_},
                                                            {"primary A", "primary_current" + s_},
                                                            {"primary V", "primary_peak" + s_},
                                                            {"plug kV", "plug_kilovolt_1"},
                                                            {"reserve kV", "reserve_1"}};
};

}  // namespace

const FamilyBench& breaker_points_bench() {
  static const PointsBench bench(false);
  return bench;
}

const FamilyBench& distributor_bench() {
  static const PointsBench bench(true);
  return bench;
}

}  // namespace lostspark::spice
