#include "family.hpp"

namespace lostspark::breaker_points {

std::vector<ls_option_v0> BreakerPoints::options() {
  return {
      {"cylinders", "integer", "1", "1..8", "number of cylinders"},
      {"distributor", "bool", "false", "",
       "one coil, one set of points and a distributor; else a coil, points and condenser for each cylinder"},
      {"ballast", "bool", "false", "", "a ballast resistor before the coils, bypassed while cranking"},
  };
}

BreakerPoints::BreakerPoints(const plugin::Settings& chosen) {
  const Options options{chosen.integer("cylinders"), chosen.flag("distributor"), chosen.flag("ballast")};
  distributor_ = options.distributor;
  cylinders_ = options.cylinders;
  for (const auto& option : BreakerPoints::options()) tables_.add(option);
  add_parts(tables_, options);
  add_links(tables_, options);
  stages_ = add_stages(tables_, options);
  add_modes(tables_, options);
  add_conditions(tables_, options);
  add_tests(tables_, options);
  add_findings(tables_, options);
  add_words(tables_, options);
}

}  // namespace lostspark::breaker_points

LS_PLUGIN(lostspark::breaker_points::BreakerPoints, "1.0.0")
