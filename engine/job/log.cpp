#include "job/log.hpp"

#include <algorithm>

#include "base/error.hpp"
#include "job/bodies.hpp"
#include "job/words.hpp"

namespace lostspark::job {
namespace {

using history::JobState;
using history::LogEntry;
using model::Vehicle;

template <class F>
Index required(const F& found, const char* what, const std::string& id) {
  if (!found) throw InputError(std::string(what) + " '" + id + "' is not on this vehicle");
  return *found;
}

void put_in(std::vector<Index>& list, Index i) {
  if (std::find(list.begin(), list.end(), i) == list.end()) list.push_back(i);
}

class Replayer {
 public:
  Replayer(const Vehicle& vehicle, const std::vector<LogEntry>& log)
      : vehicle_(vehicle), log_(log), force_(in_force(log)) {}

  State run() {
    for (const auto& entry : log_) {
      state_.last = entry.sequence;
      try {
        apply(entry);
      } catch (const Json::exception& e) {
        damaged(entry, e.what());
      } catch (const InputError& e) {
        damaged(entry, e.what());
      }
    }
    return std::move(state_);
  }

 private:
  [[noreturn]] static void damaged(const LogEntry& entry, const std::string& cause) {
    throw StoreError("log entry " + std::to_string(entry.sequence) + " (" + entry.kind +
                     ") cannot be replayed: " + cause);
  }

  void apply(const LogEntry& entry) {
    if (force_.undone.contains(entry.sequence)) return;
    const Json j = body_of(entry);
    // Time was spent on what was struck later, too.
    const auto taken = force_.taken.find(entry.sequence);
    state_.minutes += taken != force_.taken.end() ? taken->second : j.value("minutes", 0.0);
    if (force_.struck.contains(entry.sequence)) return;
    const std::string& kind = entry.kind;
    if (kind == "intake")
      intake(entry, j);
    else if (kind == "reading")
      reading(entry, j, false);
    else if (kind == "checked")
      checked(entry, j);
    else if (kind == "skipped")
      skipped(entry, j);
    else if (kind == "covers")
      covers(j);
    else if (kind == "setup")
      setup(entry, j);
    else if (kind == "provocation")
      state_.provocation = provocation(j.at("held").get<std::string>());
    else if (kind == "touched")
      touched(entry, j);
    else if (kind == "repaired")
      repaired(entry, j);
    else if (kind == "refitted")
      refitted(entry, j);
    else if (kind == "stop_checked")
      state_.stops.push_back({entry.sequence, component(j.at("component"))});
    else if (kind == "state")
      job_state_entry(j);
    else if (kind == "closed")
      closed(j);
    else if (kind == "note")
      state_.notes.push_back(j.at("text").get<std::string>());
    else if (kind != "opened" && kind != "amended" && kind != "struck" && kind != "undone" && kind != "took")
      throw InputError("this program does not know such entries; a newer one wrote it");
  }

  Index component(const Json& id) const {
    const auto text = id.get<std::string>();
    return required(vehicle_.find_component(text), "component", text);
  }
  Index repair(const Json& id) const {
    const auto text = id.get<std::string>();
    return required(vehicle_.find_repair(text), "repair", text);
  }
  void add(const LogEntry& entry, model::Event event) {
    state_.evidence.push_back(std::move(event));
    state_.evidence_entry.push_back(entry.sequence);
  }
  void stop_wiring(const LogEntry& entry, Index c) {
    if (c >= 0 && vehicle_.components[c].stops_engine) state_.stop_wiring_touched = entry.sequence;
  }

  void intake(const LogEntry& entry, const Json& j) {
    state_.intake = intake_from(j);
    check_intake(vehicle_, state_.intake);
    for (const auto& id : state_.intake.covers_off) put_in(state_.covers_off, *vehicle_.find_cover(id));
    for (auto& event : intake_evidence(vehicle_, state_.intake)) {
      if (auto* r = std::get_if<model::Reading>(&event)) {
        Taken taken;
        taken.sequence = entry.sequence;
        taken.reading = *r;
        taken.typed = state_.intake.spark;
        taken.at = entry.at;
        taken.at_intake = true;
        state_.readings.push_back(std::move(taken));
      }
      add(entry, std::move(event));
    }
  }

  void reading(const LogEntry& entry, Json j, bool is_check) {
    const auto amendment = force_.amended.find(entry.sequence);
    if (amendment != force_.amended.end()) {
      j["value"] = amendment->second.at("value");
      j["typed"] = amendment->second.at("typed");
    }
    Taken taken;
    taken.sequence = entry.sequence;
    taken.reading = reading_from(vehicle_, j);
    taken.reading.visit = state_.visit;
    taken.typed = j.value("typed", std::string{});
    taken.at = entry.at;
    taken.setups = state_.setups_standing;
    taken.is_check = is_check;
    taken.amended = amendment != force_.amended.end();
    add(entry, taken.reading);
    state_.readings.push_back(std::move(taken));
  }

