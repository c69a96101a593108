// Includes between rooms go one way; the table is in include_rules.cpp.
#include <functional>

#include "catch_all.hpp"
#include "include_rules.hpp"

using namespace lostspark::rooms;

namespace {

std::string joined(const std::vector<std::string>& lines) {
  std::string text;
  for (const std::string& line : lines) text += line + "\n";
  return text;
}

std::vector<std::string> check(const std::vector<SourceFile>& files) { return complaints(files, include_table(), {}); }

}  // namespace

TEST_CASE("no file includes a room that its own may not include", "[rooms][unit]") {
  const std::vector<SourceFile> files = read_tree(LOSTSPARK_SOURCE_DIR);
  REQUIRE(files.size() > 20);
  CHECK(joined(complaints(files, include_table(), exceptions())).empty());
}

TEST_CASE("every folder of engine/ has a row in the table", "[rooms][unit]") {
  for (const SourceFile& file : read_tree(LOSTSPARK_SOURCE_DIR)) {
    CAPTURE(file.path);
    const std::string room = room_of(file.path);
    REQUIRE_FALSE(room.empty());
    if (room.rfind("plugins/", 0) != 0) CHECK(include_table().count(room) == 1);
  }
}

TEST_CASE("the table has no way back", "[rooms][unit]") {
  std::map<std::string, bool> open;  // true while a room's own includes are followed
  const std::function<bool(const std::string&)> leads_back = [&](const std::string& room) {
    const auto [place, is_new] = open.try_emplace(room, true);
    if (!is_new) return place->second;
    for (const std::string& next : include_table().at(room))
      if (leads_back(next)) return true;
    open[room] = false;
    return false;
  };
  for (const auto& [room, others] : include_table()) {
    CAPTURE(room);
    CHECK_FALSE(leads_back(room));
  }
}

TEST_CASE("a forbidden include is named with file, line and rooms", "[rooms][unit]") {
  const std::vector<SourceFile> files{
      {"engine/job/job.hpp", ""},
      {"engine/abi/lostspark_plugin.h", "#include <stdint.h>\n"},
      {"engine/inference/posterior.hpp", "#include <vector>\n#include \"job/job.hpp\"\n"},
      {"engine/simulation/bench.cpp", "#  include <inference/posterior.hpp>\n"},
      {"plugins/points/physics.cpp", "#include \"lostspark_plugin.h\"\n#include \"base/error.hpp\"\n"},
      {"plugins/blocks/laws.hpp", "#include \"../points/wires.hpp\"\n"},
      {"plugins/points/wires.hpp", "#include \"blocks/laws.hpp\"\n"},
      {"engine/base/error.hpp", "#include \"lostspark_plugin.h\"\n"},
      {"engine/model/vehicle.hpp", "// #include \"job/job.hpp\"\n#include \"base/error.hpp\"\n"},
  };
  CHECK(check(files) ==
        std::vector<std::string>{
            "engine/inference/posterior.hpp:2 includes job/job.hpp, but inference may not include job",
            "engine/simulation/bench.cpp:1 includes inference/posterior.hpp, but simulation may not include inference",
            "plugins/points/physics.cpp:2 includes base/error.hpp, but plugins/points may not include base",
            "plugins/blocks/laws.hpp:1 includes ../points/wires.hpp, but plugins/blocks may not include plugins/points",
            "engine/base/error.hpp:1 includes lostspark_plugin.h, but base may not include abi"});
}

TEST_CASE("an include in quotes that leads to no file of the tree is named", "[rooms][unit]") {
  CHECK(
      check({{"engine/model/vehicle.cpp", "#include \"model/vehicel.hpp\"\n#include <sqlite3.h>\n"}}) ==
      std::vector<std::string>{"engine/model/vehicle.cpp:1 includes model/vehicel.hpp, which is no file of engine/ or "
                               "plugins/ (foreign ones take <>)"});
}

TEST_CASE("an exception admits its one include and is named when nothing needs it", "[rooms][unit]") {
  const std::vector<Exception> allowed{{"engine/model/a.hpp", "job/b.hpp", "for this test"}};
  const SourceFile needs{"engine/model/a.hpp", "#include \"job/b.hpp\"\n"};
  const SourceFile other{"engine/model/c.hpp", "#include \"job/b.hpp\"\n"};
  const SourceFile target{"engine/job/b.hpp", ""};
  CHECK(complaints({needs, target}, include_table(), allowed).empty());
  CHECK(complaints({needs, other, target}, include_table(), allowed).size() == 1);
  CHECK(complaints({target}, include_table(), allowed) ==
        std::vector<std::string>{"the exception for engine/model/a.hpp is not needed any more; remove it"});
}
