// The three stages of a capacitor's discharge as a family's tables hold them: `transfer` (gains per volt), `fire` (what
// is there against what is needed) and `spark` (for the report). One set per cylinder; the block stages do the physics.
#pragma once

#include <cstddef>
#include <string>

#include "discharge_stage.hpp"
#include "lostspark_plugin.hpp"

namespace lostspark::blocks {

/// Where the stages of one cylinder get what they take.
struct DischargeNames {
  std::string suffix;  ///< "_2": of the stages, of the coil's, lead's and plug's parameters, of module_output_ohm
  std::string capacitor_volt;     ///< "charge.capacitor_volt": output of the stage that charges
  std::string gate, gate_return;  ///< terminals of the pulse input
  std::string coil_out = "control_module.coil_out", primary = "ignition_coil.primary",
              coil_ground = "ignition_coil.ground";
  std::string ground = "control_module.ground";
  /// A battery feeds the module, so that its earth carries current before anything fires: volts at the earths are then
  /// the true ones, the discharge on top of the standing lift. Else they count in the polarity of the primary's pulse.
  bool on_battery = false;
  bool negative = true;  ///< polarity of the pulse, for the descriptions
};

/// Parameters of the tables that every cylinder has: primary_henry, primary_ohm, turns_ratio_one, secondary_ohm,
/// secondary_meter_ohm, secondary_leak_ohm, secondary_break_volt, module_output_ohm; lead, cap and plug are
/// add_high_tension()'s. Component ignition_coil (primary, ground, ht) with its windings for an ohmmeter.
struct CoilSettings {
  std::string suffix, title = "ignition coil";
  double primary_henry = 0.35e-3, primary_ohm = 0.3, turns = 70, secondary_ohm = 4000;
};
void add_discharge_coil(plugin::Tables& t, const CoilSettings& settings);
/// What all cylinders share: capacitor_farad, coupling_one, meter_rise_second, earth_lead_henry.
void add_discharge_parameters(plugin::Tables& t, double capacitor_farad);

/// Shares per 1000 complaints of one coil.
struct CoilShares {
  double open_primary, shorted_primary, open_secondary, secondary_leak, wrong_part;
};
/// number: " 2" for titles; "" for the only one.
void add_discharge_coil_modes(plugin::Tables& t, const CoilShares& shares, const std::string& suffix = "",
                              const std::string& number = "");

/// Stages transfer and fire.
void add_discharge_stages(plugin::Tables& t, const DischargeNames& names);
/// Stage spark, report only.
void add_discharge_report(plugin::Tables& t, const DischargeNames& names);

void evaluate_transfer(const double* in, double* out);
void evaluate_fire(const double* in, double* out, bool on_battery);
void evaluate_spark(const double* in, double* out);

/// Throws plugin::Refusal naming the stage where one of the first `count` inputs is not more than zero.
void need_positive(const double* in, std::size_t count, const char* stage);

}  // namespace lostspark::blocks
