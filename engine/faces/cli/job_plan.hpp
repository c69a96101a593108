// `job plan` and `job quote`: the advice followed through its results, as text, JSON or a drawing.
#pragma once

#include <string>

#include "faces/cli/json_out.hpp"
#include "job/job.hpp"

namespace lostspark::faces {

/// The tree as an indented page, down to `depth` steps (1: the next step alone).
[[nodiscard]] std::string tree_page(const model::Vehicle& vehicle, const planning::DecisionTree& tree, int depth);
/// The quote as lines for the customer; `spent_*`: what the job took so far.
[[nodiscard]] std::string quote_page(const planning::Quote& quote, double spent_min, double spent_money,
                                     double labour_rate_per_hour);
/// The same tree in the DOT language.
[[nodiscard]] std::string tree_dot(const model::Vehicle& vehicle, const planning::DecisionTree& tree, int depth);
[[nodiscard]] Json tree_json(const job::Job& job, const planning::DecisionTree& tree, int depth);

}  // namespace lostspark::faces
