// What one job says about the faults it had at the start: a likelihood for each class of faults, or pair of classes.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace lostspark::learning {

/// One fault set by classes: none (nothing wrong), one or two, in alphabetical order.
struct PatternEntry {
  std::vector<std::string> classes;
  double likelihood = 1;  ///< of the job's log given such a fault set, up to a common factor
};

/// Scaled to a largest likelihood of 1, sorted, rounded to four steps an octave (9 %): jobs that say the same give the
/// same text, which the database groups by. Entries below 2^-30 are left out. "PRI.open:0 TRG.open+wire.open:12 -:40".
[[nodiscard]] std::string pattern_text(std::vector<PatternEntry> entries);
/// Throws StoreError when it is no pattern.
[[nodiscard]] std::vector<PatternEntry> read_pattern(std::string_view text);

}  // namespace lostspark::learning
