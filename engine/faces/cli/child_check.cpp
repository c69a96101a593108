#include "faces/cli/child_check.hpp"

#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <chrono>
#include <cstring>
#include <exception>
#include <filesystem>

#include "base/error.hpp"
#include "faces/cli/text.hpp"
#include "sources/load.hpp"

namespace lostspark::faces {

namespace {

constexpr char k_line_end = '\n';
constexpr char k_done = '\x04';                // the child came to its own end
constexpr std::size_t k_most_bytes = 1 << 20;  // a plugin cannot flood us

void write_all(int to, const std::string& text) {
  std::size_t at = 0;
  while (at < text.size()) {
    const ssize_t n = ::write(to, text.data() + at, text.size() - at);
    if (n < 0 && errno == EINTR) continue;
    if (n <= 0) ::_exit(1);
    at += static_cast<std::size_t>(n);
  }
}

/// The child's whole life. Never returns, runs no destructor and no exit handler of the parent's copy.
[[noreturn]] void be_child(const std::string& path, int to) {
  const rlimit no_core{0, 0};
  ::setrlimit(RLIMIT_CORE, &no_core);
  const int nowhere = ::open("/dev/null", O_RDWR);
  for (int stream = 0; stream <= 2; ++stream) ::dup2(nowhere, stream);
  std::string report;
  try {
    for (std::string line : sources::check_family(path)) {
      for (char& c : line)
        if (c == k_line_end || c == k_done) c = ' ';
      report += line + k_line_end;
    }
  } catch (const std::exception& error) {
    report += error.what();
    report += k_line_end;
  } catch (...) {
    report += path + ": an exception of an unknown type left the plugin";
    report += k_line_end;
  }
  write_all(to, report + k_done);
  ::_exit(0);
}

/// Reads until the end, the limit of bytes, or the deadline; false: the deadline came first.
bool read_all(int from, int seconds, std::string& text) {
  const auto end = std::chrono::steady_clock::now() + std::chrono::seconds(seconds);
  for (;;) {
    const auto left = std::chrono::duration_cast<std::chrono::milliseconds>(end - std::chrono::steady_clock::now());
    if (left.count() <= 0) return false;
    pollfd wait{from, POLLIN, 0};
    const int ready = ::poll(&wait, 1, static_cast<int>(left.count()));
    if (ready < 0 && errno == EINTR) continue;
    if (ready == 0) return false;
    std::array<char, 4096> buffer{};
    const ssize_t n = ::read(from, buffer.data(), buffer.size());
    if (n < 0 && errno == EINTR) continue;
    if (n <= 0 || text.size() > k_most_bytes) return true;
    text.append(buffer.data(), static_cast<std::size_t>(n));
    if (text.back() == k_done) return true;
  }
}

}  // namespace

std::vector<std::string> check_family_in_child(const std::string& path, int seconds) {
  std::error_code ignored;
  if (!std::filesystem::exists(path, ignored))
    throw InputError("there is no file " + path + "; name the plugin's library, as \"lostspark family list\" finds it");
  std::array<int, 2> ends{};
  if (::pipe(ends.data()) != 0) throw InternalError(std::string("cannot make a pipe: ") + std::strerror(errno));
  const pid_t child = ::fork();
  if (child < 0) {
    ::close(ends[0]);
    ::close(ends[1]);
    throw InternalError(std::string("cannot start a process for the plugin: ") + std::strerror(errno));
  }
  if (child == 0) {
    ::close(ends[0]);
    be_child(path, ends[1]);
  }
  ::close(ends[1]);
  std::string text;
  const bool in_time = read_all(ends[0], seconds, text);
  ::close(ends[0]);
  const bool complete = !text.empty() && text.back() == k_done;
  if (!complete && (!in_time || text.size() > k_most_bytes)) ::kill(child, SIGKILL);
  int status = 0;
  while (::waitpid(child, &status, 0) < 0 && errno == EINTR) {
  }

  std::vector<std::string> problems;
  for (std::size_t start = 0, end = 0; (end = text.find(k_line_end, start)) != std::string::npos; start = end + 1)
    problems.push_back(text.substr(start, end - start));
  if (complete) return problems;
  if (!in_time)
    problems.push_back(path + ": the plugin did not answer within " +
                       counted(static_cast<std::size_t>(seconds), "second") + " and was stopped");
  else if (WIFSIGNALED(status))
    problems.push_back(path + ": the plugin crashed (" + ::strsignal(WTERMSIG(status)) + ")");
  else
    problems.push_back(path + ": the plugin ended the process by itself");
  return problems;
}

}  // namespace lostspark::faces
