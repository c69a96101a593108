// Learned shares of faults and minutes as named sets: what would change, what is in use, and how to take it back.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <vector>

#include "history/knowledge.hpp"
#include "job/job.hpp"
#include "job/learned.hpp"
#include "job/minutes.hpp"
#include "learning/rates.hpp"
#include "learning/shares.hpp"

namespace lostspark::job {

/// How many times more often than the files say each class of faults is met, and how many times longer steps take.
struct ShareSet {
  using Factors = std::map<std::string, double>;
  struct Network {
    std::string family;
    double faults = 0;  ///< counted behind it
    Factors factors;
  };
  std::string name, made_at, note;
  std::map<std::string, Network> networks;
  std::map<std::string, Network> families;  ///< for networks without jobs of their own
  MinuteSet minutes;
};

/// The set in use: the last one applied that was not set aside or rolled back.
[[nodiscard]] std::optional<ShareSet> set_in_use(const history::Knowledge&);
/// Shares of the modes of this vehicle (as filed) under the set; empty when the set does not speak about it.
[[nodiscard]] std::vector<Learned::Share> shares_of(const ShareSet&, const model::Vehicle& as_filed);

/// What the closed cases say now, all networks.
[[nodiscard]] learning::LearnedShares learn_shares(const history::CaseSource&);
[[nodiscard]] ShareSet as_set(const learning::LearnedShares&, const LearnedMinutes&, const std::string& name,
                              const std::string& made_at, const std::string& note);

/// Failures per thousand running hours, where hours are recorded.
struct RateView {
  std::string vehicle, name;  ///< class of faults
  double faults = 0, hours = 0;
  learning::RateEstimate per_thousand_hours;
};
[[nodiscard]] std::vector<RateView> learn_rates(const history::CaseSource&, const learning::LearnedShares&);

/// First advice for the commonest complaint before any reading, with what is in use and with what was learned.
struct AdviceEffect {
  std::string vehicle, complaint, now, then;
  std::vector<std::string> suspects_now, suspects_then;  ///< "kill wire: chafed to earth 31 %"
};
[[nodiscard]] AdviceEffect advice_effect(const Desk&, const std::string& vehicle, const ShareSet&);

/// Makes a set of what `cases` (this shop's own or all shops') and this shop's noted minutes say now under a new name
/// and uses it; a name that is
/// taken is used again as it was made. Throws InputError for a name that is no word of letters, digits, `-` and `_`, or
/// when there is nothing to learn from.
ShareSet apply_shares(Desk&, const history::CaseSource& cases, const std::string& name, const std::string& note);
/// Back to the files. False when no set was in use.
bool set_aside(Desk&);
/// Back to what was in use before the last change. Returns the set in use then. Throws InputError when nothing changed
/// yet.
std::optional<ShareSet> roll_back(Desk&);

[[nodiscard]] std::string set_toml(const ShareSet&);
/// Throws InputError naming file and cause.
[[nodiscard]] ShareSet set_from_toml(const std::string& text, const std::string& file);
/// Stores an imported set, not yet used. Throws InputError when the name is taken.
void import_set(Desk&, const ShareSet&);
/// Throws InputError naming the nearest name.
[[nodiscard]] ShareSet named_set(const history::Knowledge&, const std::string& name);

}  // namespace lostspark::job
