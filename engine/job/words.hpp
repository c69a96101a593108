// Small text helpers of the job room.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace lostspark::job {

[[nodiscard]] std::string trimmed(std::string_view text);
/// ASCII lower case; other bytes stay.
[[nodiscard]] std::string lowered(std::string_view text);
/// "a, b and c"; `last` stands before the last one.
[[nodiscard]] std::string joined(const std::vector<std::string>& items, std::string_view last = " and ");
/// The candidate with the least edit distance, or empty when none is near.
[[nodiscard]] std::string nearest(std::string_view wanted, const std::vector<std::string>& candidates);
/// "no test 'x' on this vehicle; nearest: 'y'" - the sentence for an unknown name.
[[nodiscard]] std::string unknown(std::string_view what, std::string_view wanted,
                                  const std::vector<std::string>& candidates);
/// Shortest decimal text that reads back as the same number, without exponent.
[[nodiscard]] std::string exact(double value);

}  // namespace lostspark::job
