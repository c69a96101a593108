// The closed word lists of the log.
#include <array>
#include <utility>

#include "base/error.hpp"
#include "job/log.hpp"
#include "job/words.hpp"

namespace lostspark::job {
namespace {

using model::Provocation;

template <class E, std::size_t N>
E from_text(const std::array<std::pair<E, std::string_view>, N>& table, std::string_view text, std::string_view what,
            bool keys) {
  const std::string wanted = lowered(trimmed(text));
  std::vector<std::string> known;
  for (std::size_t i = 0; i < N; ++i) {
    if (wanted == table[i].second || (keys && wanted == std::to_string(i + 1))) return table[i].first;
    known.emplace_back(table[i].second);
  }
  throw InputError("'" + std::string(text.substr(0, 40)) + "' is no " + std::string(what) + "; expected " +
                   joined(known, " or "));
}

template <class E, std::size_t N>
std::string to_text(const std::array<std::pair<E, std::string_view>, N>& table, E value) {
  for (const auto& [e, text] : table)
    if (e == value) return std::string(text);
  throw InternalError("internal error: a value outside its list (please report this)");
}

constexpr std::array<std::pair<SkipReason, std::string_view>, 4> k_skips{{{SkipReason::cannot_reach, "cannot_reach"},
                                                                          {SkipReason::no_tool, "no_tool"},
                                                                          {SkipReason::no_helper, "no_helper"},
                                                                          {SkipReason::not_now, "not_now"}}};
constexpr std::array<std::pair<Outcome, std::string_view>, 3> k_outcomes{
    {{Outcome::fixed, "fixed"}, {Outcome::not_ignition, "not_ignition"}, {Outcome::referred_on, "referred_on"}}};
constexpr std::array<std::pair<Provocation, std::string_view>, 6> k_provocation_words{
    {{Provocation::none, "none"},
     {Provocation::hot, "hot"},
     {Provocation::wet, "wet"},
     {Provocation::shaken, "shaken"},
     {Provocation::steering, "steering"},
     {Provocation::loaded, "loaded"}}};
constexpr std::array<std::pair<PartState, std::string_view>, 4> k_parts{{{PartState::no_part, "no_part"},
                                                                         {PartState::fitted, "fitted"},
                                                                         {PartState::tried, "tried"},
                                                                         {PartState::returned, "returned"}}};
constexpr std::array<std::pair<history::JobState, std::string_view>, 4> k_states{
    {{history::JobState::open, "open"},
     {history::JobState::waiting_for_part, "waiting_for_part"},
     {history::JobState::waiting_for_customer, "waiting_for_customer"},
     {history::JobState::closed, "closed"}}};

}  // namespace

std::string to_string(SkipReason r) { return to_text(k_skips, r); }
SkipReason skip_reason(std::string_view text) { return from_text(k_skips, text, "reason to skip", true); }
std::string to_string(Outcome o) { return to_text(k_outcomes, o); }
Outcome outcome(std::string_view text) { return from_text(k_outcomes, text, "outcome", true); }
std::string to_string(history::JobState s) { return to_text(k_states, s); }
history::JobState job_state(std::string_view text) { return from_text(k_states, text, "state of a job", false); }
std::string to_string(model::Provocation p) { return to_text(k_provocation_words, p); }
model::Provocation provocation(std::string_view text) {
  return from_text(k_provocation_words, text, "provocation", false);
}
std::string to_string(PartState p) { return to_text(k_parts, p); }
PartState part_state(std::string_view text) { return from_text(k_parts, text, "state of a part", false); }

}  // namespace lostspark::job
