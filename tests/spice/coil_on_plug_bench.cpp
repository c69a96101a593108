// Coil on plug for the circuit simulator: the parameters of plugins/coil_on_plug and what they are in a deck. The first
// cylinder works; the other coils hang on the same feed, their drivers open. The relay's contact is what its resistance
// says; whether it is held is judged from the volts at its coil.
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

constexpr int k_cylinders = 4;
constexpr double k_watched_second = 6e-3;  // after the driver has opened
constexpr double k_still_second = 20e-3;   // key on, engine still

std::string n(std::string_view id) { return Deck::node(id); }
std::string v(double value) { return Deck::number(value); }

/// The plugin's values, with what state and set-ups make of them.
struct Values {
  std::map<std::string, double, std::less<>> value;
  double ratio = 1;
  bool cranks = false;

  explicit Values(const Situation& s) : value(s.value) {
    cranks = s.condition == "cranking";
    ratio = s.value.at("cranking_speed_rpm") / s.typical.at("cranking_speed_rpm");
    if (cranks)
      value["starter_switch_ohm"] = 1e-3;
    else if (s.condition != "key_on")
      throw std::runtime_error(fmt::format("the deck knows no condition '{}'", s.condition));
    for (const auto& setup : s.setups) {
      if (setup == "feed_lamp") value["feed_lamp_ohm"] = 2.6;
      if (setup == "load_lamp_1") value["load_lamp_ohm_1"] = 2.6;
      if (setup == "stop_pressed") value["stop_position_ohm"] = 1e9;
      if (setup == "gap_tester") {
        value["demand_volt_1"] = 12e3;
        value["plug_leak_ohm_1"] = value["well_leak_ohm_1"] = 1e10;
        value["plug_flash_volt_1"] = 60e3;
        value["seat_break_volt_1"] = 1;
      }
    }
  }
  double operator()(std::string_view id) const {
    const auto found = value.find(id);
    if (found == value.end()) throw std::runtime_error(fmt::format("the plugin has no parameter '{}'", id));
    return found->second;
  }
  [[nodiscard]] double pulse_hertz() const { return (*this)("pulse_hertz") * ratio; }
  /// The pulse comes first, then the current rises; both in this order within one deck.
  [[nodiscard]] double on_second() const { return 0.9 / pulse_hertz(); }
  [[nodiscard]] double off_second() const { return on_second() + (*this)("dwell_second"); }
  [[nodiscard]] double end_second() const { return cranks ? off_second() + k_watched_second : k_still_second; }
  [[nodiscard]] double steady_second() const { return cranks ? on_second() - 2e-4 : end_second() - 1e-4; }
};

HighTension high_tension(const Values& x) {
  HighTension h;
  h.lead_farad = 8e-12;
  h.cap_ohm = x("boot_ohm_1");
  h.lead_limit_ohm = 1e5;
  h.demand_volt = x("demand_volt_1");
  h.arc_volt = x("arc_volt_1");
  h.deposit_ohm = x("plug_leak_ohm_1");
  h.secondary_break_volt = x("secondary_break_volt_1");
  h.cap_break_volt = x("boot_break_volt_1");
  h.seat_break_volt = x("seat_break_volt_1");
  h.plug_flash_volt = x("plug_flash_volt_1");
  return h;
}

