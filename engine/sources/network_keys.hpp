// Every key of the files a person writes: name, unit, default, meaning. Readers accept these and no others; the tables
// in docs/network-files.md and docs/workshop.md are these rows (a test compares them).
#pragma once

#include <span>
#include <string>
#include <vector>

namespace lostspark::sources {

struct Key {
  const char* name;
  const char* unit;      ///< "minute", "ohm", "text", "list of cover ids" ...
  const char* standard;  ///< default in words; "required" where there is none
  const char* meaning;
  [[nodiscard]] bool required() const { return std::string(standard) == "required"; }
};

struct SectionKeys {
  const char* name;  ///< "connector"
  bool many;         ///< [[connector]], else [connector]
  bool open;         ///< keys are the file's own ([options])
  std::vector<Key> keys;
  [[nodiscard]] std::vector<std::string> names() const;
};

[[nodiscard]] std::span<const SectionKeys> network_sections();
[[nodiscard]] const SectionKeys& network_section(const char* name);
/// Keys of one item of a chain's `items`.
[[nodiscard]] const SectionKeys& chain_item_keys();
[[nodiscard]] std::span<const SectionKeys> workshop_sections();
[[nodiscard]] const SectionKeys& workshop_section(const char* name);

}  // namespace lostspark::sources
