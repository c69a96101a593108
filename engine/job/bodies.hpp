// JSON of log entries; inside the job room only. docs/job-log.md lists every kind and key.
#pragma once

#include <nlohmann/json.hpp>
#include <optional>
#include <set>
#include <string>
#include <unordered_map>
#include <vector>

#include "job/log.hpp"

namespace lostspark::job {

using Json = nlohmann::json;

[[nodiscard]] Json to_json(const model::Value&);
/// Throws Json::exception or InputError when it is no value.
[[nodiscard]] model::Value value_from(const Json&);
[[nodiscard]] Json to_json(const Intake&);
[[nodiscard]] Intake intake_from(const Json&);
/// A reading's body but for its action: test, value, typed text, provocation, moment, hook-up.
[[nodiscard]] Json to_json(const model::Vehicle&, const model::Reading&, const std::string& typed);
[[nodiscard]] model::Reading reading_from(const model::Vehicle&, const Json&);

/// Which entries of a log count.
struct InForce {
  std::set<std::int64_t> undone, struck;
  std::unordered_map<std::int64_t, Json> amended;  ///< target -> body of the amendment that holds
  std::unordered_map<std::int64_t, double> taken;  ///< step -> minutes it really took, as noted last
  [[nodiscard]] bool counts(std::int64_t sequence) const {
    return !undone.contains(sequence) && !struck.contains(sequence);
  }
};
[[nodiscard]] InForce in_force(const std::vector<history::LogEntry>&);
/// The entry's body; throws StoreError naming the entry when it is not JSON.
[[nodiscard]] Json body_of(const history::LogEntry&);

}  // namespace lostspark::job
