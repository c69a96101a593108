// What a shop learns from: readings of healthy vehicles, closed cases, sets of learned shares, and (apart from all
// that) the names of customers. Counting runs in the database. docs/learning.md says what becomes of it.
#pragma once

#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "history/sqlite_handle.hpp"

namespace lostspark::history {

/// One number read on a healthy vehicle. Text that was not given is empty.
struct Baseline {
  std::int64_t number = 0;  ///< given by the store
  std::string vehicle, family, test, unit;
  double value = 0;        ///< above 0, in `unit`
  std::string individual;  ///< readings with the same word were taken on one vehicle; empty: each on its own
  std::string condition, hookup, speed, instrument;
  std::string read_at, note;
  std::string source = "recorded";  ///< recorded, imported, job
  std::string job;                  ///< source job: where it was read
  std::int64_t sequence = 0;
  bool struck = false;
  bool operator==(const Baseline&) const = default;
};

/// What one closed job says about faults.
struct Case {
  std::string shop, job, family, vehicle;
  std::string pattern;      ///< likelihood of each class of fault given the job (learning/pattern.hpp)
  std::string confirmed;    ///< proved, tested_bad, seen, or empty: not confirmed
  std::string faults;       ///< confirmed "component.mode", blank between
  std::string for_nothing;  ///< components replaced for nothing, blank between
  std::string closed_at;
  std::int64_t entries = 0;  ///< length of the log it was derived from
  bool superseded = false;   ///< the vehicle came back: the later job counts in its place
  bool operator==(const Case&) const = default;
};

/// How long one step of a closed job really took.
struct StepMinutes {
  std::string job;
  std::int64_t sequence = 0;  ///< entry of the step
  std::string family, vehicle;
  std::string items;  ///< "cover.seat:4 test.exciter_peak:3": what it was made of, in the file's minutes
  double taken = 0;   ///< minutes, above 0
  bool operator==(const StepMinutes&) const = default;
};

/// Cases that say the same.
struct PatternCount {
  std::string family, vehicle, pattern;
  std::int64_t jobs = 0;
};

/// Prior odds of a class of faults on a network, as its file and family state them.
struct ClassOdds {
  std::string vehicle, family, name;
  double odds = 0;
};

struct Exposure {
  std::string shop, vehicle, family;
  double hours = 0;  ///< running hours of vehicles of this kind in the shop's care
  std::string at, note;
};

struct RateSet {
  std::string name, made_at, note;
  std::string body;  ///< JSON of learning::ShareSet
};

struct RateEvent {
  std::string action, name, at;  ///< applied, set_aside, rolled_back
};

struct Customer {
  std::string job, name, registration, noted_at;
};

struct CaseSummary {
  std::int64_t cases = 0, confirmed = 0, superseded = 0;
};

/// Where closed cases are counted: in the shop's own file, or in a history that several shops share. Counting runs in
/// the database. All throw StoreError when the medium fails.
class CaseSource {
 public:
  virtual ~CaseSource() = default;
  /// Cases grouped by family, network and pattern, in that order; streamed: one row at a time.
  virtual void each_pattern(const std::function<void(const PatternCount&)>& row) const = 0;
  /// By network and class.
  [[nodiscard]] virtual std::vector<ClassOdds> class_odds() const = 0;
  [[nodiscard]] virtual CaseSummary case_summary() const = 0;
  /// How often each component was replaced for nothing on one network (empty: all), by component.
  [[nodiscard]] virtual std::vector<std::pair<std::string, std::int64_t>> replaced_for_nothing(
      const std::string& vehicle) const = 0;
  [[nodiscard]] virtual std::vector<Exposure> exposures() const = 0;
};

/// One object per store, over its connection; the same rules for threads. Every function that writes is durable when it
/// returns; all throw StoreError when the medium fails, and then nothing has changed.
class Knowledge : public CaseSource {
 public:
  explicit Knowledge(const Connection& connection) : connection_(&connection) {}

  // ---- healthy vehicles
  /// Adds all or none.
  void add_baselines(const std::vector<Baseline>& readings);
  /// Replaces what was taken from this job before; a reading that was struck stays struck.
  void take_from_job(const std::string& job, const std::vector<Baseline>& readings);
  /// Readings of one network (empty: all), struck ones too where asked for; in the order they were recorded.
  [[nodiscard]] std::vector<Baseline> baselines(const std::string& vehicle, bool with_struck = false) const;
  /// False when there is no such reading or it is struck already.
  bool strike_baseline(std::int64_t number);

  // ---- minutes taken
  /// Replaces what this job said before; steps of other jobs in `steps` are refused (InternalError).
  void take_minutes(const std::string& job, const std::vector<StepMinutes>& steps);
  /// By family, network and items, streamed: one row at a time.
  void each_step_minutes(const std::function<void(const StepMinutes&)>& row) const;

  // ---- closed cases
  /// Stores the case in place of an earlier one of the same job.
  void put_case(const Case& closed, const std::vector<ClassOdds>& odds);
  [[nodiscard]] std::optional<Case> find_case(const std::string& shop, const std::string& job) const;
  void drop_case(const std::string& shop, const std::string& job);
  [[nodiscard]] std::vector<Case> cases(const std::string& vehicle = "") const;
  void each_pattern(const std::function<void(const PatternCount&)>& row) const override;
  [[nodiscard]] std::vector<ClassOdds> class_odds() const override;
  [[nodiscard]] CaseSummary case_summary() const override;
  [[nodiscard]] std::vector<std::pair<std::string, std::int64_t>> replaced_for_nothing(
      const std::string& vehicle) const override;
  /// `job` is the same vehicle with the same complaint as `first`: only the later one counts from now on.
  void link_comeback(const std::string& shop, const std::string& job, const std::string& first, const std::string& at);
  [[nodiscard]] std::optional<std::string> came_back_from(const std::string& shop, const std::string& job) const;

  void add_exposure(const Exposure& exposure);
  [[nodiscard]] std::vector<Exposure> exposures() const override;

  // ---- sets of learned shares
  /// False when the name is taken. With an event both are stored or neither.
  bool add_rate_set(const RateSet& set, const std::optional<RateEvent>& event = std::nullopt);
  [[nodiscard]] std::optional<RateSet> rate_set(const std::string& name) const;
  [[nodiscard]] std::vector<RateSet> rate_sets() const;
  void add_rate_event(const RateEvent& event);
  [[nodiscard]] std::vector<RateEvent> rate_events() const;

  // ---- customers: nothing else in the store knows them
  void put_customer(const Customer& customer);
  [[nodiscard]] std::optional<Customer> customer(const std::string& job) const;
  /// Overwrites the bytes on the disk too. False when there was none.
  bool delete_customer(const std::string& job);

  [[nodiscard]] const Connection& connection() const { return *connection_; }

 private:
  void insert_event(const RateEvent& event);  ///< inside a transaction
  const Connection* connection_;
};

}  // namespace lostspark::history
