// The job room's views as JSON; docs/json.md documents every key. Numbers carry their unit in the key.
#pragma once

#include "faces/cli/json_out.hpp"
#include "job/job.hpp"
#include "job/sheet.hpp"

namespace lostspark::faces {

[[nodiscard]] Json advice_json(const model::Vehicle& vehicle, const planning::Advice& advice);
[[nodiscard]] Json plan_json(const job::Job& job, const planning::Plan& plan);
[[nodiscard]] Json suspect_json(const job::SuspectView& suspect);
[[nodiscard]] Json suspects_json(const job::Job& job, double least);
[[nodiscard]] Json step_json(const job::StepView& step);
[[nodiscard]] Json repair_json(const job::RepairView& repair);
[[nodiscard]] Json check_json(const job::CheckView& check);
[[nodiscard]] Json why_json(const job::Job& job, const job::WhyView& why);
[[nodiscard]] Json done_json(const job::Job& job, const job::Done& done);
[[nodiscard]] Json bench_json(const job::Job& job);
[[nodiscard]] Json job_json(const job::Job& job);
[[nodiscard]] Json summary_json(const history::JobSummary& summary);
[[nodiscard]] Json sheet_json(const job::Sheet& sheet);

}  // namespace lostspark::faces
