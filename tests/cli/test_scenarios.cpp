// Six diagnosis cases, told step by step to the program as a script would. The cases are written for this project by
// hand (invented vehicles; readings consistent with the circuit simulations of tests/data and 'common practice, no
// source'), not made by its own bench: the model has not seen where these numbers come from.
#include "catch_all.hpp"
#include "cli/program.hpp"

#include <algorithm>
#include <nlohmann/json.hpp>

using namespace lostspark::test;
using nlohmann::json;

namespace {

struct Told {
  std::string test;
  std::string value;
};

struct Suspect {
  std::string component;
  std::string mode;  ///< empty: any of the component, they share a repair
};

struct Case {
  std::string vehicle;
  std::string complaint;
  std::vector<Told> readings;
  /// What is really wrong: these lead all others when the last reading is in.
  std::vector<Suspect> truth;
  /// Parts that never may be the advised repair on the way: dear, and innocent.
  std::vector<std::string> innocent;
  /// Advice is asked before the first reading, after every so many, and after the last: large vehicles take seconds a
  /// call.
  std::size_t ask_every = 1;
};

class Job {
 public:
  Job(const std::string& vehicle, const std::string& complaint) {
    id_ = ask({"job", "open", "--vehicle", vehicle, "--complaint", complaint})["job"];
  }
  json ask(std::vector<std::string> arguments) const {
    arguments.push_back("--json");
    const auto outcome = program_.run(arguments);
    CAPTURE(arguments, outcome.out, outcome.err);
    REQUIRE(outcome.exit_code == 0);
    return json::parse(outcome.out);
  }
  json best() const { return ask({"job", "next", id_})["advice"].at(0); }
  json suspects() const { return ask({"job", "suspects", id_})["suspects"]; }
  void tell(const Told& told) const { ask({"job", "reading", id_, told.test, told.value}); }

 private:
  Folder folder_;
  Program program_{folder_};
  std::string id_;
};

bool same(const json& suspect, const Suspect& wanted) {
  return suspect["component"] == wanted.component &&
         (wanted.mode.empty() || suspect["mode"] == wanted.component + "." + wanted.mode);
}

/// Tells the readings one by one; at each point the advice must be sensible, at the end the truth must lead.
void play(const Case& c) {
  const Job job(c.vehicle, c.complaint);
  const json vehicle = job.ask({"vehicle", "show", c.vehicle})["vehicle"];
  const auto component_of = [&](const std::string& repair) -> std::string {
    for (const auto& r : vehicle["repairs"])
      if (r["id"] == repair) return r["component"];
    return {};
  };
  int repeats = 0;
  for (std::size_t k = 0; k <= c.readings.size(); ++k) {
    if (k > 0) job.tell(c.readings[k - 1]);
    if (k % c.ask_every != 0 && k < c.readings.size()) continue;
    const json best = job.best();
    CAPTURE(k, best.dump());
    CHECK(best["kind"] != "refer");
    if (best["kind"] == "repair") {
      const std::string part = component_of(best["repair"]);
      for (const auto& innocent : c.innocent) CHECK(part != innocent);
    } else {
      // It tells something; to read a surprise once more is a step as well, but never the third time.
      CHECK(best["gain_bits"].get<double>() > 0);
      repeats += std::any_of(c.readings.begin(), c.readings.begin() + static_cast<std::ptrdiff_t>(k),
                             [&](const Told& told) { return best["test"] == told.test; });
    }
  }
  CHECK(repeats <= 1);
  const json suspects = job.suspects();
  REQUIRE(suspects.size() > c.truth.size());
  for (const auto& wanted : c.truth) {
    bool leads = false;
    for (std::size_t s = 0; s < c.truth.size(); ++s) leads |= same(suspects[s], wanted);
    CAPTURE(wanted.component, wanted.mode, suspects.dump().substr(0, 600));
    CHECK(leads);
  }
}

}  // namespace

TEST_CASE("a trail bike that dies on full left lock: the kill lead at the steering head", "[cli][end]") {
  play({"quillmarsh_trail_125",
        "cuts_steering",
        {{"spark", "none"},
         {"exciter_peak@control_module.source/steering", "below"},
         {"exciter_peak@control_module.source+kill_unplugged", "216"},
         {"kill_lead_ohm@kill_connector.kill_switch_side/steering", "0.8"},
         {"kill_lead_ohm@kill_connector.kill_switch_side", "over"}},
        {{"kill_lead", "chafed"}},
        {"control_module", "exciter_coil", "ignition_coil"}});
}

