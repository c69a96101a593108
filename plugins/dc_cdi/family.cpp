#include "family.hpp"

namespace lostspark::dc_cdi {

std::vector<ls_option_v1> DcCdi::options() {
  return {
      {"inhibit", "bool", "true", "",
       "a stand, neutral or brake switch that earths an input of the module, which then gives no spark"},
  };
}

DcCdi::DcCdi(const plugin::Settings& chosen) : options_{chosen.flag("inhibit")} {
  for (const auto& option : DcCdi::options()) tables_.add(option);
  add_parts(tables_, options_);
  add_links(tables_, options_);
  add_stages(tables_, options_);
  add_modes(tables_, options_);
  add_conditions(tables_, options_);
  add_tests(tables_, options_);
  add_findings(tables_, options_);
  add_words(tables_, options_);
}

void DcCdi::evaluate(int stage, const double* in, double* out) const { evaluate_stage(options_, stage, in, out); }

const char* live(const Options& options) {
  return options.inhibit ? "convert.supply_margin convert.permit_margin fire.trigger_margin"
                         : "convert.supply_margin fire.trigger_margin";
}

}  // namespace lostspark::dc_cdi

LS_PLUGIN(lostspark::dc_cdi::DcCdi, "1.0.0")
