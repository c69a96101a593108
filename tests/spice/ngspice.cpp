#include "spice/ngspice.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <signal.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <chrono>
#include <cstdlib>
#include <fstream>
#include <sstream>
#include <stdexcept>
#include <thread>

namespace lostspark::spice {

namespace fs = std::filesystem;
using Clock = std::chrono::steady_clock;

double Run::at(const std::string& name) const {
  const auto found = measures.find(name);
  if (found != measures.end()) return found->second;
  throw std::runtime_error("ngspice did not measure '" + name + "'; end of its log:\n" +
                           log.substr(log.size() > 600 ? log.size() - 600 : 0));
}

std::optional<fs::path> find_ngspice() {
  const char* path = std::getenv("PATH");
  std::istringstream folders(path ? path : "");
  for (std::string folder; std::getline(folders, folder, ':');) {
    const fs::path candidate = fs::path(folder) / "ngspice";
    if (!folder.empty() && ::access(candidate.c_str(), X_OK) == 0) return candidate;
  }
  return std::nullopt;
}

namespace {

constexpr int k_most_killed = 3;
constexpr rlim_t k_most_cpu_second = 120;  // of one run; a slow kick takes three

/// A fresh folder under the system's temporary folder.
fs::path fresh_folder() {
  std::string pattern = (fs::temp_directory_path() / "lostspark_spice_XXXXXX").string();
  if (!::mkdtemp(pattern.data())) throw std::runtime_error("cannot make a temporary folder for ngspice: " + pattern);
  return pattern;
}

pid_t start(const fs::path& program, const fs::path& deck, const fs::path& log) {
  const pid_t child = ::fork();
  if (child < 0) throw std::runtime_error("cannot start ngspice: fork failed");
  if (child != 0) return child;
  const int out = ::open(log.c_str(), O_WRONLY | O_CREAT | O_TRUNC, 0600);
  const int nothing = ::open("/dev/null", O_RDONLY);
  ::dup2(nothing, 0);
  ::dup2(out, 1);
  ::dup2(out, 2);
  ::setenv("LC_ALL", "C", 1);
  const rlimit limit{k_most_cpu_second, k_most_cpu_second};
  ::setrlimit(RLIMIT_CPU, &limit);
  ::execl(program.c_str(), "ngspice", "-n", "-b", deck.c_str(), static_cast<char*>(nullptr));
  ::_exit(127);
}

std::string slurp(const fs::path& file) {
  std::ifstream in(file);
  std::ostringstream text;
  text << in.rdbuf();
  return text.str();
}

/// Lines "name = value at= ..." after the heading of the measurements.
Run parse(std::string log) {
  Run run;
  std::istringstream lines(log);
  bool measuring = false;
  for (std::string line; std::getline(lines, line);) {
    if (line.find("Measurements for Transient Analysis") != std::string::npos) measuring = true;
    if (!measuring) continue;
    std::istringstream words(line);
    std::string name, equals, value;
    if (!(words >> name >> equals >> value) || equals != "=") continue;
    char* end = nullptr;
    const double number = std::strtod(value.c_str(), &end);
    if (end != value.c_str() && *end == '\0') run.measures[name] = number;
  }
  for (const char* bad : {"Timestep too small", "simulation(s) aborted", "singular matrix", "fatal error"})
    if (log.find(bad) != std::string::npos) run.measures.clear();
  run.log = std::move(log);
  return run;
}

struct Job {
  std::size_t deck = 0;
  pid_t child = 0;
  Clock::time_point started;
  std::size_t tries = 0;  ///< second tries used up
  int killed = 0;         ///< times somebody ended it
};

/// The deck with one more line before its end.
std::string with_line(const std::string& deck, const std::string& line) {
  if (line.empty()) return deck;
  const auto end = deck.rfind(".end");
  return deck.substr(0, end) + line + "\n" + deck.substr(end);
}

}  // namespace

std::vector<Run> run_decks(const std::vector<std::string>& decks, const RunOptions& options) {
  const auto program = find_ngspice();
  if (!program) throw std::runtime_error("ngspice is not on PATH (Debian: apt install ngspice)");
  const fs::path folder = fresh_folder();
  const auto file = [&](std::size_t i, const char* ending) { return folder / ("deck" + std::to_string(i) + ending); };
  std::vector<Run> runs(decks.size());
  std::vector<Job> waiting, running;
  for (std::size_t i = decks.size(); i > 0; --i) waiting.push_back({i - 1, 0, {}, 0, 0});
  std::string failure;
  while ((!waiting.empty() && failure.empty()) || !running.empty()) {
    if (!waiting.empty() && failure.empty() && running.size() < static_cast<std::size_t>(options.parallel)) {
      Job job = waiting.back();
      waiting.pop_back();
      const std::string extra = job.tries == 0 ? "" : options.second_tries[job.tries - 1];
      std::ofstream(file(job.deck, ".cir")) << with_line(decks[job.deck], extra);
      job.child = start(*program, file(job.deck, ".cir"), file(job.deck, ".log"));
      job.started = Clock::now();
      running.push_back(job);
      continue;
    }
    std::this_thread::sleep_for(std::chrono::milliseconds(10));
    for (auto& job : running) {
      int status = 0;
      if (::waitpid(job.child, &status, WNOHANG) == job.child) {
        job.child = 0;
        runs[job.deck] = parse(slurp(file(job.deck, ".log")));
        if (!runs[job.deck].measures.empty()) continue;
        const bool stopped_early = runs[job.deck].log.find("Timestep too small") != std::string::npos;
        const int killed_by = WIFSIGNALED(status) ? WTERMSIG(status) : 0;
        if (stopped_early && job.tries < options.second_tries.size())
          waiting.push_back({job.deck, 0, {}, job.tries + 1, job.killed});
        else if (killed_by != 0 && killed_by != SIGXCPU && job.killed < k_most_killed)
          waiting.push_back({job.deck, 0, {}, job.tries, job.killed + 1});  // not the deck's fault: run it again
        else
          failure = fmt::format("ngspice gave no result{}; see {} and {}",
                                killed_by == 0 ? "" : fmt::format(" (ended by signal {})", killed_by),
                                file(job.deck, ".cir").string(), file(job.deck, ".log").string());
      } else if (std::chrono::duration<double>(Clock::now() - job.started).count() > options.timeout_second) {
        ::kill(job.child, SIGKILL);
        ::waitpid(job.child, nullptr, 0);
        job.child = 0;
        failure = "ngspice passed its time limit on " + file(job.deck, ".cir").string();
      }
    }
    std::erase_if(running, [](const Job& job) { return job.child == 0; });
  }
  if (!failure.empty()) throw std::runtime_error(failure);
  fs::remove_all(folder);
  return runs;
}

Run run_deck(const std::string& deck, const RunOptions& options) {
  auto runs = run_decks({deck}, options);
  return std::move(runs.front());
}

}  // namespace lostspark::spice
