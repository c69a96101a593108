#include "interlock.hpp"

namespace lostspark::blocks {

void add_interlock(plugin::Tables& t, const InterlockSettings& s) {
  PartWriter p(t);
  ModeWriter w(t);
  p.part("interlock_relay", "stand relay", "INH", 2, true);
  p.terminal("interlock_relay", "in", "30", "supply side");
  p.terminal("interlock_relay", "contact", "", "inside");
  p.terminal("interlock_relay", "out", "87", "load side");
  p.parameter("relay_contact_ohm", "ohm", 0.02, 0.3, "contact of the stand relay, closed");
  p.parameter("operator_ohm", "ohm", 1e-3, 0, "whatever switch was left in its stop position");
  p.ohm("relay_contact", "interlock_relay.in", "interlock_relay.contact", "relay_contact_ohm");
  p.ohm("operator_contact", "interlock_relay.contact", "interlock_relay.out", "operator_ohm");
  w.of("interlock_relay");
  w.repair("replace", "replace the stand relay or its diode block", "replace", 10, 0.95, 2);
  w.mode("contact_burnt", "contact burnt", "replace", s.relay_share * 0.6, mostly(k_shaken),
         {{"relay_contact_ohm", 0.4, 1e6}}, "it clicks, but its contact passes little or nothing");
  w.mode("does_not_pull", "coil or diode open", "replace", s.relay_share * 0.4, k_constant,
         {{"relay_contact_ohm", 1e11, 1e11}}, "it does not click: its coil or the diode before it is open");

  p.part("side_stand_switch", "side-stand switch", "INH", 2, true);
  p.terminal("side_stand_switch", "hot", "", "relay side");
  p.terminal("side_stand_switch", "foot", "31", "earth side");
  p.parameter("stand_switch_ohm", "ohm", 0.3, 0.3, "side-stand switch, stand up");
  p.ohm("stand_contact", "side_stand_switch.hot", "side_stand_switch.foot", "stand_switch_ohm");
  w.of("side_stand_switch");
  w.repair("clean", "clean, adjust or replace the side-stand switch", "adjust", 15, 0.93, 2);
  w.mode("open", "open or wet, stand up", "clean", s.stand_share, seen(0.7, 0.95, k_wet | k_shaken),
         {{"stand_switch_ohm", 1e3, 1e8}, {"relay_contact_ohm", 1e11, 1e11}},
         "dirt, water or a bent tongue keeps it open: the relay believes the stand is down");

  p.part("neutral_switch", "neutral or clutch switch", "INH", 2, true);
  p.terminal("neutral_switch", "hot", "", "relay side");
  p.parameter("neutral_switch_ohm", "ohm", 0.3, 0.3, "neutral switch, in neutral");
  p.ohm("neutral_contact", "neutral_switch.hot", "earth", "neutral_switch_ohm");
  w.of("neutral_switch");
  w.repair("adjust", "adjust or replace the neutral or clutch switch", "adjust", 15, 0.93, 2);
  w.mode("open", "open in neutral", "adjust", s.neutral_share, seen(0.5, 0.5, 0),
         {{"neutral_switch_ohm", 1e3, 1e8}, {"relay_contact_ohm", 1e11, 1e11}},
         "with the stand down nothing holds the relay any more; stand up it works");

  p.part("operator_state", "key, run switch, stand or gear left wrong", "INH", 1, true, LS_COMPONENT_OPERATOR);
  w.of("operator_state");
  w.repair("set_right", "set the switch right and show the user", "adjust", 1, 0.98, 0);
  w.mode("left_off", "left off", "set_right", s.operator_share, k_constant, {{"operator_ohm", 1e11, 1e11}},
         "run switch in stop, stand down in gear, clutch not pulled");
}

void add_interlock_tests(plugin::Tables& t) {
  const auto ohms = [&](const char* id, const char* title, const char* subject, const char* against,
                        const char* hook_up) {
    t.add(ls_test_kind_v1{.id = id,
                          .title = title,
                          .reads = LS_READS_OHMS,
                          .unit = "ohm",
                          .subject = subject,
                          .against = against,
                          .condition = "key_off",
                          .instrument = "ohmmeter",
                          .log_sd = 0.10,
                          .minutes = 3,
                          .mistaken = 0.03,
                          .hook_up = hook_up,
                          .high_means = "open, wet or out of adjustment: operate it and see that it changes fully",
                          .cautions = "S10"});
  };
  ohms("stand_switch_ohm", "side-stand switch, stand up", "side_stand_switch.hot", "side_stand_switch.foot",
       "its connector unplugged, stand up, then down and up again");
  ohms("neutral_switch_ohm", "neutral switch, in neutral", "neutral_switch.hot", "earth",
       "its lead off, neutral engaged, then a gear");

  const auto kind = [&](const char* id, const char* title, const char* condition, double minutes, const char* place,
                        const char* how, const char* first, double clear) {
    t.add(ls_test_kind_v1{.id = id,
                          .title = title,
                          .reads = LS_READS_FINDING,
                          .unit = "word",
                          .condition = condition,
                          .instrument = "eyes",
                          .minutes = minutes,
                          .mistaken = 0.02,
                          .place = place,
                          .hook_up = how,
                          .cautions = "S12"});
    t.add(ls_finding_v1{id, "", first, clear});
  };
  const auto row = [&](const char* test, const char* mode, const char* word, double probability) {
    t.add(ls_finding_v1{test, mode, word, probability});
  };
  kind("state_walk", "state walk", "key_off", 1, "operator_state",
       "key ON, run switch in RUN, stand up, neutral, clutch pulled, fuel tap, choke, fuse, plug cap on", "all_in_run",
       0.98);
  row("state_walk", "operator_state.left_off", "left_off", 0.9);
  row("state_walk", "other.fault", "tap_or_choke", 0.35);
  kind("relay_click", "click of the stand relay", "key_on", 1.5, "interlock_relay",
       "key ON, neutral, then in gear with the clutch pulled: the relay clicks as the stand goes up and down", "clicks",
       0.97);
  row("relay_click", "interlock_relay.does_not_pull", "silent", 0.95);
  row("relay_click", "side_stand_switch.open", "silent", 0.9);
  row("relay_click", "neutral_switch.open", "silent_in_neutral", 0.9);
}

}  // namespace lostspark::blocks
