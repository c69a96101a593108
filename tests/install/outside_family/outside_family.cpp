// A small but whole family, written against the installed SDK only: a hand-turned magneto with one plug and a kill
// switch. Its numbers are invented for the test of the SDK.
#include <lostspark_plugin.hpp>

#include <cmath>

namespace {

using lostspark::plugin::Settings;

class HandMagneto : public lostspark::plugin::Family {
 public:
  static constexpr const char* k_id = "outside_family";
  static constexpr const char* k_title = "hand-turned magneto";
  static constexpr const char* k_description = "demonstrates a family built outside the repository";

  static std::vector<ls_option_v1> options() {
    return {{"kill_switch", "bool", "true", "", "a switch that earths the primary"}};
  }

  explicit HandMagneto(const Settings& chosen) {
    tables_.add(ls_parameter_v1{"source_volt", "volt", "volts at the primary, nothing connected", 180, 0.12, 0.2, 0});
    tables_.add(ls_parameter_v1{"source_ohm", "ohm", "resistance of the source", 60, 0, 0, 0});
    tables_.add(ls_parameter_v1{"turns_ratio_one", "one", "secondary over primary turns", 80, 0.05, 0, 0});
    tables_.add(ls_parameter_v1{"required_volt", "volt", "demand of the plug gap", 6000, 0.2, 0, 0});
    tables_.add(ls_parameter_v1{"kill_contact_ohm", "ohm", "open in the run position", 1e8, 0, 0, 0});

    tables_.add(ls_component_v1{"magneto", "magneto", "SRC", LS_COMPONENT_PART, 3, 0});
    tables_.add(ls_component_v1{"spark_plug", "spark plug", "PLG", LS_COMPONENT_PART, 1, 0});
    tables_.add(ls_terminal_v1{"magneto", "primary", "1", "primary"});
    if (chosen.flag("kill_switch")) {
      tables_.add(ls_component_v1{"kill_switch", "kill switch", "INH", LS_COMPONENT_PART, 2, 1});
      tables_.add(ls_terminal_v1{"kill_switch", "kill", "2", "kill terminal"});
      tables_.add(ls_element_v1{"kill_contact", "kill_switch.kill", "earth", "kill_contact_ohm", "", "", "", "",
                                LS_IN_OHM_TESTS | LS_IN_RUNNING});
      tables_.add(ls_link_v1{"kill_lead", "kill lead", "magneto.primary", "kill_switch.kill", "inhibit", "CON", 0, 20,
                             80, 1, 10, 100, 0.2, 1});
      tables_.add(ls_repair_v1{"replace", "kill_switch", "replace the kill switch", "replace", 15, 0.95, 2});
      tables_.add(ls_mode_v1{"stuck",
                             "kill_switch",
                             "stuck to earth",
                             "",
                             "replace",
                             300,
                             {1, 1, 1, 1, 1, 1},
                             "the contact stays closed"});
      tables_.add(ls_change_v1{"kill_switch.stuck", "kill_contact_ohm", LS_SET, 5, 0.2});
    }

    tables_.add(ls_repair_v1{"replace", "magneto", "replace the magneto", "replace", 30, 0.97, 3});
    tables_.add(ls_mode_v1{"weak", "magneto", "weak magnets", "", "replace", 200, {1, 1, 1, 1, 1, 1}, "volts are low"});
    tables_.add(ls_change_v1{"magneto.weak", "source_volt", LS_SCALE, 0.7, 0.2});
    tables_.add(ls_repair_v1{"replace", "spark_plug", "replace the plug", "replace", 8, 0.98, 1});
    tables_.add(ls_mode_v1{
        "wide_gap", "spark_plug", "gap too wide", "", "replace", 400, {1, 1, 1, 1, 1, 1}, "the electrodes are worn"});
    tables_.add(ls_change_v1{"spark_plug.wide_gap", "required_volt", LS_SCALE, 1.3, 3});

    tables_.add(ls_condition_v1{"cranking", "state", "cranking", "", "turn the magneto briskly", 0.5, LS_NEEDS_CRANK});
    tables_.stage("spark", "spark");
    tables_.input(LS_INPUT_PARAMETER, "source_volt");
    tables_.input(LS_INPUT_PARAMETER, "source_ohm");
    tables_.input(LS_INPUT_PARAMETER, "turns_ratio_one");
    tables_.input(LS_INPUT_PARAMETER, "required_volt");
    tables_.input(LS_INPUT_TERMINAL, "magneto.primary");
    tables_.output("primary_volts", LS_OUTPUT_TERMINAL_VOLTS, "volt", "peak at the primary", "magneto.primary");
    tables_.output("margin", LS_OUTPUT_MARGIN, "one", "log of available over required");

    ls_test_kind_v1 spark{};
    spark.id = "spark_at_plug";
    spark.title = "spark at the plug";
    spark.reads = LS_READS_MARGIN_WORD;
    spark.unit = "word";
    spark.subject = "spark.margin";
    spark.condition = "cranking";
    spark.instrument = "gap_tester";
    spark.minutes = 3;
    spark.mistaken = 0.03;
    spark.cautions = "S09";
    tables_.add(spark);
    tables_.add(
        ls_caution_v1{"S09", "NOTICE", "cranking with an open secondary destroys the coil", "fit a gap tester", 0});
    tables_.add(ls_complaint_v1{"no_spark", "no spark", "spark.margin", "", "none", "FUE=0.1 CMP=0.1 AIR=0.1"});
  }

  /// The primary as a divider of the source and the harness; the secondary by the turns.
  void evaluate(int, const double* in, double* out) const override {
    const double conductance = in[4];  // siemens to earth seen at the primary
    const double primary = in[0] / (1 + in[1] * conductance);
    out[0] = primary;
    out[1] = std::log(primary * in[2] / in[3]);
  }
};

}  // namespace

LS_PLUGIN(HandMagneto, "1.0.0")