  void checked(const LogEntry& entry, const Json& j) {
    CheckDone check;
    check.sequence = entry.sequence;
    check.at = entry.at;
    check.words = j.value("typed", std::string{});
    check.passed = j.at("passed").get<bool>();
    const auto amendment = force_.amended.find(entry.sequence);
    if (amendment != force_.amended.end()) {
      check.passed = amendment->second.at("passed").get<bool>();
      check.words = amendment->second.at("typed").get<std::string>();
    }
    const bool passed = check.passed;
    state_.checks.push_back(std::move(check));
    if (j.contains("test")) reading(entry, j, true);
    if (j.contains("still_there"))  // jobs of older versions do not say
      add(entry, model::Checked{!passed, provocation(j.value("provocation", std::string("none")))});
  }

  void skipped(const LogEntry& entry, const Json& j) {
    const auto id = j.at("test").get<std::string>();
    const auto reason = skip_reason(j.at("reason").get<std::string>());
    state_.skipped.push_back({entry.sequence, required(vehicle_.find_test(id), "test", id), reason});
    if (reason == SkipReason::no_helper) state_.helper = false;
  }

  void covers(const Json& j) {
    for (const auto& id : j.value("off", std::vector<std::string>{}))
      put_in(state_.covers_off, required(vehicle_.find_cover(id), "cover", id));
    for (const auto& id : j.value("on", std::vector<std::string>{}))
      std::erase(state_.covers_off, required(vehicle_.find_cover(id), "cover", id));
  }

  void setup(const LogEntry& entry, const Json& j) {
    for (const auto& id : j.value("undo", std::vector<std::string>{}))
      std::erase(state_.setups_standing, required(vehicle_.find_setup(id), "set-up", id));
    for (const auto& id : j.value("make", std::vector<std::string>{})) {
      const Index s = required(vehicle_.find_setup(id), "set-up", id);
      put_in(state_.setups_standing, s);
      for (const auto& effect : vehicle_.setups[s].effects)
        if (effect.kind == model::EffectKind::open_node)
          for (const auto& e : vehicle_.elements)
            if (e.a == effect.target || e.b == effect.target) stop_wiring(entry, e.component);
    }
  }

  void touched(const LogEntry& entry, const Json& j) {
    model::Touched event;
    for (const auto& id : j.at("components")) event.components.push_back(component(id));
    for (const Index c : event.components) stop_wiring(entry, c);
    add(entry, std::move(event));
  }

  void repaired(const LogEntry& entry, const Json& j) {
    RepairDone done;
    done.sequence = entry.sequence;
    done.repair = repair(j.at("repair"));
    done.part = part_state(j.at("part").get<std::string>());
    done.price = j.value("price", 0.0);
    done.at = entry.at;
    stop_wiring(entry, vehicle_.repairs[done.repair].component);
    // The part on trial stays: nothing was done to the vehicle.
    if (done.part == PartState::fitted)
      for (auto& r : state_.repairs)
        if (r.repair == done.repair && r.part == PartState::tried) {
          r.part = PartState::fitted;
          r.price = done.price;
          return;
        }
    add(entry, model::Repaired{done.repair});
    // "Not now" ends where the vehicle has changed.
    std::erase_if(state_.skipped, [](const Skipped& s) { return s.reason == SkipReason::not_now; });
    state_.repairs.push_back(std::move(done));
  }

  void refitted(const LogEntry& entry, const Json& j) {
    const Index which = repair(j.at("repair"));
    for (auto r = state_.repairs.rbegin(); r != state_.repairs.rend(); ++r)
      if (r->repair == which && r->part != PartState::returned) {
        r->part = PartState::returned;
        r->price = 0;
        break;
      }
    stop_wiring(entry, vehicle_.repairs[which].component);
    add(entry, model::Refitted{which});
  }

  void job_state_entry(const Json& j) {
    const JobState next = job_state(j.at("state").get<std::string>());
    if (next == JobState::open && state_.state != JobState::open) {
      ++state_.visit;  // the vehicle has cooled and dried meanwhile
      state_.provocation = model::Provocation::none;
      std::erase_if(state_.skipped, [](const Skipped& s) { return s.reason == SkipReason::not_now; });
    }
    state_.state = next;
    state_.outcome.clear();
  }

  void closed(const Json& j) {
    state_.state = JobState::closed;
    state_.outcome = to_string(outcome(j.at("outcome").get<std::string>()));
  }

  const Vehicle& vehicle_;
  const std::vector<LogEntry>& log_;
  InForce force_;
  State state_;
};

}  // namespace

State replay(const Vehicle& vehicle, const std::vector<LogEntry>& log) { return Replayer(vehicle, log).run(); }

const Taken* State::find_reading(std::int64_t sequence) const {
  for (const auto& t : readings)
    if (t.sequence == sequence && !t.at_intake) return &t;
  return nullptr;
}

std::vector<std::int64_t> last_action(const std::vector<LogEntry>& log) {
  const InForce force = in_force(log);
  for (auto entry = log.rbegin(); entry != log.rend(); ++entry) {
    if (force.undone.contains(entry->sequence)) continue;
    if (entry->kind == "opened" || entry->kind == "intake" || entry->kind == "undone") continue;
    const auto action = body_of(*entry).value("action", entry->sequence);
    std::vector<std::int64_t> out;
    for (const auto& other : log)
      if (other.kind != "undone" && !force.undone.contains(other.sequence) &&
          body_of(other).value("action", other.sequence) == action)
        out.push_back(other.sequence);
    return out;
  }
  return {};
}

}  // namespace lostspark::job
