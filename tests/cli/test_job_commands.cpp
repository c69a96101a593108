#include "catch_all.hpp"
#include "cli/program.hpp"

#include <cmath>
#include <map>
#include <nlohmann/json.hpp>

using namespace lostspark::test;
using nlohmann::json;

namespace {

constexpr const char* k_vehicle = "quillmarsh_trail_125";

/// Commands on one store; every answer is JSON.
struct Scripts {
  Folder folder;
  Program program{folder};

  json ask(std::vector<std::string> arguments) const {
    arguments.push_back("--json");
    const auto outcome = program.run(arguments);
    CAPTURE(outcome.out, outcome.err, outcome.exit_code);
    REQUIRE(outcome.exit_code == 0);
    REQUIRE(outcome.err.empty());
    return json::parse(outcome.out);
  }
  Outcome plain(const std::vector<std::string>& arguments) const { return program.run(arguments); }
};

double probability_of(const json& suspects, const std::string& component) {
  double sum = 0;
  for (const auto& s : suspects["suspects"])
    if (s["component"] == component) sum += s["probability"].get<double>();
  return sum;
}

}  // namespace

TEST_CASE("a job from scripts: open, next, reading, suspects, undo", "[cli][unit]") {
  const Scripts s;
  const std::string job = s.ask({"job", "open", "--vehicle", k_vehicle, "--complaint", "no_spark"})["job"];
  CHECK(job == "J0001");

  const json next = s.ask({"job", "next", job});
  REQUIRE(next["advice"].size() > 3);
  for (const auto& a : next["advice"]) {
    CHECK((a["kind"] == "test" || a["kind"] == "repair" || a["kind"] == "refer"));
    if (a["kind"] == "test") CHECK(a["test"].is_string());
    if (a["kind"] == "repair") CHECK(a["repair"].is_string());
    if (a["kind"] != "refer") CHECK(a["access_min"].get<double>() >= 0.5);  // design: at least half a minute
    CHECK(a["gain_bits"].get<double>() >= 0);
    CHECK(a["gain_bits_per_min"].is_number());
    CHECK(a["expected_cost_min"].is_number());
  }
  CHECK(next["unexplored_mass"].get<double>() >= 0);

  const json before = s.ask({"job", "suspects", job});
  const json done = s.ask({"job", "reading", job, "exciter_peak@control_module.source", "0,1 V"});
  CHECK(done["text"].get<std::string>().find("below") != std::string::npos);  // under what the meter can show
  const json after = s.ask({"job", "suspects", job});
  // Nothing where two hundred volts belong: what feeds the point gains, what lies behind it loses.
  CHECK(probability_of(after, "exciter_pigtail") > 2 * probability_of(before, "exciter_pigtail"));
  CHECK(probability_of(after, "ht_lead") < 0.5 * probability_of(before, "ht_lead"));

  s.ask({"job", "undo", job});
  const json undone = s.ask({"job", "suspects", job});
  CHECK(undone == before);
}

TEST_CASE("an amended reading counts as if it had been typed right, a struck one as if never", "[cli][unit]") {
  const Scripts s;
  const std::string job = s.ask({"job", "open", "--vehicle", k_vehicle, "--complaint", "no_spark"})["job"];
  const json blank = s.ask({"job", "suspects", job});
  const json typo = s.ask({"job", "reading", job, "plug_kilovolt", "1"});
  const std::string entry = std::to_string(typo["sequence"].get<int>());
  s.ask({"job", "amend", job, entry, "0.9 kV"});
  const json amended = s.ask({"job", "suspects", job});

  const std::string other = s.ask({"job", "open", "--vehicle", k_vehicle, "--complaint", "no_spark"})["job"];
  s.ask({"job", "reading", other, "plug_kilovolt", "900 V"});
  CHECK(s.ask({"job", "suspects", other})["suspects"] == amended["suspects"]);

  s.ask({"job", "strike", job, entry, "wrong", "lead"});
  CHECK(s.ask({"job", "suspects", job})["suspects"] == blank["suspects"]);
  // Struck is not gone: the history still tells it.
  bool told = false;
  const json shown = s.ask({"job", "show", job});
  for (const auto& line : shown["history"]) told |= line["status"] == "struck";
  CHECK(told);
}

