// What a job says: the plain questions. Steps, results and why are in the view_*.cpp files.
#include "job/job.hpp"

#include <algorithm>
#include <map>

#include "base/error.hpp"
#include "job/job_impl.hpp"
#include "job/log.hpp"
#include "job/words.hpp"

namespace lostspark::job {
namespace {

/// A value read this often since the vehicle last changed is not offered again.
constexpr int k_enough_readings = 2;

template <class Rows>
std::vector<std::string> ids_of(const Rows& rows) {
  std::vector<std::string> out;
  for (const auto& r : rows) out.push_back(r.id);
  return out;
}

}  // namespace

Job::Job(std::unique_ptr<Impl> impl) : impl_(std::move(impl)) {}
Job::Job(Job&&) noexcept = default;
Job& Job::operator=(Job&&) noexcept = default;
Job::~Job() = default;

const std::string& Job::id() const { return impl_->id; }
const model::Vehicle& Job::vehicle() const { return *impl_->vehicle; }
const model::Workshop& Job::workshop() const { return impl_->workshop; }
const history::JobHeader& Job::header() const { return impl_->header; }
const Learned& Job::learned() const { return impl_->learned; }
const State& Job::state() const { return impl_->state; }
const std::vector<history::LogEntry>& Job::log() const { return impl_->log; }
std::vector<HistoryLine> Job::history() const { return history_lines(vehicle(), impl_->log); }
const inference::CompiledPtr& Job::compiled() const { return impl_->tables(); }
const inference::Posterior& Job::posterior() const { return impl_->belief(); }
planning::BenchState Job::bench_state() const { return impl_->bench(); }
planning::Plan Job::next() const { return planning::advise(posterior(), bench_state()); }
planning::DecisionTree Job::plan() const { return planning::decision_tree(posterior(), bench_state()); }
void Job::reload() { impl_->reload(); }

std::vector<SuspectView> Job::suspects(double least) const {
  return suspect_views(vehicle(), posterior(), least, vehicle().modes.size());
}

Index Job::test(std::string_view wanted) const {
  if (const auto found = vehicle().find_test(wanted)) return *found;
  throw InputError(unknown("test", wanted, ids_of(vehicle().tests)));
}

Index Job::repair(std::string_view wanted) const {
  if (const auto found = vehicle().find_repair(wanted)) return *found;
  throw InputError(unknown("repair", wanted, ids_of(vehicle().repairs)));
}

std::vector<CoverView> Job::covers() const {
  std::vector<CoverView> out;
  for (std::size_t c = 0; c < vehicle().covers.size(); ++c) {
    const auto& cover = vehicle().covers[c];
    CoverView view{static_cast<Index>(c), cover.id, cover.title, false, cover.remove_min, cover.refit_min, {}};
    view.off = std::find(state().covers_off.begin(), state().covers_off.end(), view.cover) != state().covers_off.end();
    for (const Index f : cover.first) view.first.push_back(vehicle().covers[f].id);
    out.push_back(std::move(view));
  }
  return out;
}

std::vector<SetupView> Job::setups() const {
  std::vector<SetupView> out;
  for (std::size_t s = 0; s < vehicle().setups.size(); ++s) {
    const auto& setup = vehicle().setups[s];
    const auto& standing = state().setups_standing;
    out.push_back({static_cast<Index>(s), setup.id, setup.title, setup.instruction,
                   std::find(standing.begin(), standing.end(), static_cast<Index>(s)) != standing.end()});
  }
  return out;
}

const inference::CompiledPtr& Job::Impl::tables() const {
  if (compiled) return compiled;
  const auto& made = options.tables;
  const bool fits = made && &inference::vehicle_of(*made) == vehicle.get() &&
                    inference::options_of(*made) == options.inference &&
                    workshop_json(inference::workshop_of(*made)) == workshop_json(workshop);
  compiled = fits ? made : inference::compile(vehicle, workshop, options.inference);
  return compiled;
}

const inference::Posterior& Job::Impl::belief() const {
  if (!posterior) posterior = inference::update(tables(), state.evidence);
  return *posterior;
}

planning::BenchState Job::Impl::bench() const {
  planning::BenchState out;
  out.covers_off = state.covers_off;
  out.setups_standing = state.setups_standing;
  out.helper = workshop.helper && state.helper;
  const auto leave_out = [&out](Index t) {
    if (std::find(out.not_available.begin(), out.not_available.end(), t) == out.not_available.end())
      out.not_available.push_back(t);
  };
  for (const auto& s : state.skipped) {
    if (s.reason == SkipReason::no_helper) continue;  // the helper's absence is the reason, not the test
    leave_out(s.test);
    if (s.reason != SkipReason::no_tool) continue;
    const auto& missing = vehicle->tests[s.test].instrument;
    for (std::size_t t = 0; t < vehicle->tests.size(); ++t)
      if (vehicle->tests[t].instrument == missing && !needs_no_instrument(missing)) leave_out(static_cast<Index>(t));
  }
  std::map<Index, int> taken;
  for (const auto& t : state.readings) {
    const auto& test = vehicle->tests[t.reading.test];
    if (t.sequence <= changed_since(test)) continue;
    // A second look sees what the first one saw, and misses what it missed.
    const int enough = test.reads == model::Reads::finding ? 1 : k_enough_readings;
    if (++taken[t.reading.test] >= enough) leave_out(t.reading.test);
  }
  return out;
}

std::int64_t Job::Impl::changed_since(const model::Test& test) const {
  std::int64_t last = 0;
  for (const auto& r : state.repairs) {
    const Index mended = vehicle->repairs[r.repair].component;
    const bool concerns = test.reads != model::Reads::finding ||
                          std::any_of(test.findings.begin(), test.findings.end(),
                                      [&](const auto& row) { return vehicle->modes[row.mode].component == mended; });
    if (concerns) last = std::max(last, r.sequence);
  }
  return last;
}

bool needs_no_instrument(std::string_view kind) { return kind.empty() || kind == "eyes"; }

const model::Instrument* Job::Impl::instrument_of(const model::Test& test) const {
  if (const auto* exact_unit = workshop.find(test.instrument, test.unit)) return exact_unit;
  return workshop.find(test.instrument, "");
}

bool Job::Impl::can_do(const model::Test& test) const {
  return needs_no_instrument(test.instrument) || instrument_of(test) != nullptr;
}

std::string spaced_words(std::string_view id) {
  std::string out(id);
  std::replace(out.begin(), out.end(), '_', ' ');
  return out;
}

}  // namespace lostspark::job
