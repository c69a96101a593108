// Why: what moved the suspects, what they predict, and what to know now. Also the check and its proof.
#include <algorithm>
#include <cmath>

#include "job/intake_words.hpp"
#include "job/job_impl.hpp"
#include "job/reading_parser.hpp"
#include "job/words.hpp"

namespace lostspark::job {
namespace {

constexpr std::size_t k_suspects_explained = 5;
constexpr double k_mistaken_above = 0.5;  // the two bounds of a contradiction worth naming
constexpr double k_tail_below = 1e-3;
constexpr double k_unexplored_limit = 0.01;

std::string percent(double p) { return exact(std::round(p * 1000) / 10) + " %"; }

std::string prediction_words(const model::Test& test, const inference::Prediction& p) {
  std::vector<std::string> out;
  if (test.is_word()) {
    for (std::size_t w = 0; w < test.words.size() && w < p.word.size(); ++w)
      if (p.word[w] >= 0.02) out.push_back(spaced_words(test.words[w]) + " " + percent(p.word[w]));
    return joined(out, ", ");
  }
  if (p.below_floor >= 0.02) out.push_back("below " + percent(p.below_floor));
  if (p.below_floor + p.over_range < 0.98)
    out.push_back(with_unit(p.low, test.unit) + " .. " + with_unit(p.high, test.unit));
  if (p.over_range >= 0.02) out.push_back("over " + percent(p.over_range));
  return joined(out, ", ");
}

std::string reading_line(const model::Vehicle& v, const Taken& t) {
  const auto& test = v.tests[t.reading.test];
  return test.title + ": " + reading_text(test, t.reading.value);
}

const Taken* behind(const State& s, std::size_t event) {
  const auto sequence = s.evidence_entry[event];
  for (const auto& t : s.readings)
    if (t.sequence == sequence) return &t;
  return nullptr;
}

/// The reading taken before the last repair that was furthest from healthy, mistaken ones left out.
const Taken* worst_before_repair(const Job::Impl& job) {
  const State& s = job.state;
  const auto repaired = s.repairs.empty() ? s.last + 1 : s.repairs.back().sequence;
  const Taken* worst = nullptr;
  double most = 0.2;  // a fifth outside the healthy band, in log: less is no proof of anything
  for (std::size_t e = 0; e < s.evidence.size(); ++e) {
    if (!std::holds_alternative<model::Reading>(s.evidence[e]) || s.evidence_entry[e] >= repaired) continue;
    const Taken* t = behind(s, e);
    if (t == nullptr || t->at_intake || job.belief().mistaken(e) > k_mistaken_above) continue;
    const double bad = badness(job.tables(), t->reading);
    // Of equally bad ones a number proves more than a word, and the later one was nearer to the fault.
    const double preferred = bad + (job.vehicle->tests[t->reading.test].is_word() ? 0 : 0.1);
    if (bad > 0.2 && preferred >= most) {
      most = preferred;
      worst = t;
    }
  }
  return worst;
}

}  // namespace

std::vector<Notice> Job::notices() const {
  std::vector<Notice> out;
  const auto& belief = posterior();
  const State& s = state();
  for (std::size_t e = 0; e < s.evidence.size(); ++e) {
    if (!std::holds_alternative<model::Reading>(s.evidence[e])) continue;
    const Taken* t = behind(s, e);
    const double mistaken = belief.mistaken(e), tail = belief.tail(e);
    if (t == nullptr || (mistaken <= k_mistaken_above && tail >= k_tail_below)) continue;
    std::string text =
        "reading " + std::to_string(t->sequence) + " (" + reading_line(vehicle(), *t) + ") does not fit the others";
    text += mistaken > k_mistaken_above ? ": probably mistaken (" + percent(mistaken) + ")"
                                        : ": no suspect explains it well";
    out.push_back({"contradiction", t->sequence, text + "; re-seat the clips, prove the meter, read it again"});
  }
  if (impl_->kick_back())
    for (const auto& c : vehicle().cautions)
      if (c.id == "S22") out.push_back({"kick_back", 0, c.signal_word + ": " + c.text + "; " + c.avoid});
  if (belief.unexplored_mass() > k_unexplored_limit)
    out.push_back({"unexplored", 0,
                   "about " + percent(belief.unexplored_mass()) +
                       " of the possibilities (more faults at once) was not looked at"});
  const double sound = planning::elsewhere(belief);
  const bool read_here = std::any_of(s.readings.begin(), s.readings.end(), [](const Taken& t) { return !t.at_intake; });
  if (sound > 0.5 && read_here && s.repairs.empty())
    out.push_back({"nothing_here", 0,
                   "the readings fit a sound ignition: with " + percent(sound) +
                       " nothing here is at fault; before the job goes elsewhere, check it once more the way the "
                       "complaint came up"});
  if (s.intake.limit) {
    double spent = s.minutes / 60 * workshop().labour_rate_per_hour;
    for (const auto& done : s.repairs)
      if (done.part == PartState::fitted) spent += done.price;
    if (spent > 0.8 * *s.intake.limit)
      out.push_back(
          {"limit", 0,
           "spent so far " + exact(std::round(spent)) + " of the customer's limit of " + exact(*s.intake.limit)});
  }
  if (!s.setups_standing.empty() && !s.repairs.empty())
    out.push_back({"standing_setup", 0, vehicle().setups[s.setups_standing.front()].title + " still stands"});
  return out;
}

WhyView Job::why(std::optional<Index> wanted) const {
  WhyView view;
  const auto& belief = posterior();
  view.suspects = suspect_views(vehicle(), belief, 1e-3, k_suspects_explained);
  view.nothing_wrong = belief.nothing_wrong();
  view.unexplored_mass = belief.unexplored_mass();
  const auto plan = next();
  view.no_test_cost_min = plan.no_test_cost_min;
  const planning::Advice* advice = nullptr;
  for (const auto& a : plan.steps)
    if (wanted ? a.kind == planning::StepKind::test && a.test == *wanted : advice == nullptr) advice = &a;
  if (advice != nullptr) {
    view.gain_bits = advice->gain_bits;
    view.access_min = advice->access_min;
    view.gain_bits_per_min = advice->gain_bits_per_min;
    view.expected_cost_min = advice->expected_cost_min;
  }
  view.test = wanted                                                          ? *wanted
              : advice != nullptr && advice->kind == planning::StepKind::test ? advice->test
                                                                              : model::k_none;
  std::vector<Index> modes;
  for (const auto& s : view.suspects)
    if (s.mode >= 0) modes.push_back(s.mode);
  if (!modes.empty())
    for (const auto& i : inference::influences(compiled(), state().evidence, modes)) {
      const Taken* t = i.event < state().evidence_entry.size() ? behind(state(), i.event) : nullptr;
      if (t == nullptr || i.mode < 0) continue;
      const auto& mode = vehicle().modes[i.mode];
      const auto* checked = std::get_if<model::Checked>(&state().evidence[i.event]);
    const std::string line = !checked               ? reading_line(vehicle(), *t)
                             : checked->still_there ? "functional check: the complaint is still there"
                                                    : "functional check: the complaint is gone";
    view.influences.push_back({t->sequence, line, mode.id, mode.title, i.likelihood_ratio});
    }
  if (view.test == model::k_none) return view;
  const auto& test = vehicle().tests[view.test];
  for (const auto& s : view.suspects)
    if (s.mode >= 0)
      view.predictions.push_back(
          {s.mode_id, s.title, s.probability, prediction_words(test, belief.predict(view.test, s.mode))});
  view.predictions.push_back({"", "nothing wrong", view.nothing_wrong,
                              prediction_words(test, inference::healthy_band(*compiled(), view.test))});
  view.results = result_classes(*impl_, view.test);
  return view;
}

CheckView Job::check_view() const {
  CheckView view;
  if (const auto which = spark_test(vehicle())) {
    const auto& t = vehicle().tests[*which];
    view.test = *which;
    view.title = t.title;
    for (const Index s : state().setups_standing)
      if (const auto& wanted = setups_of(vehicle(), t); std::find(wanted.begin(), wanted.end(), s) == wanted.end())
        view.how.push_back("take down: " + vehicle().setups[s].title + ", plug in what was unplugged");
    for (const Index s : setups_of(vehicle(), t)) view.how.push_back(vehicle().setups[s].instruction);
    if (!t.hook_up.empty()) view.how.push_back(t.hook_up);
    const auto p = complaint_provocation(vehicle(), state().intake);
    for (const auto& c : vehicle().conditions)
      if (!c.is_state && c.provocation == p && p != model::Provocation::none)
        view.how.push_back(c.title + ": " + c.instruction);
    if (t.scene >= 0 && vehicle().scenes[t.scene].condition >= 0)
      view.how.push_back(vehicle().conditions[vehicle().scenes[t.scene].condition].instruction);
    for (const auto& w : t.words) view.words.push_back(spaced_words(w));
  }
  if (const Taken* worst = worst_before_repair(*impl_)) {
    const auto& t = vehicle().tests[worst->reading.test];
    view.repeat_sequence = worst->sequence;
    view.repeat_test = t.id;
    view.repeat_text = reading_line(vehicle(), *worst) + " before, healthy " +
                       prediction_words(t, inference::healthy_band(*compiled(), worst->reading.test));
  }
  if (stops_needed()) view.stops = stops();
  return view;
}

}  // namespace lostspark::job
