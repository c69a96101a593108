// Decision problems as files: one JSON object an instance, the optimum beside it (tests/data/planner/README.md).
#pragma once

#include <optional>
#include <string>

#include "planning/problem.hpp"

namespace lostspark::planner {

struct Instance {
  std::string id;
  planning::Problem problem;             ///< without anything the file says of the optimum
  std::optional<double> optimum;
  std::optional<double> without_tests;
  std::vector<planning::Action> first_actions;
};

/// Throws std::runtime_error (file, what is wrong) if it is missing or not an instance.
[[nodiscard]] Instance read_instance(const std::string& path);
[[nodiscard]] std::string name_of(planning::ActionKind);

}  // namespace lostspark::planner
