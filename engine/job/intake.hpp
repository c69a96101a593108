// What the customer and the first look tell, asked before anything is measured: questions with one key per answer.
// Every question may be skipped. Answers become evidence (model::Complained, Weighted, Reading).
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "model/evidence.hpp"

namespace lostspark::job {

/// one: a single key; several: any number of keys in one line ("13"); amount: a number is typed (money).
enum class AnswerKind { one, several, amount };

struct Choice {
  std::string key;   ///< one character of a numeric keypad: "1" .. "9"
  std::string id;    ///< stable word: "no_spark", "hot", "control_module"
  std::string text;  ///< for people
};

/// One question. Long lists are cut into questions of at most nine choices: "complaint", "complaint.2".
struct Question {
  std::string id, text;
  AnswerKind kind = AnswerKind::one;
  std::vector<Choice> choices;
};

/// All answers; empty fields were skipped. Ids, not indices: this is what the log stores.
struct Intake {
  std::vector<std::string> complaints;   ///< complaint words of the vehicle
  std::string extent;                    ///< always, comes_and_goes, all_cylinders, one_cylinder, two_cylinders
  std::vector<std::string> shows;        ///< when: hot, cold, wet, shaken, steering, loaded
  std::vector<std::string> recent_work;  ///< source_side, trigger_side, module_wiring, coil_and_plug, switches
  std::vector<std::string> replaced;     ///< component ids fitted new already
  std::vector<std::string> covers_off;   ///< cover ids off on arrival
  std::vector<std::string> add_ons;      ///< lights, alarm, other
  std::string spark;                     ///< none, weak, good, not_checked
  std::optional<double> limit;           ///< customer's limit, units of money
  std::string words;                     ///< the complaint in the customer's own words
  friend bool operator==(const Intake&, const Intake&) = default;
};

/// The questions for this vehicle, in the order to ask them.
[[nodiscard]] std::vector<Question> intake_questions(const model::Vehicle&);

/// Puts the answer (keys, or an amount) to `question` into `intake`; empty text = skipped, nothing changes.
/// Throws InputError naming the keys that would do.
void answer(Intake& intake, const Question& question, std::string_view keys);

/// Throws InputError for a word this vehicle or the program does not know, naming the nearest one that it does.
void check_intake(const model::Vehicle&, const Intake&);

/// The intake as evidence, in a fixed order. The numbers behind it: docs/job-log.md, "Intake".
[[nodiscard]] model::Evidence intake_evidence(const model::Vehicle&, const Intake&);

/// The provocation under which the complaint shows (hot, wet ...), none where the customer named none.
[[nodiscard]] model::Provocation complaint_provocation(const model::Vehicle&, const Intake&);

/// The intake for a sheet, one line each, question first: "complaint: no spark".
[[nodiscard]] std::vector<std::string> intake_lines(const model::Vehicle&, const Intake&);

/// Contacts (connectors) met first on each way out of this component: they move when it is unplugged.
[[nodiscard]] std::vector<model::Index> neighbouring_contacts(const model::Vehicle&, model::Index component);

}  // namespace lostspark::job
