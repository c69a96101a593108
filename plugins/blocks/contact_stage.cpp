#include "contact_stage.hpp"

#include <algorithm>
#include <cmath>

#include "laws.hpp"

namespace lostspark::blocks {
namespace {

constexpr double k_goes_over = 0.01;  // width of the margin within which one course goes over into the other
constexpr double k_forced = 0.98;  // the arcing course strikes where the volts reach this part of the closest approach

/// The larger of two positive values with a rounded corner.
double larger(double a, double b) { return a * b / lesser(a, b); }

}  // namespace

SwitchLimits contact_breaker(double gap) {
  auto limits = contact_breaker();
  limits.arc_rise *= gap;
  limits.arc_rise_beyond *= gap;
  return limits;
}

double arcing_part(double arc_margin) { return 1 / (1 + std::exp(arc_margin / k_goes_over)); }

double between_courses(double standing, double arcing, double part) {
  return std::exp((1 - part) * std::log(standing) + part * std::log(arcing));
}

ContactOpening open_contact(const OpeningSettings& settings, const OpeningPort& port, const OpeningInputs& in) {
  auto standing = settings;
  standing.limits.arc_start_volt = standing.limits.arc_knee_volt = 1e9;
  standing.limits.arc_rise = standing.limits.arc_rise_beyond = 0;
  standing.watched = &settings.limits;
  ContactOpening out;
  out.standing = open_coil(standing, port, in);
  for (std::size_t f = 0; f < k_opening_fractions.size(); ++f)
    out.arc_margin[f] = std::log(out.standing.stands_at_break[f]);
  if (arcing_part(out.arc_margin.back()) < 1e-6) {
    out.arcing = out.standing;
    return out;
  }
  auto arcing = settings;
  const double forced = std::min(1.0, k_forced * std::exp(-out.arc_margin.back()));
  for (double* volt : {&arcing.limits.arc_start_volt, &arcing.limits.arc_knee_volt, &arcing.limits.arc_rise,
                       &arcing.limits.arc_rise_beyond})
    *volt *= forced;
  out.arcing = open_coil(arcing, port, in);
  // The arc burns for milliseconds, until the current is down to what keeps it; what is left then swings once more,
  // against a contact that is wide open by now. A peak meter and the gap take the larger of the two.
  auto rest = in;
  standing.watched = nullptr;
  rest.current = lesser(in.current, settings.limits.arc_least_ampere);
  rest.held_volt = settings.limits.arc_volt;
  rest.driven = false;
  const auto last = open_coil(standing, port, rest);
  for (double Opening::*crest :
       {&Opening::plug_volt, &Opening::tower_volt, &Opening::switch_volt, &Opening::switch_raw, &Opening::body_ampere})
    out.arcing.*crest = larger(out.arcing.*crest, last.*crest);
  out.arcing.tower_at_break = last.tower_at_break;
  for (std::size_t f = 0; f < k_opening_fractions.size(); ++f)
    out.arcing.switch_at_break[f] = larger(out.arcing.switch_at_break[f], last.switch_at_break[f]);
  return out;
}

Opening seen_opening(const ContactOpening& contact, double arc_margin) {
  const double part = arcing_part(arc_margin);
  const auto mix = [part](double standing, double arcing) { return between_courses(standing, arcing, part); };
  const auto &s = contact.standing, &a = contact.arcing;
  Opening seen;
  seen.plug_volt = mix(s.plug_volt, a.plug_volt);
  seen.tower_volt = mix(s.tower_volt, a.tower_volt);
  seen.switch_volt = mix(s.switch_volt, a.switch_volt);
  seen.switch_raw = mix(s.switch_raw, a.switch_raw);
  seen.body_ampere = mix(s.body_ampere, a.body_ampere);
  seen.arcs = part;
  for (std::size_t f = 0; f < k_opening_fractions.size(); ++f) {
    seen.tower_at_break[f] = mix(s.tower_at_break[f], a.tower_at_break[f]);
    seen.switch_at_break[f] = mix(s.switch_at_break[f], a.switch_at_break[f]);
  }
  return seen;
}

}  // namespace lostspark::blocks
