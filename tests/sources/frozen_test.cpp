// The binary promise of docs/interface-growth.md: a plugin built once against /1 goes on loading, unchanged.
#include <cmath>

#include "catch_all.hpp"
#include "sources/load.hpp"
#include "toy.hpp"

using namespace lostspark;

#if defined(__x86_64__) && defined(__linux__)
TEST_CASE("the plugin that was built once against the frozen interface loads and answers as the one built today",
          "[sources][unit]") {
  auto folders = test::toy_folders();
  const auto today = sources::load_vehicle_text(folders, test::toy_network(), "toy.toml");
  folders.plugins = {std::string(LOSTSPARK_SOURCE_DIR) + "/tests/data/frozen"};
  const auto frozen = sources::load_vehicle_text(folders, test::toy_network(), "toy.toml");
  CHECK(frozen->modes.size() == today->modes.size());
  CHECK(frozen->tests.size() == today->tests.size());
  CHECK(frozen->complaints.size() == today->complaints.size());
  REQUIRE(frozen->parameters.size() == today->parameters.size());
  for (std::size_t p = 0; p < frozen->parameters.size(); ++p) {
    CHECK(frozen->parameters[p].id == today->parameters[p].id);
    CHECK(frozen->parameters[p].typical == today->parameters[p].typical);
  }
  const double in[] = {60, 120};
  double out[2];
  frozen->physics->evaluate(0, 1, in, out);
  CHECK(out[0] == 120);
  CHECK(out[1] == Approx(std::log(2.0)));
}
#endif
