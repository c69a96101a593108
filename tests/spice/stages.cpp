#include "spice/stages.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace lostspark::spice {

namespace {
std::string n(std::string_view id) { return Deck::node(id); }
std::string v(double value) { return Deck::number(value); }
}  // namespace

std::string stages_file() { return fmt::format("{}/tests/spice/accdi_stages.inc", LOSTSPARK_SOURCE_DIR); }

void add_exciter(Deck& deck, const Parts& p, std::string_view source, std::string_view foot) {
  deck.ammeter("exciter", "exciter_inner", source);
  deck.line(fmt::format("Xexciter {} {} winding emf={} freq={} ohm={} henry={}", n("exciter_inner"), n(foot),
                        v(p.exciter_emf_volt * p.rpm / p.reference_rpm), v(p.rpm / 60 * p.exciter_pole_pairs),
                        v(p.exciter_ohm), v(p.exciter_henry)));
  deck.resistor("exciter_short", source, "earth", p.exciter_short_ohm);
}

void add_pulse_coil(Deck& deck, const Parts& p, std::string_view signal, std::string_view foot) {
  const double ratio = p.rpm / p.pulse_reference_rpm;
  deck.line(fmt::format("Xpulse {} {} winding emf={} freq={} ohm={} henry={} delay={}", n(signal), n(foot),
                        v(p.pulse_emf_volt * ratio), v(p.pulse_hertz * ratio), v(p.pulse_ohm),
                        v(std::max(p.pulse_henry, 1e-9)),
                        v(p.fire_second() - p.pulse_lead_cycle / (p.pulse_hertz * ratio))));
}

void add_square_pulse(Deck& deck, const Parts& p, std::string_view signal) {
  deck.line(fmt::format("Vtrigger {} 0 PULSE(0 {} {} 1u 1u 3m {})", n(signal), v(p.pulse_emf_volt), v(p.fire_second()),
                        v(p.turn_second())));
}

void add_module(Deck& deck, const Parts& p, std::string_view source, std::string_view trigger, std::string_view primary,
                std::string_view ground) {
  deck.line(fmt::format(
      "Xmodule {} {} {} {} module farad={} leak_ohm={} limit_volt={} limit_ohm={} gate_ohm={}"
      " gate_volt={} on_ohm={} off_ohm={} output_ohm={}",
      n(source), n(trigger), n(primary), n(ground), v(p.storage_farad), v(p.storage_leak_ohm), v(p.limit_volt),
      v(p.limit_ohm), v(p.gate_ohm), v(p.gate_volt), v(p.switch_on_ohm), v(p.switch_off_ohm), v(p.output_ohm)));
  deck.resistor("module_input_short", source, ground, p.module_input_short_ohm);
}

void add_coil(Deck& deck, const Parts& p, std::string_view primary, std::string_view tower, std::string_view foot) {
  deck.ammeter("primary", primary, "coil_inner");
  deck.line(
      fmt::format("Xcoil {} {} {} coil henry={} ohm={} turns={} coupling={} ohm2={} farad2={} core_ohm={}"
                  " leak_ohm={}",
                  n("coil_inner"), n(tower), n(foot), v(p.primary_henry), v(p.primary_ohm), v(p.turns), v(p.coupling),
                  v(p.secondary_ohm), v(p.secondary_farad), v(p.core_ohm), v(p.secondary_leak_ohm)));
}

void HighTension::fit_tester(double volt) {
  demand_volt = volt;
  deposit_ohm = 1e10;
  plug_flash_volt = 1e5;
  seat_break_volt = 0;
}

void add_lead_and_gap(Deck& deck, const HighTension& p, std::string_view tower, std::string_view plug, bool strikes) {
  deck.line(fmt::format(".include \"{}/tests/spice/gap.inc\"", LOSTSPARK_SOURCE_DIR));
  deck.resistor("lead", tower, plug, p.lead_ohm());
  deck.line(fmt::format("Clead {} 0 {}", n(tower), v(p.lead_farad)));
  deck.line(fmt::format("Xgap {} plug_body gap demand_volt={} arc_volt={} extinct_volt={} deposit_ohm={} farad={}",
                        n(plug), v(strikes ? p.demand_volt + p.break_volt() : 1e6), v(p.arc_volt), v(p.extinct_volt),
                        v(p.deposit_ohm), v(p.gap_farad)));
  if (const double flash = std::min({p.lead_flash_volt, p.cap_flash_volt, p.plug_flash_volt}); flash < 50e3)
    deck.line(fmt::format("Xflash {} 0 gap demand_volt={} arc_volt={} extinct_volt={} farad=0.1p", n(tower), v(flash),
                          v(p.arc_volt), v(p.extinct_volt)));
  deck.line("Vbody plug_body 0 0");
  deck.comment("current of the arc alone, and all that returns through the plug's body; 2 us low pass");
  deck.line("Barc arc 0 V=abs(i(v.xgap.varc))");
  deck.line("Rarc arc arc_slow 1k");
  deck.line("Carc arc_slow 0 2n");
  deck.line("Bbody body 0 V=abs(i(Vbody))");
  deck.line("Rbody body body_slow 1k");
  deck.line("Cbody body_slow 0 2n");
  deck.line("Bburn burning 0 V=v(arc_slow)>4m ? 1 : 0");
}

void add_spark_measures(Deck& deck, double from, double to) {
  // Amperes and kilovolts stand beside picoamperes of open switches: with ngspice's own 1 pA it stops when the gap
  // strikes.
  deck.line(".options abstol=1e-9 vntol=1e-5 chgtol=1e-13 itl4=50 rshunt=1e12");
  const std::string window = fmt::format(" from={} to={}", v(from), v(to));
  deck.measure("arc_ampere", "MAX v(arc_slow)");
  deck.measure("body_ampere", "MAX v(body_slow)");
  deck.measure("spark_turn_second", "INTEG v(burning)");
  deck.measure("spark_second", "INTEG v(burning)" + window);
  deck.measure("spark_coulomb", "INTEG v(arc)" + window);
}

void add_analysis(Deck& deck, const Parts& p, std::string_view tower) {
  const double end = p.end_second();
  deck.line(fmt::format(".include \"{}\"", stages_file()));
  deck.line(fmt::format(".tran 2u {} 0 1u UIC", v(end)));
  // Peaks of the whole turn, as a peak meter holds them; spark time and charge of the discharge that the pulse
  // triggers.
  deck.measure("primary_ampere", "MIN i(Vprimary)");
  deck.measure("tower_volt", fmt::format("MIN v({})", n(tower)));
  deck.measure("exciter_ampere", "MAX i(Vexciter)");
  add_spark_measures(deck, p.fire_second(), end);
}

}  // namespace lostspark::spice
