#include "family.hpp"

namespace lostspark::flywheel_magneto {

std::vector<ls_option_v1> FlywheelMagneto::options() {
  return {
      {"switching", "choice", "module", "points|module",
       "what interrupts the primary current: points with a condenser under the flywheel, or a module that holds coil "
       "and switch in one block"},
      {"start", "choice", "recoil", "recoil|kick|starter",
       "how the engine is turned over; starter: battery, starter and charging come with it"},
      {"stop", "choice", "switch", "switch|lever|key|interlock",
       "what earths the kill wire: a switch, a control lever let go, a key turned off; interlock: the key, and a relay "
       "that earths it unless seat, blade and brake switch close its circuit (battery and starter come with it)"},
      {"low_oil", "bool", "false", "", "a switch in the sump earths the kill wire when the oil is low"},
  };
}

FlywheelMagneto::FlywheelMagneto(const plugin::Settings& chosen) {
  Options o;
  o.points = chosen.text("switching") == "points";
  o.interlock = chosen.text("stop") == "interlock";
  o.stop = o.interlock ? "key" : chosen.text("stop");
  o.start = o.interlock ? "starter" : chosen.text("start");  // the battery holds the relay
  o.low_oil = chosen.flag("low_oil");
  points_ = o.points;
  starter_ = o.starter();
  for (const auto& option : FlywheelMagneto::options()) tables_.add(option);
  add_parts(tables_, o);
  add_links(tables_, o);
  stages_ = add_stages(tables_, o);
  add_modes(tables_, o);
  add_conditions(tables_, o);
  add_tests(tables_, o);
  add_findings(tables_, o);
  add_words(tables_, o);
}

}  // namespace lostspark::flywheel_magneto

LS_PLUGIN(lostspark::flywheel_magneto::FlywheelMagneto, "1.0.0")
