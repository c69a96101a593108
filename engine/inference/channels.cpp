#include "inference/channels.hpp"

#include <algorithm>
#include <cmath>

#include "base/error.hpp"
#include "circuit/network.hpp"
#include "inference/observation.hpp"

namespace lostspark::inference {
namespace {

constexpr std::size_t k_stage_bits = 64;  // footprints: stages, then running zones, then ohm zones

}  // namespace

ChannelPhysics::ChannelPhysics(std::shared_ptr<const model::Vehicle> vehicle, const model::Workshop& workshop)
    : vehicle_(std::move(vehicle)), circuit_(vehicle_), base_shift_(vehicle_->parameters.size(), 0.0) {
  const auto& v = *vehicle_;
  margin_channel.assign(v.scenes.size(), std::vector<int>(v.outputs.size(), -1));
  const auto margin = [&](Index scene, Index output) {
    int& channel = margin_channel[scene][output];
    if (channel < 0) {
      channel = static_cast<int>(channels.size());
      channels.push_back({model::k_none, scene, output, true, 0, 0});
    }
    return channel;
  };
  for (std::size_t t = 0; t < v.tests.size(); ++t) {
    const auto& test = v.tests[t];
    TestMap map;
    for (std::size_t k = 0; k < workshop.instruments.size() && map.instrument < 0; ++k) {
      const auto& instrument = workshop.instruments[k];
      if (instrument.kind == test.instrument && (instrument.unit == test.unit || test.is_word()))
        map.instrument = static_cast<int>(k);
    }
    double meter_ohm = 2e6;
    if (map.instrument >= 0) {
      const auto& instrument = workshop.instruments[map.instrument];
      map.floor = instrument.floor;
      map.range = instrument.range;
      map.step = instrument.step;
      map.shown_from = map.floor;
      map.shown_to = map.range;
      if (map.step > 0 && map.floor > 0) map.shown_from = (std::ceil(map.floor / map.step - 1e-9) - 0.5) * map.step;
      if (map.step > 0) map.shown_to = (std::floor(map.range / map.step + 1e-9) + 0.5) * map.step;
      meter_ohm = std::max(instrument.input_ohm, 1.0);
    }
    meter_ohm_.push_back(meter_ohm);
    map.noise_variance = test.log_sd * test.log_sd;
    const double soft_floor = std::max(map.floor * 0.003, 1e-9), soft_cap = map.range * 30;
    // The same quantity read under a provocation is the same channel: only which faults show differs.
    const auto number = [&](Index output) {
      for (std::size_t c = 0; c < channels.size(); ++c) {
        if (channels[c].margin || channels[c].scene != test.scene || channels[c].output != output) continue;
        const auto& other = v.tests[channels[c].test];
        if (other.reads == test.reads && other.node_a == test.node_a && other.node_b == test.node_b &&
            other.stage == test.stage && other.unit == test.unit && other.instrument == test.instrument)
          return static_cast<int>(c);
      }
      channels.push_back(
          {static_cast<Index>(t), test.scene, output, false, soft_floor, soft_cap, test.learned_log_offset});
      return static_cast<int>(channels.size()) - 1;
    };
    switch (test.reads) {
      case model::Reads::node_volts:
      case model::Reads::drop_volts:
      case model::Reads::ohms: map.primary = number(model::k_none); break;
      case model::Reads::output:
        map.primary = number(test.output);
        if (test.switch_margin >= 0) {
          map.switched = number(test.switch_output);
          map.switch_margin = margin(test.scene, test.switch_margin);
        }
        break;
      case model::Reads::margin_word: map.word_margin = margin(test.scene, test.output); break;
      case model::Reads::finding:
        if (test.words.size() > k_most_words)
          throw CapacityError("test '" + test.id + "' has " + std::to_string(test.words.size()) + " words; at most " +
                              std::to_string(k_most_words) + " are supported - let some faults share a word");
        break;
    }
    for (Index output : test.dead_below) map.dead_below.push_back(margin(test.scene, output));
    tests.push_back(std::move(map));
  }
  // A computed complaint is read while cranking without a set-up.
  complaint_scene = v.cranking_scene();
  if (complaint_scene >= 0)
    for (const auto& complaint : v.complaints)
      for (const auto& ladder : complaint.cylinders)
        for (const Index output : ladder) margin(complaint_scene, output);

  // A scene in which nothing is read but steady volts needs no stage.
  std::vector<std::vector<char>> wanted(v.scenes.size(), std::vector<char>(v.stages.size(), 0));
  for (const auto& channel : channels) {
    const auto want = [&](Index stage) {
      if (stage >= 0) wanted[static_cast<std::size_t>(channel.scene)][static_cast<std::size_t>(stage)] = 1;
    };
    if (channel.output >= 0) want(v.outputs[channel.output].stage);
    if (channel.test < 0) continue;
    want(v.tests[channel.test].stage);
    for (const Index stage : v.tests[channel.test].further_stages) want(stage);
  }
  circuit_.run_only(std::move(wanted));

  if (const auto rise = v.find_parameter("meter_rise_second"))
    if (const auto* meter = workshop.find("peak_voltmeter", "volt"))
      if (meter->rise_time_second > 0)
        base_shift_[*rise] = std::log(meter->rise_time_second / v.parameters[*rise].typical);

  const circuit::Network running(v, circuit::Network::Analysis::running);
  const circuit::Network ohms(v, circuit::Network::Analysis::ohms);
  running_zone_ = running.zone_of_node;
  ohm_zone_ = ohms.zone_of_node;
  ensure(v.stages.size() <= k_stage_bits && running.zones.size() + ohms.zones.size() + k_stage_bits <= 512,
         "too many zones for a footprint");
  zone_stages_.resize(running.zones.size());
  for (std::size_t s = 0; s < v.stages.size(); ++s)
    for (const auto& input : v.stages[s].inputs) {
      if (input.kind == model::StageInput::Kind::terminal && input.a != model::k_earth)
        zone_stages_[running_zone_[input.a]].push_back(static_cast<int>(s));
    }
  for (std::size_t z = 0; z < ohms.zones.size(); ++z) {
    ohm_bits_.set(k_stage_bits + running.zones.size() + z);
  }
}

Footprint ChannelPhysics::footprint_of_element(Index index) const {
  Footprint out;
  const auto& element = vehicle_->elements[index];
  for (Index node : {element.a, element.b}) {
    if (node == model::k_earth) continue;
    if (element.use != model::ElementUse::ohm_only) {
      out.set(k_stage_bits + running_zone_[node]);
      for (int s : zone_stages_[running_zone_[node]]) out.set(s);
    }
    if (element.use != model::ElementUse::running_only) out.set(k_stage_bits + zone_stages_.size() + ohm_zone_[node]);
  }
  return out;
}

Footprint ChannelPhysics::footprint_of_parameter(Index parameter) const {
  const auto& v = *vehicle_;
  Footprint out = own_footprint(parameter);
  // A part that trades places with another acts where that one sits, too.
  for (const auto& setup : v.setups)
    for (const auto& effect : setup.effects) {
      if (effect.kind != model::EffectKind::exchange_parameters) continue;
      if (effect.target == parameter) out |= own_footprint(effect.other);
      if (effect.other == parameter) out |= own_footprint(effect.target);
    }
  return out;
}

Footprint ChannelPhysics::own_footprint(Index parameter) const {
  Footprint out;
  const auto& v = *vehicle_;
  for (std::size_t s = 0; s < v.stages.size(); ++s)
    for (const auto& input : v.stages[s].inputs)
      if (input.kind == model::StageInput::Kind::parameter && input.a == parameter) out.set(s);
  for (std::size_t e = 0; e < v.elements.size(); ++e) {
    const auto& x = v.elements[e];
    if (x.resistance_parameter == parameter || x.inductance_parameter == parameter || x.emf_parameter == parameter ||
        x.frequency_parameter == parameter || x.frequency_factor == parameter)
      out |= footprint_of_element(static_cast<Index>(e));
  }
  return out;
}

Footprint ChannelPhysics::footprint_of_mode(Index mode) const {
  Footprint out;
  for (const auto& change : vehicle_->modes[mode].changes)
    out |= change.target == model::ChangeTarget::parameter ? footprint_of_parameter(change.index)
                                                           : footprint_of_element(change.index);
  return out;
}

void ChannelPhysics::evaluate(std::span<const circuit::ActiveMode> faults, std::span<const double> log_shift,
                              bool running, bool ohms, std::span<double> out) {
  const auto& v = *vehicle_;
  const circuit::Solution* solution = nullptr;
  Index solved = model::k_none;
  const auto to_log = [](const Channel& channel, double value) {
    // Smooth far below the floor and far above the range, untouched (1e-5 and less) where the instrument shows something.
    value = std::hypot(value, channel.soft_floor);
    const double over = value / channel.soft_cap;
    return std::log(value) - 0.25 * std::log1p(over * over * over * over) + channel.log_offset;
  };
  for (std::size_t s = 0; s < v.scenes.size(); ++s) {
    for (std::size_t c = 0; c < channels.size(); ++c) {
      const auto& channel = channels[c];
      if (channel.scene != static_cast<Index>(s)) continue;
      const model::Test* test = channel.test >= 0 ? &v.tests[channel.test] : nullptr;
      if (test && test->reads == model::Reads::ohms) {
        if (ohms) out[c] = to_log(channel, circuit_.resistance(channel.test, faults, log_shift));
        continue;
      }
      if (!running) continue;
      if (solved != static_cast<Index>(s)) {
        solution = &circuit_.solve(static_cast<Index>(s), faults, log_shift);
        solved = static_cast<Index>(s);
      }
      if (channel.margin) {
        out[c] = std::clamp(solution->outputs[channel.output], -40.0, 40.0);
      } else if (channel.output >= 0) {
        out[c] = to_log(channel, solution->outputs[channel.output] * circuit::unit_scale(test->unit) /
                                     circuit::unit_scale(v.outputs[channel.output].unit));
      } else {
        // Regimes are applied later: here the reading is what the test shows where all its margins are met.
        const double value = circuit_.reading(*test, *solution, meter_ohm_[channel.test], false);
        // A negative reading is the wrong polarity: a meter set for the healthy one shows about zero.
        out[c] = to_log(channel, std::max(value, 0.0));
      }
    }
  }
}

}  // namespace lostspark::inference