void add_supply(Deck& deck, const Values& x) {
  deck.line(fmt::format("Vcells cells {} {}", n("battery.minus"), v(x("battery_emf_volt"))));
  deck.line(fmt::format("Rcells cells {} {}", n("battery.plus"), v(x("battery_ohm"))));
  deck.resistor("starter_switch", "starter.battery", "starter.motor", x("starter_switch_ohm"));
  deck.resistor("starter_motor", "starter.motor", "earth", x("starter_ohm"));
  deck.resistor("fuse", "main_fuse.in", "main_fuse.out", x("fuse_ohm"));
  deck.resistor("key", "key_switch.in", "key_switch.out", x("key_switch_ohm") + x("key_position_ohm"));
  deck.resistor("lighting", "key_switch.out", "earth", x("lighting_ohm"));
  deck.resistor("stop", "stop_switch.in", "stop_switch.out", x("stop_switch_ohm") + x("stop_position_ohm"));
  deck.resistor("stop_weld", "stop_switch.in", "stop_switch.out", x("stop_weld_ohm"));
  deck.resistor("coil_fuse", "coil_fuse.in", "coil_fuse.out", x("coil_fuse_ohm"));
  // The contact opens where the volts at the relay's coil do not hold it: those before the current rises, since a relay
  // is too slow for the rest.
  deck.line(fmt::format("Vbefore before 0 PULSE(1 0 {} 1u 1u 1 2)", v(x.cranks ? x.on_second() - 1e-4 : 1)));
  deck.line("Ssample hold held before 0 sample");
  deck.line(".model sample SW(VT=0.5 VH=0.1 RON=100 ROFF=1e11)");
  deck.line("Cheld held 0 1n");
  deck.line(fmt::format("Srelay {} {} held 0 relay", n("main_relay.in"), n("main_relay.out")));
  deck.line(fmt::format(".model relay SW(VT={} VH=0.01 RON={} ROFF=1e11)", v(x("relay_hold_volt")), v(x("relay_contact_ohm"))));
  deck.resistor("relay_coil", "main_relay.coil", "main_relay.coil_foot", x("relay_coil_ohm"));
  deck.resistor("splice", "coil_splice.in", "coil_splice.out", x("coil_splice_ohm"));
  deck.resistor("feed_lamp", "main_relay.out", "earth", x("feed_lamp_ohm"));
  deck.resistor("loom_feed", "coil_splice.out", "earth", x("loom_leak_ohm"));
  deck.resistor("loom_crank", "control_unit.gate", "earth", x("loom_leak_ohm"));
  deck.resistor("pulse_foot", "crank_sensor.foot", "earth", x("pulse_foot_ohm"));
}

/// The unit's five volts, cam sensor with its output pulled down, stand and tip switch.
void add_sensors(Deck& deck, const Values& x) {
  deck.line(fmt::format("Vrail rail 0 {}", v(x("sensor_rail_volt"))));
  deck.line(fmt::format("Rrail rail {} {}", n("control_unit.sensor_supply"), v(x("sensor_rail_ohm"))));
  deck.resistor("sensor_return", "control_unit.sensor_ground", "earth", x("sensor_return_ohm"));
  deck.resistor("cam_load", "cam_sensor.supply", "cam_sensor.ground", x("cam_sensor_load_ohm"));
  deck.resistor("cam_output", "cam_sensor.signal", "cam_sensor.ground", x("cam_sensor_on_ohm"));
  deck.resistor("stand", "stand_switch.hot", "stand_switch.foot", x("stand_switch_ohm"));
  deck.resistor("tip", "tip_sensor.hot", "tip_sensor.foot", x("tip_sensor_ohm"));
  for (const char* pin : {"cam", "stand", "tip"})
    deck.resistor(std::string("pull_up_") + pin, "control_unit.sensor_supply", std::string("control_unit.") + pin,
                  x("pull_up_ohm"));
}

/// The unit fires: relay held, pulse answered, supply never below where it resets. Measured, not assumed.
bool works(const Run& run, const Values& x) {
  return run.at("hold_volt") > x("relay_hold_volt") && run.at("latched") > 0.5 &&
         run.at("unit_least_volt") > x("cutout_volt") && x("unit_logic_one") > 1 && x("key_code_one") > 1;
}

