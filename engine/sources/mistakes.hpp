// All mistakes of one file, each with its place, thrown together.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

namespace lostspark::sources {

/// Line and column in a file, from 1; 0: the file as a whole.
struct Spot {
  std::uint32_t line = 0, column = 0;
};

/// A text of a file with the place it stands at.
struct Said {
  std::string text;
  Spot spot;
};

class Mistakes {
 public:
  explicit Mistakes(std::string file) : file_(std::move(file)) {}
  /// key: path of the key as written ("connector[2].covers"); message: what was expected.
  void add(Spot spot, const std::string& key, const std::string& message);
  [[nodiscard]] bool empty() const { return found_.empty(); }
  [[nodiscard]] const std::string& file() const { return file_; }
  /// "file:line:column: key: message", one line each, in the order of the file.
  [[nodiscard]] std::string report() const;
  /// Throws InputError with the report if there is any mistake.
  void throw_if_any() const;

 private:
  struct Found {
    Spot spot;
    std::string text;
  };
  std::string file_;
  std::vector<Found> found_;
};

}  // namespace lostspark::sources
