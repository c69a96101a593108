// What the plugins' shared objects let the world see.
#include <cstdio>
#include <filesystem>
#include <memory>
#include <sstream>
#include <stdexcept>
#include <string>
#include <vector>

#include "catch_all.hpp"

namespace fs = std::filesystem;

namespace {

/// Names of the dynamic symbols that a shared object defines, as `nm` (binutils) lists them.
std::vector<std::string> exported_by(const fs::path& library) {
  struct Close {
    void operator()(FILE* stream) const { pclose(stream); }
  };
  const std::string command = "nm -D --defined-only '" + library.string() + "'";
  const std::unique_ptr<FILE, Close> stream(popen(command.c_str(), "r"));
  if (!stream) throw std::runtime_error("cannot run nm (package binutils)");
  std::string text;
  char chunk[4096];
  while (const std::size_t got = std::fread(chunk, 1, sizeof chunk, stream.get())) text.append(chunk, got);
  std::vector<std::string> names;
  std::istringstream lines(text);
  for (std::string line; std::getline(lines, line);) names.push_back(line.substr(line.rfind(' ') + 1));
  return names;
}

std::vector<fs::path> built_plugins() {
  std::vector<fs::path> found;
  for (const auto& entry : fs::directory_iterator(LOSTSPARK_PLUGIN_DIR))
    if (entry.path().extension() == ".so") found.push_back(entry.path());
  return found;
}

}  // namespace

TEST_CASE("every plugin exports its entry and nothing else", "[rooms][unit]") {
  REQUIRE_FALSE(built_plugins().empty());
  for (const fs::path& plugin : built_plugins()) {
    CAPTURE(plugin.filename().string());
    CHECK(exported_by(plugin) == std::vector<std::string>{"lostspark_entry"});
  }
}

TEST_CASE("the reader of exports sees more than one symbol where there are more", "[rooms][unit]") {
  // The C++ runtime, found through this program's own memory map: thousands of symbols.
  std::string library;
  const std::unique_ptr<FILE, int (*)(FILE*)> maps(std::fopen("/proc/self/maps", "r"), &std::fclose);
  REQUIRE(maps);
  for (char line[4096]; library.empty() && std::fgets(line, sizeof line, maps.get());)
    if (const std::string text(line); text.find("libstdc++") != std::string::npos)
      library = text.substr(text.find('/'), text.find('\n') - text.find('/'));
  REQUIRE_FALSE(library.empty());
  CHECK(exported_by(library).size() > 100);
}
