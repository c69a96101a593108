#include "family.hpp"

namespace lostspark::coil_on_plug {

std::vector<ls_option_v1> CoilOnPlug::options() {
  return {
      {"cylinders", "integer", "4", "1..8", "cylinders, each with a coil on its plug"},
      {"crank_sensor", "choice", "inductive", "inductive|hall", "two wires and a voltage of its own, or three wires"},
      {"exchange_open_min", "integer", "10", "0..600",
       "minutes to open and to close the engine where coils or plugs trade places, on top of the work on them"},
      {"cam_sensor", "bool", "true", "", "a hall sensor at the camshaft"},
      {"stand_switch", "bool", "true", "", "a side-stand switch that the control unit asks"},
      {"tip_sensor", "bool", "true", "", "a tip-over sensor that the control unit asks"},
      {"immobiliser", "bool", "true", "", "the control unit wants a coded key"},
  };
}

CoilOnPlug::CoilOnPlug(const plugin::Settings& chosen)
    : options_{chosen.integer("cylinders"),
               chosen.text("crank_sensor") == "hall",
               chosen.integer("exchange_open_min"),
               chosen.flag("cam_sensor"),
               chosen.flag("stand_switch"),
               chosen.flag("tip_sensor"),
               chosen.flag("immobiliser")} {
  for (const auto& option : CoilOnPlug::options()) tables_.add(option);
  add_parts(tables_, options_);
  add_links(tables_, options_);
  add_stages(tables_, options_);
  add_modes(tables_, options_);
  add_conditions(tables_, options_);
  add_tests(tables_, options_);
  add_findings(tables_, options_);
  add_words(tables_, options_);
}

void CoilOnPlug::evaluate(int stage, const double* in, double* out) const {
  evaluate_stage(options_, stage, in, out);
}

std::string live(int cylinder) {
  return "start.permit_margin start.trigger_margin " + of("dwell", cylinder) + ".supply_margin";
}
std::string ladder(int cylinder) { return live(cylinder) + " " + of("fire", cylinder) + ".spark_margin"; }

}  // namespace lostspark::coil_on_plug

LS_PLUGIN(lostspark::coil_on_plug::CoilOnPlug, "1.0.0")
