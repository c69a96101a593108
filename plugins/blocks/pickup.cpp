#include "pickup.hpp"

#include <cmath>

namespace lostspark::blocks {

double pickup_gap_factor(double gap_metre, double healthy_metre) {
  return std::exp((healthy_metre - gap_metre) / 0.8e-3);
}

void add_pickup(plugin::Tables& t, const PickupSettings& s, const char* unit, const char* speed) {
  PartWriter p(t);
  p.parameter("pulse_emf_volt", "volt", s.emf_volt, 0.25,
              "pulse coil EMF peak at the usual cranking speed: magnet, air gap, turns");
  p.parameter("pulse_hertz", "hertz", s.hertz, 0, "of the half-wave that the pulse stands for, at that speed");
  p.parameter("pulse_ohm", "ohm", s.ohm, 0.05, "pulse winding");
  p.parameter("pulse_henry", "henry", s.henry, 0, "pulse winding");
  p.parameter("pulse_foot_ohm", "ohm", 0.02, 0, "pulse coil's foot riveted to the engine");
  p.parameter("gate_input_ohm", "ohm", s.input_ohm, 0, "control unit's input between its two pulse pins");
  p.parameter("gate_threshold_volt", "volt", s.threshold_volt, 0.10, "pulse volts at the unit that it answers to");

  p.part(s.component, s.title.c_str(), "TRG", 3);
  p.terminal(s.component, "hot", "", "pulse output");
  p.terminal(s.component, "foot", "31", "other end, riveted to the engine");
  const std::string module = unit;
  p.terminal(module, "gate", "", "pulse input");
  p.terminal(module, "gate_return", "", "return of the pulse input");
  const std::string hot = s.component + ".hot", foot = s.component + ".foot";
  t.add(ls_element_v1{"pulse_winding", hot.c_str(), foot.c_str(), "pulse_ohm", "pulse_henry", "pulse_emf_volt",
                      "pulse_hertz", speed, k_always});
  p.ohm("pulse_foot", foot, "earth", "pulse_foot_ohm");
  p.ohm("gate_input", module + ".gate", module + ".gate_return", "gate_input_ohm");

  ModeWriter w(t);
  w.of(s.component);
  w.repair("replace", ("replace the " + s.title).c_str(), "replace", 35, 0.95, 3);
  w.repair("adjust", ("clean the " + s.title + " and set its air gap").c_str(), "adjust", 25, 0.93, 1);
  w.mode("open_winding", "open winding", "replace", s.open_share, k_constant, {{"pulse_ohm", 1e11, 1e11}},
         "the wire is broken inside the winding");
  w.mode("weak", "shorted turns, weak", "replace", s.weak_share, k_constant,
         {scale("pulse_emf_volt", 0.6, 0.06), scale("pulse_ohm", 0.9, 0.4), scale("pulse_henry", 0.7, 0.1)},
         "shorted turns: ohms and volts are low at every speed");
  w.mode("wide_gap", "air gap too wide or debris in it", "adjust", s.gap_share, k_constant,
         {scale("pulse_emf_volt", pickup_gap_factor(1.1e-3), pickup_gap_factor(3.1e-3))},
         "ohms are right, volts are low: the lug passes too far away");
  w.mode("opens_hot", "opens when hot", "replace", s.hot_share, intermittent(k_hot), {{"pulse_ohm", 1e4, 2e7}},
         "a cracked wire parts as the coil warms");
}

}  // namespace lostspark::blocks
