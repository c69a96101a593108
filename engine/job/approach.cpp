// The way from the bench as it stands to a reading: covers, set-ups, contacts moved.
#include <algorithm>

#include "base/error.hpp"
#include "job/job_impl.hpp"
#include "job/words.hpp"

namespace lostspark::job {
namespace {

using model::Vehicle;

bool has(const std::vector<Index>& list, Index wanted) {
  return std::find(list.begin(), list.end(), wanted) != list.end();
}

template <class Rows>
Json ids(const Rows& rows, const std::vector<Index>& which) {
  Json out = Json::array();
  for (const Index i : which) out.push_back(rows[i].id);
  return out;
}

template <class Rows>
std::string titles(const Rows& rows, const std::vector<Index>& which) {
  std::vector<std::string> out;
  for (const Index i : which) out.push_back(rows[i].title.empty() ? rows[i].id : rows[i].title);
  return joined(out);
}

/// Covers off that must be on for the test: fitted conditions, and running with one that may not run without.
std::vector<Index> to_fit(const Vehicle& v, const model::Test& test, const std::vector<Index>& off) {
  std::vector<Index> out;
  if (test.scene < 0 || v.scenes[test.scene].condition < 0) return out;
  const auto& condition = v.conditions[v.scenes[test.scene].condition];
  const bool fitted =
      condition.covers_fitted || (test.condition_extra >= 0 && v.conditions[test.condition_extra].covers_fitted);
  for (const Index c : off)
    if (!has(test.covers, c) && (fitted || (condition.running && !v.covers[c].may_run_without))) out.push_back(c);
  return out;
}

}  // namespace

const std::vector<Index>& setups_of(const Vehicle& v, const model::Test& test) {
  static const std::vector<Index> none;
  return test.scene < 0 ? none : v.scenes[test.scene].setups;
}

std::vector<Index> contacts_unplugged(const Vehicle& v, const model::Test& test) {
  std::vector<Index> out;
  if (test.reads != model::Reads::ohms) return out;
  for (const Index node : {test.node_a, test.node_b}) {
    if (node == model::k_none || node == model::k_earth) continue;
    for (const auto& e : v.elements)
      if ((e.a == node || e.b == node) && e.component >= 0 &&
          v.components[e.component].kind == model::ComponentKind::connector && !has(out, e.component))
        out.push_back(e.component);
  }
  std::sort(out.begin(), out.end());
  return out;
}

void Job::Impl::open_covers(const std::vector<Index>& needed, Draft& draft) const {
  const auto open = planning::covers_to_open(*vehicle, needed, state.covers_off);
  if (open.empty()) return;
  for (const Index c : open) draft.spend("cover." + vehicle->covers[c].id, vehicle->covers[c].remove_min);
  draft.add("covers", {{"off", ids(vehicle->covers, open)}});
  draft.also.push_back("off: " + titles(vehicle->covers, open));
}

void Job::Impl::fit_covers(const std::vector<Index>& which, Draft& draft) const {
  std::vector<Index> on = which;
  // A cover that lies over this one goes on first.
  for (bool grown = true; grown;) {
    grown = false;
    for (const Index c : state.covers_off)
      if (!has(on, c) && std::any_of(vehicle->covers[c].first.begin(), vehicle->covers[c].first.end(),
                                     [&](Index under) { return has(on, under); })) {
        on.push_back(c);
        grown = true;
      }
  }
  if (on.empty()) return;
  for (const Index c : on) draft.spend("cover." + vehicle->covers[c].id, vehicle->covers[c].refit_min);
  draft.add("covers", {{"on", ids(vehicle->covers, on)}});
  draft.also.push_back("fitted: " + titles(vehicle->covers, on));
}

void Job::Impl::change_setups(const std::vector<Index>& wanted, Draft& draft) const {
  std::vector<Index> make, undo, moved;
  for (const Index s : wanted)
    if (!has(state.setups_standing, s)) make.push_back(s);
  for (const Index s : state.setups_standing)
    if (!has(wanted, s)) undo.push_back(s);
  if (make.empty() && undo.empty()) return;
  Json body = Json::object();
  if (!make.empty()) body["make"] = ids(vehicle->setups, make);
  if (!undo.empty()) body["undo"] = ids(vehicle->setups, undo);
  draft.add("setup", std::move(body));
  if (!undo.empty()) draft.also.push_back("taken down: " + titles(vehicle->setups, undo));
  if (!make.empty()) draft.also.push_back("set up: " + titles(vehicle->setups, make));
  for (const Index s : make) {
    draft.spend("setup." + vehicle->setups[s].id, vehicle->setups[s].minutes);
    if (vehicle->setups[s].moves_contacts)
      for (const Index c : vehicle->setups[s].touches)
        if (!has(moved, c)) moved.push_back(c);
  }
  touch(moved, draft);
}

void Job::Impl::touch(const std::vector<Index>& components, Draft& draft) const {
  if (components.empty()) return;
  draft.add("touched", {{"components", ids(vehicle->components, components)}});
  draft.also.push_back("contacts moved: " + titles(vehicle->components, components));
}

void Job::Impl::approach(Index which, Draft& draft) const {
  const auto& test = vehicle->tests[which];
  fit_covers(to_fit(*vehicle, test, state.covers_off), draft);
  const bool blind = test.blind_min >= 0 && std::any_of(test.covers.begin(), test.covers.end(),
                                                        [&](Index c) { return !has(state.covers_off, c); });
  // Where a probe gets in through a gap, nothing is taken off for a reading.
  if (blind)
    draft.spend("test." + test.kind, test.blind_min);
  else
    open_covers(test.covers, draft);
  const std::size_t before = draft.entries.size();
  change_setups(setups_of(*vehicle, test), draft);
  const bool made = draft.entries.size() > before;
  auto moved = contacts_unplugged(*vehicle, test);
  if (made && draft.entries.back().first == "touched")
    std::erase_if(moved, [&](Index c) {
      const auto& already = draft.entries.back().second.at("components");
      return std::find(already.begin(), already.end(), vehicle->components[c].id) != already.end();
    });
  // An ohm test at the same open connector as the one before moves nothing again.
  const bool again = !state.readings.empty() && !made &&
                     contacts_unplugged(*vehicle, vehicle->tests[state.readings.back().reading.test]) == moved;
  if (!again) touch(moved, draft);
  draft.spend("test." + test.kind, test.minutes);
  const auto reach = [&](Index c) {
    draft.spend("condition." + vehicle->conditions[c].id, vehicle->conditions[c].minutes);
  };
  if (test.scene >= 0 && vehicle->scenes[test.scene].condition >= 0) reach(vehicle->scenes[test.scene].condition);
  if (test.condition_extra >= 0 && test.provocation != state.provocation) reach(test.condition_extra);
}

model::Reading Job::Impl::reading_now(Index which, const model::Value& value, const ReadingOptions& how,
                                      std::int64_t sequence) const {
  const auto& test = vehicle->tests[which];
  model::Reading reading;
  reading.test = which;
  reading.value = value;
  reading.provocation = how.provocation                                ? *how.provocation
                        : test.provocation != model::Provocation::none ? test.provocation
                                                                       : state.provocation;
  reading.moment = static_cast<std::int32_t>(sequence);
  reading.hookup = static_cast<std::int32_t>(sequence);
  reading.visit = state.visit;
  const Taken* before = last_reading();
  if (how.same_crank) {
    if (before == nullptr) throw InputError("there is no reading before this one to share its crank with");
    reading.moment = before->reading.moment;
  }
  // Repeated with the clips where they were: the same chance of being mistaken, not a new one.
  if (!how.reseated && still_hooked_up(which)) reading.hookup = before->reading.hookup;
  return reading;
}

const Taken* Job::Impl::last_reading() const {
  const Taken* last = nullptr;
  for (const auto& t : state.readings)
    if (!t.at_intake) last = &t;
  return last;
}

bool Job::Impl::still_hooked_up(Index which) const {
  const Taken* before = last_reading();
  if (before == nullptr || before->reading.test != which || before->reading.hookup < 0) return false;
  const auto force = in_force(log);
  return std::none_of(log.begin(), log.end(), [&](const auto& e) {
    return e.sequence > before->sequence && force.counts(e.sequence) &&
           (e.kind == "touched" || e.kind == "repaired" || e.kind == "refitted");
  });
}

}  // namespace lostspark::job
