// One job from complaint to checked repair. A Desk opens and loads jobs; a Job asks (const, may compute for some
// milliseconds) and acts (appends to the log; durable when it returns; everything is recomputed from the log).
#pragma once

#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "history/store.hpp"
#include "inference/posterior.hpp"
#include "job/intake.hpp"
#include "job/learned.hpp"
#include "job/log.hpp"
#include "job/reading_parser.hpp"
#include "job/view.hpp"
#include "planning/advice.hpp"
#include "planning/decision_tree.hpp"
#include "sources/load.hpp"

namespace lostspark::job {

/// Where vehicles come from; the default is files and plugins, tests bring their own.
struct VehicleSource {
  std::function<std::shared_ptr<const model::Vehicle>(const std::string& id_or_path)> load;
  std::function<std::shared_ptr<const model::Vehicle>(const std::string& text, const std::string& name)> load_text;
};
[[nodiscard]] VehicleSource vehicle_source(const sources::Folders&);

struct ReadingOptions {
  std::optional<model::Provocation> provocation;  ///< default: the test's own, else the one held on the bench
  bool reseated = false;    ///< clips re-seated and meter proved: a repeat draws a new chance of being mistaken
  bool same_crank = false;  ///< read at the same crank or kick as the reading before
};

struct RepairOptions {
  std::optional<double> price;         ///< default: the network's
  PartState part = PartState::fitted;  ///< tried: known-good part, may be returned
};

/// What an action did.
struct Done {
  std::int64_t sequence = 0;      ///< number of the main entry
  std::string text;               ///< one line for the person: "recorded: exciter coil peak 168 V"
  std::vector<std::string> also;  ///< what was logged with it: covers taken off, set-ups made
};

class Job {
 public:
  Job(Job&&) noexcept;
  Job& operator=(Job&&) noexcept;
  ~Job();

  // ---- asking
  [[nodiscard]] const std::string& id() const;
  [[nodiscard]] const model::Vehicle& vehicle() const;
  [[nodiscard]] const model::Workshop& workshop() const;
  [[nodiscard]] const history::JobHeader& header() const;
  [[nodiscard]] const Learned& learned() const;  ///< what it was opened with beyond its network text
  [[nodiscard]] const State& state() const;
  [[nodiscard]] const std::vector<history::LogEntry>& log() const;
  [[nodiscard]] std::vector<HistoryLine> history() const;
  [[nodiscard]] const inference::CompiledPtr& compiled() const;  ///< compiled at the first question that needs it
  [[nodiscard]] const inference::Posterior& posterior() const;   ///< of the log as it stands; kept until it changes
  [[nodiscard]] planning::BenchState bench_state() const;
  [[nodiscard]] planning::Plan next() const;  ///< best first
  [[nodiscard]] planning::DecisionTree plan() const;  ///< the advice followed through its results; about a second
  [[nodiscard]] std::vector<SuspectView> suspects(double least = 1e-3) const;
  [[nodiscard]] StepView step(Index test) const;
  [[nodiscard]] RepairView repair_step(Index repair) const;
  [[nodiscard]] std::vector<CautionView> cautions_before_first() const;
  [[nodiscard]] std::vector<Notice> notices() const;
  [[nodiscard]] WhyView why(std::optional<Index> test = std::nullopt) const;  ///< default: the advised test
  [[nodiscard]] std::vector<CoverView> covers() const;
  [[nodiscard]] std::vector<SetupView> setups() const;
  [[nodiscard]] std::vector<StopView> stops() const;  ///< every stop and interlock of the vehicle
  [[nodiscard]] bool stops_needed() const;            ///< the closing rule applies to this job
  [[nodiscard]] CheckView check_view() const;
  /// Looks a test (repair) up; throws InputError naming the nearest one.
  [[nodiscard]] Index test(std::string_view id) const;
  [[nodiscard]] Index repair(std::string_view id) const;

