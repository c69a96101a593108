// Acting on a job: repairs, the functional check, stops and interlocks, states and closing.
#include <algorithm>
#include <cmath>

#include "base/error.hpp"
#include "job/fault_class.hpp"
#include "job/intake_words.hpp"
#include "job/job_impl.hpp"
#include "job/words.hpp"

namespace lostspark::job {
namespace {

using model::ComponentKind;

/// What a failed check saw when nobody said: what the complaint says, else no spark.
std::size_t failed_word(const model::Vehicle& v, const Intake& intake, const model::Test& test) {
  for (const auto& id : intake.complaints)
    if (const auto c = v.find_complaint(id))
      if (v.complaints[*c].about(test.output) && v.complaints[*c].word + 1 < test.words.size())
        return v.complaints[*c].word;
  return 0;
}

bool opens_something(const model::Setup& setup) {
  return setup.moves_contacts || std::any_of(setup.effects.begin(), setup.effects.end(),
                                             [](const auto& e) { return e.kind == model::EffectKind::open_node; });
}

std::vector<std::string> missing_for_fixed(const Job& job) {
  std::vector<std::string> missing;
  const State& s = job.state();
  const auto last_repair = s.repairs.empty() ? std::int64_t{0} : s.repairs.back().sequence;
  if (s.checks.empty() || s.checks.back().sequence < last_repair)
    missing.emplace_back("a functional check after the last repair");
  else if (!s.checks.back().passed)
    missing.emplace_back("a functional check that passes (the last one failed)");
  for (const auto& r : s.repairs)
    if (r.part == PartState::tried)
      missing.push_back("whether the part on trial stays (" + job.vehicle().repairs[r.repair].id +
                        ": repaired or returned)");
  if (job.stops_needed())
    for (const auto& stop : job.stops())
      if (!stop.recorded) missing.push_back("that the " + stop.title + " stops the engine");
  return missing;
}

}  // namespace

std::vector<StopView> Job::stops() const {
  const auto& v = vehicle();
  std::vector<StopView> out, others;
  for (std::size_t c = 0; c < v.components.size(); ++c) {
    const auto& component = v.components[c];
    if (!component.stops_engine) continue;
    StopView stop{static_cast<Index>(c), component.id, component.title, false};
    for (const auto& checked : state().stops)
      if (checked.component == stop.component && checked.sequence > state().stop_wiring_touched) stop.recorded = true;
    // The wires of the circuit are proved by the switch at their end.
    (component.kind == ComponentKind::part ? out : others).push_back(std::move(stop));
  }
  return out.empty() ? others : out;
}

bool Job::stops_needed() const { return state().stop_wiring_touched > 0; }

Done Job::repaired(std::string_view repair_id, const RepairOptions& how) {
  impl_->must_be_open();
  const Index which = repair(repair_id);
  const auto& r = vehicle().repairs[which];
  const double price = how.price.value_or(r.price);
  if (!(std::isfinite(price) && price >= 0)) throw InputError("a price must be a sum of money, 0 or more");
  if (how.part == PartState::returned)
    throw InputError("an old part put back is recorded as returned, not as a repair");
  const bool stays = how.part == PartState::fitted &&
                     std::any_of(state().repairs.begin(), state().repairs.end(),
                                 [which](const auto& d) { return d.repair == which && d.part == PartState::tried; });
  if (stays) {
    Draft bill;
    bill.add("repaired", {{"repair", r.id}, {"part", to_string(PartState::fitted)}, {"price", price}});
    return {impl_->append(bill), "the part on trial stays: " + r.title, {}};
  }
  Draft draft;
  impl_->open_covers(r.covers, draft);
  const bool part = r.kind == model::RepairKind::replace && r.component >= 0 &&
                    vehicle().components[r.component].kind == ComponentKind::part;
  // A new part is unplugged and plugged: its contacts are moved and may be cured or hidden.
  if (part) impl_->touch(neighbouring_contacts(vehicle(), r.component), draft);
  const PartState state_of_part = price > 0 || how.part == PartState::tried ? how.part : PartState::no_part;
  draft.spend("repair." + repair_class(vehicle(), which), r.labour_min);
  draft.add("repaired", {{"repair", r.id},
                         {"part", to_string(state_of_part)},
                         {"price", price},
                         {"minutes", draft.minutes},
                         {"items", draft.items}});
  const auto sequence = impl_->append(draft);
  return {sequence, "done: " + r.title, draft.also};
}

Done Job::returned(std::string_view repair_id) {
  impl_->must_be_open();
  const Index which = repair(repair_id);
  const auto& r = vehicle().repairs[which];
  if (std::none_of(state().repairs.begin(), state().repairs.end(),
                   [which](const auto& d) { return d.repair == which && d.part != PartState::returned; }))
    throw InputError("'" + r.id + "' was not done on job " + id() + ", so there is no old part to put back");
  Draft draft;
  impl_->open_covers(r.covers, draft);
  if (r.component >= 0) impl_->touch(neighbouring_contacts(vehicle(), r.component), draft);
  draft.spend("repair." + repair_class(vehicle(), which), r.labour_min);
  draft.add("refitted", {{"repair", r.id}, {"minutes", draft.minutes}, {"items", draft.items}});
  const auto sequence = impl_->append(draft);
  return {sequence, "old part back in: " + r.title, draft.also};
}

Done Job::check(std::string_view result) {
  impl_->must_be_open();
  const std::string said = lowered(trimmed(result));
  const auto which = spark_test(vehicle());
  bool passed = said == "passed" || said == "1";
  const bool failed = said == "failed" || said == "2";
  // The spark is back, the trouble is not: what ails it may be timing, a fault that hides, or not ignition.
  const bool still = said == "still_there" || said == "still there" || said == "3";
  Draft draft;
  Json body = Json::object();
  std::string seen = passed ? "passed" : "failed";
  if (which) {
    const auto& t = vehicle().tests[*which];
    model::Value value;
    value.kind = model::ValueKind::word;
    if (passed || still)
      value.word = t.words.size() - 1;
    else if (failed)
      value.word = failed_word(vehicle(), state().intake, t);
    else
      value = parse_reading(t, impl_->instrument_of(t), said).value;
    passed = value.word + 1 == t.words.size() && !still;
    impl_->approach(*which, draft);
    ReadingOptions how;
    how.provocation = complaint_provocation(vehicle(), state().intake);
    how.reseated = true;
    const auto reading = impl_->reading_now(*which, value, how, impl_->next_sequence(draft));
    body = to_json(vehicle(), reading, reading_text(t, value));
    seen = std::string(passed ? "passed" : "failed") + ", " + reading_text(t, value);
    if (still) seen += ", but the complaint is still there";
  } else if (!passed && !failed && !still) {
    throw InputError("'" + std::string(result) +
                     "' is no result of a check; expected passed (1), failed (2) or still_there (3)");
  }
  body["passed"] = passed;
  body["still_there"] = !passed;
  if (!which) body["provocation"] = to_string(complaint_provocation(vehicle(), state().intake));
  body["minutes"] = draft.minutes + impl_->workshop.check_min;
  draft.add("checked", std::move(body));
  const auto sequence = impl_->append(draft);
  return {sequence, "check " + seen, draft.also};
}

Done Job::stop_checked(std::string_view component_id) {
  impl_->must_be_open();
  std::vector<std::string> known;
  for (const auto& stop : stops()) {
    if (stop.id == component_id) {
      for (const Index s : state().setups_standing)
        if (opens_something(vehicle().setups[s]))
          throw InputError("a stop is proved with everything plugged in: take down the " + vehicle().setups[s].title +
                           " first");
      Draft draft;
      draft.add("stop_checked", {{"component", stop.id}, {"minutes", 1.0}});
      return {impl_->append(draft), stop.title + ": recorded as working", {}};
    }
    known.push_back(stop.id);
  }
  throw InputError(unknown("stop or interlock", component_id, known));
}

Done Job::set_state(history::JobState next) {
  if (next == history::JobState::closed)
    throw InputError("a job is closed with its outcome: fixed, not_ignition or referred_on");
  impl_->must_be_open();
  if (next == state().state) throw InputError("the job is '" + spaced_words(to_string(next)) + "' already");
  Draft draft;
  draft.add("state", {{"state", to_string(next)}});
  return {impl_->append(draft), "state: " + spaced_words(to_string(next)), {}};
}

Done Job::close(Outcome result) {
  impl_->must_be_open();
  std::vector<std::string> missing;
  if (result == Outcome::fixed) missing = missing_for_fixed(*this);
  // A tester is taken off in passing; what was unplugged must be said to be plugged in again.
  for (const Index s : state().setups_standing)
    if (opens_something(vehicle().setups[s]))
      missing.push_back("that the " + vehicle().setups[s].title + " is taken down");
  if (!missing.empty())
    throw InputError("job " + id() + " cannot close as " + spaced_words(to_string(result)) +
                     "; still to be recorded: " + joined(missing));
  Draft draft;
  impl_->change_setups({}, draft);
  if (result != Outcome::referred_on && !state().covers_off.empty()) impl_->fit_covers(state().covers_off, draft);
  draft.add("closed", {{"outcome", to_string(result)}, {"minutes", draft.minutes}});
  const auto sequence = impl_->append(draft);
  return {sequence, "closed: " + spaced_words(to_string(result)), draft.also};
}

}  // namespace lostspark::job
