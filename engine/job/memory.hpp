// What the shop knows: healthy readings and closed cases in, learned figures and shares out. Faces call these; the
// mathematics is in engine/learning, docs/learning.md says why.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "history/knowledge.hpp"
#include "job/healthy.hpp"
#include "job/job.hpp"
#include "job/learned.hpp"

namespace lostspark::job {

/// What a job on this vehicle (as its file describes it) is to be opened with now: figures from the healthy readings of
/// this network, shares of the set in use.
[[nodiscard]] Learned learned_for(const std::shared_ptr<const model::Vehicle>& as_filed, const model::Workshop&,
                                  const history::Knowledge&);

// ---- healthy values
struct BaselineNote {
  std::string individual, condition, hookup, speed, instrument, read_at, note;  ///< all optional; read_at: now
};
/// Records one reading of a healthy vehicle, typed as people say it. Throws InputError when it is no number (a word, an
/// interval, below, over carry none) or the test is unknown.
history::Baseline record_baseline(Desk&, const std::string& vehicle, const std::string& test, const std::string& typed,
                                  const BaselineNote&);
/// Bands of all number tests as a job opened now would have them.
[[nodiscard]] std::vector<HealthyView> bands(const Desk&, const std::string& vehicle);
/// "at least 120 V", "80 V .. 120 V"; only for a band that states one.
[[nodiscard]] std::string stated_range(const HealthyView&);
/// The sheet to fill in at the bench: every number test, value blank where nothing is known.
[[nodiscard]] std::string baseline_sheet(const Desk&, const std::string& vehicle);
/// The same as CSV (test, value, unit, individual, condition, hookup, speed, instrument, read_at, note).
[[nodiscard]] std::string baseline_csv(const Desk&, const std::string& vehicle);
/// Reads a filled-in CSV; rows without a value are passed over, all mistakes are reported at once and then nothing is
/// stored. Returns how many readings were stored.
std::size_t import_baselines(Desk&, const std::string& vehicle, const std::string& csv, const std::string& file);

// ---- closed jobs
/// What a closed job taught.
struct Remembered {
  history::Case closed;
  std::size_t healthy_readings = 0, noted_steps = 0;
};
/// Stores the case, the healthy readings and the noted minutes of a closed job (in place of what it gave before); nothing
/// for an open one. The case goes last: a job that has one is remembered whole.
std::optional<Remembered> remember(Desk&, const Job&);
/// Takes back what the job has taught: it is open again.
void unlearn(Desk&, const std::string& job);
/// "proved by refitting the old part", "tested bad", "seen".
[[nodiscard]] std::string confirmation_words(const std::string& confirmed);
struct CatchUp {
  std::size_t remembered = 0, dropped = 0;
  std::vector<std::string> problems;  ///< jobs that cannot be replayed now, one line each
};
/// Brings the cases in step with the jobs: closed ones not remembered yet, and those that were opened again.
CatchUp catch_up(Desk&);

}  // namespace lostspark::job
