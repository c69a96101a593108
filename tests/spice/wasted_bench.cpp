// Wasted spark for the circuit simulator: the parameters of plugins/wasted_spark and what they are in a deck. One coil;
// the deck fires it once, with the cylinder that is looked at under compression and its partner on the exhaust stroke:
// cylinder 1, or 2 where the gap tester hangs on its lead.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <stdexcept>

#include "spice/deck.hpp"
#include "spice/family_bench.hpp"
#include "spice/part_tables.hpp"

namespace lostspark::spice {

namespace {

constexpr double k_clamp_ampere = 0.04;      // what a clamp on the lead shows; common practice, no source
constexpr double k_watched_second = 2.5e-3;  // after the transistor has opened
constexpr double k_still_second = 12e-3;     // key on, engine still
// A gap that breaks with the loop open carries what the other tower takes to charge, some tens of microseconds: no
// spark.
constexpr double k_least_spark_second = 2e-4;
constexpr double k_holds_volt = 1e6;

std::string n(std::string_view id) { return Deck::node(id); }
std::string v(double value) { return Deck::number(value); }

/// The plugin's values, with what state and set-ups make of them.
class Values {
 public:
  explicit Values(const Situation& s) : value_(s.value) {
    cranks = s.condition == "cranking";
    ratio = s.value.at("cranking_speed_rpm") / s.typical.at("cranking_speed_rpm");
    if (cranks)
      value_["starter_switch_ohm"] = 1e-3;
    else if (s.condition != "key_on")
      throw std::runtime_error(fmt::format("the deck knows no condition '{}'", s.condition));
    for (const auto& setup : s.setups) {
      if (setup == "load_lamp") value_["load_lamp_ohm"] = 2.6;
      if (setup == "stop_pressed") value_["stop_position_ohm"] = 1e9;
      if (setup == "gap_tester_1" || setup == "gap_tester_2") tester(setup.back());
      if (setup == "partner_earthed_1") earthed('2');
    }
    static const auto table = supply_table<SupplyParts>();
    for (const auto& [id, part] : table) supply.*part = value_.at(id);
  }
  double operator()(const std::string& id) const {
    const auto found = value_.find(id);
    if (found == value_.end()) throw std::runtime_error(fmt::format("the plugin has no parameter '{}'", id));
    return found->second;
  }
  [[nodiscard]] double of(const char* stem, int cylinder) const {
    return (*this)(fmt::format("{}_{}", stem, cylinder));
  }
  [[nodiscard]] double break_volt(int cylinder) const {
    double sum = (*this)("secondary_break_volt_1");
    for (const char* stem :
         {"tower_break_volt", "lead_break_volt", "joint_break_volt", "cap_break_volt", "seat_break_volt"})
      sum += of(stem, cylinder);
    return sum;
  }
  [[nodiscard]] double lead_ohm(int cylinder) const {
    double sum = 0;
    for (const char* stem : {"tower_ohm", "lead_ohm", "ht_joint_ohm", "cap_ohm"}) sum += of(stem, cylinder);
    return std::min(sum, 1e5);  // no resistor stands tens of kilovolts: the gap it burns is among the breaks
  }
  /// The pulse comes first, then the current rises; both in this order within one deck.
  [[nodiscard]] double on_second() const { return 0.9 / ((*this)("pulse_hertz") * ratio); }
  [[nodiscard]] double off_second() const { return on_second() + (*this)("dwell_second"); }
  [[nodiscard]] double end_second() const { return cranks ? off_second() + k_watched_second : k_still_second; }
  [[nodiscard]] double steady_second() const { return cranks ? on_second() - 2e-4 : end_second() - 1e-4; }

  double ratio = 1;
  bool cranks = false;
  int compressed = 1;  ///< cylinder
  SupplyParts supply;

