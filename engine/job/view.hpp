// What a face shows: words and numbers, nothing laid out. Lines are whole sentences or phrases without trailing blanks.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "job/log.hpp"
#include "planning/advice.hpp"

namespace lostspark::job {

struct CautionView {
  std::string id, signal_word, text, avoid;
};

struct SuspectView {
  Index component = model::k_none, mode = model::k_none;
  std::string component_id, mode_id;  ///< mode_id = "component.mode"
  std::string title;                  ///< "kill wire: chafed to earth"
  double probability = 0;
};

/// One class of results of a test and what it would mean.
struct ResultClass {
  std::string name;                   ///< none, low, healthy, high, over; or the word of a word test
  std::string range;                  ///< "under 80 V", "80..300 V", "below 5 V", or the word
  double low = 0, high = 0;           ///< numbers, in the test's unit
  double probability = 0;             ///< predicted, 0..1
  std::string meaning;                ///< the family's words, or empty
  std::vector<SuspectView> suspects;  ///< leading ones after such a result
};

/// How to take one test: separate moments are hook_up (and before it access), ready, and the value.
struct StepView {
  Index test = model::k_none;
  std::string id, title, unit, instrument;
  std::vector<std::string> where;     ///< place, connector, pin, wire colours
  std::vector<std::string> take_off;  ///< covers in order, with minutes
  std::vector<std::string> put_back;  ///< covers to fit first (a condition that needs them), set-ups to undo
  std::vector<std::string> hook_up;   ///< set-ups to make, then how to connect
  bool repeats = false;               ///< the reading before once more: to be recorded as re-seated
  std::vector<std::string> state;     ///< operating state and provocation to bring about; the 'ready' moment
  std::string ready;                  ///< "ready? then crank" line
  std::string ask;                    ///< what can be typed
  std::vector<ResultClass> results;
  double access_min = 0;
  std::vector<CautionView> cautions;
  std::vector<std::string> healthy;   ///< numbers: healthy band and where it comes from; what the file states beside it
  std::vector<std::string> before_unplugging;  ///< tests at this contact to take first: unplugging may cure it
};

/// How to do one repair.
struct RepairView {
  Index repair = model::k_none;
  std::string id, title, kind;
  std::vector<std::string> where, take_off, why;
  double labour_min = 0, price = 0, success = 0, cures = 0;
  std::vector<CautionView> cautions;
  bool over_limit = false;  ///< with it the customer's limit is exceeded
  std::string done_before;    ///< done before without success: what to do otherwise; else empty
  std::string weak_evidence;  ///< a dear part on weak evidence: what to do first; else empty
};

/// Something the person should know now.
struct Notice {
  std::string kind;           ///< contradiction, kick_back, limit, unexplored, nothing_here, standing_setup
  std::int64_t sequence = 0;  ///< reading it is about, or 0
  std::string text;
};

struct InfluenceView {
  std::int64_t sequence = 0;
  std::string reading;  ///< "exciter coil peak: 0.6 V"
  std::string mode_id, title;
  double likelihood_ratio = 1;
};

struct PredictionView {
  std::string mode_id, title;
  double probability = 0;
  std::string predicts;  ///< "180..250 V", "below", "steady 95 %"
};

/// Why this advice: readings that moved suspects, predictions per suspect, results and where they lead.
struct WhyView {
  std::vector<SuspectView> suspects;
  std::vector<InfluenceView> influences;
  Index test = model::k_none;  ///< the test looked at, k_none when the advice is a repair
  std::vector<PredictionView> predictions;
  std::vector<ResultClass> results;
  double gain_bits = 0, access_min = 0, gain_bits_per_min = 0, expected_cost_min = 0, no_test_cost_min = 0;
  double nothing_wrong = 0, unexplored_mass = 0;
};

struct CoverView {
  Index cover = model::k_none;
  std::string id, title;
  bool off = false;
  double remove_min = 0, refit_min = 0;
  std::vector<std::string> first;  ///< ids that must be off before
};

struct SetupView {
  Index setup = model::k_none;
  std::string id, title, instruction;
  bool standing = false;
};

/// A stop or interlock and whether it is recorded as working since its wiring was last touched.
struct StopView {
  Index component = model::k_none;
  std::string id, title;
  bool recorded = false;
};

/// What to do after a repair: the functional check, and the reading to repeat as proof.
struct CheckView {
  Index test = model::k_none;  ///< spark word under the complaint's condition; k_none: the family has none
  std::string title;
  std::vector<std::string> how, words;
  std::int64_t repeat_sequence = 0;      ///< earlier bad reading to repeat, 0: none
  std::string repeat_test, repeat_text;  ///< its test id, and "exciter coil peak: was 0.6 V, healthy 120..290 V"
  std::vector<StopView> stops;           ///< to be recorded before the job can close as fixed; empty: not needed
};

/// Shown once before the first measurement and on every sheet.
[[nodiscard]] const std::string& deference_text();

}  // namespace lostspark::job
