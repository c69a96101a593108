// Two shops with the program itself: the server goes away in mid-job, and what both closed is counted together.
#include <catch_all.hpp>
#include <nlohmann/json.hpp>

#include "cli/program.hpp"
#include "test_server.hpp"

using namespace lostspark::test;
using lostspark::history::testing::TestServer;
using nlohmann::json;

namespace {

constexpr const char* k_vehicle = "quillmarsh_trail_125";

struct Shop {
  Folder folder;
  Program program{folder};

  Shop(const std::string& name, const std::string& database) {
    program.with("LOSTSPARK_STORE", database).with("LOSTSPARK_SHOP", name);
  }
  json ask(std::vector<std::string> arguments, std::string* said = nullptr) const {
    arguments.push_back("--json");
    const auto outcome = program.run(arguments);
    CAPTURE(arguments, outcome.out, outcome.err, outcome.exit_code);
    REQUIRE(outcome.exit_code == 0);
    if (said != nullptr)
      *said = outcome.err;
    else
      CHECK(outcome.err.empty());
    return json::parse(outcome.out);
  }
  std::string open() const {
    return ask({"job", "open", "--vehicle", k_vehicle, "--complaint", "no_spark", "--customer",
                "Ottilie Quennelworth"})["job"];
  }
};

void mend_coil(const Shop& shop, const std::string& job) {
  shop.ask({"job", "repaired", job, "ignition_coil.replace"});
  shop.ask({"job", "check", job, "passed"});
  for (const char* stop : {"kill_switch", "key_switch", "tether_switch"}) shop.ask({"job", "stop", job, stop, "works"});
  shop.ask({"job", "close", job, "fixed"});
}

}  // namespace

TEST_CASE("two shops work, the server goes and comes back, and both see all closed jobs", "[postgres][fault]") {
  auto& server = TestServer::shared();
  const std::string database = server.new_database();
  const Shop north("north", database), south("south", database);
  const std::string job = north.open(), other = south.open();
  CHECK(job == other);  // the same number in two shops: they are told apart by their shop

  server.kill_now();
  std::string said;
  north.ask({"job", "repaired", job, "ignition_coil.replace"}, &said);
  CHECK(said.find("kept here, not yet in the shared history: ") != std::string::npos);
  CHECK(said.find("cannot reach the shared history") != std::string::npos);
  const auto lost = north.program.run({"rates", "show"});
  CHECK(lost.exit_code == 3);
  CHECK(lost.err.find("--own") != std::string::npos);
  CHECK(north.program.run({"rates", "show", "--own"}).exit_code == 0);
  server.start();

  north.ask({"job", "check", job, "passed"});
  for (const char* stop : {"kill_switch", "key_switch", "tether_switch"})
    north.ask({"job", "stop", job, stop, "works"});
  north.ask({"job", "close", job, "fixed"});
  mend_coil(south, other);

  CHECK(north.ask({"rates", "show"})["cases"] == 2);
  CHECK(south.ask({"rates", "show", "--own"})["cases"] == 1);
  CHECK(south.ask({"rates", "apply", "together"})["set"] == "together");
  const json shared = south.ask({"data", "shared"});
  CHECK(shared["shop"] == "south");
  CHECK(shared["waiting"] == 0);
  REQUIRE(shared["shops"].size() == 2);
  CHECK(shared["shops"][0] == json{{"shop", "north"}, {"jobs", 1}, {"cases", 1}});
  const auto by_hand = TestServer::by_hand(database);
  CHECK(by_hand->first("SELECT count(*) FROM entries WHERE shop = 'north'") ==
        by_hand->first("SELECT max(sequence) FROM entries WHERE shop = 'north'"));
  CHECK(by_hand->first("SELECT count(*) FROM customers") == "0");
  CHECK(by_hand->first("SELECT count(*) FROM entries WHERE body LIKE '%Quennelworth%'") == "0");
}
