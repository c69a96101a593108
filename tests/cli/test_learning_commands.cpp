// baseline, rates and data from scripts: the whole way of a shop's memory through the program.
#include "catch_all.hpp"
#include "cli/program.hpp"

#include <fstream>
#include <nlohmann/json.hpp>

using namespace lostspark::test;
using nlohmann::json;

namespace {

constexpr const char* k_vehicle = "quillmarsh_trail_125";
constexpr const char* k_peak = "exciter_peak@control_module.source";

struct Shop {
  Folder folder;
  Program program{folder};

  Outcome run(const std::vector<std::string>& arguments) const { return program.run(arguments); }
  json ask(std::vector<std::string> arguments) const {
    arguments.push_back("--json");
    const auto outcome = program.run(arguments);
    CAPTURE(arguments, outcome.out, outcome.err, outcome.exit_code);
    REQUIRE(outcome.exit_code == 0);
    return json::parse(outcome.out);
  }
  /// A coil that is proved faulty: repaired, returned, repaired again.
  std::string proved_coil() const {
    const std::string job = ask({"job", "open", "--vehicle", k_vehicle, "--complaint", "no_spark"})["job"];
    ask({"job", "repaired", job, "ignition_coil.replace"});
    ask({"job", "check", job, "passed"});
    ask({"job", "returned", job, "ignition_coil.replace"});
    ask({"job", "check", job, "failed"});
    ask({"job", "repaired", job, "ignition_coil.replace"});
    ask({"job", "reading", job, k_peak, "205"});
    ask({"job", "check", job, "passed"});
    return job;
  }
  [[nodiscard]] std::string file(const char* name) const { return (folder.path() / name).string(); }
};

json band_of(const json& document, const std::string& test) {
  for (const auto& b : document["bands"])
    if (b["test"] == test) return b;
  return {};
}

}  // namespace

TEST_CASE("healthy readings: record, list, bands, strike, sheet, import", "[cli][unit]") {
  const Shop s;
  const json before = band_of(s.ask({"baseline", "bands", k_vehicle}), k_peak);
  CHECK(before["origin"] == "family default");
  CHECK(before["stated"]["low"] == 120);
  CHECK(before["stated"]["high"].is_null());
  const json one =
      s.ask({"baseline", "record", k_vehicle, k_peak, "0.2 kV", "--note", "blue one", "--individual", "blue"});
  CHECK(one["reading"]["value"] == 200);
  CHECK(one["reading"]["number"] == 1);
  const json after = band_of(s.ask({"baseline", "bands", k_vehicle}), k_peak);
  CHECK(after["origin"] == "shop (1)");
  CHECK(after["high"].get<double>() < before["high"].get<double>());
  s.ask({"baseline", "strike", "1"});
  CHECK(band_of(s.ask({"baseline", "bands", k_vehicle}), k_peak) == before);
  CHECK(s.ask({"baseline", "list"})["readings"].empty());
  CHECK(s.ask({"baseline", "list", "--struck"})["readings"].size() == 1);
  const auto again = s.run({"baseline", "strike", "1"});
  CHECK(again.exit_code == 1);
  CHECK(again.err.find("baseline list") != std::string::npos);

  const auto sheet = s.run({"baseline", "sheet", k_vehicle});
  CHECK(sheet.exit_code == 0);
  CHECK(sheet.out.find("read: ____") != std::string::npos);
  CHECK(sheet.out.find(k_peak) != std::string::npos);
  std::string csv = s.run({"baseline", "sheet", k_vehicle, "--csv"}).out;
  csv.insert(csv.find(std::string(k_peak) + ",") + std::string(k_peak).size() + 1, "190");
  write_file(s.file("sheet.csv"), csv);
  CHECK(s.ask({"baseline", "import", k_vehicle, s.file("sheet.csv")})["imported"] == 1);
  const auto gone = s.run({"baseline", "import", k_vehicle, s.file("none.csv"), "--json"});
  CHECK(gone.exit_code == 1);
  CHECK(json::parse(gone.out)["error"]["kind"] == "input");
  CHECK(s.run({"baseline", "record", k_vehicle, k_peak, "below"}).exit_code == 1);
  CHECK(s.run({"baseline", "record", k_vehicle, "nowhere", "3"}).exit_code == 1);
}

