// Acting on a job: readings, skips, corrections, covers, set-ups. Repairs, checks and closing are in acts_repair.cpp.
#include <algorithm>
#include <charconv>

#include "base/error.hpp"
#include "job/job_impl.hpp"
#include "job/words.hpp"

namespace lostspark::job {
namespace {

const history::LogEntry& entry_of(const Job::Impl& job, std::int64_t sequence) {
  for (const auto& e : job.log)
    if (e.sequence == sequence) return e;
  throw InputError("job " + job.id + " has no entry " + std::to_string(sequence) + "; its log ends at " +
                   std::to_string(job.state.last));
}

/// The entry, if it still counts.
const history::LogEntry& entry_in_force(const Job::Impl& job, std::int64_t sequence) {
  const auto& entry = entry_of(job, sequence);
  const auto force = in_force(job.log);
  if (force.undone.contains(sequence)) throw InputError("entry " + std::to_string(sequence) + " was undone already");
  if (force.struck.contains(sequence)) throw InputError("entry " + std::to_string(sequence) + " was struck already");
  return entry;
}

std::string numbers_to_amend(const Job::Impl& job) {
  std::vector<std::string> out;
  for (const auto& t : job.state.readings)
    if (!t.at_intake) out.push_back(std::to_string(t.sequence));
  return out.empty() ? "there is no reading yet" : "readings: " + joined(out);
}

/// "12", "12.5", "7,5 min"; throws InputError.
double minutes_typed(std::string_view typed) {
  std::string text = lowered(trimmed(typed));
  for (const std::string_view unit : {"minutes", "minute", "mins", "min", "m"})
    if (text.size() > unit.size() && text.ends_with(unit)) {
      text = trimmed(std::string_view(text).substr(0, text.size() - unit.size()));
      break;
    }
  std::replace(text.begin(), text.end(), ',', '.');
  double minutes = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), minutes);
  if (error != std::errc() || end != text.data() + text.size() || !(minutes >= 0.1 && minutes <= 1440))
    throw InputError("'" + std::string(typed.substr(0, 40)) +
                     "' is no time a step takes; expected minutes at work, 0.1 to 1440");
  return minutes;
}

/// A step whose planned minutes are told by item.
bool timed(const history::LogEntry& entry) {
  const Json body = body_of(entry);
  return body.contains("items") && !body.at("items").empty();
}

template <class Rows>
std::vector<std::string> ids_of(const Rows& rows) {
  std::vector<std::string> out;
  for (const auto& r : rows) out.push_back(r.id);
  return out;
}

}  // namespace

Done Job::record(std::string_view test_id, std::string_view typed, const ReadingOptions& how) {
  const Index which = test(test_id);
  const auto& t = vehicle().tests[which];
  return record(which, parse_reading(t, impl_->instrument_of(t), typed).value, how, trimmed(typed));
}

Done Job::record(Index which, const model::Value& value, const ReadingOptions& how, std::string typed) {
  impl_->must_be_open();
  const auto& t = vehicle().tests[which];
  if (!impl_->can_do(t))
    throw InputError(
        t.id + " needs a " + spaced_words(t.instrument) + " (" + t.unit +
        "), which the workshop's list does not have; an ordinary multimeter shows nonsense on ignition pulses");
  Draft draft;
  impl_->approach(which, draft);
  const auto sequence = impl_->next_sequence(draft);
  const auto reading = impl_->reading_now(which, value, how, sequence);
  Json body = to_json(vehicle(), reading, typed.empty() ? reading_text(t, value) : typed);
  body["minutes"] = draft.minutes;
  body["items"] = draft.items;
  draft.add("reading", std::move(body));
  Done done{sequence, "recorded " + std::to_string(sequence) + ": " + t.title + " " + reading_text(t, value),
            draft.also};
  impl_->append(draft);
  return done;
}

Done Job::skip(std::string_view test_id, SkipReason reason) {
  impl_->must_be_open();
  const auto& t = vehicle().tests[test(test_id)];
  Draft draft;
  draft.add("skipped", {{"test", t.id}, {"reason", to_string(reason)}});
  const auto sequence = impl_->append(draft);
  return {sequence, "skipped: " + t.title + " (" + spaced_words(to_string(reason)) + ")", {}};
}

Done Job::amend(std::int64_t sequence, std::string_view typed) {
  impl_->must_be_open();
  const auto& entry = entry_in_force(*impl_, sequence);
  const Taken* taken = state().find_reading(sequence);
  if ((entry.kind != "reading" && entry.kind != "checked") || taken == nullptr)
    throw InputError("entry " + std::to_string(sequence) + " (" + entry.kind + ") is no reading that can be amended; " +
                     numbers_to_amend(*impl_));
  const auto& t = vehicle().tests[taken->reading.test];
  const auto parsed = parse_reading(t, impl_->instrument_of(t), typed);
  Json body{{"target", sequence}, {"value", to_json(parsed.value)}, {"typed", trimmed(typed)}};
  if (entry.kind == "checked") body["passed"] = t.is_word() && parsed.value.word + 1 == t.words.size();
  Draft draft;
  draft.add("amended", std::move(body));
  const auto done = impl_->append(draft);
  return {done, "amended " + std::to_string(sequence) + ": " + t.title + " " + parsed.echo, {}};
}