 private:
  void set(const char* stem, char cylinder, double to) { value_[std::string(stem) + "_" + cylinder] = to; }
  void tester(char cylinder) {
    compressed = cylinder - '0';
    set("demand_volt", cylinder, 12e3);
    set("plug_leak_ohm", cylinder, 1e10);
    set("plug_flash_volt", cylinder, 60e3);
    set("seat_break_volt", cylinder, 1);
  }
  void earthed(char cylinder) {
    for (const char* stem :
         {"tower_break_volt", "lead_break_volt", "joint_break_volt", "cap_break_volt", "seat_break_volt"})
      set(stem, cylinder, 1);
    for (const char* stem : {"lead_flash_volt", "cap_flash_volt", "plug_flash_volt"}) set(stem, cylinder, 60e3);
    for (const char* stem : {"tower_ohm", "lead_ohm", "ht_joint_ohm"}) set(stem, cylinder, 1);
    set("demand_volt", cylinder, 100);
    set("arc_volt", cylinder, 20);
    set("plug_leak_ohm", cylinder, 1e10);
    set("cap_ohm", cylinder, 100);
  }

  std::map<std::string, double, std::less<>> value_;
};

void add_contacts(Deck& deck, const Values& x) {
  add_battery(deck, x.supply);
  add_supply_line(deck, x.supply);
  deck.resistor("relay", "interlock_relay.in", "interlock_relay.out", x("relay_contact_ohm") + x("operator_ohm"));
  deck.resistor("load_lamp", "ignition_coil_1.supply", "ignition_unit.ground", x("load_lamp_ohm"));
  deck.resistor("loom_coil", "ignition_coil_1.primary", "earth", x("loom_leak_ohm"));
  deck.resistor("loom_pulse", "ignition_unit.gate", "earth", x("loom_leak_ohm"));
  deck.resistor("pulse_foot", "pulse_coil.foot", "earth", x("pulse_foot_ohm"));
}

/// Lead, gap and insulation of a side, with the observers of its spark.
void add_side(Deck& deck, const Values& x, int cylinder, bool holds) {
  const auto tower = fmt::format("tower_{}", cylinder), plug = fmt::format("plug_{}", cylinder),
             body = fmt::format("body_{}", cylinder);
  const double part = cylinder == x.compressed ? 1 : x("exhaust_part_one");
  const double gap = holds ? k_holds_volt : x.of("demand_volt", cylinder) * part + x.break_volt(cylinder);
  const double arc = x.of("arc_volt", cylinder), extinct = std::min(120.0, 0.5 * gap);
  deck.resistor(fmt::format("tower_leak_{}", cylinder), tower, "earth", x.of("tower_leak_ohm", cylinder));
  deck.resistor(fmt::format("lead_{}", cylinder), tower, plug, x.lead_ohm(cylinder));
  deck.line(fmt::format("Xgap_{} {} {} gap demand_volt={} arc_volt={} extinct_volt={} deposit_ohm={} farad=10p",
                        cylinder, n(plug), body, v(gap), v(arc), v(extinct), v(x.of("plug_leak_ohm", cylinder))));
  const double flash = std::min(
      {x.of("lead_flash_volt", cylinder), x.of("cap_flash_volt", cylinder), x.of("plug_flash_volt", cylinder)});
  if (flash < 50e3)
    deck.line(
        fmt::format("Xflash_{} {} 0 gap demand_volt={} arc_volt={} farad=0.1p", cylinder, n(tower), v(flash), v(arc)));
  deck.line(fmt::format("Vbody_{0} {0} 0 0", body));
  if (cylinder != x.compressed) return;
  deck.comment("current of the arc alone, and all that returns through the plug's body; 2 us low pass");
  deck.line(fmt::format("Barc arc 0 V=abs(i(v.xgap_{}.varc))", cylinder));
  deck.line("Rarc arc arc_slow 1k");
  deck.line("Carc arc_slow 0 2n");
  deck.line(fmt::format("Bbody body 0 V=abs(i(Vbody_{}))", body));
  deck.line("Rbody body body_slow 1k");
  deck.line("Cbody body_slow 0 2n");
  deck.line("Bburn burning 0 V=v(arc_slow)>4m ? 1 : 0");
}

/// The unit works: its pulse was there, and its supply never fell below where it resets. Measured, not assumed.
bool works(const Run& run, const Values& x) {
  return run.at("latched") > 0.5 && run.at("unit_least_volt") > x("cutout_volt");
}

class WastedSparkBench : public FamilyBench {
 public:
  [[nodiscard]] const LinkEnds& links() const override {
    static const LinkEnds ends{
        {"battery_plus", {"battery.plus", "starter.battery"}},
        {"battery_minus", {"battery.minus", "earth"}},
        {"main_feed", {"starter.battery", "main_fuse.in"}},
        {"key_feed", {"main_fuse.out", "key_switch.in"}},
        {"stop_feed", {"key_switch.out", "stop_switch.in"}},
        {"relay_feed", {"stop_switch.out", "interlock_relay.in"}},
        {"coil_supply_1", {"interlock_relay.out", "ignition_coil_1.supply"}},
        {"unit_supply", {"interlock_relay.out", "ignition_unit.supply"}},
        {"coil_wire_1", {"ignition_coil_1.primary", "ignition_unit.output_1"}},
        {"pulse_wire", {"pulse_coil.hot", "ignition_unit.gate"}},
        {"pulse_return", {"pulse_coil.foot", "ignition_unit.gate_return"}},
        {"unit_ground", {"ignition_unit.ground", "earth"}},
    };
    return ends;
  }
  [[nodiscard]] bool makes_setup(std::string_view id) const override {
    static const std::vector<std::string_view> made{"gap_tester_1", "gap_tester_2", "partner_earthed_1", "load_lamp",
                                                    "stop_pressed"};
    return std::find(made.begin(), made.end(), id) != made.end();
  }

