#include "family.hpp"

namespace lostspark::outboard_cdi {

std::vector<ls_option_v1> OutboardCdi::options() {
  return {
      {"cylinders", "integer", "3", "2..3", "cylinders, each with a trigger coil, an output and an ignition coil"},
      {"start", "choice", "starter", "starter|recoil", "how the engine is turned over; sets the usual cranking speed"},
      {"limiter", "bool", "true", "", "an overheat or low-oil sensor that earths an input of the switch box"},
      {"charging", "bool", "true", "", "a battery winding and its rectifier on the same stator"},
  };
}

OutboardCdi::OutboardCdi(const plugin::Settings& chosen)
    : options_{chosen.integer("cylinders"), chosen.text("start") == "recoil", chosen.flag("limiter"),
               chosen.flag("charging")} {
  for (const auto& option : OutboardCdi::options()) tables_.add(option);
  add_parts(tables_, options_);
  add_links(tables_, options_);
  add_stages(tables_, options_);
  add_modes(tables_, options_);
  add_conditions(tables_, options_);
  add_tests(tables_, options_);
  add_findings(tables_, options_);
  add_words(tables_, options_);
}

void OutboardCdi::evaluate(int stage, const double* in, double* out) const { evaluate_stage(options_, stage, in, out); }

blocks::DischargeNames discharge_names(int cylinder) {
  blocks::DischargeNames n;
  n.suffix = "_" + std::to_string(cylinder);
  n.capacitor_volt = "charge.capacitor_volt";
  n.gate = "switch_box." + of("gate", cylinder);
  n.gate_return = "earth";
  n.ground = "switch_box.ground";
  n.coil_out = "switch_box." + of("output", cylinder);
  n.primary = of("ignition_coil", cylinder) + ".primary";
  n.coil_ground = of("ignition_coil", cylinder) + ".ground";
  n.negative = false;
  return n;
}

}  // namespace lostspark::outboard_cdi

LS_PLUGIN(lostspark::outboard_cdi::OutboardCdi, "1.0.0")