Done Job::strike(std::int64_t sequence, std::string_view reason) {
  impl_->must_be_open();
  const auto& entry = entry_in_force(*impl_, sequence);
  static const std::vector<std::string> kinds{"reading",  "checked",      "skipped", "touched", "repaired",
                                              "refitted", "stop_checked", "took",    "note"};
  if (std::find(kinds.begin(), kinds.end(), entry.kind) == kinds.end())
    throw InputError("entry " + std::to_string(sequence) + " (" + entry.kind + ") cannot be struck; " +
                     numbers_to_amend(*impl_) + "; covers and set-ups are corrected by their own commands");
  Draft draft;
  draft.add("struck", {{"target", sequence}, {"reason", trimmed(reason)}});
  const auto done = impl_->append(draft);
  return {done, "struck entry " + std::to_string(sequence), {}};
}

Done Job::undo() {
  const auto targets = last_action(log());
  if (targets.empty()) throw InputError("there is nothing to undo on job " + id());
  std::vector<std::string> also;
  for (const auto& line : history())
    if (std::find(targets.begin(), targets.end(), line.sequence) != targets.end()) also.push_back(line.text);
  Draft draft;
  draft.add("undone", {{"targets", targets}});
  const auto sequence = impl_->append(draft);
  return {sequence, "undone: " + also.back(), also};
}

Done Job::cover(std::string_view cover_id, bool off) {
  impl_->must_be_open();
  const auto found = vehicle().find_cover(cover_id);
  if (!found) throw InputError(unknown("cover", cover_id, ids_of(vehicle().covers)));
  const bool is_off =
      std::find(state().covers_off.begin(), state().covers_off.end(), *found) != state().covers_off.end();
  const std::string title = vehicle().covers[*found].title;
  if (is_off == off) throw InputError(title + " is " + (off ? "off" : "on") + " already");
  Draft draft;
  if (off)
    impl_->open_covers({*found}, draft);
  else
    impl_->fit_covers({*found}, draft);
  draft.entries.back().second["minutes"] = draft.minutes;
  draft.entries.back().second["items"] = draft.items;
  const auto sequence = impl_->append(draft);
  return {sequence, joined(draft.also, "; "), {}};
}

Done Job::setup(std::string_view setup_id, bool make) {
  impl_->must_be_open();
  const auto found = vehicle().find_setup(setup_id);
  if (!found) throw InputError(unknown("set-up", setup_id, ids_of(vehicle().setups)));
  auto wanted = state().setups_standing;
  const bool stands = std::find(wanted.begin(), wanted.end(), *found) != wanted.end();
  if (stands == make) throw InputError(vehicle().setups[*found].title + (make ? " stands already" : " does not stand"));
  if (make)
    wanted.push_back(*found);
  else
    std::erase(wanted, *found);
  Draft draft;
  impl_->change_setups(wanted, draft);
  draft.entries.front().second["minutes"] = draft.minutes;
  draft.entries.front().second["items"] = draft.items;
  const auto sequence = impl_->append(draft);
  return {sequence, joined(draft.also, "; "), {}};
}

Done Job::provoke(model::Provocation p) {
  impl_->must_be_open();
  if (p == state().provocation) throw InputError("the vehicle is held '" + to_string(p) + "' already");
  Draft draft;
  Json body{{"held", to_string(p)}};
  for (const auto& c : vehicle().conditions)
    if (!c.is_state && c.provocation == p && p != model::Provocation::none) {
      draft.spend("condition." + c.id, c.minutes);
      body["minutes"] = draft.minutes;
      body["items"] = draft.items;
      break;
    }
  draft.add("provocation", std::move(body));
  const auto sequence = impl_->append(draft);
  return {sequence, "held: " + to_string(p), {}};
}

Done Job::touched(const std::vector<std::string>& component_ids) {
  impl_->must_be_open();
  std::vector<Index> which;
  for (const auto& c : component_ids) {
    const auto found = vehicle().find_component(c);
    if (!found) throw InputError(unknown("component", c, ids_of(vehicle().components)));
    which.push_back(*found);
  }
  if (which.empty()) throw InputError("name the contacts that were moved");
  Draft draft;
  impl_->touch(which, draft);
  const auto sequence = impl_->append(draft);
  return {sequence, draft.also.front(), {}};
}

Done Job::took(std::string_view typed, std::optional<std::int64_t> entry) {
  impl_->must_be_open();
  const double minutes = minutes_typed(typed);
  std::int64_t target = 0;
  std::string what;
  const InForce force = in_force(log());
  for (const auto& e : log())
    if ((!entry || e.sequence == *entry) && force.counts(e.sequence) && timed(e)) target = e.sequence;
  if (target == 0 && entry)
    throw InputError("entry " + std::to_string(*entry) +
                     " is no step whose minutes are noted; expected a reading, a repair, a cover, a set-up or what is "
                     "held, that still counts");
  if (target == 0) throw InputError("there is no step yet whose minutes could be noted");
  for (const auto& line : history())
    if (line.sequence == target) what = line.text;
  Draft draft;
  draft.add("took", {{"target", target}, {"taken", minutes}});
  return {impl_->append(draft), "took " + exact(minutes) + " min: " + what, {}};
}

Done Job::note(std::string_view text) {
  impl_->must_be_open();
  const std::string kept = trimmed(text);
  if (kept.empty()) throw InputError("the note is empty");
  Draft draft;
  draft.add("note", {{"text", kept}});
  return {impl_->append(draft), "noted", {}};
}

}  // namespace lostspark::job