  [[nodiscard]] std::string deck(const Situation& s, const std::vector<Meter>& meters, Gap gap) const override {
    const Values x(s);
    Deck deck("wasted spark");
    for (const char* file : {"inductive_stages.inc", "wasted_stages.inc", "gap.inc"})
      deck.line(fmt::format(".include \"{}/tests/spice/{}\"", LOSTSPARK_SOURCE_DIR, file));
    add_contacts(deck, x);
    deck.line(fmt::format("Xpickup {} {} pickup emf={} freq={} ohm={} henry={}", n("pulse_coil.hot"),
                          n("pulse_coil.foot"), v(x.cranks ? x("pulse_emf_volt") * x.ratio : 0),
                          v(x("pulse_hertz") * x.ratio), v(x("pulse_ohm")), v(x("pulse_henry"))));
    deck.ammeter("primary", "ignition_coil_1.supply", "coil_inner");
    deck.line(fmt::format("Xcoil {} {} {} {} paircoil henry={} ohm={} turns={} coupling={} ohm2={} leak_ohm={}",
                          n("coil_inner"), n("ignition_coil_1.primary"), n("tower_1"), n("tower_2"),
                          v(x("primary_henry_1")), v(x("primary_ohm_1")), v(x("turns_ratio_one_1")),
                          v(x("coupling_one")), v(x("secondary_ohm")), v(x("secondary_leak_ohm_1"))));
    deck.line(fmt::format(
        "Xunit {} {} {} {} {} icm threshold={} load_ohm={} on_second={} off_second={} drop_volt={} "
        "on_ohm={} output_ohm={} clamp_volt={} farad={} input_ohm={}",
        n("ignition_unit.supply"), n("ignition_unit.output_1"), n("ignition_unit.ground"), n("ignition_unit.gate"),
        n("ignition_unit.gate_return"), v(x("gate_threshold_volt")), v(x("unit_load_ohm")), v(x.on_second()),
        v(x.off_second()), v(x("unit_drop_volt")), v(x("unit_on_ohm")), v(x("output_ohm_1")), v(x("clamp_volt")),
        v(x("snubber_farad")), v(x("gate_input_ohm"))));
    for (int cylinder : {1, 2}) add_side(deck, x, cylinder, gap == Gap::holds && cylinder == x.compressed);
    add_joints(deck, s, [](const std::string& point) { return point; });
    add_meters(deck, meters, fmt::format(" from={}", v(std::min(1e-3, x.end_second() / 2))));
    const std::string dwell = fmt::format(" from={} to={}", v(x.on_second() + 2e-5), v(x.off_second()));
    const std::string after = fmt::format(" from={}", v(x.off_second()));
    for (std::size_t k = 0; k < meters.size(); ++k) {
      // Before the current rises; all of them against engine metal.
      deck.measure(fmt::format("m{}_steady", k), fmt::format("FIND v({}) AT={}", n(meters[k].a), v(x.steady_second())));
      if (!x.cranks) continue;
      const auto pointer = Deck::meter_volts(fmt::format("m{}", k));
      deck.measure(fmt::format("m{}_dwell_min", k), "MIN " + pointer + dwell);
      deck.measure(fmt::format("m{}_dwell_max", k), "MAX " + pointer + dwell);
    }
    if (x.cranks) {
      deck.measure("primary_ampere", "MAX i(Vprimary)" + dwell);
      deck.measure("latched", fmt::format("FIND v(xunit.latch) AT={}", v(x.on_second())));
      deck.line("Bleast least 0 V=v(" + n("ignition_unit.supply") + "," + n("ignition_unit.ground") + ")");
      deck.measure("unit_least_volt", "MIN v(least)" + dwell);
      // Tower 1 is the negative one.
      const auto crest = [&](const char* point) {
        const auto node = fmt::format("v({})", n(fmt::format("{}_{}", point, x.compressed)));
        return (x.compressed == 1 ? "MIN " : "MAX ") + node + after;
      };
      deck.measure("tower_volt", crest("tower"));
      deck.measure("plug_volt", crest("plug"));
    }
    // With 1 us every bound of the usual cases holds as well; with the key on nothing moves fast.
    deck.line(fmt::format(".tran 2u {} 0 {} UIC", v(x.end_second()), x.cranks ? "2u" : "20u"));
    add_spark_measures(deck, x.cranks ? x.off_second() : 0, x.end_second());
    deck.line(".options reltol=1e-4 method=gear maxord=2");
    return deck.text();
  }

