#include "job/sheet.hpp"

#include <algorithm>

#include "job/intake_words.hpp"
#include "job/job_impl.hpp"
#include "job/words.hpp"

namespace lostspark::job {
namespace {

std::string state_words(const model::Vehicle& v, const Taken& t) {
  const auto& test = v.tests[t.reading.test];
  std::vector<std::string> out;
  if (test.scene >= 0 && v.scenes[test.scene].condition >= 0)
    out.push_back(v.conditions[v.scenes[test.scene].condition].title);
  if (t.reading.provocation != model::Provocation::none) out.push_back(to_string(t.reading.provocation));
  for (const Index s : t.setups) out.push_back(v.setups[s].title);
  return joined(out, ", ");
}

SheetValue value_of(const Job& job, const Taken& t) {
  const auto& test = job.vehicle().tests[t.reading.test];
  const auto* instrument = job.workshop().find(test.instrument, test.unit);
  SheetValue out;
  out.sequence = t.sequence;
  out.test_id = test.id;
  out.title = test.title;
  out.value = reading_text(test, t.reading.value);
  out.instrument = t.at_intake             ? "on arrival"
                   : instrument != nullptr ? instrument->title
                                           : spaced_words(test.instrument);
  out.state = state_words(job.vehicle(), t);
  out.at = t.at;
  return out;
}

/// Struck readings stay on the sheet: what was read and taken back is part of the story.
void add_struck(const Job& job, Sheet& sheet) {
  const auto force = in_force(job.log());
  for (const auto& entry : job.log()) {
    if (entry.kind != "reading" || !force.struck.contains(entry.sequence) || force.undone.contains(entry.sequence))
      continue;
    Taken t;
    t.sequence = entry.sequence;
    t.reading = reading_from(job.vehicle(), body_of(entry));
    t.at = entry.at;
    auto value = value_of(job, t);
    value.struck = true;
    sheet.values.push_back(std::move(value));
  }
  std::sort(sheet.values.begin(), sheet.values.end(),
            [](const auto& a, const auto& b) { return a.sequence < b.sequence; });
}

/// The same test before and after the last repair; the one that was furthest from healthy.
void add_proof(const Job& job, Sheet& sheet) {
  const State& s = job.state();
  if (s.repairs.empty()) return;
  const auto last = s.repairs.back().sequence;
  const Taken *before = nullptr, *after = nullptr;
  double most = -1;
  for (const auto& a : s.readings) {
    if (a.sequence >= last) break;
    const Taken* repeat = nullptr;
    for (const auto& b : s.readings)
      if (b.sequence > last && b.reading.test == a.reading.test) repeat = &b;
    if (repeat == nullptr) continue;
    // Two readings of one test before: the later stands for the fault as it was found.
    const double bad = badness(job.compiled(), a.reading) + (job.vehicle().tests[a.reading.test].is_word() ? 0 : 0.1);
    if (bad < most) continue;
    most = bad;
    before = &a;
    after = repeat;
  }
  if (before == nullptr) return;
  const auto& test = job.vehicle().tests[before->reading.test];
  sheet.proof_test = test.title;
  sheet.proof_before = reading_text(test, before->reading.value);
  sheet.proof_after = reading_text(test, after->reading.value);
}

/// What was wrong, where a passed check proves it: the likeliest fault of each repair made since the last failed check.
std::string cause_of(const Job& job) {
  const State& s = job.state();
  const auto& v = job.vehicle();
  const bool proved = !s.checks.empty() && s.checks.back().passed;
  if (!proved || s.repairs.empty()) {
    const auto now = suspect_views(v, job.posterior(), 0.01, 1);
    if (now.empty()) return s.outcome == "fixed" ? "nothing found" : "not found";
    return "not proved; first suspect: " + now.front().title;
  }
  std::int64_t failed = 0;
  for (const auto& c : s.checks)
    if (!c.passed) failed = c.sequence;
  std::vector<std::string> out;
  for (const auto& r : s.repairs) {
    if (r.part == PartState::returned || r.sequence < failed) continue;
    model::Evidence before;
    for (std::size_t e = 0; e < s.evidence.size() && s.evidence_entry[e] < r.sequence; ++e)
      before.push_back(s.evidence[e]);
    const auto suspects = suspect_views(v, inference::update(job.compiled(), before), 1e-9, v.modes.size());
    const auto at = std::find_if(suspects.begin(), suspects.end(),
                                 [&](const auto& x) { return x.mode >= 0 && v.modes[x.mode].repair == r.repair; });
    out.push_back(at != suspects.end() ? at->title : v.components[v.repairs[r.repair].component].title);
  }
  return joined(out);
}

std::string complaint_of(const Job& job) {
  std::vector<std::string> out;
  for (const auto& id : job.state().intake.complaints)
    if (const auto c = job.vehicle().find_complaint(id)) out.push_back(job.vehicle().complaints[*c].title);
  if (!job.state().intake.words.empty()) out.push_back(job.state().intake.words);
  return joined(out, "; ");
}

}  // namespace

Sheet make_sheet(const Job& job) {
  const State& s = job.state();
  const auto& v = job.vehicle();
  Sheet sheet;
  sheet.workshop = job.workshop().title;
  sheet.job = job.id();
  sheet.vehicle = v.title;
  sheet.opened_at = job.header().opened_at;
  sheet.state = s.outcome.empty() ? spaced_words(to_string(s.state)) : "closed: " + spaced_words(s.outcome);
  sheet.intake = intake_lines(v, s.intake);
  sheet.complaint = complaint_of(job);
  sheet.cause = cause_of(job);
  std::vector<std::string> done;
  for (const auto& r : s.repairs) {
    const auto& repair = v.repairs[r.repair];
    if (r.part != PartState::returned && std::find(done.begin(), done.end(), repair.title) == done.end())
      done.push_back(repair.title);
    sheet.parts.push_back({repair.title, spaced_words(to_string(r.part)), r.price, repair.labour_min});
    if (r.part == PartState::fitted) sheet.parts_money += r.price;
  }
  sheet.correction = joined(done);
  for (const auto& t : s.readings) sheet.values.push_back(value_of(job, t));
  add_struck(job, sheet);
  add_proof(job, sheet);
  if (!s.checks.empty())
    sheet.check = std::string(s.checks.back().passed ? "passed" : "failed") +
                  (s.checks.back().words.empty() ? "" : " (" + s.checks.back().words + ")");
  sheet.minutes = s.minutes;
  sheet.labour_money = s.minutes / 60 * job.workshop().labour_rate_per_hour;
  for (const auto& stop : job.stops())
    if (stop.recorded || job.stops_needed())
      sheet.stops.push_back(stop.title + (stop.recorded ? ": recorded as working" : ": NOT recorded"));
  sheet.notes = s.notes;
  for (const auto& c : job.cautions_before_first())
    sheet.cautions.push_back(c.signal_word + ": " + c.text + "; " + c.avoid);
  sheet.deference = deference_text();
  return sheet;
}

}  // namespace lostspark::job
