#include "test_server.hpp"

#include <fcntl.h>
#include <grp.h>
#include <pwd.h>
#include <signal.h>
#include <sys/prctl.h>
#include <sys/wait.h>
#include <unistd.h>

#include <chrono>
#include <cstdlib>
#include <fstream>
#include <sstream>
#include <stdexcept>
#include <thread>

namespace lostspark::history::testing {

namespace fs = std::filesystem;

namespace {

/// Debian keeps the programs of each version in a folder of its own; the newest.
fs::path programs() {
  fs::path best;
  int best_version = 0;
  std::error_code error;
  for (const auto& entry : fs::directory_iterator("/usr/lib/postgresql", error))
    if (const int version = std::atoi(entry.path().filename().c_str());
        version > best_version && fs::exists(entry.path() / "bin/initdb")) {
      best_version = version;
      best = entry.path() / "bin";
    }
  if (best.empty()) throw std::runtime_error("there is no PostgreSQL server here: install the package postgresql");
  return best;
}

const passwd& server_user() {
  const passwd* user = getpwnam("postgres");
  if (user == nullptr) throw std::runtime_error("there is no user postgres: install the package postgresql");
  return *user;
}

std::string text_of(const fs::path& file) {
  std::ostringstream text;
  text << std::ifstream(file).rdbuf();
  return text.str();
}

}  // namespace

TestServer::TestServer() {
  std::string name = (fs::temp_directory_path() / "lostspark-postgres-XXXXXX").string();
  if (mkdtemp(name.data()) == nullptr) throw std::runtime_error("cannot make a folder for the server");
  folder_ = name;
  if (geteuid() == 0 && chown(name.c_str(), server_user().pw_uid, server_user().pw_gid) != 0)
    throw std::runtime_error("cannot give the folder to the user postgres");
  const pid_t child = launch({"initdb", "-D", (folder_ / "data").string(), "-U", "lostspark", "-A", "trust", "-E",
                              "UTF8", "--no-locale", "--no-sync", "--no-instructions"});
  int status = 0;
  waitpid(child, &status, 0);
  if (status != 0) throw std::runtime_error("initdb failed: " + text_of(folder_ / "log"));
  start();
}

TestServer::~TestServer() {
  kill_now();
  std::error_code error;
  fs::remove_all(folder_, error);
}

TestServer& TestServer::shared() {
  static TestServer server;
  return server;
}

pid_t TestServer::launch(const std::vector<std::string>& arguments) const {
  const std::string program = (programs() / arguments[0]).string(), log = (folder_ / "log").string();
  const passwd* user = geteuid() == 0 ? &server_user() : nullptr;
  std::vector<char*> argv;
  for (const auto& a : arguments) argv.push_back(const_cast<char*>(a.c_str()));
  argv.push_back(nullptr);
  const pid_t child = fork();
  if (child != 0) return child;
  if (user != nullptr && (setgroups(0, nullptr) != 0 || setgid(user->pw_gid) != 0 || setuid(user->pw_uid) != 0))
    _exit(126);
  prctl(PR_SET_PDEATHSIG, SIGQUIT);  // after the change of user, which forgets it
  static_cast<void>(chdir("/"));
  const int out = open(log.c_str(), O_WRONLY | O_CREAT | O_APPEND, 0600);
  dup2(out, 1);
  dup2(out, 2);
  execv(program.c_str(), argv.data());
  _exit(127);
}

void TestServer::start() {
  // No disk to be kept safe: fsync only makes it slow.
  server_ = launch({"postgres", "-D", (folder_ / "data").string(), "-c", "listen_addresses=", "-c",
                    "unix_socket_directories=" + folder_.string(), "-c", "fsync=off", "-c", "shared_buffers=16MB"});
  for (int tries = 0; tries < 1500; ++tries) {
    try {
      const Server probe(url("postgres"));
      return;
    } catch (const ServerLost&) {
      std::this_thread::sleep_for(std::chrono::milliseconds(20));
    }
    if (waitpid(server_, nullptr, WNOHANG) == server_) {
      server_ = -1;
      break;
    }
  }
  throw std::runtime_error("the server does not start: " + text_of(folder_ / "log"));
}

void TestServer::kill_now() {
  if (server_ <= 0) return;
  kill(server_, SIGQUIT);
  waitpid(server_, nullptr, 0);
  server_ = -1;
}

std::string TestServer::url(const std::string& database) const {
  return "postgresql:///" + database + "?user=lostspark&host=" + folder_.string();
}

std::string TestServer::new_database() {
  const std::string name = "test" + std::to_string(++databases_);
  Server(url("postgres")).execute("CREATE DATABASE " + name);
  return url(name);
}

std::unique_ptr<Server> TestServer::by_hand(const std::string& database) {
  auto server = std::make_unique<Server>(database);
  server->execute("SET search_path = lostspark");
  return server;
}

}  // namespace lostspark::history::testing
