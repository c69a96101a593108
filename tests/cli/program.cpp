#include "cli/program.hpp"

#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cstdlib>
#include <cstring>
#include <exception>
#include <fstream>
#include <iostream>
#include <sstream>
#include <stdexcept>

namespace lostspark::test {

namespace {

struct Pipe {
  std::array<int, 2> ends{-1, -1};
  Pipe() {
    if (::pipe2(ends.data(), O_CLOEXEC) != 0) throw std::runtime_error("no pipe for the program under test");
  }
  ~Pipe() {
    close(0);
    close(1);
  }
  void close(std::size_t end) {
    if (ends[end] >= 0) ::close(ends[end]);
    ends[end] = -1;
  }
};

}  // namespace

Folder::Folder() : exceptions_at_start_(std::uncaught_exceptions()) {
  std::string pattern = std::string(LOSTSPARK_BINARY_DIR) + "/cli_test_XXXXXX";
  if (::mkdtemp(pattern.data()) == nullptr) throw std::runtime_error("cannot make a folder " + pattern);
  path_ = pattern;
}

Folder::~Folder() {
  // A failed REQUIRE unwinds with an exception: keep what the program left, to be looked at.
  if (std::uncaught_exceptions() > exceptions_at_start_) {
    std::cerr << "folder kept: " << path_.string() << '\n';
    return;
  }
  std::error_code ignored;
  std::filesystem::remove_all(path_, ignored);
}

std::string program_path() { return std::string(LOSTSPARK_BINARY_DIR) + "/bin/lostspark"; }

/// The started program with our ends of its three streams.
class Program::Running {
 public:
  Running(const Program& program, const std::vector<std::string>& arguments) {
    ::signal(SIGPIPE, SIG_IGN);
    std::map<std::string, std::string> environment{
        {"PATH", "/usr/bin:/bin"},
        {"LC_ALL", "C.UTF-8"},
        {"HOME", program.folder_.string()},
        {"LOSTSPARK_DATA", (program.folder_ / "data").string()},
        {"LOSTSPARK_PLUGINS", LOSTSPARK_PLUGIN_DIR},
        {"LOSTSPARK_NETWORKS", std::string(LOSTSPARK_SOURCE_DIR) + "/networks"},
    };
    for (const auto& [name, value] : program.environment_) environment[name] = value;
    std::vector<std::string> pairs, words{program.program_};
    for (const auto& [name, value] : environment) pairs.push_back(name + "=" + value);
    words.insert(words.end(), arguments.begin(), arguments.end());
    std::vector<char*> envp, argv;
    for (std::string& pair : pairs) envp.push_back(pair.data());
    for (std::string& word : words) argv.push_back(word.data());
    envp.push_back(nullptr);
    argv.push_back(nullptr);
    child_ = ::fork();
    if (child_ < 0) throw std::runtime_error("cannot start the program under test");
    if (child_ == 0) {
      ::dup2(in_.ends[0], 0);
      ::dup2(out_.ends[1], 1);
      ::dup2(err_.ends[1], 2);
      if (::chdir(program.folder_.c_str()) != 0) ::_exit(126);
      ::execve(argv[0], argv.data(), envp.data());
      ::_exit(127);
    }
    in_.close(0);
    out_.close(1);
    err_.close(1);
    ::fcntl(in_.ends[1], F_SETFL, O_NONBLOCK);
  }

  void send(const std::string& text) { to_send_ += text; }
  void close_input() { closing_ = true; }

