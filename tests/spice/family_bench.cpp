#include "spice/family_bench.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <stdexcept>

#include "spice/deck.hpp"

namespace lostspark::spice {

std::vector<std::string> FamilyBench::unplugs(std::string_view) const { return {}; }
bool FamilyBench::blind_to_gap(std::string_view) const { return false; }
double FamilyBench::spark_time_relative() const { return 0.15; }
std::vector<OhmPart> FamilyBench::ohm_parts(const Situation&) const { return {}; }

std::string FamilyBench::ohm_deck(const Situation& s, const std::string& a, const std::string& b) const {
  Deck deck("ohmmeter");
  int number = 0;
  for (const auto& part : ohm_parts(s)) {
    if (!s.value.contains(part.parameters.front())) continue;
    double ohm = 0;
    for (const auto& parameter : part.parameters) ohm += s.value.at(parameter);
    deck.resistor(fmt::format("part_{}", ++number), part.a, part.b, ohm * part.scale);
  }
  add_joints(deck, s, [](const std::string& point) { return point; });
  add_ohmmeter(deck, a, b);
  return deck.text();
}

std::vector<OhmPart> lead_ohm_parts(const std::string& suffix) {
  const auto lead = "ht_lead" + suffix, cap = "plug_cap" + suffix;
  return {{lead + ".coil_end", lead + ".cap_end", {"lead_ohm" + suffix}},
          {lead + ".cap_end", cap + ".lead_end", {"ht_joint_ohm" + suffix}},
          {cap + ".lead_end", cap + ".plug_end", {"cap_ohm" + suffix}}};
}

bool FamilyBench::fires_cylinder_one() const { return false; }
bool FamilyBench::answers(std::string_view) const { return true; }

const FamilyBench& family_bench(std::string_view family) {
  if (family == "ac_cdi") return ac_cdi_bench();
  if (family == "transistor_inductive") return transistor_inductive_bench();
  if (family == "breaker_points") return breaker_points_bench();
  if (family == "coil_on_plug") return coil_on_plug_bench();
  if (family == "dc_cdi") return dc_cdi_bench();
  if (family == "outboard_cdi") return outboard_cdi_bench();
  if (family == "wasted_spark") return wasted_spark_bench();
  throw std::runtime_error(fmt::format("tests/spice has no decks for family '{}'", family));
}

void add_joints(Deck& deck, const Situation& s, const std::function<std::string(const std::string&)>& end) {
  for (const auto& j : s.harness.joints) deck.resistor("h_" + j.name, end(j.a), end(j.b), j.ohm);
  for (std::size_t k = 0; k < s.shunts.size(); ++k)
    deck.resistor(fmt::format("chafed_{}", k), end(s.shunts[k].point), "earth", s.shunts[k].ohm);
}

void add_joints_behind_leads(Deck& deck, const Situation& s, const std::vector<std::string>& tags, double henry) {
  add_joints(deck, s, [&](const std::string& point) {
    const bool tag = std::find(tags.begin(), tags.end(), point) != tags.end();
    return henry > 0 && tag ? point + ".lead" : point;
  });
  if (!(henry > 0)) return;
  for (const auto& tag : tags) {
    const auto inner = Deck::node(tag), lead = Deck::node(tag + ".lead");
    deck.line(fmt::format("Llead_{} {} {} {}", inner, inner, lead, Deck::number(henry)));
    // Damps the coil and the diodes' capacitance against each other (20 ns); without it ngspice stops early.
    deck.line(fmt::format("Rlead_{} {} {} 10", inner, inner, lead));
  }
}

void add_meters(Deck& deck, const std::vector<Meter>& meters, const std::string& window) {
  for (std::size_t k = 0; k < meters.size(); ++k) {
    const auto name = fmt::format("m{}", k);
    const auto volts = Deck::meter_volts(name);
    deck.meter(name, meters[k].a, meters[k].b, meters[k].input_ohm, meters[k].rise_time_second);
    deck.measure(name + "_max", fmt::format("MAX {}{}", volts, window));
    deck.measure(name + "_min", fmt::format("MIN {}{}", volts, window));
  }
}

void add_ohmmeter(Deck& deck, const std::string& a, const std::string& b) {
  // One volt behind one ohm: the current tells ten decades apart.
  deck.line("Vohm vo " + Deck::node(b) + " 1");
  deck.line("Rohm vo vi 1");
  deck.line("Vsense vi " + Deck::node(a) + " 0");
  deck.line(".options rshunt=1e12 abstol=1e-15 reltol=1e-9 vntol=1e-12");
  deck.line(".tran 1u 10u");
  deck.measure("ampere", "MAX i(Vsense)");
}

}  // namespace lostspark::spice
