// Operating states, provocations, set-ups. Minutes: judgement.
#include "blocks/high_tension.hpp"
#include "blocks/relay_feed.hpp"
#include "blocks/spark_tests.hpp"
#include "family.hpp"

namespace lostspark::wasted_spark {
namespace {

void set(plugin::Tables& t, const std::string& owner, const std::string& parameter, double value) {
  blocks::effect(t, owner.c_str(), LS_SET_PARAMETER, parameter.c_str(), value);
}

void states(plugin::Tables& t, const Options& options) {
  t.add(ls_condition_v1{"key_off", "state", "key off", "", "engine stopped, key off", 0, LS_NEEDS_ENGINE_OFF});
  t.add(ls_condition_v1{"key_on", "state", "key on, engine stopped", "",
                        options.engine_unit
                            ? "key ON, engine stopped; off again after the reading"
                            : "key ON, run switch in RUN, stand up, neutral; off again after the reading",
                        0.3, LS_NEEDS_ENGINE_OFF});
  t.add(ls_condition_v1{
      "cranking", "state", "cranking", "",
      options.engine_unit
          ? "neutral or P, brake, chocks, injectors unplugged; instrument connected with the engine still; "
            "crank 3 to 5 seconds"
          : "neutral, chocks, fuel off; instrument connected with the engine still; crank 3 to 5 seconds",
      1, LS_NEEDS_CRANK});
  t.add(ls_condition_v1{"idle", "state", "running at idle", "",
                        "start the engine, with a helping battery where its own is flat; let it idle", 1.5,
                        LS_NEEDS_RUNNING});
  blocks::add_provocations(t, options.engine_unit ? blocks::Steering::none : blocks::Steering::bars, "read again after riding or driving it under load");
  blocks::add_supply_states(t, supply_settings());
  blocks::effect(t, "condition:idle", LS_SCALE_PARAMETER, "cranking_speed_rpm", 4);
  for (int c = 1; c <= options.cylinders(); ++c)
    blocks::effect(t, "condition:idle", LS_SCALE_PARAMETER, of("demand_volt", c).c_str(), 1.2);
}

void leads(plugin::Tables& t, const Options& options) {
  const auto coil = coil_number(options, 1);
  t.add(ls_setup_v1{"load_lamp", "load lamp fitted",
                    ("55 watt lamp from the supply terminal of coil" + coil +
                     ", probed with the connector left on, to the unit's earth pin; never to terminal 1")
                        .c_str(),
                    "", 1.5, 0});
  set(t, "setup:load_lamp", "load_lamp_ohm", 2.6);
  t.add(ls_setup_v1{"supply_bypassed", "fused lead from the battery to the coil's supply",
                    ("15 ampere fused lead from battery plus to the supply terminal of coil" + coil +
                     "; fuel off, tester at the plug lead: the key no longer stops the engine")
                        .c_str(),
                    "", 1.5, 0});
  set(t, "setup:supply_bypassed", "supply_lead_ohm", 0.05);
  t.add(ls_setup_v1{"unit_earthed", "lead from the unit's earth to the engine",
                    "lead from the unit's earth pin, probed with the connector left on, to bare engine metal", "", 1,
                    0});
  set(t, "setup:unit_earthed", "earth_lead_ohm", 0.02);
  if (options.engine_unit) {
    blocks::add_feed_lamp(t);
    return;
  }
  t.add(ls_setup_v1{"stop_bypassed", "lead across the run/stop switch",
                    "lead across the two terminals of the run/stop switch at its connector; fuel off: the switch no "
                    "longer stops the engine",
                    "", 1.5, 0});
  set(t, "setup:stop_bypassed", "stop_lead_ohm", 0.05);
  t.add(ls_setup_v1{"stop_pressed", "run/stop switch set to stop", "set the run/stop switch to stop", "", 0.3, 0});
  set(t, "setup:stop_pressed", "stop_position_ohm", 1e9);
}

/// The tester on one lead, the partner's plug in place: the loop closes through it. Or the partner's tower earthed by a
/// lead of the workshop's: what its own lead, cap and plug do no longer counts.
void testers(plugin::Tables& t, const Options& options, int cylinder) {
  const int partner = options.partner_of(cylinder);
  const auto number = std::to_string(cylinder), other = std::to_string(partner), suffix = "_" + number;
  const auto tester = of("gap_tester", cylinder), earthed = of("partner_earthed", cylinder);
  t.add(
      ls_setup_v1{tester.c_str(), ("gap tester on lead " + number).c_str(),
                  ("cap of cylinder " + number +
                   " off its plug and onto the gap tester, tester earthed to the "
                   "engine, away from the plug hole; lead " +
                   other +
                   " stays on its plug, through which the loop closes; set to 12 kilovolt (about 10 mm between points "
                   "in air)")
                      .c_str(),
                  "gap_tester", 1.5, 0});
  blocks::add_gap_tester_effects(t, ("setup:" + tester).c_str(), 12e3, suffix);
  t.add(ls_setup_v1{earthed.c_str(), ("tower of cylinder " + other + " earthed").c_str(),
                    ("plug lead " + other +
                     " off its tower, a spare plug lead from that tower to bare engine metal: lead, "
                     "cap and plug " +
                     other + " are out of the loop")
                        .c_str(),
                    "", 2, 0});
  const auto owner = "setup:" + earthed;
  for (const char* stem :
       {"tower_break_volt", "lead_break_volt", "joint_break_volt", "cap_break_volt", "seat_break_volt"})
    set(t, owner, of(stem, partner), 1);
  for (const char* stem : {"lead_flash_volt", "cap_flash_volt", "plug_flash_volt"})
    set(t, owner, of(stem, partner), 60e3);
  set(t, owner, of("demand_volt", partner), 100);
  set(t, owner, of("arc_volt", partner), 20);
  set(t, owner, of("plug_leak_ohm", partner), 1e10);
  for (const char* stem : {"tower_ohm", "lead_ohm", "ht_joint_ohm"}) set(t, owner, of(stem, partner), 1);
  set(t, owner, of("cap_ohm", partner), 100);
}

void exchange(plugin::Tables& t, const char* owner, const char* stem, int a, int b) {
  t.add(ls_effect_v1{owner, LS_EXCHANGE_PARAMETERS, of(stem, a).c_str(), of(stem, b).c_str(), 1});
}

/// Plugs of a pair trade places; coils of neighbouring pairs do, with what belongs to their towers.
void exchanges(plugin::Tables& t, const Options& options) {
  std::string words;
  for (int pair = 1; pair <= options.pairs; ++pair) {
    const auto cylinders = options.of_pair(pair);
    words += (pair > 1 ? ", " : "") + std::to_string(cylinders[0]) + " with " + std::to_string(cylinders[1]);
  }
  t.add(ls_setup_v1{"plugs_exchanged", "plugs exchanged",
                    ("plugs trade places: " + words + "; leads back on their own cylinders").c_str(), "", 12, 0});
  for (int pair = 1; pair <= options.pairs; ++pair)
    for (const char* stem : {"plug_leak_ohm", "plug_flash_volt", "seat_break_volt"})
      exchange(t, "setup:plugs_exchanged", stem, options.of_pair(pair)[0], options.of_pair(pair)[1]);
  for (int pair = 1; pair <= options.pairs; ++pair)
    exchange(t, "setup:plugs_exchanged", "demand_volt", options.of_pair(pair)[0], options.of_pair(pair)[1]);
  if (options.pairs < 2) return;
  t.add(ls_setup_v1{"coils_exchanged", "coils 1 and 2 exchanged",
                    "coils 1 and 2 trade places; every lead goes to the tower of its own cylinder again", "", 15, 1});
  for (const char* stem : {"primary_henry", "primary_ohm", "turns_ratio_one", "secondary_meter_ohm",
                           "secondary_leak_ohm", "secondary_break_volt"})
    exchange(t, "setup:coils_exchanged", stem, 1, 2);
  for (const std::size_t side : {0u, 1u})
    for (const char* stem : {"tower_leak_ohm", "tower_ohm", "tower_break_volt"})
      exchange(t, "setup:coils_exchanged", stem, options.of_pair(1)[side], options.of_pair(2)[side]);
}

}  // namespace

void add_conditions(plugin::Tables& t, const Options& options) {
  states(t, options);
  leads(t, options);
  for (int c = 1; c <= options.cylinders(); ++c) testers(t, options, c);
  exchanges(t, options);
}

}  // namespace lostspark::wasted_spark
