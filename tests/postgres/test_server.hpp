// A real PostgreSQL server for tests, from Debian's package, in a temporary folder, reached by its socket there only.
#pragma once

#include <sys/types.h>

#include <filesystem>
#include <memory>
#include <string>
#include <vector>

#include "history/postgres_handle.hpp"

namespace lostspark::history::testing {

/// Made and started once, stopped and removed at the end; it also dies with the program that started it. Runs as the
/// user `postgres` where the tests run as root, which PostgreSQL refuses to.
class TestServer {
 public:
  TestServer();
  ~TestServer();
  TestServer(const TestServer&) = delete;
  TestServer& operator=(const TestServer&) = delete;
  /// One server for all cases of this program.
  static TestServer& shared();

  void start();     ///< returns when it answers
  void kill_now();  ///< at once, in the middle of what it does; it recovers at the next start
  /// The connection string of a new, empty database.
  [[nodiscard]] std::string new_database();
  /// A connection past the store, in the tables of the shared history.
  [[nodiscard]] static std::unique_ptr<Server> by_hand(const std::string& database);

 private:
  [[nodiscard]] std::string url(const std::string& database) const;
  [[nodiscard]] pid_t launch(const std::vector<std::string>& arguments) const;

  std::filesystem::path folder_;
  pid_t server_ = -1;
  int databases_ = 0;
};

}  // namespace lostspark::history::testing
