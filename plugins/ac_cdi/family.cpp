#include "family.hpp"

namespace lostspark::ac_cdi {

std::vector<ls_option_v1> AcCdi::options() {
  return {
      {"start", "choice", "kick", "kick|recoil|starter",
       "how the engine is turned over; sets the usual cranking speed"},
      {"key_switch", "bool", "true", "", "a key switch whose OFF position earths the kill lead"},
      {"tether_switch", "bool", "true", "", "a tether, lanyard or stand switch that earths the kill lead"},
  };
}

AcCdi::AcCdi(const plugin::Settings& chosen) {
  const Options options{chosen.text("start"), chosen.flag("key_switch"), chosen.flag("tether_switch")};
  for (const auto& option : AcCdi::options()) tables_.add(option);
  add_parameters(tables_, options);
  add_parts(tables_, options);
  add_links(tables_, options);
  add_stages(tables_);
  add_modes(tables_, options);
  add_conditions(tables_);
  add_tests(tables_);
  add_cautions(tables_);
  add_complaints(tables_);
}

}  // namespace lostspark::ac_cdi

LS_PLUGIN(lostspark::ac_cdi::AcCdi, "1.0.0")
