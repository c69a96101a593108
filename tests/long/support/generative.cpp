#include "generative.hpp"

#include <algorithm>
#include <cmath>
#include <set>

#include "base/error.hpp"

namespace lostspark::long_checks {
namespace {

// docs/model.md; restated here on purpose.
constexpr double k_word_half_width = 0.10, k_word_sd = 0.10;
constexpr double k_touch_cures = 0.3;
constexpr double k_cleaned_again = 0.3;  // share of its success that cleaning a part keeps when done over
constexpr double k_wrong_floor = 0.45, k_wrong_over = 0.05, k_wrong_number = 0.5;
constexpr double k_complaint_mistaken = 0.03;
constexpr double k_no_fault = 0.02 / 10;
constexpr int k_most_mistakes = 2;

double phi(double x) { return 0.5 * std::erfc(-x / std::sqrt(2.0)); }

/// Probability of N(0, 1) between a and b, digits kept in the tails.
double between(double a, double b) { return a > 0 ? phi(-a) - phi(-b) : phi(b) - phi(a); }

/// Sum of probabilities by number of mistakes so far.
using Mistakes = std::array<double, k_most_mistakes + 1>;
Mistakes times(const Mistakes& a, const Mistakes& b) {
  Mistakes out{};
  for (int i = 0; i <= k_most_mistakes; ++i)
    for (int j = 0; i + j <= k_most_mistakes; ++j)
      out[static_cast<std::size_t>(i + j)] += a[static_cast<std::size_t>(i)] * b[static_cast<std::size_t>(j)];
  return out;
}

double wrong_density(const model::Instrument* instrument, const model::Test& test, const model::Value& value) {
  if (test.is_word()) return 1.0 / static_cast<double>(test.words.size());
  if (value.kind == model::ValueKind::below_floor) return k_wrong_floor;
  if (value.kind == model::ValueKind::over_range) return k_wrong_over;
  const double low = instrument->floor > 0 ? instrument->floor : instrument->range * 1e-4;
  return k_wrong_number / std::log(instrument->range / low);
}

bool contact_moves(model::ComponentKind kind) {
  using enum model::ComponentKind;
  return kind == connector || kind == splice || kind == earth_point;
}

bool lasting(model::Provocation p) {
  using enum model::Provocation;
  return p == none || p == hot || p == wet;
}

}  // namespace

JobModel::JobModel(std::shared_ptr<const model::Vehicle> vehicle, const model::Workshop& workshop,
                   const model::Evidence& evidence)
    : vehicle_(std::move(vehicle)), workshop_(workshop), evidence_(evidence), circuit_(vehicle_),
      base_shift_(vehicle_->parameters.size(), 0.0) {
  const auto& v = *vehicle_;
  for (const auto& mode : v.modes) odds_.push_back(mode.prior / (1 - mode.prior));
  weight_.assign(v.modes.size(), 1.0);
  for (std::size_t p = 0; p < v.parameters.size(); ++p) {
    if (v.parameters[p].log_sd > 0) vehicle_unknown_.push_back(static_cast<Index>(p));
    if (v.parameters[p].event_log_sd > 0) event_unknown_.push_back(static_cast<Index>(p));
  }
  if (const auto rise = v.find_parameter("meter_rise_second"))
    if (const auto* meter = workshop_.find("peak_voltmeter", "volt"); meter && meter->rise_time_second > 0)
      base_shift_[static_cast<std::size_t>(*rise)] =
          std::log(meter->rise_time_second / v.parameters[static_cast<std::size_t>(*rise)].typical);
  shift_ = base_shift_;
  common_ = vehicle_unknown_.size();

  const Index complaint_scene = v.cranking_scene();

  std::map<int, int> calibration_of, moment_of;  // instrument row, moment -> coordinate
  int own = -1;
  const auto event_of = [&](int moment) {
    if (event_unknown_.empty()) return -1;
    const auto [at, fresh] = moment_of.emplace(moment, static_cast<int>(common_));
    if (fresh) common_ += event_unknown_.size();
    return at->second;
  };
  for (std::size_t e = 0; e < evidence_.size(); ++e) {
    Judged r;
    if (const auto* weighted = std::get_if<model::Weighted>(&evidence_[e])) {
      for (std::size_t m = 0; m < v.modes.size(); ++m)
        if (weighted->mode == static_cast<Index>(m) || (weighted->mode < 0 && v.modes[m].component == weighted->component))
          weight_[m] *= weighted->factor;
      continue;
    }
    ensure(!std::holds_alternative<model::Checked>(evidence_[e]), "the long checks make no functional check");
    if (const auto* complained = std::get_if<model::Complained>(&evidence_[e])) {
      const auto& complaint = v.complaints[static_cast<std::size_t>(complained->complaint)];
      if (!complaint.computed() || complaint_scene < 0) {
        table_complaints_.push_back(complained->complaint);
        continue;
      }
      r.scene = complaint_scene;
      ensure(!complaint.by_table(), "the sampler knows complaints by margins or by table, not by both");
      ensure(complaint.cylinders.size() == 1, "the sampler judges computed complaints of one cylinder only");
      r.dead_below = complaint.cylinders.front();
      r.margin = r.dead_below.back();
      r.dead_below.pop_back();
      r.word = true;
      r.value.kind = model::ValueKind::word;
      r.value.word = complaint.word;
      r.mistaken = k_complaint_mistaken;
      r.mistaken_density = 1.0 / 3;
      r.hookup = own--;
      r.first_event = event_of(r.hookup);
    } else if (const auto* reading = std::get_if<model::Reading>(&evidence_[e])) {
      const auto& test = v.tests[static_cast<std::size_t>(reading->test)];
      r.test = reading->test;
      r.scene = test.scene;
      r.margin = test.output;
      r.dead_below = test.dead_below;
      r.value = reading->value;
      r.word = test.is_word();
      r.finding = test.reads == model::Reads::finding;
      r.log_sd = test.log_sd;
      r.mistaken = test.mistaken;
      r.provocation = reading->provocation != model::Provocation::none ? reading->provocation : test.provocation;
      r.visit = reading->visit;
      r.hookup = reading->hookup >= 0 ? reading->hookup : own;
      for (std::size_t k = 0; k < workshop_.instruments.size() && !r.instrument; ++k) {
        const auto& instrument = workshop_.instruments[k];
        if (instrument.kind != test.instrument || (instrument.unit != test.unit && !test.is_word())) continue;
        r.instrument = &workshop_.instruments[k];
        if (test.is_word() || instrument.accuracy_log_sd <= 0) continue;
        const auto [at, fresh] = calibration_of.emplace(static_cast<int>(k), static_cast<int>(common_));
        if (fresh) ++common_;
        r.calibration = at->second;
      }
      ensure(r.instrument != nullptr, "a recorded reading has no instrument");
      ensure(r.value.kind == model::ValueKind::word || r.value.kind == model::ValueKind::number ||
                 r.value.kind == model::ValueKind::below_floor || r.value.kind == model::ValueKind::over_range,
             "the long checks know words, single numbers, below and over only");
      r.mistaken_density = wrong_density(r.instrument, test, r.value);
      if (!r.finding && test.reads != model::Reads::ohms) r.first_event = event_of(reading->moment >= 0 ? reading->moment : own);
      --own;
    } else {
      continue;
    }
    position_.push_back(e);
    readings_.push_back(std::move(r));
  }
  ensure(readings_.size() <= 60, "too many readings");
  std::map<std::pair<int, int>, std::size_t> group_of;
  for (std::size_t i = 0; i < readings_.size(); ++i) {
    const auto& r = readings_[i];
    if (r.finding) continue;
    const bool complaint = r.test < 0;
    const int second = complaint || !lasting(r.provocation) ? 100000 + static_cast<int>(i) : r.visit;
    const auto [at, fresh] = group_of.emplace(std::pair{complaint ? -1 : static_cast<int>(r.provocation), second}, groups_.size());
    if (fresh) groups_.push_back({r.provocation, complaint, {}});
    groups_[at->second].readings.push_back(i);
  }
}

double JobModel::odds(std::span<const Index> modes) const {
  // Sum over who brought each fault: nobody (independent) or one common cause that spared all others of its list.
  const std::size_t subsets = std::size_t{1} << modes.size();
  double out = 0;
  const auto independent = [&](std::size_t brought) {
    double product = 1;
    for (std::size_t k = 0; k < modes.size(); ++k)
      if (!(brought >> k & 1)) product *= odds_[static_cast<std::size_t>(modes[k])];
    return product;
  };
  out += independent(0);
  for (const auto& cause : vehicle_->common_causes) {
    double spared = cause.probability / (1 - cause.probability);
    for (const auto& [mode, p] : cause.modes) spared *= 1 - p;
    for (std::size_t brought = 0; brought < subsets; ++brought) {
      double product = spared * independent(brought);
      for (std::size_t k = 0; k < modes.size(); ++k) {
        if (!(brought >> k & 1)) continue;
        double hit = 0;
        for (const auto& [mode, p] : cause.modes)
          if (mode == modes[k]) hit = p / (1 - p);
        product *= hit;
      }
      out += product;
    }
  }
  for (Index mode : modes) out *= weight_[static_cast<std::size_t>(mode)];
  return out;
}

std::vector<Life> JobModel::lives(Index mode) const {
  struct State {
    Life life;
    bool there = true;
  };
  const auto& v = *vehicle_;
  const auto& row = v.modes[static_cast<std::size_t>(mode)];
  std::vector<State> states{{}};
  std::size_t reading = 0;
  std::set<Index> tried;
  const auto branch = [&](double chance) {
    std::vector<State> more;
    for (auto& s : states) {
      if (!s.there) continue;
      State cured = s;
      cured.there = false;
      cured.life.probability *= chance;
      s.life.probability *= 1 - chance;
      more.push_back(cured);
    }
    states.insert(states.end(), more.begin(), more.end());
  };
  for (std::size_t e = 0; e < evidence_.size(); ++e) {
    if (reading < position_.size() && position_[reading] == e) {
      for (auto& s : states)
        if (s.there) s.life.present |= std::uint64_t{1} << reading;
      ++reading;
    } else if (const auto* touched = std::get_if<model::Touched>(&evidence_[e])) {
      if (contact_moves(v.components[static_cast<std::size_t>(row.component)].kind) &&
          std::find(touched->components.begin(), touched->components.end(), row.component) != touched->components.end())
        branch(k_touch_cures);
    } else if (const auto* repaired = std::get_if<model::Repaired>(&evidence_[e])) {
      const auto& repair = v.repairs[static_cast<std::size_t>(repaired->repair)];
      const auto part = v.components[static_cast<std::size_t>(row.component)].part_of;
      if (row.repair == repaired->repair ||
          (repair.kind == model::RepairKind::replace && (repair.component == row.component || repair.component == part))) {
        const bool over = !tried.insert(repaired->repair).second;
        const bool is_part = !contact_moves(v.components[static_cast<std::size_t>(repair.component)].kind);
        branch(repair.success * (over && is_part && repair.kind == model::RepairKind::clean ? k_cleaned_again : 1));
      }
    } else {
      ensure(!std::holds_alternative<model::Refitted>(evidence_[e]), "the long checks refit nothing");
    }
  }
  std::map<std::pair<std::uint64_t, bool>, double> merged;
  for (const auto& s : states) merged[{s.life.present, s.there}] += s.life.probability;
  std::vector<Life> out;
  for (const auto& [key, probability] : merged)
    if (probability > 0) out.push_back({key.first, key.second, probability});
  return out;
}

double JobModel::complaint_table(std::span<const Index> modes) const {
  double out = 1;
  for (Index complaint : table_complaints_) {
    double likelihood = modes.empty() ? k_no_fault : 0;
    for (Index mode : modes)
      likelihood = std::max(likelihood, std::max(vehicle_->complaints[static_cast<std::size_t>(complaint)].of_group(
                                                     vehicle_->modes[static_cast<std::size_t>(mode)].group), 0.02) / 10);
    out *= likelihood;
  }
  return out;
}

double JobModel::findings(std::span<const Index> modes, std::span<const std::uint64_t> present) const {
  double out = 1;
  std::map<std::pair<Index, std::size_t>, bool> seen;
  std::size_t from = 0;
  for (std::size_t i = 0; i < readings_.size(); ++i) {
    const auto& r = readings_[i];
    if (!r.finding) continue;
    // Looking again without anything touched between is no news.
    for (std::size_t e = from; e < position_[i]; ++e)
      if (std::holds_alternative<model::Touched>(evidence_[e]) || std::holds_alternative<model::Repaired>(evidence_[e]))
        seen.clear();
    from = position_[i];
    if (!seen.emplace(std::pair{r.test, r.value.word}, true).second) continue;
    const auto& test = vehicle_->tests[static_cast<std::size_t>(r.test)];
    // The first fault noticed gives the word; with none noticed, a false alarm may (the last of several).
    double none = 1, chosen = 0;
    for (const auto& row : test.findings)
      for (std::size_t k = 0; k < modes.size(); ++k)
        if (row.mode == modes[k] && (present[k] >> i & 1)) {
          if (row.word == r.value.word) chosen += none * row.probability;
          none *= 1 - row.probability;
        }
    const auto words = test.words.size();
    const double alarm = test.false_alarm / static_cast<double>(std::max<std::size_t>(words - 1, 1));
    double later = 1;
    for (std::size_t w = words; w-- > 1;) {
      if (w == r.value.word) chosen += none * alarm * later;
      later *= 1 - alarm;
    }
    if (r.value.word == 0) chosen = none * later;
    out *= (1 - r.mistaken) * chosen + r.mistaken * r.mistaken_density;
  }
  return out;
}

std::size_t JobModel::severities(std::span<const Index> modes) const {
  std::size_t out = 0;
  for (Index mode : modes) out += vehicle_->modes[static_cast<std::size_t>(mode)].has_severity() ? 1 : 0;
  return out;
}

void JobModel::place(std::span<const double> x, std::size_t reading) {
  const auto& v = *vehicle_;
  shift_ = base_shift_;
  for (std::size_t k = 0; k < vehicle_unknown_.size(); ++k) {
    const auto p = static_cast<std::size_t>(vehicle_unknown_[k]);
    shift_[p] += v.parameters[p].log_sd * x[k];
  }
  const int first = readings_[reading].first_event;
  if (first < 0) return;
  for (std::size_t k = 0; k < event_unknown_.size(); ++k) {
    const auto p = static_cast<std::size_t>(event_unknown_[k]);
    shift_[p] += v.parameters[p].event_log_sd * x[static_cast<std::size_t>(first) + k];
  }
}

double JobModel::judge(std::size_t reading, std::span<const circuit::ActiveMode> faults, std::span<const double> x) {
  const auto& r = readings_[reading];
  place(x, reading);
  ++solved_;
  double value = 0;
  if (r.word) {
    const auto& solution = circuit_.solve(r.scene, faults, shift_);
    value = solution.outputs[static_cast<std::size_t>(r.margin)];
    for (Index margin : r.dead_below)
      if (solution.outputs[static_cast<std::size_t>(margin)] < 0) value = -99;
    const double low = (-k_word_half_width - value) / k_word_sd, high = (k_word_half_width - value) / k_word_sd;
    return r.value.word == 0 ? phi(low) : r.value.word == 1 ? between(low, high) : phi(-high);
  }
  const auto& test = vehicle_->tests[static_cast<std::size_t>(r.test)];
  if (test.reads == model::Reads::ohms) value = circuit_.resistance(r.test, faults, shift_);
  else value = circuit_.reading(test, circuit_.solve(r.scene, faults, shift_), r.instrument->input_ohm);
  if (value <= 0) return r.value.kind == model::ValueKind::below_floor ? 1 : 0;
  double centre = std::log(value);
  if (r.calibration >= 0) centre += r.instrument->accuracy_log_sd * x[static_cast<std::size_t>(r.calibration)];
  const double step = r.instrument->step;
  // Shown are multiples of the step: below the floor, over the range, or one of those between.
  if (r.value.kind == model::ValueKind::below_floor) {
    const double border = step > 0 ? (std::ceil(r.instrument->floor / step - 1e-9) - 0.5) * step : r.instrument->floor;
    return border <= 0 ? 0 : phi((std::log(border) - centre) / r.log_sd);
  }
  if (r.value.kind == model::ValueKind::over_range) {
    const double border = step > 0 ? (std::floor(r.instrument->range / step + 1e-9) + 0.5) * step : r.instrument->range;
    return phi((centre - std::log(border)) / r.log_sd);
  }
  const double shown = r.value.number;
  if (step <= 0 || shown <= step / 2) {
    const double z = (std::log(shown) - centre) / r.log_sd;
    return std::exp(-0.5 * z * z) / (r.log_sd * 2.5066282746310002);
  }
  const double low = std::log(shown - step / 2), high = std::log(shown + step / 2);
  return between((low - centre) / r.log_sd, (high - centre) / r.log_sd) / (high - low);
}

double JobModel::chance_to_show(Index mode, const Group& group) const {
  const auto& row = vehicle_->modes[static_cast<std::size_t>(mode)];
  if (row.changes.empty()) return 0;  // nothing electrical to show
  // The customer saw it under whatever provokes it.
  if (group.complaint) return *std::max_element(row.visible.begin(), row.visible.end());
  return row.visible[static_cast<std::size_t>(group.provocation)];
}

void JobModel::likelihood(std::span<const Index> modes, std::span<const std::vector<Life>> lives,
                          std::span<const double> x, std::span<double> out) {
  const std::size_t count = modes.size();
  std::array<circuit::ActiveMode, 2> faults{};
  std::size_t at = common_;
  for (std::size_t k = 0; k < count; ++k)
    faults[k] = {modes[k], vehicle_->modes[static_cast<std::size_t>(modes[k])].has_severity() ? x[at++] : 0.5};
  std::array<std::array<double, 4>, 64> known;
  for (std::size_t i = 0; i < readings_.size(); ++i) known[i].fill(-1);
  const auto judged = [&](std::size_t reading, unsigned showing) {
    double& value = known[reading][showing];
    if (value < 0) {
      std::array<circuit::ActiveMode, 2> active{};
      std::size_t n = 0;
      for (std::size_t k = 0; k < count; ++k)
        if (showing >> k & 1) active[n++] = faults[k];
      value = judge(reading, {active.data(), n}, x);
    }
    return value;
  };
  const std::vector<Life> nobody{{}};
  const auto& first = count > 0 ? lives[0] : nobody;
  const auto& second = count > 1 ? lives[1] : nobody;
  std::size_t slot = 0;
  for (const auto& a : first)
    for (const auto& b : second) {
      Mistakes all{1, 0, 0};
      for (const auto& group : groups_) {
        Mistakes sum{};
        for (unsigned showing = 0; showing < (1u << count); ++showing) {
          double chance = 1;
          for (std::size_t k = 0; k < count; ++k) {
            const double shows = chance_to_show(modes[k], group);
            chance *= showing >> k & 1 ? shows : 1 - shows;
          }
          if (chance <= 0) continue;
          Mistakes product{chance, 0, 0};
          for (std::size_t i : group.readings) {
            unsigned there = 0;
            if (count > 0 && (a.present >> i & 1)) there |= 1;
            if (count > 1 && (b.present >> i & 1)) there |= 2;
            const auto& r = readings_[i];
            product = times(product, {(1 - r.mistaken) * judged(i, showing & there), r.mistaken * r.mistaken_density, 0});
          }
          for (std::size_t k = 0; k < sum.size(); ++k) sum[k] += product[k];
        }
        all = times(all, sum);
      }
      out[slot++] = all[0] + all[1] + all[2];
    }
}

std::vector<double> JobModel::trace(std::size_t reading, std::span<const circuit::ActiveMode> faults) {
  const auto& r = readings_[reading];
  std::vector<double> out;
  if (r.finding) return out;
  const auto* test = r.test >= 0 ? &vehicle_->tests[static_cast<std::size_t>(r.test)] : nullptr;
  if (test && test->reads == model::Reads::ohms) return {circuit_.resistance(r.test, faults, shift_)};
  const auto& solution = circuit_.solve(r.scene, faults, shift_);
  for (Index output : {r.margin, test ? test->switch_margin : model::k_none, test ? test->switch_output : model::k_none})
    if (output >= 0) out.push_back(solution.outputs[static_cast<std::size_t>(output)]);
  for (Index margin : r.dead_below) out.push_back(solution.outputs[static_cast<std::size_t>(margin)]);
  if (test && !r.word) out.push_back(circuit_.reading(*test, solution, r.instrument->input_ohm, false));
  return out;
}

bool JobModel::inert(Index mode) {
  const auto& row = vehicle_->modes[static_cast<std::size_t>(mode)];
  if (row.changes.empty()) return true;
  std::mt19937_64 random(12345);
  std::normal_distribution<double> normal;
  std::vector<double> x(common_);
  for (double severity : {0.5, 1.0, 0.0, 1.2, -0.2, 0.25, 0.75, 0.9}) {
    for (double& value : x) value = severity == 0.5 ? 0 : normal(random);
    const std::array<circuit::ActiveMode, 1> fault{{{mode, row.has_severity() ? severity : 0.5}}};
    for (std::size_t i = 0; i < readings_.size(); ++i) {
      if (readings_[i].finding) continue;
      place(x, i);
      const auto healthy = trace(i, {});
      const auto faulty = trace(i, fault);
      for (std::size_t k = 0; k < healthy.size(); ++k)
        if (std::abs(healthy[k] - faulty[k]) > 1e-5 * std::max(std::abs(healthy[k]), 1e-3)) return false;
    }
  }
  return true;
}

}  // namespace lostspark::long_checks
