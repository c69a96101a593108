// Reads one table of a TOML file by known keys; collects every mistake instead of stopping at the first.
#pragma once

#include <toml++/toml.h>
#include <optional>
#include <set>
#include <span>
#include <string>
#include <vector>

#include "sources/mistakes.hpp"
#include "sources/network_keys.hpp"

namespace lostspark::sources {

[[nodiscard]] Spot spot_of(const toml::source_region& region);
[[nodiscard]] Spot spot_of(const toml::node& node);

/// A table under its path. Keys are those of its SectionKeys; unknown ones are reported by finish().
class Section {
 public:
  Section(const toml::table& table, std::string path, const SectionKeys& keys, Mistakes& mistakes);

  /// Where the table stands.
  [[nodiscard]] Spot spot() const { return spot_; }
  [[nodiscard]] Spot spot_of_key(const char* key) const;
  [[nodiscard]] std::string path_of(const std::string& key) const;
  [[nodiscard]] bool has(const char* key) const;

  /// Text; `fallback` when absent. A required key that is absent is a mistake.
  std::string text(const char* key, const std::string& fallback = "");
  /// lower_snake_case text with its place.
  Said identifier(const char* key);
  /// Number from least to most, both included.
  double number(const char* key, double fallback, double least, double most);
  bool flag(const char* key, bool fallback);
  /// List of texts, each with its place.
  std::vector<Said> list(const char* key);
  /// A text, or a list of texts: one of `valid` each.
  std::string choice(const char* key, const std::string& fallback, std::span<const std::string> valid);
  /// The raw node of a known key, for what the others do not cover; null when absent.
  const toml::node* node(const char* key);
  /// A key outside the table of keys that the caller reads itself.
  void allow(const std::string& key) { allowed_.insert(key); }
  /// Reports unknown keys and absent required ones.
  void finish();
  void mistake(const char* key, const std::string& message) const;

 private:
  const toml::node* get(const char* key);
  const toml::table& table_;
  std::string path_;
  Spot spot_;
  const SectionKeys& keys_;
  Mistakes& mistakes_;
  std::set<std::string, std::less<>> allowed_;
};

/// Parses text; a syntax error becomes the one mistake of the file and is thrown. Checks `format = 1`.
[[nodiscard]] toml::table parse_toml(const std::string& text, Mistakes& mistakes);

/// Reports tables of the file that are not in `sections`, and checks that a section is a table or a list of tables as
/// stated.
void check_sections(const toml::table& file, std::span<const SectionKeys> sections, Mistakes& mistakes);

}  // namespace lostspark::sources
