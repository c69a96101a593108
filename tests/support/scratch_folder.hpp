// A folder of a test's own, gone with it.
#pragma once

#include <cstdlib>
#include <filesystem>
#include <stdexcept>
#include <string>

namespace lostspark::test {

/// Made in the system's temporary folder, readable by others; throws std::runtime_error where none can be made.
class ScratchFolder {
 public:
  ScratchFolder() : path(made()) {}
  ~ScratchFolder() {
    std::error_code error;
    std::filesystem::remove_all(path, error);
  }
  ScratchFolder(const ScratchFolder&) = delete;
  ScratchFolder& operator=(const ScratchFolder&) = delete;
  [[nodiscard]] std::string file(const std::string& name) const { return (path / name).string(); }
  const std::filesystem::path path;

 private:
  [[nodiscard]] static std::filesystem::path made() {
    std::string name = (std::filesystem::temp_directory_path() / "lostspark-test-XXXXXX").string();
    if (mkdtemp(name.data()) == nullptr) throw std::runtime_error("cannot make a scratch folder " + name);
    std::filesystem::permissions(name, std::filesystem::perms(0755));
    return name;
  }
};

}  // namespace lostspark::test
