// Runs the real program in a fresh folder, with its own store, for end-to-end tests.
#pragma once

#include <chrono>
#include <filesystem>
#include <functional>
#include <map>
#include <optional>
#include <string>
#include <vector>

namespace lostspark::test {

/// What a finished program left.
struct Outcome {
  int exit_code = -1;      ///< -1 when a signal ended it
  int signal = 0;          ///< the signal, or 0
  bool timed_out = false;  ///< ended by us
  std::string out, err;
};

/// A fresh folder under the build tree: removed at the end of the test, kept and named on failure.
class Folder {
 public:
  Folder();
  ~Folder();
  Folder(const Folder&) = delete;
  Folder& operator=(const Folder&) = delete;
  [[nodiscard]] const std::filesystem::path& path() const { return path_; }

 private:
  std::filesystem::path path_;
  int exceptions_at_start_ = 0;
};

/// The built program in one folder; LOSTSPARK_DATA points into the folder, so every test has a store of its own.
class Program {
 public:
  explicit Program(const Folder& folder);
  /// Sets a variable of the program's environment.
  Program& with(const std::string& name, const std::string& value) {
    environment_[name] = value;
    return *this;
  }
  /// Runs a copy of the program that stands in the folder: no plugins or networks are beside it.
  Program& away_from_home();
  /// Runs to its end with `input` on standard input (a pipe, no terminal).
  [[nodiscard]] Outcome run(const std::vector<std::string>& arguments, const std::string& input = {},
                            std::chrono::seconds limit = std::chrono::seconds(120)) const;
  /// Runs and answers: whenever the program waits at a prompt (output that ends with ": "), `answer` gets what it wrote
  /// since the last answer and gives the next line; no value closes the input. Fails after `limit` or 2,000 answers.
  [[nodiscard]] Outcome converse(const std::vector<std::string>& arguments,
                                 const std::function<std::optional<std::string>(const std::string& screen)>& answer,
                                 std::chrono::seconds limit = std::chrono::seconds(120)) const;
  [[nodiscard]] std::filesystem::path store() const { return folder_ / "data" / "jobs.sqlite3"; }
  [[nodiscard]] const std::filesystem::path& folder() const { return folder_; }

 private:
  class Running;
  std::filesystem::path folder_;
  std::string program_;
  std::map<std::string, std::string> environment_;
};

/// The path of the program under test.
[[nodiscard]] std::string program_path();
/// Standard file helpers that fail the test instead of returning nothing.
[[nodiscard]] std::string read_file(const std::filesystem::path& file);
void write_file(const std::filesystem::path& file, const std::string& text);
/// Number of lines that are not empty.
[[nodiscard]] std::size_t line_count(const std::string& text);

}  // namespace lostspark::test