TEST_CASE("a card says where its healthy band comes from", "[cli][unit]") {
  const Shop s;
  const std::string job = s.ask({"job", "open", "--vehicle", k_vehicle, "--complaint", "no_spark"})["job"];
  const json step = s.ask({"job", "step", job, k_peak})["step"];
  REQUIRE(step["healthy"].size() == 2);
  CHECK(step["healthy"][0].get<std::string>().find("from: family default") != std::string::npos);
  CHECK(step["healthy"][1].get<std::string>().find("service data says at least 120 V") != std::string::npos);
  CHECK(s.run({"job", "step", job, k_peak}).out.find("healthy") != std::string::npos);
}

TEST_CASE("a closed job teaches: shares shown, applied, set aside, rolled back, exported", "[cli][unit]") {
  const Shop s;
  const auto nothing = s.run({"rates", "apply", "early"});
  CHECK(nothing.exit_code == 1);
  const std::string job = s.proved_coil();
  for (const char* stop : {"kill_switch", "key_switch", "tether_switch"}) s.run({"job", "stop", job, stop, "works"});
  const auto closed = s.run({"job", "close", job, "fixed"});
  CAPTURE(closed.out, closed.err);
  REQUIRE(closed.exit_code == 0);
  CHECK(closed.out.find("proved by refitting") != std::string::npos);
  CHECK(closed.out.find("1 healthy reading") != std::string::npos);
  const json shown = s.ask({"rates", "show", k_vehicle});
  CHECK(shown["cases"] == 1);
  CHECK(shown["confirmed_cases"] == 1);
  CHECK(shown["set"].is_null());
  REQUIRE(shown["networks"].size() == 1);
  double sum = 0, coil = 0, coil_file = 0;
  for (const auto& c : shown["networks"][0]["classes"]) {
    sum += c["learned_share"].get<double>();
    CHECK(c["low_share"].get<double>() <= c["learned_share"].get<double>());
    CHECK(c["high_share"].get<double>() >= c["learned_share"].get<double>());
    if (!c["class"].get<std::string>().starts_with("SEC.")) continue;
    coil += c["learned_share"].get<double>();
    coil_file += c["file_share"].get<double>();
  }
  CHECK(sum == Approx(1).epsilon(1e-3));  // six digits a share
  CHECK(shown["next_advice"]["now"].is_string());
  CHECK(s.ask({"rates", "apply", "first", "--note", "one job"})["set"] == "first");
  CHECK(s.ask({"rates", "list"})["sets"][0]["in_use"] == true);
  const std::string next = s.ask({"job", "open", "--vehicle", k_vehicle, "--complaint", "no_spark"})["job"];
  const json with_set = s.ask({"job", "suspects", next});
  CHECK(s.ask({"rates", "export", "first", "--output", s.file("first.toml")})["set"] == "first");
  CHECK(s.run({"rates", "export", "first", "--output", s.file("first.toml")}).exit_code == 1);  // never over a file
  CHECK(s.run({"rates", "export", "frist"}).err.find("first") != std::string::npos);
  CHECK(s.ask({"rates", "set-aside"})["changed"] == true);
  CHECK(s.ask({"rates", "rollback"})["set"] == "first");
  CHECK(s.ask({"rates", "set-aside"})["changed"] == true);
  CHECK(s.ask({"job", "suspects", next}) == with_set);                     // an old job replays on its set
  CHECK(s.run({"rates", "import", s.file("first.toml")}).exit_code == 1);  // the name is taken
  CHECK(s.ask({"rates", "import", s.file("first.toml"), "--as", "copy"})["in_use"] == false);
  CHECK(s.ask({"rates", "apply", "copy"})["set"] == "copy");
}

TEST_CASE("running hours give rates", "[cli][unit]") {
  const Shop s;
  const std::string job = s.proved_coil();
  for (const char* stop : {"kill_switch", "key_switch", "tether_switch"}) s.run({"job", "stop", job, stop, "works"});
  REQUIRE(s.run({"job", "close", job, "fixed"}).exit_code == 0);
  CHECK(s.run({"rates", "exposure", k_vehicle, "-5"}).exit_code == 2);
  CHECK(s.ask({"rates", "exposure", k_vehicle, "2000"})["hours"] == 2000);
  const json shown = s.ask({"rates", "show"});
  REQUIRE_FALSE(shown["rates"].empty());
  for (const auto& r : shown["rates"]) {
    CHECK(r["hours"] == 2000);
    CHECK(r["low_per_thousand_hours"].get<double>() < r["high_per_thousand_hours"].get<double>());
  }
}

