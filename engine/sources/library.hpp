// A loaded plugin library: opened, its entry and family interface checked. Shared by everything that calls into it.
#pragma once

#include <filesystem>
#include <memory>
#include <string>

#include "lostspark_plugin.h"

namespace lostspark::sources {

/// One open plugin library. Whoever calls into the plugin keeps a shared_ptr to it, declared before what it needs it
/// for.
class Library {
 public:
  /// Opens and checks the library. Throws PluginError naming the file and the cause: not a library, missing symbol,
  /// other interface version (both numbers), truncated table, no family interface, null function, broken text.
  [[nodiscard]] static std::shared_ptr<const Library> open(const std::filesystem::path& file);
  ~Library();
  Library(const Library&) = delete;
  Library& operator=(const Library&) = delete;

  [[nodiscard]] const std::filesystem::path& file() const { return file_; }
  [[nodiscard]] const ls_family_v1& family() const { return *family_; }
  [[nodiscard]] const std::string& plugin_id() const { return plugin_id_; }
  [[nodiscard]] const std::string& version() const { return version_; }
  [[nodiscard]] const std::string& id() const { return id_; }
  [[nodiscard]] const std::string& title() const { return title_; }
  [[nodiscard]] const std::string& description() const { return description_; }

 private:
  struct Handle;
  Library() = default;
  std::unique_ptr<Handle> handle_;  // first in, last out
  std::filesystem::path file_;
  const ls_family_v1* family_ = nullptr;
  std::string plugin_id_, version_, id_, title_, description_;
};

/// Copies a plugin's text, reading at most LS_TEXT_LIMIT bytes. `what` names the field in the message.
/// Throws PluginError("<what> ..."): null, endless, not UTF-8. The caller adds the file.
[[nodiscard]] std::string copied_text(const char* text, const std::string& what);

}  // namespace lostspark::sources
