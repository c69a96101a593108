#include "options.hpp"

#include <unistd.h>

#include <algorithm>
#include <atomic>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <exception>
#include <iterator>
#include <thread>
#include <vector>

#include "base/error.hpp"

namespace lostspark::long_checks {
namespace {

constexpr std::uint64_t k_offset = 1469598103934665603ULL;  // Fowler-Noll-Vo, 64 bits

std::uint64_t hash(std::uint64_t start, const std::string& text) {
  for (const char c : text) start = (start ^ static_cast<unsigned char>(c)) * 1099511628211ULL;
  return start;
}

[[noreturn]] void usage(const std::string& name, const std::string& what) {
  std::fprintf(stderr, "%s: %s; usage: check_%s [--vehicle ID] [--sample F] [--seed N] [--threads N] [--state FILE] [--show WHAT]\n", name.c_str(),
               what.c_str(), name.c_str());
  std::exit(2);
}

}  // namespace

int CheckOptions::jobs(int all, int least) const {
  return std::min(all, std::max(least, static_cast<int>(std::lround(all * sample))));
}

CheckOptions parse(int argc, char** argv, const std::string& name) {
  CheckOptions out;
  for (int k = 1; k < argc; k += 2) {
    const std::string key = argv[k];
    if (k + 1 >= argc) usage(name, "no value behind " + key);
    const std::string value = argv[k + 1];
    try {
      if (key == "--sample") out.sample = std::stod(value);
      else if (key == "--seed") out.seed = std::stoull(value);
      else if (key == "--threads") out.threads = std::stoi(value);
      else if (key == "--state") out.state = value;
      else if (key == "--vehicle") out.vehicle = value;
      else if (key == "--show") out.show = value;
      else usage(name, "unknown option " + key);
    } catch (const std::logic_error&) {
      usage(name, "'" + value + "' is no number for " + key);
    }
  }
  if (!(out.sample > 0 && out.sample <= 1)) usage(name, "the sample is a share between 0 and 1");
  if (out.threads < 1 || out.threads > 256) usage(name, "threads are 1 to 256");
  if (out.state == "-") out.state.clear();
  else if (out.state.empty() && out.full()) out.state = "long_" + name + "_" + out.vehicle + "_" + std::to_string(out.seed) + ".state";
  return out;
}

std::string file_fingerprint(const std::string& path) {
  std::ifstream file(path, std::ios::binary);
  const std::string content((std::istreambuf_iterator<char>(file)), std::istreambuf_iterator<char>());
  char out[32];
  std::snprintf(out, sizeof out, "%016llx", static_cast<unsigned long long>(hash(k_offset, content)));
  return out;
}

std::string fingerprint(const std::string& text) {
  char out[32];
  std::snprintf(out, sizeof out, "%016llx",
                static_cast<unsigned long long>(hash(k_offset, text + file_fingerprint("/proc/self/exe"))));
  return out;
}

Resume::Resume(const std::string& path, const std::string& fingerprint) {
  if (path.empty()) return;
  {
    std::ifstream in(path);
    std::string line;
    if (in && std::getline(in, line) && line == fingerprint)
      while (std::getline(in, line)) {
        const auto space = line.find(' ');
        // A line without its end mark was cut off by the stop: that job runs again.
        if (space == std::string::npos || line.size() < 2 || line.substr(line.size() - 2) != " .") continue;
        lines_[std::atoi(line.c_str())] = line.substr(space + 1, line.size() - space - 3);
      }
  }
  found_ = lines_.size();
  out_.open(path, std::ios::trunc);
  if (!out_) throw InputError("cannot write the resume file " + path + "; name another with --state");
  out_ << fingerprint << '\n';
  for (const auto& [job, line] : lines_) out_ << job << ' ' << line << " .\n";
  out_.flush();
}

const std::string* Resume::find(int job) const {
  const std::lock_guard lock(mutex_);
  const auto found = lines_.find(job);
  return found == lines_.end() ? nullptr : &found->second;
}

void Resume::add(int job, const std::string& line) {
  const std::lock_guard lock(mutex_);
  lines_[job] = line;
  if (out_.is_open()) {
    out_ << job << ' ' << line << " .\n";
    out_.flush();
  }
}

void for_each_job(int jobs, int threads, const std::function<void(int, int)>& body) {
  std::atomic<int> next{0};
  std::exception_ptr failure;
  std::mutex mutex;
  const auto work = [&](int thread) {
    while (true) {
      const int job = next++;
      if (job >= jobs) return;
      try {
        body(job, thread);
      } catch (...) {
        const std::lock_guard lock(mutex);
        if (!failure) failure = std::current_exception();
        next = jobs;
      }
    }
  };
  std::vector<std::thread> pool;
  for (int t = 1; t < std::min(threads, jobs); ++t) pool.emplace_back(work, t);
  work(0);
  for (auto& t : pool) t.join();
  if (failure) std::rethrow_exception(failure);
}

int run_check(int argc, char** argv, const std::string& name, const std::function<int(const CheckOptions&)>& body) {
  const auto options = parse(argc, argv, name);
  try {
    return body(options);
  } catch (const Error& error) {
    std::fprintf(stderr, "%s: %s\n", name.c_str(), error.what());
    return error.exit_code();
  } catch (const std::exception& error) {
    std::fprintf(stderr, "%s: %s\n", name.c_str(), error.what());
    return 4;
  }
}

}  // namespace lostspark::long_checks