TEST_CASE("no job that touched kill wiring closes as fixed before every stop is recorded", "[cli][fault]") {
  const Scripts s;
  const std::string job = s.ask({"job", "open", "--vehicle", k_vehicle, "--complaint", "no_spark"})["job"];
  const json vehicle = s.ask({"vehicle", "show", k_vehicle})["vehicle"];
  std::string repair;
  for (const auto& r : vehicle["repairs"])
    if (r["component"] == "kill_switch") repair = r["id"];
  REQUIRE_FALSE(repair.empty());
  s.ask({"job", "repaired", job, repair, "--price", "12"});
  CHECK(s.plain({"job", "close", job, "fixed"}).exit_code == 1);  // not checked yet
  s.ask({"job", "check", job, "passed"});
  const json stops = s.ask({"job", "show", job});
  REQUIRE(stops["stops_needed"] == true);
  REQUIRE(stops["stops"].size() >= 1);
  const auto refused = s.plain({"job", "close", job, "fixed"});
  CHECK(refused.exit_code == 1);
  for (const auto& stop : stops["stops"]) {
    CHECK(refused.err.find(stop["title"].get<std::string>()) != std::string::npos);
    s.ask({"job", "stop", job, stop["component"], "works"});
  }
  const json closed = s.ask({"job", "close", job, "fixed"});
  CHECK(closed["state"] == "closed");
  CHECK(s.plain({"job", "reading", job, "plug_kilovolt", "8"}).exit_code == 1);  // a closed job takes no reading
  const json sheet = s.ask({"job", "sheet", job})["sheet"];
  CHECK(sheet["parts"].size() == 1);
  CHECK(sheet["parts_money"] == 12.0);
}

TEST_CASE("a job waits, goes on, and lists its covers and set-ups as corrected", "[cli][unit]") {
  const Scripts s;
  const std::string job =
      s.ask({"job", "open", "--vehicle", k_vehicle, "--complaint", "dies_hot", "--cover-off", "seat", "--shows", "hot",
             "--limit", "200", "--words", "stops after ten minutes"})["job"];
  CHECK(s.ask({"job", "wait", job, "part"})["state"] == "waiting_for_part");
  CHECK(s.ask({"job", "list"})["jobs"][0]["state"] == "waiting_for_part");
  CHECK(s.ask({"job", "resume", job})["state"] == "open");
  const auto off = [&](const json& bench, const std::string& cover) {
    for (const auto& c : bench["covers"])
      if (c["id"] == cover) return c["off"].get<bool>();
    return false;
  };
  const json as_came = s.ask({"job", "covers", job});
  CHECK(off(as_came, "seat"));
  CHECK_FALSE(off(as_came, "fuel_tank"));
  CHECK(off(s.ask({"job", "covers", job, "--off", "fuel_tank"}), "fuel_tank"));
  CHECK_FALSE(off(s.ask({"job", "covers", job, "--on", "fuel_tank"}), "fuel_tank"));
  CHECK(s.ask({"job", "held", job, "hot"})["job"] == job);
  CHECK(s.ask({"job", "setup", job})["provocation"] == "hot");
  CHECK(s.plain({"job", "sheet", job}).out.find("stops after ten minutes") != std::string::npos);
}

TEST_CASE("why and step answer in JSON with a unit in every number's key", "[cli][unit]") {
  const Scripts s;
  const std::string job = s.ask({"job", "open", "--vehicle", k_vehicle, "--complaint", "no_spark"})["job"];
  s.ask({"job", "reading", job, "plug_kilovolt", "below"});
  const json why = s.ask({"job", "why", job, "exciter_peak@control_module.source"});
  CHECK(why["test"] == "exciter_peak@control_module.source");
  CHECK(why["gain_bits"].get<double>() > 0);
  CHECK(why["influences"].size() > 0);
  double sum = 0;
  for (const auto& r : why["results"]) sum += r["probability"].get<double>();
  CHECK(std::fabs(sum - 1) < 0.02);  // classes of results cover what can be read, up to rounding of each
  const json step = s.ask({"job", "step", job, "exciter_peak@control_module.source"})["step"];
  CHECK(step["unit"] == "volt");
  CHECK(step["take_off"].size() == 1);
  CHECK(step["cautions"].size() > 0);
}

