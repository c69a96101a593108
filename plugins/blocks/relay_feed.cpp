#include "relay_feed.hpp"

#include "supply_tests.hpp"

namespace lostspark::blocks {
namespace {
constexpr const char* k_key_on = "S07 S12 S16";
}  // namespace

void add_relay_feed(PartWriter& p) {
  p.contact("coil_fuse", "coil fuse and holder", "CON", 1, false, "30", "30", "coil_fuse_ohm", 0.01);
  p.part("main_relay", "main relay", "CON", 2, true);
  p.terminal("main_relay", "in", "30", "supply side of the contact");
  p.terminal("main_relay", "out", "87", "load side of the contact");
  p.terminal("main_relay", "coil", "86", "relay coil");
  p.terminal("main_relay", "coil_foot", "85", "relay coil, earth side");
  p.parameter("relay_contact_ohm", "ohm", 0.015, 0, "contact of the main relay, closed");
  p.parameter("relay_coil_ohm", "ohm", 90, 0, "coil of the main relay");
  p.parameter("relay_hold_volt", "volt", 5, 0.05, "volts at its coil that keep the main relay closed");
  p.ohm("relay_contact", "main_relay.in", "main_relay.out", "relay_contact_ohm");
  p.ohm("relay_coil", "main_relay.coil", "main_relay.coil_foot", "relay_coil_ohm");
  p.part("coil_splice", "splice that feeds all coils", "CON", 1);
  p.terminal("coil_splice", "in", "15", "relay side");
  p.terminal("coil_splice", "out", "15", "coils");
  p.parameter("feed_lamp_ohm", "ohm", 1e9, 0, "load lamp from the relay's load terminal to engine metal");
  p.ohm("feed_lamp", "main_relay.out", "earth", "feed_lamp_ohm");
  p.parameter("coil_splice_ohm", "ohm", 0.005, 0, "crimp of the splice");
  p.ohm("coil_splice_crimp", "coil_splice.in", "coil_splice.out", "coil_splice_ohm");
}

void add_relay_feed_modes(ModeWriter& w, const RelayFeedShares& share) {
  w.of("coil_fuse");
  w.repair("replace", "find the short, often a coil, and replace the fuse", "replace", 15, 0.9, 1);
  w.mode("blown", "blown", "replace", share.fuse, k_constant, {{"coil_fuse_ohm", 1e11, 1e11}},
         "a shorted coil or wire has opened it: no coil is fed");
  w.of("main_relay");
  w.repair("replace", "replace the main relay", "replace", 6, 0.95, 2);
  w.mode("contact_burnt", "contact burnt", "replace", share.contact, mostly(k_hot | k_shaken),
         {{"relay_contact_ohm", 0.2, 1e5}}, "it clicks, but its contact passes little or nothing");
  w.mode("does_not_pull", "coil open, does not pull", "replace", share.coil, mostly(k_hot),
         {{"relay_coil_ohm", 1e11, 1e11}, {"relay_contact_ohm", 1e11, 1e11}, scale("relay_hold_volt", 1e3, 1e3)},
         "it does not click: its coil is open");
  w.of("coil_splice");
  w.repair("mend", "cut out the splice and crimp a new one", "adjust", 20, 0.95, 1);
  w.mode("corroded", "corroded", "mend", share.splice, seen(0.6, 0.9, k_shaken | k_wet), {{"coil_splice_ohm", 0.2, 10}},
         "green copper in the crimp: every coil gets too little current");
}

void add_relay_feed_links(plugin::Tables& t, const std::string& hold, const char* hold_title,
                          const RelayFeedShares& share) {
  const auto link = [&](const char* id, const char* title, const std::string& from, const char* to, const char* carries,
                        double corroded, double open, double mild, double severe, bool stops = false) {
    t.add(ls_link_v1{id, title, from.c_str(), to, carries, "CON", corroded, open, 0, mild, severe, 50, 0.2,
                     stops ? 1 : 0});
  };
  link("relay_hold", hold_title, hold, "main_relay.coil", "supply", share.hold_wire, 0, 30, 1e5, true);
  link("relay_earth", "earth of the relay coil", "main_relay.coil_foot", "earth", "earth", 0, 0, 10, 1e3, true);
  link("fuse_feed", "supply wire to the coil fuse", "main_fuse.out", "coil_fuse.in", "supply", 0, 0, 0.2, 10);
  link("relay_feed", "supply wire of the relay contact", "coil_fuse.out", "main_relay.in", "supply", share.relay_wire,
       0, 0.2, 10);
  link("coil_feed", "coil feed, relay to splice", "main_relay.out", "coil_splice.in", "supply", share.feed_wire,
       share.feed_open, 0.2, 10);
}

void add_relay_feed_tests(plugin::Tables& t, const char* held, const char* hold_zero, const char* unit_link,
                          const char* unit_zero) {
  const auto open = [&](const char* id, const char* title, const char* link, const char* zero, const char* dead = "") {
    auto kind = steady_volts(id, title, link, "key_on");
    kind.dead_below = dead;
    kind.hook_up =
        "back-probe, black lead on bare engine metal; the coils draw nothing now, so this proves no open but never a "
        "low resistance";
    kind.low_means = "flat battery, or a joint before it that the lamps load";
    kind.zero_means = zero;
    kind.cautions = k_key_on;
    t.add(kind);
  };
  open("fuse_supply", "supply before the coil fuse", "fuse_feed", "main fuse, or open before it");
  open("relay_supply", "supply before the relay contact", "relay_feed", "a fuse, or open before this point");
  open("relay_hold_volts", "supply of the relay's coil", "relay_hold", hold_zero);
  open("feed_volts", "supply behind the relay", "coil_feed", "relay does not close, a fuse, or open before this point",
       held);
  open("unit_supply", "supply of the control unit", unit_link, unit_zero);
  auto lamp = steady_volts("feed_loaded", "supply behind the relay", "coil_feed", "key_on");
  lamp.dead_below = held;
  lamp.setups = "feed_lamp";
  lamp.hook_up = "back-probe while the lamp burns, black lead on bare engine metal";
  lamp.low_means = "fuse holder, relay contact or a joint before the relay's output";
  lamp.zero_means = "relay does not close, a fuse, or open before this point";
  lamp.cautions = k_key_on;
  t.add(lamp);
  lamp = steady_volts("relay_supply_loaded", "supply before the relay contact", "relay_feed", "key_on");
  lamp.setups = "feed_lamp";
  lamp.dead_below = held;  // the lamp burns behind the relay
  lamp.hook_up = "back-probe while the lamp burns, black lead on bare engine metal";
  lamp.low_means = "a fuse holder or a joint before the relay";
  lamp.zero_means = "lamp dark: relay, fuse, or open before this point";
  lamp.cautions = k_key_on;
  t.add(lamp);
}

void add_feed_lamp(plugin::Tables& t) {
  t.add(ls_setup_v1{"feed_lamp", "load lamp at the relay's output",
                    "55 watt lamp from the load terminal of the main relay, probed in its socket, to engine metal", "",
                    1.5, 0});
  effect(t, "setup:feed_lamp", LS_SET_PARAMETER, "feed_lamp_ohm", 2.6);
}

void add_immobiliser(PartWriter& p) {
  p.parameter("key_code_one", "one", 1e3, 0, "the coded key is read: far above 1; refused: far below");
  p.part("immobiliser", "immobiliser, aerial and key", "INH", 2, true);
}

void add_immobiliser_modes(ModeWriter& w, double share) {
  w.of("immobiliser");
  w.repair("mend", "other key, aerial, coding", "adjust", 30, 0.9, 2);
  w.mode("refuses", "does not accept the key", "mend", share, k_constant, {{"key_code_one", 1e-3, 1e-3}},
         "its lamp stays on: the unit gives neither spark nor fuel");
}

}  // namespace lostspark::blocks
