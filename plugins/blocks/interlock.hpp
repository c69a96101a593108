// Interlock of a motorcycle that interrupts the ignition's supply: a relay, held by the side-stand switch or, in
// neutral, by the neutral switch. A linear network knows no relay: a switch that fails opens the relay's contact by its
// mode.
#pragma once

#include "tables.hpp"

namespace lostspark::blocks {

struct InterlockSettings {
  double relay_share = 0, stand_share = 0, neutral_share = 0, operator_share = 0;
};

/// Components interlock_relay (in, out), side_stand_switch (hot, foot), neutral_switch (hot), operator_state.
void add_interlock(plugin::Tables& t, const InterlockSettings& settings);

/// Tests and findings of it: resistances of the two switches, state walk, relay's click. Id of the state: key_off,
/// key_on.
void add_interlock_tests(plugin::Tables& t);

}  // namespace lostspark::blocks