  [[nodiscard]] std::vector<OhmPart> ohm_parts(const Situation&) const override {
    auto parts = lead_ohm_parts("_1");
    for (auto& part : lead_ohm_parts("_2")) parts.push_back(std::move(part));
    parts.push_back({"pulse_coil.hot", "pulse_coil.foot", {"pulse_ohm"}});
    parts.push_back({"ignition_coil_1.supply", "ignition_coil_1.primary", {"primary_ohm_1"}});
    parts.push_back({"ignition_coil_1.tower_a", "ignition_coil_1.tower_b", {"secondary_meter_ohm_1"}});
    parts.push_back({"ignition_coil_1.tower_a", "ht_lead_1.coil_end", {"tower_ohm_1"}});
    parts.push_back({"ignition_coil_1.tower_b", "ht_lead_2.coil_end", {"tower_ohm_2"}});
    parts.push_back({"side_stand_switch.hot", "side_stand_switch.foot", {"stand_switch_ohm"}});
    parts.push_back({"neutral_switch.hot", "earth", {"neutral_switch_ohm"}});
    return parts;
  }

  [[nodiscard]] Shown read(const std::string& kind, const Situation& s, const Run& run,
                           const std::function<double(const char*)>& pointer) const override {
    const Values x(s);
    const bool live = x.cranks && works(run, x);
    Shown shown;
    if (kind == "cranking_speed") {
      shown.value = x("cranking_speed_rpm");
    } else if (kind == "pulse_peak" || kind == "pulse_return_peak") {
      shown.value = pointer("max");
    } else if (kind == "coil_supply_cranking_1") {
      shown.value = std::max(pointer("dwell_min"), 0.0);
    } else if (kind == "unit_earth_cranking") {
      shown.value = std::max(pointer("dwell_max"), 0.0);
    } else if (kind == "primary_peak_1") {
      shown.value = live ? pointer("max") : 0;
    } else if (kind == "primary_current_1") {
      shown.value = live ? run.at("primary_ampere") : 0;
    } else if (kind == "plug_kilovolt_1") {
      shown.value = live ? std::abs(run.at("tower_volt")) / 1e3 : 0;
      shown.happens = live && run.at("spark_second") > k_least_spark_second;
    } else if (kind.starts_with("reserve_")) {
      shown.value = live ? std::max(std::abs(run.at("plug_volt")) - x.break_volt(x.compressed), 0.0) / 1e3 : 0;
    } else if (kind == "spark_current_1") {
      shown.happens = live && run.at("body_ampere") > k_clamp_ampere;
    } else if (kind.starts_with("spark_")) {
      shown.happens = live && run.at("spark_second") > k_least_spark_second;
    } else {  // an ordinary meter on something steady
      shown.value = std::abs(pointer("steady"));
    }
    return shown;
  }

