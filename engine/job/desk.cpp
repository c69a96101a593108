// Opening and loading jobs; the one place where a log meets the store.
#include <ctime>

#include "base/error.hpp"
#include "job/job_impl.hpp"
#include "job/memory.hpp"
#include "job/words.hpp"

namespace lostspark::job {
namespace {

std::string system_now() {
  const std::time_t now = std::time(nullptr);
  std::tm utc{};
  gmtime_r(&now, &utc);
  char text[32];
  std::strftime(text, sizeof text, "%Y-%m-%dT%H:%M:%SZ", &utc);
  return text;
}

/// What the first entry of the log says was learned when the job was opened.
Learned opened_with(const history::Store& store, const std::string& id) {
  const auto log = store.log(id);
  if (log.empty() || log.front().kind != "opened") return {};
  const Json body = body_of(log.front());
  return body.contains("learned") ? learned_from_json(body["learned"].dump()) : Learned{};
}

/// The draft as entries of one action, the first of which has this number.
std::vector<history::LogEntry> entries_of(const Draft& draft, std::int64_t action, const std::string& at) {
  std::vector<history::LogEntry> out;
  for (std::size_t i = 0; i < draft.entries.size(); ++i) {
    Json body = draft.entries[i].second;
    body["action"] = action;
    // A customer's words may hold bytes that are no UTF-8; they must not stop the job.
    out.push_back({action + static_cast<std::int64_t>(i), draft.entries[i].first,
                   body.dump(-1, ' ', false, Json::error_handler_t::replace), at});
  }
  return out;
}

}  // namespace

VehicleSource vehicle_source(const sources::Folders& folders) {
  return {[folders](const std::string& id) { return sources::load_vehicle(folders, id); },
          [folders](const std::string& text, const std::string& name) {
            return sources::load_vehicle_text(folders, text, name);
          }};
}

Desk::Desk(VehicleSource source, history::Store& store, model::Workshop workshop, DeskOptions options)
    : source_(std::move(source)), store_(store), workshop_(std::move(workshop)), options_(std::move(options)) {
  if (!options_.now) options_.now = system_now;
}

Job Desk::open(const std::string& vehicle_id_or_path, const Intake& intake) {
  auto impl = std::make_unique<Job::Impl>();
  impl->vehicle = source_.load(vehicle_id_or_path);
  check_intake(*impl->vehicle, intake);
  impl->store = &store_;
  impl->workshop = workshop_;
  impl->options = options_;
  impl->header.vehicle = impl->vehicle->id;
  impl->header.family = impl->vehicle->family;
  impl->header.family_version = impl->vehicle->family_version;
  impl->header.network_text = impl->vehicle->network_text;
  impl->header.workshop_json = workshop_json(workshop_);
  impl->header.opened_at = options_.now();
  Json opened{{"vehicle", impl->header.vehicle},
              {"family", impl->header.family},
              {"family_version", impl->header.family_version}};
  if (options_.learned) impl->learned = learned_for(impl->vehicle, workshop_, store_.knowledge());
  if (!impl->learned.empty()) {
    opened["learned"] = Json::parse(learned_json(impl->learned));
    // What the log will give back, so that the job answers the same now and when it is loaded.
    impl->learned = learned_from_json(opened["learned"].dump());
    impl->vehicle = with_learned(impl->vehicle, impl->learned);
  }
  Draft draft;
  draft.add("opened", std::move(opened));
  draft.add("intake", to_json(intake));
  // Job and first entries together: whatever dies on the way, no job is left without its complaint.
  impl->log = entries_of(draft, 1, options_.now());
  impl->state = replay(*impl->vehicle, impl->log);
  impl->header.id = impl->id = store_.create_job(impl->header, impl->log);
  return Job(std::move(impl));
}

Job Desk::load(const std::string& job_id) {
  const auto header = store_.header(job_id);
  if (!header) {
    std::vector<std::string> known;
    for (const auto& j : store_.jobs()) known.push_back(j.header.id);
    throw InputError(unknown("job", job_id, known));
  }
  auto impl = std::make_unique<Job::Impl>();
  impl->store = &store_;
  impl->id = header->id;
  impl->header = *header;
  impl->options = options_;
  impl->workshop = workshop_from_json(header->workshop_json);
  impl->learned = opened_with(store_, header->id);
  impl->vehicle = with_learned(vehicle_as_filed(*header), impl->learned);
  impl->reload();
  return Job(std::move(impl));
}

std::shared_ptr<const model::Vehicle> Desk::vehicle_as_filed(const history::JobHeader& header) const {
  const std::string name = "network of job " + header.id + " (" + header.vehicle + ")";
  std::shared_ptr<const model::Vehicle> vehicle;
  try {
    vehicle = source_.load_text(header.network_text, name);
  } catch (const InputError& error) {
    // The text was sound when the job was opened: what has changed since is the plugin, or it is gone.
    throw PluginError("job " + header.id + " was opened with family " + header.family + " version " +
                      header.family_version + " and cannot be read with the plugins found now: " + error.what());
  }
  if (vehicle->family != header.family || vehicle->family_version != header.family_version)
    throw PluginError("job " + header.id + " was opened with family " + header.family + " version " +
                      header.family_version + ", but the plugin found is " + vehicle->family + " version " +
                      vehicle->family_version + ": its numbers would differ. Install version " + header.family_version +
                      ", or open a new job");
  return vehicle;
}

std::vector<history::JobSummary> Desk::jobs() const { return store_.jobs(); }
std::shared_ptr<const model::Vehicle> Desk::vehicle(const std::string& id_or_path) const {
  return source_.load(id_or_path);
}

std::int64_t Job::Impl::append(const Draft& draft) {
  const auto entries = entries_of(draft, state.last + 1, options.now());
  auto whole = log;
  whole.insert(whole.end(), entries.begin(), entries.end());
  State next = replay(*vehicle, whole);
  try {
    store->append(id, state.last, entries, next.state);
  } catch (const history::ConflictError&) {
    const auto mine = state.last;
    reload();
    throw history::ConflictError("another terminal has written to job " + id +
                                 " meanwhile (its log now ends at entry " + std::to_string(state.last) +
                                 ", this one knew " + std::to_string(mine) +
                                 "); nothing was recorded: look at the job and enter it again");
  }
  log = std::move(whole);
  state = std::move(next);
  posterior.reset();
  return state.last;
}

void Job::Impl::reload() {
  log = store->log(id);
  try {
    state = replay(*vehicle, log);
  } catch (const StoreError& e) {
    throw StoreError("job " + id + ": " + e.what());
  }
  posterior.reset();
}

void Job::Impl::must_be_open() const {
  if (state.state == history::JobState::closed)
    throw InputError("job " + id + " is closed (" + state.outcome +
                     "); undo the closing to go on with it, or open a new job");
}

}  // namespace lostspark::job
