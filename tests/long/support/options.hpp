// Command line of the long checks, and the file that lets a stopped run go on.
#pragma once

#include <cstdint>
#include <cstdio>
#include <fstream>
#include <functional>
#include <map>
#include <mutex>
#include <string>
#include <vector>

namespace lostspark::long_checks {

struct CheckOptions {
  double sample = 1;        ///< share of the jobs to run, 0 < sample <= 1
  std::uint64_t seed = 1;
  int threads = 2;
  std::string vehicle = "quillmarsh_trail_125";  ///< network that the check runs on
  std::string state;        ///< resume file; empty: none for a sample, "long_<name>_<vehicle>_<seed>.state" for a
                            ///< full run
  std::string show;         ///< a job's subject (injection: a fault mode): its steps are printed, nothing is judged
  [[nodiscard]] bool full() const { return sample >= 1; }
  /// Jobs of `all` that this run takes, at least `least`.
  [[nodiscard]] int jobs(int all, int least = 1) const;
};

/// Reads --vehicle ID, --sample F, --seed N, --threads N, --state FILE (FILE "-": none), --show WHAT. Exits with status
/// 2 and one line on anything else.
[[nodiscard]] CheckOptions parse(int argc, char** argv, const std::string& name);

/// Finished jobs of a run, one line each, appended as they finish. A file of another program, plugin, network or seed is
/// begun anew: results of different code never mix.
class Resume {
 public:
  /// `fingerprint` names everything the results depend on. No file when `path` is empty.
  Resume(const std::string& path, const std::string& fingerprint);
  /// Result of a job finished before, or nullptr.
  [[nodiscard]] const std::string* find(int job) const;
  /// Thread-safe; on disk when it returns.
  void add(int job, const std::string& line);
  [[nodiscard]] std::size_t found() const { return found_; }

 private:
  std::map<int, std::string> lines_;
  std::ofstream out_;
  mutable std::mutex mutex_;
  std::size_t found_ = 0;
};

/// Hash over this program's file, and over further text that decides the results.
[[nodiscard]] std::string fingerprint(const std::string& text);

/// Hash of one file's content.
[[nodiscard]] std::string file_fingerprint(const std::string& path);

/// Runs body(job, thread) for job = 0 .. jobs - 1 on `threads` threads; the first exception is rethrown when all stand.
void for_each_job(int jobs, int threads, const std::function<void(int job, int thread)>& body);

/// Outcomes of all jobs: those that an earlier run finished are read back (read(line) -> outcome), the others run
/// (run(job, thread) -> outcome, thread below options.threads) and kept as write(outcome). `fingerprint` as for Resume; the seed is added.
template <typename Read, typename Write, typename Run>
[[nodiscard]] auto resumed_outcomes(const CheckOptions& options, const std::string& fingerprint, int jobs, const Read& read,
                                    const Write& write, const Run& run) {
  Resume resume(options.state, fingerprint + " " + std::to_string(options.seed));
  if (resume.found() > 0) std::printf("going on after %zu finished jobs\n", resume.found());
  std::vector<decltype(run(0, 0))> outcomes(static_cast<std::size_t>(jobs));
  for_each_job(jobs, options.threads, [&](int job, int thread) {
    auto& out = outcomes[static_cast<std::size_t>(job)];
    if (const auto* line = resume.find(job)) {
      out = read(*line);
      return;
    }
    out = run(job, thread);
    resume.add(job, write(out));
  });
  return outcomes;
}

/// main() of a check: errors of the program as one line and their exit status.
int run_check(int argc, char** argv, const std::string& name, const std::function<int(const CheckOptions&)>& body);

}  // namespace lostspark::long_checks
