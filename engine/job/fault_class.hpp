// Classes of faults that learning pools: component class and mode.
#pragma once

#include <map>
#include <string>
#include <vector>

#include "model/vehicle.hpp"

namespace lostspark::job {

/// "connector.corroded", "wire.open" for the harness, "<group>.<mode>" for parts: "PRI.primary_open".
[[nodiscard]] std::string fault_class(const model::Vehicle&, model::Index mode);
/// Prior odds of each mode: its own, and what the common causes add, as inference reckons them.
[[nodiscard]] std::vector<double> mode_odds(const model::Vehicle&);
/// The same summed by class.
[[nodiscard]] std::map<std::string, double> class_odds(const model::Vehicle&);

/// "connector.clean", "SEC.replace": repairs whose minutes are learned together.
[[nodiscard]] std::string repair_class(const model::Vehicle&, model::Index repair);

}  // namespace lostspark::job