  /// Moves what can be moved, waiting for it; false: nothing more will come (streams closed, or out of time).
  bool pump(std::chrono::steady_clock::time_point end) {
    if (to_send_.empty() && closing_) in_.close(1);
    if (out_.ends[0] < 0 && err_.ends[0] < 0) return false;
    std::array<pollfd, 3> wait{pollfd{out_.ends[0], POLLIN, 0}, pollfd{err_.ends[0], POLLIN, 0},
                               pollfd{to_send_.empty() ? -1 : in_.ends[1], POLLOUT, 0}};
    const auto left = std::chrono::duration_cast<std::chrono::milliseconds>(end - std::chrono::steady_clock::now());
    if (left.count() <= 0 || ::poll(wait.data(), wait.size(), static_cast<int>(left.count())) == 0) {
      outcome.timed_out = true;
      ::kill(child_, SIGKILL);
      return false;
    }
    for (std::size_t i = 0; i < 2; ++i) {
      if (wait[i].revents == 0) continue;
      std::array<char, 65536> buffer{};
      const ssize_t n = ::read(wait[i].fd, buffer.data(), buffer.size());
      if (n > 0)
        (i == 0 ? outcome.out : outcome.err).append(buffer.data(), static_cast<std::size_t>(n));
      else
        (i == 0 ? out_ : err_).close(0);
    }
    if (wait[2].revents != 0) {
      const ssize_t n = ::write(in_.ends[1], to_send_.data(), to_send_.size());
      if (n > 0) {
        to_send_.erase(0, static_cast<std::size_t>(n));
      } else {
        in_.close(1);  // the program closed its end; what is left is nobody's
        to_send_.clear();
      }
    }
    return true;
  }

  [[nodiscard]] Outcome finish() {
    int status = 0;
    ::waitpid(child_, &status, 0);
    if (WIFEXITED(status)) outcome.exit_code = WEXITSTATUS(status);
    if (WIFSIGNALED(status)) outcome.signal = WTERMSIG(status);
    return std::move(outcome);
  }

  Outcome outcome;

 private:
  Pipe in_, out_, err_;
  pid_t child_ = -1;
  std::string to_send_;
  bool closing_ = false;
};

Program::Program(const Folder& folder) : folder_(folder.path()), program_(program_path()) {}

Program& Program::away_from_home() {
  const std::filesystem::path copy = folder_ / "away" / "lostspark";
  std::filesystem::create_directories(copy.parent_path());
  if (!std::filesystem::exists(copy)) std::filesystem::copy_file(program_path(), copy);
  program_ = copy.string();
  return *this;
}

Outcome Program::run(const std::vector<std::string>& arguments, const std::string& input,
                     std::chrono::seconds limit) const {
  Running running(*this, arguments);
  running.send(input);
  running.close_input();
  const auto end = std::chrono::steady_clock::now() + limit;
  while (running.pump(end)) {
  }
  return running.finish();
}

Outcome Program::converse(const std::vector<std::string>& arguments,
                          const std::function<std::optional<std::string>(const std::string&)>& answer,
                          std::chrono::seconds limit) const {
  Running running(*this, arguments);
  const auto end = std::chrono::steady_clock::now() + limit;
  std::size_t seen = 0;
  int answers = 0;
  while (running.pump(end)) {
    const std::string& out = running.outcome.out;
    if (out.size() < seen + 2 || out.compare(out.size() - 2, 2, ": ") != 0) continue;
    const auto line = ++answers > 2000 ? std::nullopt : answer(out.substr(seen));
    seen = out.size();
    if (line)
      running.send(*line + "\n");
    else
      running.close_input();
  }
  return running.finish();
}

std::string read_file(const std::filesystem::path& file) {
  std::ifstream in(file, std::ios::binary);
  if (!in) throw std::runtime_error("cannot read " + file.string());
  std::ostringstream text;
  text << in.rdbuf();
  return text.str();
}

void write_file(const std::filesystem::path& file, const std::string& text) {
  std::filesystem::create_directories(file.parent_path());
  std::ofstream out(file, std::ios::binary);
  out << text;
  if (!out.flush()) throw std::runtime_error("cannot write " + file.string());
}

std::size_t line_count(const std::string& text) {
  std::istringstream in(text);
  std::size_t n = 0;
  for (std::string line; std::getline(in, line);) n += line.empty() ? 0 : 1;
  return n;
}

}  // namespace lostspark::test