class CoilOnPlugBench : public FamilyBench {
 public:
  [[nodiscard]] const LinkEnds& links() const override {
    static const LinkEnds ends = [] {
      LinkEnds all{
          {"battery_plus", {"battery.plus", "starter.battery"}},
          {"battery_minus", {"battery.minus", "earth"}},
          {"main_feed", {"starter.battery", "main_fuse.in"}},
          {"key_feed", {"main_fuse.out", "key_switch.in"}},
          {"stop_feed", {"key_switch.out", "stop_switch.in"}},
          {"relay_hold", {"stop_switch.out", "main_relay.coil"}},
          {"relay_earth", {"main_relay.coil_foot", "earth"}},
          {"fuse_feed", {"main_fuse.out", "coil_fuse.in"}},
          {"relay_feed", {"coil_fuse.out", "main_relay.in"}},
          {"coil_feed", {"main_relay.out", "coil_splice.in"}},
          {"unit_feed", {"key_switch.out", "control_unit.supply"}},
          {"unit_ground", {"control_unit.ground", "earth"}},
          {"crank_signal", {"crank_sensor.hot", "control_unit.gate"}},
          {"crank_return", {"crank_sensor.foot", "control_unit.gate_return"}},
          {"cam_supply", {"control_unit.sensor_supply", "cam_sensor.supply"}},
          {"cam_ground", {"cam_sensor.ground", "control_unit.sensor_ground"}},
          {"cam_signal", {"cam_sensor.signal", "control_unit.cam"}},
          {"stand_wire", {"control_unit.stand", "stand_switch.hot"}},
          {"stand_earth", {"stand_switch.foot", "earth"}},
          {"tip_wire", {"control_unit.tip", "tip_sensor.hot"}},
          {"tip_earth", {"tip_sensor.foot", "earth"}},
      };
      for (int c = 1; c <= k_cylinders; ++c) {
        all[fmt::format("coil_supply_{}", c)] = {"coil_splice.out", fmt::format("ignition_coil_{}.supply", c)};
        all[fmt::format("driver_wire_{}", c)] = {fmt::format("control_unit.driver_{}", c),
                                                 fmt::format("ignition_coil_{}.primary", c)};
      }
      return all;
    }();
    return ends;
  }
  [[nodiscard]] bool makes_setup(std::string_view id) const override {
    return id == "gap_tester" || id == "feed_lamp" || id == "load_lamp_1" || id == "stop_pressed";
  }