TEST_CASE("a vehicle that came back counts once", "[cli][unit]") {
  const Shop s;
  std::string first;
  for (int visit = 0; visit < 2; ++visit) {
    std::vector<std::string> open{"job", "open", "--vehicle", k_vehicle, "--complaint", "no_spark"};
    if (visit == 1) open.insert(open.end(), {"--comeback-of", first});
    const std::string job = s.ask(open)["job"];
    first = job;
    REQUIRE(s.run({"job", "close", job, "referred_on"}).exit_code == 0);
  }
  const json shown = s.ask({"rates", "show"});
  CHECK(shown["cases"] == 2);
  CHECK(shown["comebacks"] == 1);
  CHECK(s.run({"job", "open", "--vehicle", k_vehicle, "--comeback-of", "J0099"}).exit_code == 1);
}

TEST_CASE("export and import give the same store back, customers only when asked", "[cli][unit]") {
  const Shop s;
  const std::string job = s.ask({"job", "open", "--vehicle", k_vehicle, "--complaint", "no_spark", "--customer",
                                 "Ottilie Quennelworth", "--registration", "QM 77"})["job"];
  s.ask({"job", "reading", job, k_peak, "150 170 165"});
  s.ask({"job", "note", job, "said \"it coughs\", twice"});
  s.ask({"baseline", "record", k_vehicle, k_peak, "201.5"});
  REQUIRE(s.run({"job", "close", job, "referred_on"}).exit_code == 0);
  CHECK(s.ask({"data", "customer", job})["customer"]["name"] == "Ottilie Quennelworth");
  const auto sound = s.ask({"data", "check"});
  CHECK(sound["sound"] == true);
  CHECK(sound["rows"]["jobs"] == 1);

  s.ask({"data", "export", s.file("all.jsonl")});
  CHECK(read_file(s.file("all.jsonl")).find("Quennelworth") == std::string::npos);
  CHECK(s.run({"data", "export", s.file("all.jsonl")}).exit_code == 1);
  s.ask({"data", "export", s.file("folder"), "--csv", "--with-customers"});
  CHECK(read_file(s.file("folder/customers.csv")).find("Quennelworth") != std::string::npos);
  s.ask({"data", "import", s.file("all.jsonl"), "--store", s.file("lines.sqlite3")});
  s.ask({"data", "import", s.file("folder"), "--store", s.file("csv.sqlite3")});
  // What was exported again from the copies is the same to the last byte.
  s.ask({"data", "export", s.file("again.jsonl"), "--store", s.file("lines.sqlite3")});
  CHECK(read_file(s.file("again.jsonl")) == read_file(s.file("all.jsonl")));
  s.ask({"data", "export", s.file("from_csv.jsonl"), "--store", s.file("csv.sqlite3")});
  CHECK(read_file(s.file("from_csv.jsonl")) == read_file(s.file("all.jsonl")));
  CHECK(s.ask({"job", "show", job, "--store", s.file("csv.sqlite3")}) == s.ask({"job", "show", job}));
  const auto full = s.run({"data", "import", s.file("all.jsonl")});
  CHECK(full.exit_code == 1);
  CHECK(full.err.find("empty store") != std::string::npos);
  write_file(s.file("broken.jsonl"), "{\"lostspark_export\":1,\"schema\":2}\n{\"table\":\"jobs\",\"row\":{\"id\":");
  const auto broken = s.run({"data", "import", s.file("broken.jsonl"), "--store", s.file("new.sqlite3")});
  CHECK(broken.exit_code == 1);
  CHECK(broken.err.find("line 2") != std::string::npos);

  s.ask({"data", "backup", s.file("copy.sqlite3")});
  CHECK(s.ask({"job", "list", "--store", s.file("copy.sqlite3")}) == s.ask({"job", "list"}));
  CHECK(s.run({"data", "backup", s.file("copy.sqlite3")}).exit_code == 1);
  CHECK(s.ask({"data", "forget", job})["forgotten"] == true);
  CHECK(s.ask({"data", "customer", job})["customer"].is_null());
  CHECK(read_file(s.program.store()).find("Quennelworth") == std::string::npos);
}

