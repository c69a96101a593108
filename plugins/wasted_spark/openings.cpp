#include "openings.hpp"

#include <cmath>
#include <utility>

namespace lostspark::wasted_spark {
namespace {

constexpr std::size_t k_table = blocks::k_opening_fractions.size();
constexpr const char* k_coil_parameters[] = {"primary_henry#", "primary_ohm#",        "turns_ratio_one#",
                                             "coupling_one",   "snubber_farad",       "clamp_volt",
                                             "secondary_ohm",  "secondary_leak_ohm#", "meter_rise_second"};
constexpr const char* k_side_parameters[] = {"tower_leak_ohm#", "tower_ohm#", "lead_ohm#",     "ht_joint_ohm#",
                                             "cap_ohm#",        "arc_volt#",  "plug_leak_ohm#"};

constexpr const char* k_sides[] = {"_a", "_b"};
constexpr const char* k_ends[] = {"_low", "_high"};  // of the grid's step

std::string percent(double fraction) { return std::to_string(static_cast<int>(fraction * 100 + 0.5)); }

}  // namespace

using blocks::StageIn;
using blocks::StageOut;

blocks::PairInputs take_pair(StageIn& in, blocks::OpeningSettings& settings) {
  blocks::PairInputs pair;
  auto& coil = pair.coil;
  coil.primary_henry = in.positive();
  coil.primary_ohm = in.positive();
  coil.turns = in.positive();
  coil.coupling = in.positive();
  coil.switch_farad = in.positive();
  settings.limits.clamp_volt = in.positive();
  coil.secondary_ohm = in.positive();
  coil.secondary_leak_ohm = in.positive();
  coil.meter_rise_second = in.positive();
  for (auto& side : pair.side) {
    side.tower_leak_ohm = in.positive();
    side.lead_ohm = 0;
    for (int k = 0; k < 4; ++k) side.lead_ohm += in.positive();
    side.arc_volt = in.positive();
    side.plug_leak_ohm = in.positive();
  }
  return pair;
}

void add_pair_inputs(plugin::Tables& t, const Options& options, int pair) {
  parameters(t, k_coil_parameters, pair);
  for (int cylinder : options.of_pair(pair)) parameters(t, k_side_parameters, cylinder);
}

void evaluate_opening(StageIn in, StageOut out) {
  double current = in.positive();
  blocks::OpeningPort port;
  for (double* v : {&port.share, &port.siemens, &port.ampere, &port.volt, &port.ohm}) *v = in.positive();
  auto settings = blocks::pair_settings();
  auto pair = take_pair(in, settings);
  for (int end = 0; end < 2; ++end) {
    pair.coil.current = current;
    const auto r = blocks::open_pair(settings, port, pair);
    for (const auto& side : r) {
      for (double v : {side.alone_plug, side.led.plug_volt, side.led.tower_volt, side.led.body_ampere}) out.positive(v);
      for (double v : side.led.tower_at_break) out.positive(v);
    }
    for (double v : r[0].led.switch_at_break) out.positive(v);
    current *= std::exp(k_grid_step);
  }
}

std::vector<std::string> add_opening(plugin::Tables& t, const Options& options, int pair) {
  const auto stage = of("opening", pair);
  t.stage(stage.c_str(), ("what the interrupted current of coil" + coil_number(options, pair) + " makes").c_str());
  for (const char* id : {".grid_ampere", ".share", ".leak_siemens", ".leak_ampere", ".drive_volt", ".drive_ohm"})
    t.input(LS_INPUT_OUTPUT, (of("dwell", pair) + id).c_str());
  add_pair_inputs(t, options, pair);
  std::vector<std::string> given;
  const auto value = [&](const std::string& id, const char* unit, const char* description) {
    given.push_back(stage + "." + id);
    t.output(id.c_str(), LS_OUTPUT_VALUE, unit, description);
  };
  for (const std::string end : k_ends) {
    for (const std::string side : k_sides) {
      value("alone_volt" + side + end, "volt", "highest plug volts, both gaps holding, at the grid's current");
      value("plug_volt" + side + end, "volt", "highest plug volts, gap holding, the partner's conducting");
      value("tower_volt" + side + end, "volt", "highest tower volts, gap holding, the partner's conducting");
      value("body_ampere" + side + end, "ampere", "through the plug's body, gap holding, the partner's conducting");
      for (double f : blocks::k_opening_fractions)
        value("tower_at_" + percent(f) + side + end, "one",
              "tower over plug volts as the gap breaks at this percentage");
    }
    for (double f : blocks::k_opening_fractions)
      value("switch_at_" + percent(f) + end, "volt", "meter's crest across the transistor until a gap breaks there");
  }
  return given;
}

/// The opening at the grid's current below, and above; between them logarithms are linear.
blocks::PairOpening take_opening(StageIn& in, double part, bool turned) {
  const auto read = [&] {
    blocks::PairOpening o;
    for (auto& side : o) {
      for (double* v : {&side.alone_plug, &side.led.plug_volt, &side.led.tower_volt, &side.led.body_ampere})
        *v = in.positive();
      for (double& v : side.led.tower_at_break) v = in.positive();
    }
    for (double& v : o[0].led.switch_at_break) v = in.positive();
    o[1].led.switch_at_break = o[0].led.switch_at_break;
    return o;
  };
  auto low = read(), high = read();
  const auto between = [part](double& a, double b) { a *= std::pow(b / a, part); };
  for (std::size_t k = 0; k < 2; ++k) {
    auto &a = low[k], &b = high[k];
    between(a.alone_plug, b.alone_plug);
    between(a.led.plug_volt, b.led.plug_volt);
    between(a.led.tower_volt, b.led.tower_volt);
    between(a.led.body_ampere, b.led.body_ampere);
    for (std::size_t f = 0; f < k_table; ++f) {
      between(a.led.tower_at_break[f], b.led.tower_at_break[f]);
      between(a.led.switch_at_break[f], b.led.switch_at_break[f]);
    }
  }
  if (turned) std::swap(low[0], low[1]);
  return low;
}

}  // namespace lostspark::wasted_spark
