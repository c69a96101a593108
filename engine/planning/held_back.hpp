// Two rules beside the expected cost, about parts that are fitted on a hunch (docs/advice.md).
#pragma once

#include "planning/job_problem.hpp"
#include "planning/planner.hpp"

namespace lostspark::planning {

/// Where the decision fits a part of the ignition: a test that tells something about the need of that part comes first if it costs
/// hardly more, or while nothing here may well be at fault; where there is none and nothing here is likelier than not, the
/// cheapest step that fits no part, giving the job away among them. Expected cost alone would fit cheap parts to sound
/// vehicles (docs/spice-in-the-loop.md), and money spent is not got back. Puts the step at the head of the options and makes it the
/// decision's; leaves other decisions alone.
void hold_parts_back(const model::Vehicle&, const JobProblem&, const JobState&, Decision&);

}  // namespace lostspark::planning