  // ---- acting: each appends one action (undone as one); all throw InputError on a closed job, StoreError when another
  // terminal wrote meanwhile (then the job has been reloaded and nothing of this action was recorded)
  /// Covers taken off, set-ups made or undone and contacts touched on the way are logged with it.
  Done record(std::string_view test_id, std::string_view typed, const ReadingOptions& = {});
  Done record(Index test, const model::Value&, const ReadingOptions& = {}, std::string typed = "");
  Done skip(std::string_view test_id, SkipReason);
  Done amend(std::int64_t sequence, std::string_view typed);    ///< a reading or check
  Done strike(std::int64_t sequence, std::string_view reason);  ///< reading, check, skip, touch, repair, stop, minutes, note
  Done undo();                                                  ///< the last action in force
  Done cover(std::string_view cover_id, bool off);              ///< with those that must be off before
  Done setup(std::string_view setup_id, bool make);
  Done provoke(model::Provocation);  ///< held on the bench from now on
  Done touched(const std::vector<std::string>& component_ids);
  Done repaired(std::string_view repair_id, const RepairOptions& = {});
  Done returned(std::string_view repair_id);  ///< old part refitted, new one given back
  /// "passed", "failed", or a word of the check test ("steady"); "1" passed, "2" failed.
  Done check(std::string_view result);
  Done stop_checked(std::string_view component_id);  ///< this stop or interlock was seen to work
  /// Minutes at work the last step (or that of this entry) really took, covers and set-up included: "12", "7.5 min". The
  /// last word on a step holds.
  Done took(std::string_view minutes, std::optional<std::int64_t> entry = std::nullopt);
  Done note(std::string_view text);
  Done set_state(history::JobState);  ///< open or a waiting state
  /// fixed needs a passed check after the last repair and, where kill or interlock wiring was touched, every stop and
  /// interlock recorded since: else InputError that lists what is missing. No set-up that unplugs something may stand.
  Done close(Outcome);
  void reload();  ///< reads the log again

  struct Impl;

 private:
  friend class Desk;
  explicit Job(std::unique_ptr<Impl>);
  std::unique_ptr<Impl> impl_;
};

struct DeskOptions {
  inference::Options inference;
  bool learned = true;               ///< jobs are opened with what the shop has learned (docs/learning.md)
  std::function<std::string()> now;  ///< ISO 8601 UTC; empty: the system clock
  /// Tables made before, so that many jobs share them; used for jobs on the vehicle object, workshop and options that they
  /// were made with. Others, and all jobs where this is empty, make their own.
  inference::CompiledPtr tables;
};

/// Opens and loads jobs of one store. The store must outlive the desk and its jobs.
class Desk {
 public:
  Desk(VehicleSource, history::Store&, model::Workshop, DeskOptions = {});
  /// Loads the vehicle, checks the intake (InputError), creates the job and logs opened and intake.
  Job open(const std::string& vehicle_id_or_path, const Intake&);
  /// Replays on the stored network text and workshop. Throws InputError for an unknown job (naming the nearest),
  /// PluginError when the family's plugin is missing or its version is not the one the job was opened with.
  Job load(const std::string& job_id);
  [[nodiscard]] std::vector<history::JobSummary> jobs() const;
  [[nodiscard]] std::shared_ptr<const model::Vehicle> vehicle(const std::string& id_or_path) const;
  /// The vehicle of a job as its network text describes it, without what the shop had learned.
  [[nodiscard]] std::shared_ptr<const model::Vehicle> vehicle_as_filed(const history::JobHeader&) const;
  [[nodiscard]] history::Store& store() const { return store_; }
  [[nodiscard]] const model::Workshop& workshop() const { return workshop_; }
  [[nodiscard]] const DeskOptions& options() const { return options_; }
  [[nodiscard]] std::string now() const { return options_.now(); }

 private:
  VehicleSource source_;
  history::Store& store_;
  model::Workshop workshop_;
  DeskOptions options_;
};

}  // namespace lostspark::job
