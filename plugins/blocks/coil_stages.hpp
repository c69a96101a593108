// Stages of a coil whose primary current a contact or a transistor interrupts, as families' tables hold them: `opening`
// (what the current makes), `fire` (what is there against what is needed), `peak` (crest on the primary) and `spark`
// (for the report). What differs between families is how the inputs of a Swing are listed; the rest is written here
// once.
#pragma once

#include <string>

#include "contact_stage.hpp"
#include "inductive_firing.hpp"
#include "lostspark_plugin.hpp"

namespace lostspark::blocks {

/// A stage's inputs, one after the other; parameters and outputs must be above zero.
class StageIn {
 public:
  StageIn(const double* at, const char* stage) : at_(at), first_(at), stage_(stage) {}
  /// Throws plugin::Refusal naming the stage where it is not more than zero.
  double positive();
  double any() { return *at_++; }
  [[nodiscard]] const double* rest() const { return at_; }

 private:
  const double *at_, *first_;
  const char* stage_;
};

/// A stage's outputs, one after the other.
class StageOut {
 public:
  explicit StageOut(double* at) : at_(at) {}
  void put(double value) { *at_++ = value; }
  void positive(double value) { *at_++ = value > k_nothing ? value : k_nothing; }

 private:
  static constexpr double k_nothing = 1e-9;
  double* at_;
};

/// Coil, switch and high tension of one cylinder, and the loop they work in.
struct Swing {
  OpeningSettings settings;
  OpeningInputs in;
  PrimaryLoop<k_loop_terminals> loop;
  OpeningPort port;
};

/// Gaps in series and where the insulation gives way first.
struct Needs {
  double demand = 0, breaks = 0, flash = 0;
};
/// Demand, then so many gaps in series, then so many flash-overs.
Needs read_needs(StageIn& in, int breaks, int flashes);

/// A transistor's opening in the form of a contact's: it clamps and never arcs.
ContactOpening open_clamped(const OpeningSettings& settings, const OpeningPort& port, const OpeningInputs& in);

// ---------------------------------------------------------------------------------------------- opening, fire
void put_contact(StageOut& out, const ContactOpening& contact);
ContactOpening take_contact(StageIn& in);
/// Outputs of put_contact(). switch_title: "points", "module".
void add_contact_outputs(plugin::Tables& t, const char* switch_title);
/// Inputs of take_contact(): all outputs of that opening.
void add_contact_inputs(plugin::Tables& t, const std::string& opening);

/// clamp_ampere: what a clamp on the lead shows.
void evaluate_fire(const ContactOpening& contact, const Needs& needs, StageOut& out, double clamp_ampere = 0.03);
void add_fire_outputs(plugin::Tables& t);

// ---------------------------------------------------------------------------------------------- peak
struct CrestInputs {
  double current = 0, jump_volt = 0, arcing_part = 0;
  double plug_volt = 0, standing_volt = 0, arcing_volt = 0;
};
CrestInputs take_crest(StageIn& in);
void add_crest_inputs(plugin::Tables& t, const std::string& current, const std::string& fire,
                      const std::string& opening);
/// Crest across the switch as the meter shows it: a contact has no clamp, so that when the gap breaks the coil's stray
/// inductance rings on, higher than before.
double crest(const CrestInputs& in, Swing swing);

// ---------------------------------------------------------------------------------------------- spark
void evaluate_spark(const Swing& swing, const Needs& needs, double arc_volt, double timing_shift, StageOut& out);
void add_spark_outputs(plugin::Tables& t);

}  // namespace lostspark::blocks