TEST_CASE("vehicles, families and the workshop answer in JSON", "[cli][unit]") {
  const Scripts s;
  const json vehicles = s.ask({"vehicle", "list"})["vehicles"];
  REQUIRE(vehicles.size() >= 2);
  std::map<std::string, std::size_t> of_family;
  for (const auto& v : vehicles) ++of_family[v["family"]];
  const json families = s.ask({"family", "list"})["families"];
  CHECK(families.size() == of_family.size());  // every family has a vehicle, every vehicle a family
  for (const auto& f : families) {
    const json shown = s.ask({"family", "show", f["id"]})["family"];
    CHECK(shown["vehicles"].size() == of_family[f["id"]]);
  }
  const json family = s.ask({"family", "show", "ac_cdi"})["family"];
  CHECK(s.ask({"family", "check", family["library"]})["sound"] == true);
  CHECK(s.ask({"workshop", "show"})["workshop"]["instruments"].size() > 0);
  const json check = s.ask({"vehicle", "check", k_vehicle});
  CHECK(check["invisible_modes"].is_array());
  CHECK(check["ambiguities"].is_array());
}

TEST_CASE("a drawing of a job shades its suspects and is SVG when asked", "[cli][unit]") {
  const Scripts s;
  const std::string job = s.ask({"job", "open", "--vehicle", k_vehicle, "--complaint", "no_spark"})["job"];
  const std::string bare = s.plain({"vehicle", "draw", k_vehicle}).out;
  const std::string shaded = s.plain({"vehicle", "draw", k_vehicle, "--job", job}).out;
  CHECK(bare.find("%") == std::string::npos);
  CHECK(shaded.find("%") != std::string::npos);
  const auto svg = s.plain({"vehicle", "draw", k_vehicle, "--job", job, "--as", "svg", "--output", "bike.svg"});
  CHECK(svg.exit_code == 0);
  CHECK(svg.out.empty());
  const std::string file = read_file(s.folder.path() / "bike.svg");
  CHECK(file.find("<svg") != std::string::npos);
  CHECK(file.find("ignition coil") != std::string::npos);
}

TEST_CASE("a plan begins with the advised step, its branches add up, and it can be drawn", "[cli][unit]") {
  const Scripts s;
  const std::string job = s.ask({"job", "open", "--vehicle", k_vehicle, "--complaint", "no_spark"})["job"];
  const json next = s.ask({"job", "next", job}), plan = s.ask({"job", "plan", job, "--depth", "4"});
  REQUIRE(plan["nodes"].size() > 1);
  const json first = plan["nodes"][0];
  CHECK(first["kind"] == next["advice"][0]["kind"]);
  CHECK(first["test"] == next["advice"][0]["test"]);
  CHECK(first["reached_probability"].get<double>() == Approx(1));
  std::map<int, double> reached;
  for (const auto& node : plan["nodes"]) {
    double sum = 0;
    for (const auto& branch : node["branches"]) {
      sum += branch["probability"].get<double>();
      if (!branch["next"].is_null())
        reached[branch["next"].get<int>()] =
            node["reached_probability"].get<double>() * branch["probability"].get<double>();
    }
    if (node["kind"] != "refer") CHECK(sum == Approx(1).margin(1e-4));
    CHECK(node["depth"].get<int>() < 4);
  }
  for (const auto& node : plan["nodes"])
    if (node["node"] != 0)
      CHECK(node["reached_probability"].get<double>() == Approx(reached[node["node"].get<int>()]).margin(1e-4));
  const json quote = plan["quote"];
  CHECK(quote["expected_min"].get<double>() > 0);
  CHECK(quote["worst_min"].get<double>() > quote["expected_min"].get<double>());
  CHECK(quote["unfollowed_probability"].get<double>() < 1);
  const auto text = s.plain({"job", "plan", job});
  CHECK(text.out.find("What it will cost from here") != std::string::npos);
  CHECK(s.plain({"job", "plan", job, "--as", "dot"}).out.rfind("digraph plan {", 0) == 0);
  CHECK(s.plain({"job", "plan", job, "--as", "svg"}).out.find("<svg") != std::string::npos);
}

TEST_CASE("a check that sees the complaint still there clears nothing-is-wrong and does not close", "[cli][unit]") {
  const Scripts s;
  const std::string job = s.ask({"job", "open", "--vehicle", k_vehicle, "--complaint", "misfire_load"})["job"];
  s.ask({"job", "repaired", job, "spark_plug.replace"});
  const json before = s.ask({"job", "suspects", job});
  s.ask({"job", "check", job, "still_there"});
  const json after = s.ask({"job", "suspects", job});
  CHECK(after["nothing_wrong_probability"].get<double>() < 0.2 * before["nothing_wrong_probability"].get<double>());
  CHECK(s.plain({"job", "close", job, "fixed"}).exit_code == 1);
}
