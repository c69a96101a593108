// Operating states, provocations, set-ups. Minutes: judgement.
#include "blocks/relay_feed.hpp"
#include "blocks/spark_plug.hpp"
#include "blocks/spark_tests.hpp"
#include "family.hpp"

namespace lostspark::coil_on_plug {
namespace {

void set(plugin::Tables& t, const char* owner, const std::string& parameter, double value) {
  blocks::effect(t, owner, LS_SET_PARAMETER, parameter.c_str(), value);
}
void scaled(plugin::Tables& t, const char* owner, const std::string& parameter, double factor) {
  blocks::effect(t, owner, LS_SCALE_PARAMETER, parameter.c_str(), factor);
}

void states(plugin::Tables& t, const Options& options) {
  t.add(ls_condition_v1{"key_off", "state", "key off", "", "engine stopped, key off", 0, LS_NEEDS_ENGINE_OFF});
  t.add(ls_condition_v1{"key_on", "state", "key on, engine stopped", "",
                        options.motorcycle() ? "key ON, run switch in RUN, stand up, neutral; off again after the reading"
                                             : "key ON, neutral or P; off again after the reading",
                        0.3,
                        LS_NEEDS_ENGINE_OFF});
  t.add(ls_condition_v1{"cranking", "state", "cranking", "",
                        options.motorcycle()
                            ? "neutral, chocks, fuel off; instrument connected with the engine still; crank 3 to 5 seconds"
                            : "neutral or P, brake, chocks, injectors unplugged; instrument connected with the engine still; "
                              "crank 3 to 5 seconds",
                        1,
                        LS_NEEDS_CRANK});
  t.add(ls_condition_v1{"idle", "state", "running at idle", "",
                        "start the engine, with a helping battery where its own is flat; let it idle", 1.5,
                        LS_NEEDS_RUNNING});
  blocks::add_provocations(
      t, options.motorcycle() ? blocks::Steering::bars : blocks::Steering::wheel,
      options.motorcycle() ? "read again after riding it under load" : "read again after driving it under load",
      "coils, wells, switches and connectors");
  blocks::add_supply_states(t, supply_settings());
  scaled(t, "condition:idle", "cranking_speed_rpm", 4.6);
  scaled(t, "condition:idle", "dwell_second", 0.7);
  for (int n = 1; n <= options.cylinders; ++n) scaled(t, "condition:idle", of("demand_volt", n), 1.2);
}

/// What a coil, its boot on it, takes along to another cylinder.
constexpr const char* k_coil_moves[] = {"primary_henry",      "primary_ohm",          "turns_ratio_one", "secondary_meter_ohm",
                                        "secondary_leak_ohm", "secondary_break_volt", "boot_ohm",        "boot_leak_ohm",
                                        "boot_break_volt"};
constexpr const char* k_plug_moves[] = {"demand_volt", "plug_leak_ohm", "plug_flash_volt", "seat_break_volt"};

template <std::size_t N>
void exchange(plugin::Tables& t, const char* owner, const char* const (&parameters)[N], int a, int b) {
  for (const char* stem : parameters)
    t.add(ls_effect_v1{owner, LS_EXCHANGE_PARAMETERS, of(stem, a).c_str(), of(stem, b).c_str(), 1});
}

/// Neighbours trade coils; plugs go half the engine further, so that the two never go the same way.
void exchanges(plugin::Tables& t, int cylinders, double open_min) {
  if (cylinders < 2) return;
  const auto coils = [&](const char* owner) {
    for (int n = 1; n + 1 <= cylinders; n += 2) exchange(t, owner, k_coil_moves, n, n + 1);
  };
  const int half = cylinders / 2;
  const auto plugs = [&](const char* owner) {
    for (int n = 1; n <= half; ++n) exchange(t, owner, k_plug_moves, n, n + half);
  };
  std::string pairs, further;
  for (int n = 1; n + 1 <= cylinders; n += 2)
    pairs += (n > 1 ? ", " : "") + std::to_string(n) + " with " + std::to_string(n + 1);
  for (int n = 1; n <= half; ++n)
    further += (n > 1 ? ", " : "") + std::to_string(n) + " with " + std::to_string(n + half);
  t.add(ls_setup_v1{"coils_exchanged", "coils exchanged",
                    ("coils with their boots trade places: " + pairs + "; fit everything again").c_str(), "", open_min + 6, 1});
  coils("setup:coils_exchanged");
  t.add(ls_setup_v1{"plugs_exchanged", "plugs exchanged",
                    ("plugs trade places: " + further + "; coils back on their own cylinders; fit everything again").c_str(),
                    "", open_min + 14, 0});
  plugs("setup:plugs_exchanged");
  if (cylinders < 4) return;
  t.add(ls_setup_v1{"coils_and_plugs_exchanged", "coils and plugs exchanged",
                    ("at one opening: coils with their boots " + pairs + "; plugs " + further +
                     "; fit everything again. What moved with the misfire is at fault; if it stays, neither is")
                        .c_str(),
                    "", open_min + 16, 1});
  coils("setup:coils_and_plugs_exchanged");
  plugs("setup:coils_and_plugs_exchanged");
}

}  // namespace

void add_conditions(plugin::Tables& t, const Options& options) {
  states(t, options);
  t.add(ls_setup_v1{"gap_tester", "gap tester on the coil",
                    "coil out of its well with its connector on, boot on the gap tester, tester earthed to the engine, away "
                    "from the plug hole; set to 12 kilovolt (about 10 mm between points in air); the same for each coil in "
                    "turn",
                    "gap_tester", 1.5, 0});
  for (int n = 1; n <= options.cylinders; ++n) {
    const auto suffix = "_" + std::to_string(n);
    blocks::add_gap_tester_effects(t, "setup:gap_tester", 12e3, suffix);
    set(t, "setup:gap_tester", of("well_leak_ohm", n), 1e10);
    const auto lamp = of("load_lamp", n);
    t.add(ls_setup_v1{lamp.c_str(), ("load lamp at coil " + std::to_string(n)).c_str(),
                      ("55 watt lamp from the supply terminal of coil " + std::to_string(n) +
                       ", probed with the connector left on, to engine metal; never to terminal 1")
                          .c_str(),
                      "", 1.5, 0});
    set(t, ("setup:" + lamp).c_str(), of("load_lamp_ohm", n), 2.6);
  }
  blocks::add_feed_lamp(t);
  t.add(ls_setup_v1{"unit_unplugged", "control unit unplugged", "key off, unplug the control unit's connector", "", 1.5, 1});
  for (int n = 1; n <= options.cylinders; ++n)
    t.add(ls_effect_v1{"setup:unit_unplugged", LS_OPEN_TERMINAL, ("control_unit." + of("driver", n)).c_str(), "", 1});
  if (options.motorcycle())
    t.add(ls_setup_v1{"stop_pressed", "run/stop switch set to stop", "set the run/stop switch to stop", "", 0.3, 0});
  else
    t.add(ls_setup_v1{"stop_pressed", "inertia cut-off tripped",
                      "trip the inertia cut-off as the maker says, and set it again afterwards", "", 1, 0});
  set(t, "setup:stop_pressed", "stop_position_ohm", 1e9);
  exchanges(t, options.cylinders, options.exchange_open_min);
}

}  // namespace lostspark::coil_on_plug
