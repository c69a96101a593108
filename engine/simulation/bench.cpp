#include "simulation/bench.hpp"

#include <algorithm>
#include <cmath>

#include "base/error.hpp"
#include "model/generative.hpp"

namespace lostspark::simulation {
namespace {

using model::k_word_half_width;
using model::k_word_sd;

double draw_severity(std::mt19937_64& random) {
  // Uniform over the stated range, with tails beyond it (docs/model.md).
  std::uniform_real_distribution<double> unit(0, 1);
  const double u = unit(random);
  if (u >= model::k_severity_tail_mass) return unit(random);
  const double beyond = model::k_severity_tail * unit(random);
  return u < model::k_severity_tail_mass / 2 ? -beyond : 1 + beyond;
}

}  // namespace

Bench::Bench(std::shared_ptr<const model::Vehicle> vehicle, model::Workshop workshop, std::uint64_t seed,
             BenchOptions options)
    : vehicle_(std::move(vehicle)), workshop_(std::move(workshop)), circuit_(vehicle_), random_(seed), options_(options) {
  put({});
}

void Bench::put(Truth truth) {
  truth_ = std::move(truth);
  truth_.log_shift.resize(vehicle_->parameters.size(), 0.0);
  truth_.calibration.resize(workshop_.instruments.size(), 0.0);
  present_ = truth_.faults;
  done_.clear();
  visible_now_.assign(present_.size(), std::vector<int>(model::k_provocations, -1));
}

Truth Bench::draw_with(const std::vector<Index>& modes) {
  std::normal_distribution<double> normal;
  Truth out;
  for (Index mode : modes)
    out.faults.push_back({mode, vehicle_->modes[mode].has_severity() ? draw_severity(random_) : 0.5});
  for (const auto& parameter : vehicle_->parameters) out.log_shift.push_back(parameter.log_sd * normal(random_));
  if (const auto rise = vehicle_->find_parameter("meter_rise_second"))
    if (const auto* meter = workshop_.find("peak_voltmeter", "volt"))
      if (meter->rise_time_second > 0)
        out.log_shift[*rise] = std::log(meter->rise_time_second / vehicle_->parameters[*rise].typical);
  for (const auto& instrument : workshop_.instruments) out.calibration.push_back(instrument.accuracy_log_sd * normal(random_));
  return out;
}

Truth Bench::draw(Index complaint, int tries) {
  std::uniform_real_distribution<double> unit(0, 1);
  std::normal_distribution<double> normal;
  const auto& v = *vehicle_;
  const Index scene = v.cranking_scene();
  for (int attempt = 0; attempt < tries; ++attempt) {
    std::vector<Index> modes;
    for (std::size_t m = 0; m < v.modes.size(); ++m)
      if (unit(random_) < v.modes[m].prior) modes.push_back(static_cast<Index>(m));
    for (const auto& cause : v.common_causes)
      if (unit(random_) < cause.probability)
        for (const auto& [mode, p] : cause.modes)
          if (unit(random_) < p && std::find(modes.begin(), modes.end(), mode) == modes.end()) modes.push_back(mode);
    // The model knows one fault of a component at a time.
    bool clash = false;
    for (std::size_t i = 0; i < modes.size(); ++i)
      for (std::size_t j = 0; j < i; ++j) clash |= v.modes[modes[i]].component == v.modes[modes[j]].component;
    if (clash) continue;
    Truth truth = draw_with(modes);
    truth.complaint = complaint;
    if (complaint < 0) return truth;
    const auto& wanted = v.complaints[complaint];
    double likelihood = 1;
    if (wanted.computed() && scene >= 0) {
      std::vector<circuit::ActiveMode> showing;
      for (const auto& fault : truth.faults) {
        const auto& visible = v.modes[fault.mode].visible;
        const double chance = wanted.spark_present() ? visible[0] : *std::max_element(visible.begin(), visible.end());
        if (unit(random_) < chance) showing.push_back(fault);
      }
      auto shift = truth.log_shift;
      for (std::size_t p = 0; p < shift.size(); ++p) shift[p] += v.parameters[p].event_log_sd * normal(random_);
      const auto& solution = circuit_.solve(scene, showing, shift);
      const bool told =
          model::shows(wanted, solution.outputs, [&] { return k_word_sd * normal(random_); });
      likelihood = (told ? 1 - model::k_complaint_mistaken : 0) + model::k_complaint_mistaken / 3;
    }
    if (wanted.by_table() || scene < 0) {
      double most = model::k_complaint_without_fault / 10;
      for (const auto& fault : truth.faults)
        most = std::max(most, std::max(wanted.of_group(v.modes[fault.mode].group), 0.02) / 10);
      likelihood *= most;
    }
    if (unit(random_) < likelihood) return truth;
  }
  throw InputError("no vehicle with the complaint '" + v.complaints[complaint].id + "' was drawn in " +
                   std::to_string(tries) + " tries; choose another complaint");
}

model::Value Bench::read(Index test_index, model::Provocation provocation, bool* mistaken) {
  std::uniform_real_distribution<double> unit(0, 1);
  std::normal_distribution<double> normal;
  const auto& v = *vehicle_;
  const auto& test = v.tests[test_index];
  if (provocation == model::Provocation::none) provocation = test.provocation;
  const model::Instrument* instrument = nullptr;
  double calibration = 0;
  for (std::size_t k = 0; k < workshop_.instruments.size() && !instrument; ++k)
    if (workshop_.instruments[k].kind == test.instrument &&
        (workshop_.instruments[k].unit == test.unit || test.is_word())) {
      instrument = &workshop_.instruments[k];
      calibration = truth_.calibration[k];
    }
  if (!instrument) throw InputError("the workshop has no " + test.instrument + " for " + test.id);

  // As displayed: whole steps of the instrument, true or not.
  const auto displayed = [&](double x) {
    return instrument->step > 0 ? std::round(x / instrument->step) * instrument->step : x;
  };
  const bool wrong = options_.mistakes && unit(random_) < test.mistaken;
  if (mistaken) *mistaken = wrong;
  model::Value out;
  if (test.is_word()) out.kind = model::ValueKind::word;
  if (wrong) {
    if (test.is_word()) {
      out.word = static_cast<std::size_t>(unit(random_) * static_cast<double>(test.words.size()));
      return out;
    }
    const double u = unit(random_);
    const double low = instrument->floor > 0 ? instrument->floor : instrument->range * 1e-4;
    if (u < model::k_mistaken_floor) out.kind = model::ValueKind::below_floor;
    else if (u < model::k_mistaken_floor + model::k_mistaken_over) out.kind = model::ValueKind::over_range;
    else out.number = std::max(displayed(low * std::pow(instrument->range / low, unit(random_))), low);
    return out;
  }
  if (test.reads == model::Reads::finding) {
    // Each fault present is noticed or not; the first noticed gives the word.
    const double alarm = test.false_alarm / static_cast<double>(std::max<std::size_t>(test.words.size() - 1, 1));
    for (const auto& row : test.findings)
      for (const auto& fault : present_)
        if (row.mode == fault.mode && unit(random_) < row.probability) {
          out.word = row.word;
          return out;
        }
    for (std::size_t w = 1; w < test.words.size(); ++w)
      if (unit(random_) < alarm) out.word = w;
    return out;
  }
  std::vector<circuit::ActiveMode> showing;
  const bool lasting = provocation == model::Provocation::none || provocation == model::Provocation::hot ||
                       provocation == model::Provocation::wet;
  for (std::size_t k = 0; k < present_.size(); ++k) {
    const auto index = static_cast<std::size_t>(provocation);
    int& drawn = visible_now_[k][index];
    const bool shows = drawn >= 0 && lasting ? drawn == 1 : unit(random_) < v.modes[present_[k].mode].visible[index];
    drawn = shows ? 1 : 0;
    if (shows) showing.push_back(present_[k]);
  }
  auto shift = truth_.log_shift;
  double value = 0;
  if (test.reads == model::Reads::ohms) {
    value = circuit_.resistance(test_index, showing, shift);
  } else {
    for (std::size_t p = 0; p < shift.size(); ++p) shift[p] += v.parameters[p].event_log_sd * normal(random_);
    const auto& solution = circuit_.solve(test.scene, showing, shift);
    value = circuit_.reading(test, solution, instrument->input_ohm);
    if (test.reads == model::Reads::margin_word) {
      for (Index margin : test.dead_below)
        if (solution.outputs[margin] < 0) value = -99;
      value += k_word_sd * normal(random_);
      out.word = value < -k_word_half_width ? 0 : value < k_word_half_width ? 1 : 2;
      return out;
    }
  }
  value = std::max(value, 0.0) * std::exp(calibration + test.log_sd * normal(random_));
  value = displayed(value);
  if (value < instrument->floor) out.kind = model::ValueKind::below_floor;
  else if (value > instrument->range) out.kind = model::ValueKind::over_range;
  else out.number = value;
  return out;
}

void Bench::touch(const std::vector<Index>& components) {
  if (!options_.touches_cure) return;
  std::uniform_real_distribution<double> unit(0, 1);
  const auto is_contact = [&](Index mode) {
    using enum model::ComponentKind;
    const auto kind = vehicle_->components[vehicle_->modes[mode].component].kind;
    return kind == connector || kind == splice || kind == earth_point;
  };
  for (std::size_t k = present_.size(); k-- > 0;) {
    const Index component = vehicle_->modes[present_[k].mode].component;
    const bool moved = std::find(components.begin(), components.end(), component) != components.end();
    if (moved && is_contact(present_[k].mode) && unit(random_) < model::k_touch_cures) {
      present_.erase(present_.begin() + static_cast<std::ptrdiff_t>(k));
      visible_now_.erase(visible_now_.begin() + static_cast<std::ptrdiff_t>(k));
    }
  }
}

bool Bench::repair(Index repair) {
  std::uniform_real_distribution<double> unit(0, 1);
  const int times = static_cast<int>(std::count(done_.begin(), done_.end(), repair));
  done_.push_back(repair);
  for (std::size_t k = present_.size(); k-- > 0;) {
    if (model::mends(*vehicle_, repair, present_[k].mode) && unit(random_) < model::success_after(*vehicle_, repair, times)) {
      present_.erase(present_.begin() + static_cast<std::ptrdiff_t>(k));
      visible_now_.erase(visible_now_.begin() + static_cast<std::ptrdiff_t>(k));
    }
  }
  return present_.empty();
}

}  // namespace lostspark::simulation
