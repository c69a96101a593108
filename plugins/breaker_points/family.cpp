#include "family.hpp"

namespace lostspark::breaker_points {
namespace {

/// Parts and repairs of one cylinder say which: "replace the condenser, cylinder 2".
void name_cylinders(plugin::Tables& t) {
  const auto cylinder_of = [](const char* component) -> std::string {
    const std::string id = component;
    const auto at = id.size() < 2 ? std::string::npos : id.size() - 2;
    return at != std::string::npos && id[at] == '_' && id[at + 1] >= '1' && id[at + 1] <= '9' ? id.substr(at + 1) : "";
  };
  const auto named = [&](const char* title, const std::string& cylinder) {
    return t.keep(std::string(title) + ", cylinder " + cylinder);
  };
  for (auto& c : t.components)
    if (const auto n = cylinder_of(c.id); !n.empty()) c.title = named(c.title, n);
  for (auto& r : t.repairs)
    if (const auto n = cylinder_of(r.component); !n.empty() && std::string(r.title).find(" " + n) == std::string::npos)
      r.title = named(r.title, n);  // where a shared block has not named it yet
}

}  // namespace

std::vector<ls_option_v1> BreakerPoints::options() {
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
  if (options.distributor) add_distributor_tests(tables_, options);
  add_words(tables_, options);
  name_cylinders(tables_);
}

}  // namespace lostspark::breaker_points

LS_PLUGIN(lostspark::breaker_points::BreakerPoints, "1.0.0")
