// Pages kept as files under tests/golden: compared on each run, accepted with tests/accept_golden.sh.
#pragma once

#include <string>

namespace lostspark::test {

/// Empty when `text` says the same as tests/golden/<name>; otherwise where they part, and the new page stands in
/// <build>/golden/<name>, from where the accept script takes it. The same means: all words and their layout, with
/// numbers within 2 % or 1 of the last digit shown (another compiler rounds another way), dates and times taken out.
[[nodiscard]] std::string golden_difference(const std::string& name, const std::string& text);

/// The comparison itself, for its own tests: empty, or the first line where the pages part.
[[nodiscard]] std::string page_difference(const std::string& wanted, const std::string& found);

}  // namespace lostspark::test
