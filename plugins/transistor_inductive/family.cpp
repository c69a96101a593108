#include "family.hpp"

namespace lostspark::transistor_inductive {

std::vector<ls_option_v1> TransistorInductive::options() {
  return {
      {"alarm", "bool", "false", "", "an alarm or immobiliser is spliced into the ignition's supply"},
  };
}

TransistorInductive::TransistorInductive(const plugin::Settings& chosen) {
  const Options options{chosen.flag("alarm")};
  for (const auto& option : TransistorInductive::options()) tables_.add(option);
  add_parts(tables_, options);
  add_links(tables_, options);
  add_stages(tables_);
  add_modes(tables_);
  add_conditions(tables_);
  add_tests(tables_, options);
  add_findings(tables_, options);
  add_words(tables_);
}

}  // namespace lostspark::transistor_inductive

LS_PLUGIN(lostspark::transistor_inductive::TransistorInductive, "1.0.0")
