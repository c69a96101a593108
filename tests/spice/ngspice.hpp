// Runs decks through the ngspice program, at most a few at a time, each under a time limit.
#pragma once

#include <filesystem>
#include <map>
#include <optional>
#include <string>
#include <vector>

namespace lostspark::spice {

/// What one run gave.
struct Run {
  std::map<std::string, double> measures;  ///< by .meas name, lower case; failed measurements are absent
  /// Value of a measurement; throws std::runtime_error with the log's last lines when it is absent.
  [[nodiscard]] double at(const std::string& name) const;
  std::string log;
};

struct RunOptions {
  int parallel = 2;             ///< decks at a time
  double timeout_second = 900;  ///< of one run, by the clock; its processor time is limited as well
  /// Lines added, one after the other, to a deck that stopped early: the strike of a gap is a jump, and now and then
  /// only a slightly different set of tolerances gets over it. Each keeps or tightens the time step.
  std::vector<std::string> second_tries{".options abstol=1e-8 vntol=1e-4", ".options rshunt=1e11 xmu=0.49",
                                        ".options method=gear maxord=2 abstol=1e-8"};
};

/// The program on PATH, or nothing.
[[nodiscard]] std::optional<std::filesystem::path> find_ngspice();

/// Runs the decks and gives their results in the same order. Decks and logs live in a fresh temporary folder that is
/// kept (and named) only when a run fails. Throws std::runtime_error: ngspice missing, time limit passed, analysis
/// stopped early, or nothing measured.
[[nodiscard]] std::vector<Run> run_decks(const std::vector<std::string>& decks, const RunOptions& options = {});
[[nodiscard]] Run run_deck(const std::string& deck, const RunOptions& options = {});

}  // namespace lostspark::spice
