#include "family.hpp"

namespace lostspark::wasted_spark {

std::array<int, 2> Options::of_pair(int pair) const {
  switch (partners) {
    case Partners::half_apart:
      return {pair, pair + pairs};
    case Partners::neighbours:
      return {2 * pair - 1, 2 * pair};
    default:
      return {pair, cylinders() + 1 - pair};
  }
}

int Options::pair_of(int cylinder) const {
  int pair = 1;
  while (of_pair(pair)[0] != cylinder && of_pair(pair)[1] != cylinder) ++pair;
  return pair;
}

std::string tower(const Options& options, int cylinder) {
  return of("ignition_coil", options.pair_of(cylinder)) + (options.side_of(cylinder) == 0 ? ".tower_a" : ".tower_b");
}

std::vector<ls_option_v1> WastedSpark::options() {
  return {
      {"pairs", "integer", "1", "1..3", "coils, each with two towers and two cylinders"},
      {"control", "choice", "unit", "unit|engine_unit",
       "a separate ignition unit fed through the run switch and a stand relay, or an engine control unit with main "
       "relay and immobiliser"},
      {"partners", "choice", "outer_inner", "outer_inner|half_apart|neighbours",
       "which cylinders share a coil: 1 with the last, 2 with the last but one; 1 with the first of the other half; 1 "
       "with 2"},
  };
}

WastedSpark::WastedSpark(const plugin::Settings& chosen) {
  options_.pairs = chosen.integer("pairs");
  options_.engine_unit = chosen.text("control") == "engine_unit";
  const auto partners = chosen.text("partners");
  options_.partners = partners == "half_apart"   ? Partners::half_apart
                      : partners == "neighbours" ? Partners::neighbours
                                                 : Partners::outer_inner;
  for (const auto& option : WastedSpark::options()) tables_.add(option);
  add_parts(tables_, options_);
  add_links(tables_, options_);
  add_stages(tables_, options_);
  add_modes(tables_, options_);
  add_conditions(tables_, options_);
  add_tests(tables_, options_);
  add_findings(tables_, options_);
  add_words(tables_, options_);
}

void WastedSpark::evaluate(int stage, const double* in, double* out) const { evaluate_stage(options_, stage, in, out); }

std::string live(const Options& options, int pair) {
  return (options.engine_unit ? "trigger.permit_margin " : "") + ("trigger.trigger_margin " + of("dwell", pair)) +
         ".supply_margin";
}
std::string ladder(const Options& options, int cylinder) {
  return live(options, options.pair_of(cylinder)) + " " + of("fire", cylinder) + ".spark_margin";
}

}  // namespace lostspark::wasted_spark

LS_PLUGIN(lostspark::wasted_spark::WastedSpark, "1.0.0")
