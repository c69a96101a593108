// What a closed job says about faults and healthy values: docs/learning.md, 1 and 2.
#include <algorithm>
#include <map>
#include <set>

#include "base/error.hpp"
#include "job/bodies.hpp"
#include "job/fault_class.hpp"
#include "job/memory.hpp"
#include "job/minutes.hpp"
#include "job/words.hpp"
#include "learning/pattern.hpp"

namespace lostspark::job {
namespace {

using model::Vehicle;

constexpr double k_tested_bad = 0.95;
constexpr double k_least_set = 1e-7;  // posterior of a fault set that is kept in a pattern
constexpr double k_found = 0.5;       // a look that shows this mode at least so often has seen it

/// Last failed check; repairs made since it are what cured.
std::int64_t last_failure(const State& s) {
  std::int64_t out = 0;
  for (const auto& c : s.checks)
    if (!c.passed) out = c.sequence;
  return out;
}

bool was_fixed(const State& s) {
  return s.state == history::JobState::closed && s.outcome == to_string(Outcome::fixed) && !s.checks.empty() &&
         s.checks.back().passed;
}

/// The repair cured it, the old part put back failed again, the repair done again cured it again.
bool proved(const Job& job, Index repair) {
  const InForce force = in_force(job.log());
  int stage = 0;  // 1 repaired, 2 passed, 3 old part back, 4 failed, 5 repaired again, 6 passed
  for (const auto& entry : job.log()) {
    if (!force.counts(entry.sequence)) continue;
    const Json body = body_of(entry);
    const bool this_one = body.value("repair", "") == job.vehicle().repairs[repair].id;
    bool passed = body.value("passed", false);
    if (const auto amended = force.amended.find(entry.sequence); amended != force.amended.end())
      passed = amended->second.value("passed", passed);
    if (entry.kind == "repaired" && this_one)
      stage = stage >= 4 ? 5 : 1;
    else if (entry.kind == "repaired" || (entry.kind == "refitted" && !this_one))
      stage = stage == 6 ? 6 : 0;  // something else was done in between: it may have been that
    else if (entry.kind == "refitted")
      stage = stage == 2 ? 3 : 0;
    else if (entry.kind == "checked")
      stage = stage == 1 && passed ? 2 : stage == 3 && !passed ? 4 : stage == 5 && passed ? 6 : stage == 6 ? 6 : 0;
  }
  return stage == 6;
}

model::Evidence before(const State& s, std::int64_t sequence) {
  model::Evidence out;
  for (std::size_t e = 0; e < s.evidence.size() && s.evidence_entry[e] < sequence; ++e) out.push_back(s.evidence[e]);
  return out;
}

/// A look before the repair found a mode that this repair mends.
bool seen(const Vehicle& v, const State& s, const RepairDone& done) {
  for (const auto& taken : s.readings) {
    if (taken.sequence >= done.sequence || taken.at_intake) continue;
    const auto& test = v.tests[taken.reading.test];
    if (test.reads != model::Reads::finding || taken.reading.value.word == 0) continue;
    for (const auto& row : test.findings)
      if (row.word == taken.reading.value.word && row.probability >= k_found && v.modes[row.mode].repair == done.repair)
        return true;
  }
  return false;
}

struct Confirmed {
  Index repair = model::k_none, mode = model::k_none;
  std::string how;
};

std::vector<Confirmed> confirmed_faults(const Job& job) {
  std::vector<Confirmed> out;
  const State& s = job.state();
  if (!was_fixed(s)) return out;
  const auto& v = job.vehicle();
  const auto failed = last_failure(s);
  for (const auto& r : s.repairs) {
    if (r.part == PartState::returned || r.sequence < failed) continue;
    const auto belief = inference::update(job.compiled(), before(s, r.sequence));
    double sum = 0;
    Confirmed c{r.repair, model::k_none, ""};
    for (const auto& suspect : belief.suspects(1e-9))
      if (suspect.mode >= 0 && v.modes[suspect.mode].repair == r.repair) {
        if (c.mode == model::k_none) c.mode = suspect.mode;
        sum += suspect.probability;
      }
    if (c.mode == model::k_none) continue;
    if (proved(job, r.repair))
      c.how = "proved";
    else if (seen(v, s, r))
      c.how = "seen";
    else if (sum >= k_tested_bad)
      c.how = "tested_bad";
    if (!c.how.empty()) out.push_back(std::move(c));
  }
  return out;
}

/// Likelihood of the log for each class of faults. Where a fault was proved or seen only fault sets with it count.
std::string pattern_of(const Job& job, const Vehicle& filed, const std::vector<Confirmed>& confirmed) {
  const auto& v = job.vehicle();
  const auto believed = mode_odds(v), odds = mode_odds(filed);
  const auto of_class = class_odds(filed);
  std::set<Index> certain;
  for (const auto& c : confirmed)
    if (c.how != "tested_bad") certain.insert(c.repair);
  std::map<std::vector<std::string>, double> sums;
  for (const auto& set : job.posterior().first_fault_sets(k_least_set)) {
    std::set<Index> mended;
    double likelihood = set.probability, weight = 1;
    std::vector<std::string> classes;
    for (const Index m : set.modes) {
      mended.insert(v.modes[m].repair);
      likelihood /= believed[static_cast<std::size_t>(m)];
      weight *= odds[static_cast<std::size_t>(m)];
      classes.push_back(fault_class(filed, m));
    }
    // Two certain faults and a third: sets hold two at most.
    const auto there = static_cast<std::size_t>(
        std::count_if(certain.begin(), certain.end(), [&](Index r) { return mended.contains(r); }));
    if (there < std::min<std::size_t>(certain.size(), 2)) continue;
    std::sort(classes.begin(), classes.end());
    sums[classes] += likelihood * weight;
  }
  std::vector<learning::PatternEntry> entries;
  for (const auto& [classes, sum] : sums) {
    double whole = 1;
    for (const auto& c : classes) whole *= std::max(of_class.at(c), 1e-30);
    entries.push_back({classes, sum / whole});
  }
  return learning::pattern_text(std::move(entries));
}

std::string blank_joined(const std::set<std::string>& items) {
  std::string out;
  for (const auto& i : items) out += (out.empty() ? "" : " ") + i;
  return out;
}

std::string replaced_for_nothing(const Job& job, const std::vector<Confirmed>& confirmed) {
  const auto& v = job.vehicle();
  std::set<std::string> out;
  for (const auto& r : job.state().repairs) {
    const auto& repair = v.repairs[r.repair];
    if (repair.kind != model::RepairKind::replace || repair.component < 0) continue;
    const bool was_it = std::any_of(confirmed.begin(), confirmed.end(),
                                    [&](const Confirmed& c) { return model::mends(v, r.repair, c.mode); });
    // Where nothing is confirmed nobody knows; a part given back was not it.
    if (!was_it && (r.part == PartState::returned || !confirmed.empty())) out.insert(v.components[repair.component].id);
  }
  return blank_joined(out);
}

std::vector<history::Baseline> healthy_readings(const Job& job) {
  std::vector<history::Baseline> out;
  const State& s = job.state();
  const auto& v = job.vehicle();
  if (!was_fixed(s)) return out;
  std::int64_t last = 0;
  for (const auto& r : s.repairs) last = std::max(last, r.sequence);
  if (last == 0) return out;
  for (const auto& t : s.readings) {
    if (t.sequence <= last || t.at_intake || t.reading.value.kind != model::ValueKind::number) continue;
    const auto& test = v.tests[t.reading.test];
    if (!(t.reading.value.number > 0)) continue;
    history::Baseline b;
    b.vehicle = v.id;
    b.family = v.family;
    b.test = test.id;
    b.unit = test.unit;
    b.value = t.reading.value.number;
    if (test.scene >= 0 && v.scenes[test.scene].condition >= 0)
      b.condition = v.conditions[v.scenes[test.scene].condition].id;
    if (t.reading.provocation != model::Provocation::none)
      b.condition += (b.condition.empty() ? "" : ", ") + to_string(t.reading.provocation);
    const auto* instrument = job.workshop().find(test.instrument, test.unit);
    if (instrument != nullptr) b.instrument = instrument->id;
    b.read_at = t.at;
    b.source = "job";
    b.job = job.id();
    b.sequence = t.sequence;
    out.push_back(std::move(b));
  }
  return out;
}

}  // namespace

std::optional<Remembered> remember(Desk& desk, const Job& job) {
  if (job.state().state != history::JobState::closed) return std::nullopt;
  const auto filed = desk.vehicle_as_filed(job.header());
  auto& knowledge = desk.store().knowledge();
  const auto confirmed = confirmed_faults(job);
  Remembered out;
  auto& c = out.closed;
  c.job = job.id();
  c.family = filed->family;
  c.vehicle = filed->id;
  c.pattern = pattern_of(job, *filed, confirmed);
  std::set<std::string> faults;
  // The weakest of several confirmations stands for the case.
  for (const auto& f : confirmed) {
    faults.insert(filed->modes[f.mode].id);
    if (c.confirmed.empty() || f.how == "tested_bad" || (f.how == "seen" && c.confirmed == "proved"))
      c.confirmed = f.how;
  }
  c.faults = blank_joined(faults);
  c.for_nothing = replaced_for_nothing(job, confirmed);
  c.closed_at = job.log().back().at;
  c.entries = job.state().last;
  std::vector<history::ClassOdds> odds;
  for (const auto& [name, o] : class_odds(*filed)) odds.push_back({filed->id, filed->family, name, o});
  if (c.pattern.empty()) return std::nullopt;  // nothing that was believed possible is left
  const auto healthy = healthy_readings(job);
  knowledge.take_from_job(job.id(), healthy);
  out.healthy_readings = healthy.size();
  const auto steps = noted_steps(job);
  knowledge.take_minutes(job.id(), steps);
  out.noted_steps = steps.size();
  knowledge.put_case(c, odds);  // last: catch_up passes over a job that has a case
  return out;
}

void unlearn(Desk& desk, const std::string& job) {
  auto& knowledge = desk.store().knowledge();
  knowledge.take_from_job(job, {});
  knowledge.take_minutes(job, {});
  knowledge.drop_case("", job);  // last, as above
}

std::string confirmation_words(const std::string& confirmed) {
  if (confirmed == "proved") return "proved by refitting the old part";
  if (confirmed == "tested_bad") return "tested bad";
  return confirmed.empty() ? "not confirmed" : confirmed;
}

CatchUp catch_up(Desk& desk) {
  CatchUp out;
  auto& knowledge = desk.store().knowledge();
  for (const auto& summary : desk.jobs()) {
    const auto known = knowledge.find_case("", summary.header.id);
    if (summary.state != history::JobState::closed) {
      if (!known) continue;
      unlearn(desk, summary.header.id);
      ++out.dropped;
      continue;
    }
    if (known && known->entries == summary.entries) continue;
    try {
      if (remember(desk, desk.load(summary.header.id))) ++out.remembered;
    } catch (const PluginError& error) {
      out.problems.push_back(error.what());
    }
  }
  return out;
}

}  // namespace lostspark::job