TEST_CASE("minutes really taken: noted, shown, applied with a set, exported, set aside", "[cli][unit]") {
  const Shop s;
  const auto open = [&] {
    return s.ask({"job", "open", "--vehicle", k_vehicle, "--complaint", "no_spark"})["job"].get<std::string>();
  };
  const auto access = [&](const std::string& job) {
    return s.ask({"job", "step", job, k_peak})["step"]["access_min"].get<double>();
  };
  const std::string first = open();
  CHECK(s.run({"job", "took", first, "12"}).err.find("no step yet") != std::string::npos);
  const double before = access(first);
  const auto reading = s.ask({"job", "reading", first, k_peak, "190"})["sequence"].get<int>();
  CHECK(s.run({"job", "took", first, "soon"}).exit_code == 1);
  CHECK(s.run({"job", "took", first, "12", "--entry", "1"}).exit_code == 1);
  CHECK(s.run({"job", "took", first, "12", "--entry", "0"}).exit_code == 2);
  s.ask({"job", "took", first, "30", "--entry", std::to_string(reading)});
  CHECK(s.ask({"job", "show", first})["labour_min"] == 30);
  CHECK(s.run({"job", "show", first}).out.find("took 30 min") != std::string::npos);
  CHECK(s.ask({"job", "sheet", first})["sheet"]["labour_min"] == 30);
  CHECK(s.run({"job", "close", first, "referred_on"}).out.find("minutes of 1 step") != std::string::npos);

  const json shown = s.ask({"rates", "show", k_vehicle})["minutes"];
  CHECK(shown["steps"] == 1);
  REQUIRE_FALSE(shown["items"].empty());
  for (const auto& item : shown["items"]) {
    CHECK(item["low_times"].get<double>() < item["times"].get<double>());
    CHECK(item["high_times"].get<double>() > item["times"].get<double>());
    CHECK(item["of"] == (item["item"].get<std::string>().starts_with("cover.") ? k_vehicle : "ac_cdi"));
  }
  CHECK(s.run({"rates", "show"}).out.find("times those of the files (1 noted step)") != std::string::npos);
  s.ask({"rates", "apply", "slow"});
  const std::string second = open();
  CHECK(access(second) > 1.2 * before);
  const std::string toml = s.ask({"rates", "export", "slow"})["toml"];
  CHECK(toml.find("[minutes.family.") != std::string::npos);
  write_file(s.file("slow.toml"), toml);
  s.ask({"rates", "set-aside"});
  CHECK(access(open()) == before);
  CHECK(access(second) > 1.2 * before);  // an open job keeps its own
  s.ask({"rates", "import", s.file("slow.toml"), "--as", "copy"});
  s.ask({"rates", "apply", "copy"});
  CHECK(access(open()) == access(second));
}

TEST_CASE("the guided job asks how long a step took only when told to, and Enter leaves it out", "[cli][unit]") {
  const Shop s;
  const auto guided = [&](const std::vector<std::string>& more, const std::string& answers) {
    const std::string job = s.ask({"job", "open", "--vehicle", k_vehicle, "--complaint", "no_spark"})["job"];
    std::vector<std::string> arguments{"trace", "--job", job};
    arguments.insert(arguments.end(), more.begin(), more.end());
    return s.program.run(arguments, answers).out;
  };
  const std::string asked = guided({"--minutes"}, "\n\n\n190\nlong\n14\nleave\n");
  CHECK(asked.find("minutes it took") != std::string::npos);
  CHECK(asked.find("'long' is no time a step takes") != std::string::npos);
  CHECK(asked.find("took 14 min") != std::string::npos);
  const std::string left_out = guided({"--minutes"}, "\n\n\n190\n\nleave\n");
  CHECK(left_out.find("minutes it took") != std::string::npos);
  CHECK(left_out.find("took 14") == std::string::npos);
  const std::string by_word = guided({}, "\n\n\n190\ntook 9\nleave\n");
  CHECK(by_word.find("minutes it took") == std::string::npos);
  CHECK(by_word.find("took 9 min") != std::string::npos);
}

TEST_CASE("a customer is noted later and corrected; a comeback is linked later", "[cli][unit]") {
  const Shop s;
  const auto open = [&] {
    return s.ask({"job", "open", "--vehicle", k_vehicle, "--complaint", "no_spark"})["job"].get<std::string>();
  };
  const std::string first = open(), second = open();
  CHECK(s.ask({"data", "customer", first})["customer"].is_null());
  s.ask({"data", "customer", first, "--customer", "Ottilie Quennelworth"});
  const json corrected = s.ask({"data", "customer", first, "--registration", "QM 77"});
  CHECK(corrected["customer"]["name"] == "Ottilie Quennelworth");
  CHECK(corrected["customer"]["registration"] == "QM 77");
  CHECK(s.run({"job", "comeback", first, "J0099"}).exit_code == 1);
  CHECK(s.run({"job", "comeback", first, first}).exit_code == 1);
  CHECK(s.ask({"job", "comeback", second, first})["comeback_of"] == first);
  for (const auto& job : {first, second}) REQUIRE(s.run({"job", "close", job, "referred_on"}).exit_code == 0);
  CHECK(s.ask({"rates", "show"})["comebacks"] == 1);
}
