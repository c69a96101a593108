// Inside of Job; included by the job room's own files only.
#pragma once

#include <utility>

#include "job/bodies.hpp"
#include "job/job.hpp"

namespace lostspark::job {

/// Entries that will be appended together, and what they say.
struct Draft {
  std::vector<std::pair<std::string, Json>> entries;  ///< kind, body without its action
  std::vector<std::string> also;
  double minutes = 0;  ///< of what was drafted so far
  Json items = Json::object();  ///< what the minutes are made of, by item (docs/learning.md, 3)
  void spend(const std::string& item, double planned) {
    minutes += planned;
    if (planned > 0) items[item] = items.value(item, 0.0) + planned;
  }
  void add(std::string kind, Json body) { entries.emplace_back(std::move(kind), std::move(body)); }
};

struct Job::Impl {
  history::Store* store = nullptr;
  std::string id;
  history::JobHeader header;
  Learned learned;
  std::shared_ptr<const model::Vehicle> vehicle;
  model::Workshop workshop;
  DeskOptions options;
  std::vector<history::LogEntry> log;
  State state;
  mutable inference::CompiledPtr compiled;
  mutable std::optional<inference::Posterior> posterior;

  /// Appends the draft as one action. The log is replayed with it first, so that nothing unreadable is ever stored.
  /// Returns the sequence of its last entry.
  std::int64_t append(const Draft& draft);
  void reload();
  /// Throws InputError on a closed job.
  void must_be_open() const;
  [[nodiscard]] std::int64_t next_sequence(const Draft& draft) const {
    return state.last + static_cast<std::int64_t>(draft.entries.size()) + 1;
  }

  /// Drafts the way to a test: covers, set-ups, contacts moved; adds its minutes.
  void approach(Index test, Draft& draft) const;
  void open_covers(const std::vector<Index>& needed, Draft& draft) const;
  void fit_covers(const std::vector<Index>& which, Draft& draft) const;
  void change_setups(const std::vector<Index>& wanted, Draft& draft) const;
  void touch(const std::vector<Index>& components, Draft& draft) const;
  [[nodiscard]] const Taken* last_reading() const;          ///< of the bench, not of the intake; nullptr: none
  [[nodiscard]] bool still_hooked_up(Index test) const;    ///< the last reading was this test, and nothing was moved since
  [[nodiscard]] model::Reading reading_now(Index test, const model::Value&, const ReadingOptions&,
                                           std::int64_t sequence) const;

  [[nodiscard]] const inference::CompiledPtr& tables() const;
  [[nodiscard]] const inference::Posterior& belief() const;
  [[nodiscard]] planning::BenchState bench() const;
  /// Instrument of the test, nullptr when the shop has none (a test by eye needs none).
  [[nodiscard]] const model::Instrument* instrument_of(const model::Test&) const;
  [[nodiscard]] bool can_do(const model::Test&) const;
  [[nodiscard]] bool kick_back() const;
  /// The last repair that may have changed what this test shows (a look: a repair of what it looks at); 0: none.
  [[nodiscard]] std::int64_t changed_since(const model::Test&) const;
};

/// Kinds of instrument that are always there.
[[nodiscard]] bool needs_no_instrument(std::string_view kind);
/// "peak voltmeter" for "peak_voltmeter".
[[nodiscard]] std::string spaced_words(std::string_view id);
/// Contacts that move when the harness is taken off the terminals of an ohm test; empty for other tests.
[[nodiscard]] std::vector<Index> contacts_unplugged(const model::Vehicle&, const model::Test&);
/// Set-ups of the test's scene.
[[nodiscard]] const std::vector<Index>& setups_of(const model::Vehicle&, const model::Test&);
/// "IEC 60757" colours in words: "BKRD" -> "black/red".
[[nodiscard]] std::string colours(const std::string& code);
/// What the results of this test would mean, by belief now (view_results.cpp).
[[nodiscard]] std::vector<ResultClass> result_classes(const Job::Impl&, Index test);
[[nodiscard]] std::vector<SuspectView> suspect_views(const model::Vehicle&, const inference::Posterior&, double least,
                                                     std::size_t most);
[[nodiscard]] std::vector<CautionView> caution_views(const Job::Impl&, const std::vector<Index>& cautions,
                                                     bool kick_back);
/// How far a value lies outside the healthy band: 0 inside; log distance for numbers, improbability for words.
[[nodiscard]] double badness(const inference::CompiledPtr&, const model::Reading&);

}  // namespace lostspark::job
