// What each result of a test would mean: predicted classes, and the suspects after each.
#include <algorithm>
#include <cmath>
#include <limits>

#include "inference/compiled.hpp"
#include "job/job_impl.hpp"
#include "job/reading_parser.hpp"

namespace lostspark::job {
namespace {

using inference::Prediction;
using model::Value;
using model::ValueKind;

constexpr double k_infinity = std::numeric_limits<double>::infinity();
constexpr double k_ninety_percent = 1.6449;  // half-width of a 90 % band in sd
constexpr double k_not_worth_a_line = 0.005;
constexpr std::size_t k_suspects_shown = 3;

double normal_below(double z) { return 0.5 * std::erfc(-z / std::sqrt(2.0)); }

/// One suspect's prediction with its weight.
struct Part {
  double weight = 0;
  Prediction p;
  [[nodiscard]] double numbers() const { return std::max(0.0, 1 - p.below_floor - p.over_range); }
  /// Probability of a number reading under `limit`, given a number.
  [[nodiscard]] double under(double limit) const {
    if (limit <= 0) return 0;
    if (std::isinf(limit) || p.median <= 0) return 1;
    const double sd = p.high > p.low && p.low > 0 ? std::log(p.high / p.low) / (2 * k_ninety_percent) : 1e-3;
    return normal_below(std::log(limit / p.median) / std::max(sd, 1e-3));
  }
};

std::vector<Part> mixture(const inference::Posterior& belief, const inference::CompiledPtr& tables, Index test) {
  std::vector<Part> parts;
  double left = 1;
  const auto take = [&](double weight, Prediction p) {
    const double w = std::min(weight, left);
    if (w <= 0) return;
    left -= w;
    parts.push_back({w, std::move(p)});
  };
  take(belief.nothing_wrong(), inference::healthy_band(*tables, test));
  auto suspects = belief.suspects(0.01);
  if (suspects.size() > 12) suspects.resize(12);
  // Several faults at once make the marginals add up to more than the mass they share: scale them into it.
  double sum = 0;
  for (const auto& s : suspects) sum += s.probability;
  const double scale = sum > left ? left / sum : 1;
  for (const auto& s : suspects) take(s.probability * scale, belief.predict(test, s.mode));
  if (left > 1e-3) take(left, belief.predict(test));
  return parts;
}

struct Slot {
  std::string name, meaning;
  double low = 0, high = 0;  ///< numbers; both 0: an end of the instrument or a word
  Value value;               ///< a typical result of this class
  double probability = 0;
};

/// Typical number of the class: the weighted geometric mean of what the suspects predict in it, kept inside.
double typical_in(const std::vector<Part>& parts, double low, double high) {
  double weight = 0, sum = 0;
  for (const auto& part : parts) {
    const double w = part.weight * part.numbers() * (part.under(high) - part.under(low));
    if (w <= 0 || part.p.median <= 0) continue;
    double x = part.p.median;
    if (low > 0) x = std::max(x, low * 1.05);
    if (!std::isinf(high)) x = std::min(x, high / 1.05);
    weight += w;
    sum += w * std::log(x);
  }
  if (weight > 0) return std::exp(sum / weight);
  if (low > 0 && !std::isinf(high)) return std::sqrt(low * high);
  return low > 0 ? low * 1.5 : high / 2;
}

std::string range_words(const Slot& slot, const std::string& unit) {
  if (slot.low <= 0) return "under " + with_unit(slot.high, unit);
  if (std::isinf(slot.high)) return "over " + with_unit(slot.low, unit);
  return with_unit(slot.low, unit) + " .. " + with_unit(slot.high, unit);
}

std::vector<Slot> number_slots(const model::Test& test, const Prediction& healthy, const std::vector<Part>& parts) {
  const bool healthy_is_below = healthy.below_floor > 0.5;
  const bool healthy_is_over = healthy.over_range > 0.5;
  std::vector<Slot> slots;
  const auto end = [&](const char* name, ValueKind kind, bool is_healthy, const std::string& meaning) {
    Slot slot;
    slot.name = is_healthy ? "healthy" : name;
    slot.meaning = is_healthy ? "" : meaning;
    slot.value.kind = kind;
    for (const auto& part : parts)
      slot.probability += part.weight * (kind == ValueKind::below_floor ? part.p.below_floor : part.p.over_range);
    slots.push_back(std::move(slot));
  };
  const auto band = [&](const char* name, double low, double high, const std::string& meaning) {
    Slot slot;
    slot.name = name;
    slot.meaning = meaning;
    slot.low = low;
    slot.high = high;
    for (const auto& part : parts)
      slot.probability += part.weight * part.numbers() * (part.under(high) - part.under(low));
    slot.value.number = typical_in(parts, low, high);
    if (slot.value.number > 0 && std::isfinite(slot.value.number)) slots.push_back(std::move(slot));
  };
  end("none", ValueKind::below_floor, healthy_is_below, test.zero_means);
  if (healthy_is_below) {
    band("high", 0, k_infinity, test.high_means);
  } else if (healthy_is_over) {
    band("low", 0, k_infinity, test.low_means);
  } else {
    band("low", 0, healthy.low, test.low_means);
    band("healthy", healthy.low, healthy.high, "");
    band("high", healthy.high, k_infinity, test.high_means);
  }
  end("over", ValueKind::over_range, healthy_is_over, test.high_means);
  return slots;
}

std::vector<Slot> word_slots(const model::Test& test, const Prediction& predicted) {
  std::vector<Slot> slots;
  for (std::size_t w = 0; w < test.words.size(); ++w) {
    Slot slot;
    slot.name = spaced_words(test.words[w]);
    slot.value.kind = ValueKind::word;
    slot.value.word = w;
    slot.probability = w < predicted.word.size() ? predicted.word[w] : 0;
    // Margin words run from none to steady, findings from nothing found to found.
    const bool first = w == 0, last = w + 1 == test.words.size();
    if (test.reads == model::Reads::margin_word)
      slot.meaning = first ? test.zero_means : last ? test.high_means : test.low_means;
    else if (!first)
      slot.meaning = test.high_means;
    slots.push_back(std::move(slot));
  }
  return slots;
}

std::string end_words(const model::Instrument* instrument, const model::Test& test, ValueKind kind) {
  if (kind == ValueKind::below_floor)
    return instrument != nullptr && instrument->floor > 0 && instrument->unit == test.unit
               ? "below " + with_unit(instrument->floor, test.unit)
               : "below";
  return instrument != nullptr && instrument->unit == test.unit && instrument->range < 1e9
             ? "over " + with_unit(instrument->range, test.unit)
             : "over";
}

}  // namespace

std::vector<SuspectView> suspect_views(const model::Vehicle& v, const inference::Posterior& belief, double least,
                                       std::size_t most) {
  std::vector<SuspectView> out;
  for (const auto& s : belief.suspects(least)) {
    if (out.size() >= most) break;
    SuspectView view{s.component, s.mode, "", "", "", s.probability};
    if (s.component >= 0) view.component_id = v.components[s.component].id;
    if (s.mode >= 0) view.mode_id = v.modes[s.mode].id;
    view.title = s.component >= 0 ? v.components[s.component].title : "";
    if (s.mode >= 0) view.title += (view.title.empty() ? "" : ": ") + v.modes[s.mode].title;
    out.push_back(std::move(view));
  }
  return out;
}

std::vector<ResultClass> result_classes(const Job::Impl& job, Index which) {
  const auto& test = job.vehicle->tests[which];
  const auto& belief = job.belief();
  const auto& tables = job.tables();
  std::vector<Slot> slots;
  if (test.is_word()) {
    slots = word_slots(test, belief.predict(which));
  } else {
    slots = number_slots(test, inference::healthy_band(*tables, which), mixture(belief, tables, which));
  }
  std::vector<ResultClass> out;
  for (const auto& slot : slots) {
    if (slot.probability < k_not_worth_a_line) continue;
    ResultClass result;
    result.name = slot.name;
    result.low = slot.low;
    result.high = slot.high;
    result.probability = std::min(1.0, slot.probability);
    result.meaning = slot.meaning;
    if (slot.value.kind == ValueKind::word)
      result.range = slot.name;
    else if (slot.value.kind == ValueKind::number)
      result.range = range_words(slot, test.unit);
    else
      result.range = end_words(job.instrument_of(test), test, slot.value.kind);
    auto evidence = job.state.evidence;
    evidence.emplace_back(job.reading_now(which, slot.value, {}, job.state.last + 1));
    result.suspects = suspect_views(*job.vehicle, inference::update(tables, evidence), 0.01, k_suspects_shown);
    out.push_back(std::move(result));
  }
  return out;
}

double badness(const inference::CompiledPtr& tables, const model::Reading& reading) {
  const auto healthy = inference::healthy_band(*tables, reading.test);
  constexpr double off_scale = 10;
  const auto& v = reading.value;
  // An end of the instrument where a number belongs is as far off as that end: a dead source more than a small drop that is gone.
  const auto& scale = tables->tests[reading.test];
  switch (v.kind) {
    case ValueKind::word:  // a word proves less than a number that is a factor of e off
      return v.word < healthy.word.size() ? std::max(0.0, 1 - 2 * healthy.word[v.word]) : 0;
    case ValueKind::below_floor:
      if (healthy.below_floor >= 0.05) return 0;
      return scale.floor > 0 ? std::clamp(std::log(healthy.low / scale.floor), 0.0, off_scale) : off_scale;
    case ValueKind::over_range:
      if (healthy.over_range >= 0.05) return 0;
      return healthy.high > 0 ? std::clamp(std::log(scale.range / healthy.high), 0.0, off_scale) : off_scale;
    default:
      break;
  }
  const double low = v.kind == ValueKind::interval ? v.low : v.number;
  const double high = v.kind == ValueKind::interval ? v.high : v.number;
  if (healthy.below_floor > 0.5 || healthy.over_range > 0.5) return off_scale / 2;
  if (high < healthy.low) return high > 0 ? std::min(off_scale, std::log(healthy.low / high)) : off_scale;
  if (low > healthy.high && healthy.high > 0)
    return std::isinf(low) ? off_scale : std::min(off_scale, std::log(low / healthy.high));
  // A reading that jumps down to nothing is bad wherever it jumps up to.
  return v.kind == ValueKind::interval && v.about && low < healthy.low / 4 ? 1 : 0;
}

}  // namespace lostspark::job
