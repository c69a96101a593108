// Opening of a contact breaker: the coil's volts race against what the opening contact stands. Where they win the
// contact arcs, the condenser is emptied into the arc and little is left for the gap.
//
// An arc strikes or does not; a reading that jumped there could not be followed by its slope. So both courses are
// computed, with how far the race was from being lost, and what is read goes over from one to the other within a few
// percent of that margin (judgement: real contacts are not alike from one opening to the next either).
#pragma once

#include "opening_stage.hpp"

namespace lostspark::blocks {

struct ContactOpening {
  Opening standing;  ///< as if the contact stood whatever comes
  Opening arcing;    ///< as if it struck an arc where the race is closest
  /// ln(what the contact stands / volts across it), least value until the gap breaks at k_opening_fractions of
  /// standing.plug_volt; the last: gap holding.
  std::array<double, k_opening_fractions.size()> arc_margin{};
};

/// settings.limits: of the contact (contact_breaker(), scaled to its gap).
ContactOpening open_contact(const OpeningSettings& settings, const OpeningPort& port, const OpeningInputs& in);

/// Contact breaker whose greatest opening is `gap` times the usual: it opens so much faster or slower.
SwitchLimits contact_breaker(double gap);

/// How much of the arcing course is seen at this margin, 0..1.
double arcing_part(double arc_margin);

/// One value between the two courses, on a logarithmic scale; both > 0.
double between_courses(double standing, double arcing, double part);

/// What is read at this margin.
Opening seen_opening(const ContactOpening& contact, double arc_margin);

}  // namespace lostspark::blocks
