// Runs JAGS (Debian package `jags`), a general Gibbs sampler that knows nothing of this program, on a model and its
// data.
#pragma once

#include <map>
#include <string>
#include <vector>

namespace lostspark::learning::testing {

[[nodiscard]] bool have_jags();

struct Sampled {
  double mean = 0, error = 0;  ///< Monte Carlo standard error, from batch means
  double sd = 0;
};

/// Samples the monitored nodes (scalars, or elements "theta[3]"). `data` is in R's dump format. Throws on failure.
[[nodiscard]] std::map<std::string, Sampled> run_jags(const std::string& model, const std::string& data,
                                                      const std::vector<std::string>& monitors, int draws = 60000);

}  // namespace lostspark::learning::testing
