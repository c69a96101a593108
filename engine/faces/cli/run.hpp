// The command line as a function, so that tests can call it without a process.
#pragma once

#include <iosfwd>
#include <string>
#include <vector>

namespace lostspark::faces {

/// Runs one command line (without the program's name). Never throws: an error becomes one line on `err` that begins
/// with "lostspark:", and with --json also {"error":{"kind","message","exit_code"}} on `out`.
/// Returns the exit code: 0 done, 1 input, 2 usage, 3 store or plugin, 4 ours.
int run(const std::vector<std::string>& arguments, std::istream& in, std::ostream& out, std::ostream& err);

}  // namespace lostspark::faces
