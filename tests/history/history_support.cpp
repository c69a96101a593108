#include "history_support.hpp"

#include <fcntl.h>
#include <sys/wait.h>
#include <unistd.h>

#include <csignal>
#include <cstdlib>
#include <fstream>
#include <iostream>
#include <stdexcept>

namespace lostspark::history::testing {

namespace fs = std::filesystem;

namespace {

int g_letters = -1;  // in a child: where the parent's letters come from

}  // namespace

std::uint64_t test_seed(const char* what) {
  const char* given = std::getenv("LOSTSPARK_TEST_SEED");
  const std::uint64_t seed = given ? std::strtoull(given, nullptr, 10) : std::random_device()();
  std::cout << what << ": LOSTSPARK_TEST_SEED=" << seed << std::endl;
  return seed;
}

JobHeader example_header(const std::string& vehicle) {
  return {
      "", vehicle, "ac_cdi", "0.1", "format = 1\nfamily = \"ac_cdi\"\n", "{\"helper\":true}", "2026-03-02T08:00:00Z"};
}

LogEntry example_entry(const std::string& job, std::int64_t sequence) {
  // Some bodies cross SQLite's 4096-byte pages.
  const auto size = static_cast<std::size_t>(sequence * 7919 % 23 == 0 ? 9000 : sequence * 37 % 400);
  return {sequence, sequence % 5 == 0 ? "note" : "reading",
          "{\"job\":\"" + job + "\",\"n\":" + std::to_string(sequence) + ",\"pad\":\"" + std::string(size, 'x') + "\"}",
          "2026-03-02T08:" + std::to_string(10 + sequence % 50) + ":00Z"};
}

std::vector<LogEntry> example_entries(const std::string& job, std::int64_t first, std::int64_t count) {
  std::vector<LogEntry> entries;
  for (std::int64_t i = 0; i < count; ++i) entries.push_back(example_entry(job, first + i));
  return entries;
}

Contents contents_of(const Store& store) {
  Contents all;
  all.summaries = store.jobs();
  for (const JobSummary& summary : all.summaries) {
    const std::string& id = summary.header.id;
    if (const auto header = store.header(id)) all.headers[id] = *header;
    all.logs[id] = store.log(id);
  }
  return all;
}

std::string store_error_of(const std::function<void()>& action) {
  try {
    action();
  } catch (const StoreError& error) {
    return error.what();
  } catch (const std::exception& error) {
    return std::string("(not a StoreError: ") + error.what() + ")";
  }
  return "(nothing thrown)";
}

Child::Child(const std::function<void(const Say&)>& body) {
  int up[2];
  int down[2];
  if (pipe2(up, O_CLOEXEC) != 0 || pipe2(down, O_CLOEXEC) != 0) throw std::runtime_error("cannot make a pipe");
  std::cout.flush();
  pid_ = fork();
  if (pid_ < 0) throw std::runtime_error("cannot fork");
  if (pid_ == 0) {
    close(up[0]);
    close(down[1]);
    g_letters = down[0];
    const Say say = [&](const std::string& line) {
      const std::string text = line + "\n";  // shorter than PIPE_BUF: arrives whole or not at all
      if (write(up[1], text.data(), text.size()) < 0) _exit(2);
    };
    try {
      body(say);
    } catch (const std::exception& error) {
      say(std::string("error: ") + error.what());
    }
    _exit(0);  // no destructors of the test program in the child
  }
  close(up[1]);
  close(down[0]);
  from_child_ = up[0];
  to_child_ = down[1];
}

Child::~Child() {
  if (pid_ > 0) {
    kill_now();
    static_cast<void>(wait());
  }
  close(from_child_);
  close(to_child_);
}

void Child::tell(char letter) const {
  if (write(to_child_, &letter, 1) != 1) throw std::runtime_error("the child is gone");
}

char Child::hear() {
  char letter = 0;
  return read(g_letters, &letter, 1) == 1 ? letter : '\0';
}

std::string Child::next_line() {
  for (;;) {
    if (const auto end = buffer_.find('\n'); end != std::string::npos) {
      std::string line = buffer_.substr(0, end);
      buffer_.erase(0, end + 1);
      return line;
    }
    char chunk[4096];
    const ssize_t got = read(from_child_, chunk, sizeof chunk);
    if (got <= 0) return "";
    buffer_.append(chunk, static_cast<std::size_t>(got));
  }
}

std::vector<std::string> Child::lines() {
  std::vector<std::string> all;
  for (std::string line = next_line(); !line.empty(); line = next_line()) all.push_back(line);
  return all;
}

void Child::kill_now() const { kill(pid_, SIGKILL); }

int Child::wait() {
  int status = 0;
  waitpid(pid_, &status, 0);
  pid_ = -1;
  return status;
}

RawDatabase::RawDatabase(const std::string& path) {
  if (sqlite3_open(path.c_str(), &handle_) != SQLITE_OK) throw std::runtime_error(sqlite3_errmsg(handle_));
}

RawDatabase::~RawDatabase() { sqlite3_close_v2(handle_); }

std::string RawDatabase::run(const std::string& sql) const {
  return sqlite3_exec(handle_, sql.c_str(), nullptr, nullptr, nullptr) == SQLITE_OK ? "" : sqlite3_errmsg(handle_);
}

std::string RawDatabase::first(const std::string& sql) const {
  std::string found = "(no row)";
  const auto take = [](void* out, int count, char** values, char**) {
    if (count > 0 && values[0]) *static_cast<std::string*>(out) = values[0];
    return 1;  // one row is enough
  };
  const int code = sqlite3_exec(handle_, sql.c_str(), take, &found, nullptr);
  return code == SQLITE_OK || code == SQLITE_ABORT ? found : sqlite3_errmsg(handle_);
}

std::string bytes_of(const std::string& path) {
  std::ifstream in(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), {}};
}

void write_bytes(const std::string& path, const std::string& bytes) {
  std::ofstream(path, std::ios::binary | std::ios::trunc)
      .write(bytes.data(), static_cast<std::streamsize>(bytes.size()));
}

}  // namespace lostspark::history::testing
