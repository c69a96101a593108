// The whole program as a user starts it: wall time and peak memory of one played diagnosis, process start included.
#include <benchmark/benchmark.h>
#include <fcntl.h>
#include <spawn.h>
#include <sys/resource.h>
#include <sys/wait.h>

#include <cstdlib>
#include <string>
#include <vector>

#include "workload.hpp"

extern char** environ;  // NOLINT(readability-redundant-declaration): POSIX leaves it to the caller

namespace {

using namespace lostspark;

/// Runs the program silently with an in-memory store; returns its exit code, adds peak memory.
int run_program(std::vector<std::string> words, double& peak_mb) {
  std::vector<char*> argv;
  for (auto& word : words) argv.push_back(word.data());
  argv.push_back(nullptr);
  posix_spawn_file_actions_t quiet;
  posix_spawn_file_actions_init(&quiet);
  posix_spawn_file_actions_addopen(&quiet, 0, "/dev/null", O_RDONLY, 0);
  posix_spawn_file_actions_addopen(&quiet, 1, "/dev/null", O_WRONLY, 0);
  pid_t child = 0;
  const int failed = posix_spawn(&child, argv[0], &quiet, nullptr, argv.data(), environ);
  posix_spawn_file_actions_destroy(&quiet);
  if (failed) return 127;
  int status = 0;
  rusage usage{};
  wait4(child, &status, 0, &usage);
  peak_mb = std::max(peak_mb, static_cast<double>(usage.ru_maxrss) * 1024e-6);
  return WIFEXITED(status) ? WEXITSTATUS(status) : 128;
}

void played_diagnosis(benchmark::State& state) {
  double peak_mb = 0;
  for (auto _ : state) {
    const int code = run_program({LOSTSPARK_PROGRAM, "trace", benches::k_demo_vehicle, "--play"}, peak_mb);
    if (code != 0) {
      state.SkipWithError(("the program ended with exit code " + std::to_string(code)).c_str());
      break;
    }
  }
  state.counters["peak_mb"] = peak_mb;
}

BENCHMARK(played_diagnosis)->UseRealTime()->Unit(benchmark::kMillisecond);

}  // namespace

int main(int argc, char** argv) {
  benches::point_to_this_build();
  return benches::run(argc, argv,
                      "lostspark trace of the trail bike, played by the simulated bench, one process a run");
}
