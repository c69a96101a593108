// The log of one job and what it says now. Entries are only ever appended: undone, struck and amended are entries too.
// replay() folds a log into a State; the same log gives the same State. Bodies are JSON, described in docs/job-log.md.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "history/store.hpp"
#include "job/intake.hpp"
#include "model/evidence.hpp"
#include "model/instrument.hpp"

namespace lostspark::job {

using model::Index;

enum class SkipReason { cannot_reach, no_tool, no_helper, not_now };
[[nodiscard]] std::string to_string(SkipReason);
/// "cannot_reach", "no_tool", "no_helper", "not_now" or their keys "1" .. "4". Throws InputError.
[[nodiscard]] SkipReason skip_reason(std::string_view text);

enum class Outcome { fixed, not_ignition, referred_on };
[[nodiscard]] std::string to_string(Outcome);
/// "fixed", "not_ignition", "referred_on" or their keys "1" .. "3". Throws InputError.
[[nodiscard]] Outcome outcome(std::string_view text);
[[nodiscard]] std::string to_string(history::JobState);
/// "open", "waiting_for_part", "waiting_for_customer", "closed". Throws InputError.
[[nodiscard]] history::JobState job_state(std::string_view text);
[[nodiscard]] std::string to_string(model::Provocation);
/// "none", "hot", "wet", "shaken", "steering", "loaded". Throws InputError.
[[nodiscard]] model::Provocation provocation(std::string_view text);

/// A reading in force: not struck, not undone, as amended.
struct Taken {
  std::int64_t sequence = 0;  ///< its number for amend and strike
  model::Reading reading;
  std::string typed, at;
  std::vector<Index> setups;  ///< standing when it was taken
  bool at_intake = false, is_check = false, amended = false;
};

struct Skipped {
  std::int64_t sequence = 0;
  Index test = model::k_none;
  SkipReason reason = SkipReason::not_now;
};

enum class PartState { no_part, fitted, tried, returned };
[[nodiscard]] std::string to_string(PartState);
/// "no_part", "fitted", "tried", "returned". Throws InputError.
[[nodiscard]] PartState part_state(std::string_view text);

struct RepairDone {
  std::int64_t sequence = 0;
  Index repair = model::k_none;
  PartState part = PartState::fitted;
  double price = 0;  ///< units of money, 0 when returned
  std::string at;
};

/// Functional check after a repair.
struct CheckDone {
  std::int64_t sequence = 0;
  bool passed = false;
  std::string words, at;
};

struct StopChecked {
  std::int64_t sequence = 0;
  Index component = model::k_none;
};

/// What a log says now.
struct State {
  std::int64_t last = 0;  ///< sequence of the last entry: expected_last of the next append
  history::JobState state = history::JobState::open;
  std::string outcome;  ///< set when closed: fixed, not_ignition, referred_on
  Intake intake;
  std::vector<Index> covers_off, setups_standing;
  model::Provocation provocation = model::Provocation::none;  ///< held on the bench now
  std::int32_t visit = 0;
  bool helper = true;
  std::vector<Taken> readings;
  std::vector<Skipped> skipped;
  std::vector<RepairDone> repairs;
  std::vector<CheckDone> checks;
  std::vector<StopChecked> stops;
  std::int64_t stop_wiring_touched = 0;  ///< last entry that touched kill or interlock wiring; 0: never
  std::vector<std::string> notes;
  double minutes = 0;  ///< labour of what was done, access included: taken where noted, else planned
  model::Evidence evidence;
  std::vector<std::int64_t> evidence_entry;  ///< sequence behind each event of `evidence`
  [[nodiscard]] const Taken* find_reading(std::int64_t sequence) const;
};

/// One line of the log for people.
struct HistoryLine {
  std::int64_t sequence = 0;
  std::string at, kind, text;
  enum class Status { in_force, amended, struck, undone } status = Status::in_force;
};

/// Folds the log. Throws StoreError naming job and entry when a body cannot be understood, InputError never.
[[nodiscard]] State replay(const model::Vehicle&, const std::vector<history::LogEntry>&);
[[nodiscard]] std::vector<HistoryLine> history_lines(const model::Vehicle&, const std::vector<history::LogEntry>&);
/// Entries (sequences, ascending) that undo would take back: all entries of the last action in force; empty: nothing.
[[nodiscard]] std::vector<std::int64_t> last_action(const std::vector<history::LogEntry>&);

/// JSON of the workshop for the job's header and back. Throws StoreError when damaged.
[[nodiscard]] std::string workshop_json(const model::Workshop&);
[[nodiscard]] model::Workshop workshop_from_json(const std::string&);
[[nodiscard]] std::string intake_json(const Intake&);
[[nodiscard]] std::string value_json(const model::Value&);

}  // namespace lostspark::job