  [[nodiscard]] bool compares(std::string_view condition, const std::vector<std::string>& setups) const override {
    using Setups = std::vector<std::string>;
    if (condition == "key_on")
      return setups.empty() || setups == Setups{"load_lamp"} || setups == Setups{"stop_pressed"};
    if (condition != "cranking") return false;
    auto sorted = setups;
    std::sort(sorted.begin(), sorted.end());
    return sorted.empty() || sorted == Setups{"gap_tester_1"} || sorted == Setups{"gap_tester_2"} ||
           sorted == Setups{"gap_tester_1", "partner_earthed_1"};
  }
  /// Cylinder 2 is looked at through the tester on its lead alone.
  [[nodiscard]] bool answers(std::string_view kind) const override {
    return kind != "plug_kilovolt_2" && kind != "spark_current_2";
  }
  [[nodiscard]] const std::vector<Bound>& bounds() const override {
    // Floors: a hundredth of a volt, the meter's step; half a volt for peaks, the peak meter's floor; a
    // twentieth of a kilovolt, a tenth of the pickup's; a tenth at the gap tester.
    static const std::vector<Bound> all = [] {
      std::vector<Bound> list{{"coil_supply_cranking_1", 0.05, 0.01, 0},
                              {"unit_earth_cranking", 0.05, 0.01, 0},
                              {"pulse_peak", 0.05, 0.05, 0},
                              {"pulse_return_peak", 0.05, 0.05, 0},
                              {"primary_peak_1", 0.05, 0.5, 20},
                              {"primary_current_1", 0.05, 0.005, 0.1},
                              {"plug_kilovolt_1", 0.05, 0.05, 0.5},
                              {"reserve_1", 0.05, 0.1, 0.5},
                              {"reserve_2", 0.05, 0.1, 0.5}};
      for (const char* steady : {"battery_cranking", "earth_cable_cranking", "fuse_supply", "fuse_supply_loaded",
                                 "key_supply", "key_supply_loaded", "stop_supply", "stop_supply_loaded", "relay_supply",
                                 "relay_supply_loaded", "coil_supply", "coil_supply_loaded", "coil_supply_stopped",
                                 "unit_supply_volts", "unit_earth_loaded", "coil_wire_volts_1"})
        list.push_back({steady, 0.05, 0.01, 0});
      return list;
    }();
    return all;
  }
  [[nodiscard]] const std::vector<std::pair<std::string, double>>& dead_limits() const override {
    static const std::vector<std::pair<std::string, double>> all{{"primary_peak_1", 20}, {"reserve_1", 0.5}};
    return all;
  }
  [[nodiscard]] const std::vector<std::pair<std::string, std::string>>& columns() const override {
    static const std::vector<std::pair<std::string, std::string>> all{{"battery V", "battery_cranking"},
                                                                      {"least supply V", "coil_supply_cranking_1"},
                                                                      {"supply, lamp V", "coil_supply_loaded"},
                                                                      {"unit earth V", "unit_earth_cranking"},
                                                                      {"pulse V", "pulse_peak"},
                                                                      {"primary V", "primary_peak_1"},
                                                                      {"primary A", "primary_current_1"},
                                                                      {"plug 1 kV", "plug_kilovolt_1"},
                                                                      {"reserve 1 kV", "reserve_1"},
                                                                      {"reserve 2 kV", "reserve_2"}};
    return all;
  }
  [[nodiscard]] bool meter_feels(std::string_view parameter) const override {
    return parameter == "pulse_ohm" || parameter == "primary_ohm_1" || parameter.starts_with("relay_") ||
           parameter == "fuse_ohm" || parameter == "operator_ohm" || parameter == "stop_switch_ohm";
  }
};

}  // namespace

const FamilyBench& wasted_spark_bench() {
  static const WastedSparkBench bench;
  return bench;
}

}  // namespace lostspark::spice
