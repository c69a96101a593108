// Feed of the coils through a main relay, as control units have it: fuse, relay, splice; and the immobiliser. The key
// holds the relay; its contact is a resistance, and whether it is held is a margin of the family's own stage, since a
// relay is not linear.
#pragma once

#include <string>

#include "tables.hpp"

namespace lostspark::blocks {

/// Components coil_fuse, main_relay (in, out, coil, coil_foot) and coil_splice with their parameters; the load lamp at
/// the relay's output.
void add_relay_feed(PartWriter& p);

/// Shares per 1000 ignition complaints of the family.
struct RelayFeedShares {
  double fuse = 0, contact = 0, coil = 0, splice = 0;
  double hold_wire = 0, relay_wire = 0, feed_wire = 0, feed_open = 0;  ///< of the links
};
void add_relay_feed_modes(ModeWriter& w, const RelayFeedShares& share);
/// Links relay_hold (from `hold`, "stop_switch.out"), relay_earth, fuse_feed, relay_feed and coil_feed.
void add_relay_feed_links(plugin::Tables& t, const std::string& hold, const char* hold_title,
                          const RelayFeedShares& share);

/// The feed with nothing drawn, and with the set-up feed_lamp. held: margin of the relay's hold. unit_link: supply wire
/// of the unit. hold_zero: what no volts at the relay's coil mean.
void add_relay_feed_tests(plugin::Tables& t, const char* held, const char* hold_zero, const char* unit_link,
                          const char* unit_zero);
void add_feed_lamp(plugin::Tables& t);

/// Component immobiliser, parameter key_code_one (far above 1: the key is read).
void add_immobiliser(PartWriter& p);
void add_immobiliser_modes(ModeWriter& w, double share);

}  // namespace lostspark::blocks