  [[nodiscard]] std::string deck(const Situation& s, const std::vector<Meter>& meters, Gap gap) const override {
    const Values x(s);
    Deck deck("coil on plug");
    deck.line(fmt::format(".include \"{}/tests/spice/inductive_stages.inc\"", LOSTSPARK_SOURCE_DIR));
    add_supply(deck, x);
    add_sensors(deck, x);
    deck.line(fmt::format("Xpickup {} {} pickup emf={} freq={} ohm={} henry={}", n("crank_sensor.hot"),
                          n("crank_sensor.foot"), v(x.cranks ? x("pulse_emf_volt") * x.ratio : 0), v(x.pulse_hertz()),
                          v(x("pulse_ohm")), v(x("pulse_henry"))));
    deck.ammeter("primary", "ignition_coil_1.supply", "coil_inner");
    const double leak = 1 / (1 / x("secondary_leak_ohm_1") + 1 / x("boot_leak_ohm_1") + 1 / x("well_leak_ohm_1"));
    deck.line(fmt::format("Xcoil {} {} {} sparkcoil henry={} ohm={} turns={} coupling={} ohm2={} leak_ohm={}",
                          n("coil_inner"), n("ignition_coil_1.primary"), n("tower"), v(x("primary_henry_1")),
                          v(x("primary_ohm_1")), v(x("turns_ratio_one_1")), v(x("coupling_one")), v(x("secondary_ohm")),
                          v(leak)));
    for (int c = 1; c <= k_cylinders; ++c) {
      const auto coil = fmt::format("ignition_coil_{}", c);
      deck.resistor(fmt::format("lamp_{}", c), coil + ".supply", "earth", x(fmt::format("load_lamp_ohm_{}", c)));
      if (c == 1) continue;
      deck.resistor(fmt::format("other_coil_{}", c), coil + ".supply", coil + ".primary",
                    x(fmt::format("primary_ohm_{}", c)));
      deck.resistor(fmt::format("other_driver_{}", c), fmt::format("control_unit.driver_{}", c), "control_unit.ground",
                    1e8);
    }
    deck.line(fmt::format(
        "Xunit {} {} {} {} {} icm threshold={} load_ohm={} on_second={} off_second={} drop_volt={} on_ohm={} "
        "output_ohm={}"
        " clamp_volt={} farad={} input_ohm={}",
        n("control_unit.supply"), n("control_unit.driver_1"), n("control_unit.ground"), "permitted_gate", "0",
        v(x("gate_threshold_volt")), v(x("unit_load_ohm")), v(x.on_second()),
        v(x.off_second()), v(x("driver_drop_volt")), v(x("driver_on_ohm")), v(x("driver_ohm_1")), v(x("clamp_volt")),
        v(x("snubber_farad")), "1e9"));
    // The unit heeds the pulse only while relay, stand and tip switch permit; its pins load the sensor all the same.
    deck.resistor("gate_input", "control_unit.gate", "control_unit.gate_return", x("gate_input_ohm"));
    deck.line(fmt::format("Bpermit permitted_gate 0 V=(v({})-v({}))*(v({})<2.5 ? 1 : 0)*(v({})<2.5 ? 1 : 0)*(v(held)>{} ? 1 : 0)",
                          n("control_unit.gate"), n("control_unit.gate_return"), n("control_unit.stand"), n("control_unit.tip"),
                          v(x("relay_hold_volt"))));
    add_lead_and_gap(deck, high_tension(x), "tower", "plug", gap == Gap::as_fitted);
    add_joints(deck, s, [](const std::string& point) { return point; });

    auto all = meters;  // one more at the driver's pin
    all.push_back({"control_unit.driver_1", "earth", 1e12, x("meter_rise_second")});
    add_meters(deck, all, fmt::format(" from={}", v(x.cranks ? 1e-3 : k_still_second / 2)));
    const auto steady = fmt::format(" AT={}", v(x.steady_second()));
    for (std::size_t k = 0; k < meters.size(); ++k)
      deck.measure(fmt::format("m{}_steady", k), fmt::format("FIND v({}){}", n(meters[k].a), steady));
    deck.line("Bhold hold 0 V=v(" + n("main_relay.coil") + ")-v(" + n("main_relay.coil_foot") + ")");
    deck.measure("hold_volt", "FIND v(hold)" + steady);
    deck.line("Bunit unit_pins 0 V=v(" + n("control_unit.supply") + ")-v(" + n("control_unit.ground") + ")");
    deck.measure("unit_volt", "FIND v(unit_pins)" + steady);
    if (x.cranks) {
      const auto dwell = fmt::format(" from={} to={}", v(x.on_second() + 2e-5), v(x.off_second()));
      const auto after = fmt::format(" from={}", v(x.off_second()));
      deck.measure("unit_least_volt", "MIN v(unit_pins)" + dwell);
      deck.measure("latched", fmt::format("FIND v(xunit.latch) AT={}", v(x.on_second())));
      deck.measure("primary_ampere", "MAX i(Vprimary)" + dwell);
      deck.measure("coil_least_volt", "MIN v(" + n("ignition_coil_1.supply") + ")" + dwell);
      deck.measure("lift_volt", "MAX v(" + n("control_unit.ground") + ")" + dwell);
      deck.measure("pin_volt", fmt::format("MAX {}{}", Deck::meter_volts(fmt::format("m{}", meters.size())), after));
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
    return !kind.ends_with("_swing") && !kind.ends_with("_speed");
  }
  [[nodiscard]] std::vector<OhmPart> ohm_parts(const Situation&) const override {
    std::vector<OhmPart> parts{{"crank_sensor.hot", "crank_sensor.foot", {"pulse_ohm"}},
                               {"stand_switch.hot", "stand_switch.foot", {"stand_switch_ohm"}},
                               {"tip_sensor.hot", "tip_sensor.foot", {"tip_sensor_ohm"}},
                               {"coil_splice.in", "coil_splice.out", {"coil_splice_ohm"}},
                               {"ignition_coil_1.ht", "ignition_coil_1.supply", {"secondary_meter_ohm_1"}},
                               {"ignition_coil_1.ht", "boot_1.plug_end", {"boot_ohm_1"}}};
    for (int c = 1; c <= k_cylinders; ++c) {
      const auto coil = fmt::format("ignition_coil_{}", c);
      parts.push_back({coil + ".supply", coil + ".primary", {fmt::format("primary_ohm_{}", c)}});
    }
    return parts;
  }

  [[nodiscard]] Shown read(const std::string& kind, const Situation& s, const Run& run,
                           const std::function<double(const char*)>& pointer) const override {
    const Values x(s);
    Shown shown;
    if (kind == "crank_peak") {
      shown.value = pointer("max");
    } else if (kind == "unit_earth_lift") {
      shown.value = std::max(run.at("lift_volt"), 0.0);
    } else if (kind == "primary_peak_1") {
      shown.value = run.at("latched") > 0.5 && run.at("hold_volt") > x("relay_hold_volt") ? run.at("pin_volt") : 0;
    } else if (kind == "primary_current_1") {
      shown.value = works(run, x) ? run.at("primary_ampere") : 0;
    } else if (kind == "coil_supply_cranking_1") {
      shown.value = std::max(run.at("coil_least_volt"), 0.0);
    } else if (kind == "plug_kilovolt_1") {
      shown.value = works(run, x) ? std::max(-run.at("tower_volt"), 0.0) / 1e3 : 0;
      shown.happens = works(run, x) && run.at("spark_second") > 0;
    } else if (kind == "reserve_1") {
      shown.value = works(run, x) ? std::max(-run.at("plug_volt") - high_tension(x).break_volt(), 0.0) / 1e3 : 0;
    } else if (kind == "spark_1") {
      shown.happens = works(run, x) && run.at("spark_second") > 0;
    } else if (kind.starts_with("cam_sensor") && run.at("unit_volt") < 5.5) {
      shown.value = 0;  // the unit gives its sensors nothing
    } else {  // an ordinary meter on something steady
      shown.value = std::abs(pointer("steady"));
    }
    return shown;
  }

  [[nodiscard]] bool compares(std::string_view condition, const std::vector<std::string>& setups) const override {
    if (condition == "key_on")
      return setups.empty() || setups == std::vector<std::string>{"feed_lamp"} ||
             setups == std::vector<std::string>{"load_lamp_1"} || setups == std::vector<std::string>{"stop_pressed"};
    return condition == "cranking" && (setups.empty() || setups == std::vector<std::string>{"gap_tester"});
  }
  [[nodiscard]] const std::vector<Bound>& bounds() const override {
    // Floors: a hundredth of a volt, the meter's step; half a volt for peaks; a twentieth of a kilovolt.
    static const std::vector<Bound> all{
        {"primary_peak_1", 0.05, 0.5, 20},         {"primary_current_1", 0.05, 0.005, 0.1},
        {"plug_kilovolt_1", 0.05, 0.15, 0.5},      {"reserve_1", 0.05, 0.05, 0.5},
        {"coil_supply_cranking_1", 0.05, 0.02, 0}, {"unit_earth_lift", 0.05, 0.02, 0}};
    return all;
  }
  [[nodiscard]] const std::vector<std::pair<std::string, double>>& dead_limits() const override {
    static const std::vector<std::pair<std::string, double>> all{{"primary_peak_1", 20}, {"reserve_1", 0.5}};
    return all;
  }
  [[nodiscard]] const std::vector<std::pair<std::string, std::string>>& columns() const override {
    static const std::vector<std::pair<std::string, std::string>> all{
        {"battery V", "battery_cranking"},   {"least supply V", "coil_supply_cranking_1"},
        {"supply, lamp V", "coil_loaded_1"}, {"unit earth V", "unit_earth_lift"},
        {"crank sensor V", "crank_peak"},    {"primary V", "primary_peak_1"},
        {"primary A", "primary_current_1"},  {"plug kV", "plug_kilovolt_1"},
        {"reserve kV", "reserve_1"}};
    return all;
  }
  [[nodiscard]] bool meter_feels(std::string_view) const override { return false; }
};

}  // namespace

const FamilyBench& coil_on_plug_bench() {
  static const CoilOnPlugBench bench;
  return bench;
}

}  // namespace lostspark::spice
