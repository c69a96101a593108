// Which room may include which: the table, and the reader that holds files against it.
#pragma once

#include <map>
#include <set>
#include <string>
#include <string_view>
#include <vector>

namespace lostspark::rooms {

/// Room -> rooms it may include besides itself. A room is a folder under engine/ ("faces/cli" for a face), or
/// "plugins/<family>", "plugins/blocks".
using IncludeTable = std::map<std::string, std::set<std::string>>;
[[nodiscard]] const IncludeTable& include_table();

/// One include that the table forbids and that stays for a reason.
struct Exception {
  std::string_view file, included, why;
};
[[nodiscard]] const std::vector<Exception>& exceptions();

/// A source file: its path from the top of the tree, for example "engine/model/vehicle.cpp".
struct SourceFile {
  std::string path, text;
};

/// Room of a path under engine/ or plugins/; "" when it lies in none.
[[nodiscard]] std::string room_of(std::string_view path);

/// One sentence for each include that is forbidden or leads nowhere, with file and line; and one for each exception of
/// `allowed` that no file needs any more. `files` is the whole tree.
[[nodiscard]] std::vector<std::string> complaints(const std::vector<SourceFile>& files, const IncludeTable& table,
                                                  const std::vector<Exception>& allowed);

/// All .hpp, .cpp, .h and .c under engine/ and plugins/ of `top`.
[[nodiscard]] std::vector<SourceFile> read_tree(const std::string& top);

}  // namespace lostspark::rooms
