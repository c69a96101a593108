#include "include_rules.hpp"

#include <filesystem>
#include <fstream>
#include <iterator>
#include <regex>
#include <sstream>

namespace lostspark::rooms {

namespace fs = std::filesystem;

const IncludeTable& include_table() {
  // Arrows go one way: faces -> job -> {planning, learning, history, simulation} -> inference -> circuit -> model <-
  // sources. A room that may include another may include what that one is made of.
  static const IncludeTable table{
      {"base", {}},
      {"abi", {}},
      {"model", {"base"}},
      {"sources", {"abi", "base", "model"}},
      {"circuit", {"base", "model"}},
      {"inference", {"base", "model", "circuit"}},
      {"simulation", {"base", "model", "circuit"}},  // never inference: it is the judge of it
      {"planning", {"base", "model", "circuit", "inference"}},
      {"history", {"base", "model"}},
      {"learning", {"base", "model", "history"}},
      {"job", {"base", "model", "sources", "circuit", "inference", "simulation", "planning", "history", "learning"}},
      // A face opens the folders and the store its flags name and hands both to the job room; it computes nothing.
      {"faces/cli", {"base", "model", "job", "sources", "history"}},
      {"faces/web", {"base", "model", "job", "sources", "history"}},
      {"faces/sheets", {"base", "model", "job"}},
      {"plugins/blocks", {"abi"}},
  };
  return table;
}

const std::vector<Exception>& exceptions() {
  static const std::vector<Exception> all{
      {"engine/faces/cli/vehicle_commands.cpp", "inference/posterior.hpp",
       "'vehicle check' lists what no test separates, before there is any job to ask"},
  };
  return all;
}

std::string room_of(std::string_view path) {
  static const std::regex pattern("(engine/(faces/[^/]+|[^/]+)|(plugins/[^/]+))/.+");
  std::match_results<std::string_view::const_iterator> match;
  if (!std::regex_match(path.begin(), path.end(), match, pattern)) return "";
  return match[2].matched ? match[2].str() : match[3].str();
}

namespace {

struct Include {
  std::size_t line = 0;
  std::string name;
  bool quoted = true;
};

std::vector<Include> includes_of(const std::string& text) {
  static const std::regex pattern("\\s*#\\s*include\\s*([\"<])([^\">]+)[\">].*");
  std::vector<Include> all;
  std::istringstream lines(text);
  std::string line;
  for (std::size_t number = 1; std::getline(lines, line); ++number)
    if (std::smatch match; std::regex_match(line, match, pattern)) all.push_back({number, match[2], match[1] == "\""});
  return all;
}

/// The file of the tree that the compiler would find, searched as the build does: beside the including file, under
/// engine/, under engine/abi, under plugins/. "" when it is none of the tree.
std::string target_of(const std::string& from, const std::string& name, const std::set<std::string>& paths) {
  const std::string beside = (fs::path(from).parent_path() / name).lexically_normal().string();
  for (const std::string& path : {beside, "engine/" + name, "engine/abi/" + name, "plugins/" + name})
    if (paths.count(path) != 0) return path;
  return "";
}

bool may_include(const std::string& from, const std::string& to, const IncludeTable& table) {
  if (from == to) return true;
  if (const auto row = table.find(from); row != table.end()) return row->second.count(to) != 0;
  // Any other folder of plugins/ is a family.
  return from.rfind("plugins/", 0) == 0 && (to == "abi" || to == "plugins/blocks");
}

}  // namespace

std::vector<std::string> complaints(const std::vector<SourceFile>& files, const IncludeTable& table,
                                    const std::vector<Exception>& allowed) {
  std::set<std::string> paths;
  for (const SourceFile& file : files) paths.insert(file.path);
  std::vector<std::string> all;
  std::set<std::size_t> used;
  for (const SourceFile& file : files) {
    const std::string from = room_of(file.path);
    for (const Include& include : includes_of(file.text)) {
      const std::string place = file.path + ":" + std::to_string(include.line) + " includes " + include.name;
      const std::string target = target_of(file.path, include.name, paths);
      if (target.empty()) {
        if (include.quoted) all.push_back(place + ", which is no file of engine/ or plugins/ (foreign ones take <>)");
        continue;
      }
      const std::string to = room_of(target);
      if (may_include(from, to, table)) continue;
      bool excepted = false;
      for (std::size_t i = 0; i < allowed.size(); ++i)
        if (allowed[i].file == file.path && allowed[i].included == include.name) {
          used.insert(i);
          excepted = true;
        }
      if (!excepted) all.push_back(place + ", but " + from + " may not include " + to);
    }
  }
  for (std::size_t i = 0; i < allowed.size(); ++i)
    if (used.count(i) == 0)
      all.push_back("the exception for " + std::string(allowed[i].file) + " is not needed any more; remove it");
  return all;
}

std::vector<SourceFile> read_tree(const std::string& top) {
  std::vector<SourceFile> files;
  for (const char* part : {"engine", "plugins"})
    for (const auto& entry : fs::recursive_directory_iterator(fs::path(top) / part)) {
      const std::string ending = entry.path().extension().string();
      if (!entry.is_regular_file() || (ending != ".hpp" && ending != ".cpp" && ending != ".h" && ending != ".c"))
        continue;
      std::ifstream in(entry.path(), std::ios::binary);
      files.push_back({fs::relative(entry.path(), top).generic_string(),
                       std::string(std::istreambuf_iterator<char>(in), std::istreambuf_iterator<char>())});
    }
  return files;
}

}  // namespace lostspark::rooms
