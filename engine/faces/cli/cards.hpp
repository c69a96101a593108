// The job room's views as text. Nothing is decided or computed here; no bits or likelihood ratios except on why_page().
#pragma once

#include <set>
#include <string>
#include <vector>

#include "job/job.hpp"

namespace lostspark::faces {

/// Safety text: "DANGER  hazard and consequence. How to avoid." Of cautions already in `shown` the hazard is not told
/// again: what to do stays, in one paragraph for each signal word. Adds to `shown`.
[[nodiscard]] std::string caution_lines(const std::vector<job::CautionView>& cautions, std::set<std::string>& shown);
/// Deference text and the cautions that come before the first measurement.
[[nodiscard]] std::string first_page(const std::vector<job::CautionView>& cautions, std::set<std::string>& shown);

/// "12. Exciter peak at ...", lines after the first under the first word. Number 0: the title alone.
[[nodiscard]] std::string heading(int number, std::string_view title);
/// A test up to the hook-up, without its heading: where, what to take off, how to connect, what the results would mean,
/// minutes, cautions.
[[nodiscard]] std::string step_card(const model::Vehicle& vehicle, const job::StepView& step,
                                    std::set<std::string>& shown);
/// The state to bring about and the words before the engine turns; empty for tests without such a moment.
[[nodiscard]] std::string ready_lines(const job::StepView& step);
[[nodiscard]] std::string repair_card(const job::RepairView& repair, std::set<std::string>& shown);
[[nodiscard]] std::string check_card(const job::CheckView& check);

[[nodiscard]] std::string done_lines(const job::Done& done);
[[nodiscard]] std::string notice_lines(const std::vector<job::Notice>& notices);
/// "Most likely now: kill wire: chafed to earth (71 %), ..."; the leading `most` suspects.
[[nodiscard]] std::string suspect_line(const std::vector<job::SuspectView>& suspects, std::size_t most = 3);
[[nodiscard]] std::string suspect_table(const std::vector<job::SuspectView>& suspects, double nothing_wrong,
                                        double unexplored);
/// The next steps, best first: what, minutes, what has to come off; with ids for scripts.
enum class Ids { left_out, shown };
[[nodiscard]] std::string plan_page(const model::Vehicle& vehicle, const planning::Plan& plan, std::size_t most = 8,
                                    Ids ids = Ids::left_out);
[[nodiscard]] std::string why_page(const model::Vehicle& vehicle, const job::WhyView& why);
[[nodiscard]] std::string history_table(const std::vector<job::HistoryLine>& lines);
[[nodiscard]] std::string bench_page(const job::Job& job);

/// Title of the step of an advice; "refer the job on" for a refer step.
[[nodiscard]] std::string advice_title(const model::Vehicle& vehicle, const planning::Advice& advice);

}  // namespace lostspark::faces
