// Where the jobs are kept when nobody says otherwise.
#include <sys/wait.h>

#include <cstdlib>

#include "catch_all.hpp"
#include "history_support.hpp"

using namespace lostspark;
using namespace lostspark::history;
using namespace lostspark::history::testing;
namespace fs = std::filesystem;

namespace {

/// default_store_path() in a child with this environment and no other of the three names; errors as their message.
std::string path_with(const std::map<std::string, std::string>& environment) {
  Child child([&](const Child::Say& say) {
    for (const char* name : {"LOSTSPARK_DATA", "XDG_DATA_HOME", "HOME"}) unsetenv(name);
    for (const auto& [name, value] : environment) setenv(name.c_str(), value.c_str(), 1);
    say(default_store_path());
  });
  return child.next_line();
}

}  // namespace

TEST_CASE("the store is sought in LOSTSPARK_DATA, then XDG_DATA_HOME, then the home folder, and the folder is made",
          "[history][unit]") {
  ScratchFolder folder;
  const std::string home = folder.file("home");
  const std::string xdg = folder.file("xdg");
  const std::string own = folder.file("own/deep");
  CHECK(path_with({{"HOME", home}}) == home + "/.local/share/lostspark/jobs.sqlite3");
  CHECK(fs::is_directory(home + "/.local/share/lostspark"));
  CHECK(path_with({{"HOME", home}, {"XDG_DATA_HOME", xdg}}) == xdg + "/lostspark/jobs.sqlite3");
  CHECK(path_with({{"HOME", home}, {"XDG_DATA_HOME", xdg}, {"LOSTSPARK_DATA", own}}) == own + "/jobs.sqlite3");
  CHECK(fs::is_directory(own));
  CHECK(open_sqlite(own + "/jobs.sqlite3")->jobs().empty());
}

TEST_CASE("empty variables and a relative XDG_DATA_HOME count as not set", "[history][unit]") {
  ScratchFolder folder;
  const std::string home = folder.file("home");
  CHECK(path_with({{"HOME", home}, {"XDG_DATA_HOME", "here"}, {"LOSTSPARK_DATA", ""}}) ==
        home + "/.local/share/lostspark/jobs.sqlite3");
}

TEST_CASE("a folder that cannot be made is named with a way out", "[history][fault]") {
  ScratchFolder folder;
  write_bytes(folder.file("file"), "x");
  CHECK(path_with({{"LOSTSPARK_DATA", folder.file("file/inside")}}) ==
        "error: cannot make the folder for the jobs " + folder.file("file/inside") +
            ": Not a directory; make it by hand, or set LOSTSPARK_DATA to another folder");
  CHECK(path_with({{"LOSTSPARK_DATA", folder.file("file")}}).find("set LOSTSPARK_DATA to another folder") !=
        std::string::npos);
}