TEST_CASE("a quad whose new battery is flat again: a diode of the regulator", "[cli][end]") {
  play({"quillmarsh_utility_quad",
        "no_spark",
        {{"battery_rest@battery.plus", "11.6"},
         {"battery_cranking@battery.plus", "7.9"},
         {"spark+gap_tester+supply_bypassed", "steady"},
         {"charging@battery.plus", "12.1"},
         {"stator_phases", "uneven"},
         {"regulator_diodes", "shorted"},
         {"look_and_tug@stator_connector", "nothing_found"}},
        {{"regulator", "shorted_diode"}},
        {"control_module", "stator", "ignition_coil"}});
}

TEST_CASE("a ride-on mower parked in rain: the plug of the seat switch", "[cli][end]") {
  play({"quillmarsh_ride_mower",
        "no_spark",
        {{"spark", "none"},
         {"cranking_speed", "390"},
         {"state_walk", "all_in_run"},
         {"spark+gap_tester+kill_unplugged", "steady"},
         {"spark+gap_tester+relay_unplugged", "steady"},
         {"relay_click", "silent"},
         {"blade_switch_ohm@blade_switch.in", "0.3"},
         {"brake_switch_ohm@brake_switch.in", "0.3"},
         {"seat_switch_ohm@seat_switch.in", "0.3"},
         // Volts through the relay's coil reach the seat's plug and do not leave it.
         {"chain_relay@seat_connector.interlock_relay_side", "12.3"},
         {"chain_blade@seat_connector.blade_switch_side", "below"},
         {"look_and_tug@seat_connector", "found"}},
        {{"seat_connector", ""}},
        {"ignition_module", "flywheel"},
        3});
}

TEST_CASE("a sport four that misfires hot: the secondary of coil 3", "[cli][end]") {
  play({"quillmarsh_sport_600",
        "misfire_load",
        {{"stored_codes", "p0303"},
         {"primary_current_1/hot", "8.5"},
         {"primary_current_2/hot", "8.5"},
         {"primary_current_3/hot", "8.5"},
         {"primary_current_4/hot", "8.5"},
         {"firing_1+coils_exchanged", "irregular"},
         {"firing_3+coils_exchanged", "steady"},
         {"plug_look_3@spark_plug_3", "tan_and_dry"},
         {"look_and_tug@boot_3", "nothing_found"}},
        {{"ignition_coil_3", "secondary_leak"}},
        {"engine_unit", "ignition_coil_1", "ignition_coil_2", "ignition_coil_4"},
        3});
}

TEST_CASE("a classic twin with two faults: a loose condenser and a worn key switch", "[cli][end]") {
  play({"quillmarsh_classic_twin",
        "one_cylinder_dead",
        {{"coil_supply_volts_1@ignition_coil_1.supply", "9.6"},
         {"coil_supply_volts_2@ignition_coil_2.supply", "9.7"},
         {"key_supply@key_connector.main_fuse_side", "12.2"},
         {"stop_supply@key_connector.stop_switch_side", "9.8"},
         {"points_drop_1", "0.35"},
         {"points_drop_2", "0.12"},
         {"spark_1", "none"},
         {"spark_2", "steady"},
         {"points_fire_1@breaker_points_1", "blue_flash"},
         {"condenser_check_1@condenser_1", "open"}},
        {{"condenser_1", "open"}, {"key_switch", "worn"}},
        {"ignition_coil_1", "ignition_coil_2"},
        5});
}

TEST_CASE("an outboard that runs on two of three after washing: a pin of the trigger connector", "[cli][end]") {
  play({"quillmarsh_outboard_triple",
        "one_cylinder_misfires",
        {{"state_walk", "all_in_run"},
         {"spark_1", "steady"},
         {"spark_2", "none"},
         {"spark_3", "steady"},
         {"primary_peak_1@ignition_coil_1.primary", "205"},
         {"primary_peak_2@ignition_coil_2.primary", "below"},
         {"primary_peak_3@ignition_coil_3.primary", "201"},
         {"trigger_peak_1@trigger_connector.switch_box_side", "3.1"},
         {"trigger_peak_2@trigger_connector.switch_box_side", "0.4"},
         {"trigger_peak_3@trigger_connector.switch_box_side", "3.0"},
         {"trigger_peak_2@trigger_connector.trigger_coil_2_side", "3.2"},
         {"look_and_tug@trigger_connector", "found"}},
        {{"trigger_connector", "pin_2_corroded"}},
        {"switch_box", "trigger_coil", "ignition_coil_1", "ignition_coil_2", "ignition_coil_3"}});
}
