// What the shop learns from, in both stores: readings, cases, groups, comebacks, sets, customers.
#include "history/knowledge.hpp"

#include <memory>
#include <random>

#include "catch_all.hpp"
#include "history_support.hpp"

using namespace lostspark;
using namespace lostspark::history;
using namespace lostspark::history::testing;

namespace {

Baseline reading(const std::string& vehicle, const std::string& test, double value) {
  Baseline b;
  b.vehicle = vehicle;
  b.family = "ac_cdi";
  b.test = test;
  b.unit = "volt";
  b.value = value;
  b.read_at = "2026-02-01T10:00:00Z";
  b.note = "warm, it's \"good\"";
  return b;
}

Case closed(const std::string& job, const std::string& pattern, const std::string& confirmed = "seen") {
  Case c;
  c.job = job;
  c.family = "ac_cdi";
  c.vehicle = "bike";
  c.pattern = pattern;
  c.confirmed = confirmed;
  c.closed_at = "2026-02-01T11:00:00Z";
  c.entries = 9;
  return c;
}

std::vector<PatternCount> patterns(const Knowledge& knowledge) {
  std::vector<PatternCount> out;
  knowledge.each_pattern([&](const PatternCount& row) { out.push_back(row); });
  return out;
}

std::unique_ptr<Store> store_of(bool disk, const ScratchFolder& folder) {
  return disk ? open_sqlite(folder.file("jobs.sqlite3")) : open_memory();
}

}  // namespace

TEST_CASE("healthy readings come back as recorded; a struck one stays on file", "[history][unit]") {
  const bool disk = GENERATE(true, false);
  const ScratchFolder folder;
  const auto store = store_of(disk, folder);
  Knowledge& k = store->knowledge();
  k.add_baselines({reading("bike", "peak@a", 168.5), reading("bike", "peak@a", 171), reading("other", "peak@a", 9)});
  auto all = k.baselines("bike");
  REQUIRE(all.size() == 2);
  auto expected = reading("bike", "peak@a", 168.5);
  expected.number = 1;
  CHECK(all[0] == expected);
  CHECK(k.strike_baseline(1));
  CHECK_FALSE(k.strike_baseline(1));
  CHECK_FALSE(k.strike_baseline(77));
  CHECK(k.baselines("bike").size() == 1);
  CHECK(k.baselines("bike", true).size() == 2);
  CHECK(k.baselines("").size() == 2);
  CHECK_FALSE(store_error_of([&] {
                k.add_baselines({reading("bike", "peak@a", 1), reading("bike", "peak@a", -1)});
              }).empty());
  CHECK(k.baselines("").size() == 2);  // all or none
}

TEST_CASE("what was taken from a job is taken once, and replaced when the job closes again", "[history][unit]") {
  const ScratchFolder folder;
  const auto store = store_of(GENERATE(true, false), folder);
  auto a = reading("bike", "peak@a", 100), b = reading("bike", "peak@a", 101);
  a.source = b.source = "job";
  a.job = b.job = "J0001";
  a.sequence = 7;
  b.sequence = 9;
  store->knowledge().take_from_job("J0001", {a, b});
  store->knowledge().take_from_job("J0001", {b});
  const auto left = store->knowledge().baselines("bike");
  REQUIRE(left.size() == 1);
  CHECK(left[0].value == 101);
  CHECK(store->knowledge().strike_baseline(left[0].number));
  store->knowledge().take_from_job("J0001", {});
  store->knowledge().take_from_job("J0001", {a, b});  // closed again: what a person struck stays struck
  REQUIRE(store->knowledge().baselines("bike").size() == 1);
  CHECK(store->knowledge().baselines("bike")[0].value == 100);
}

TEST_CASE("cases are grouped by pattern; a job that came back counts as the later one", "[history][unit]") {
  const ScratchFolder folder;
  const auto store = store_of(GENERATE(true, false), folder);
  Knowledge& k = store->knowledge();
  k.put_case(closed("J0001", "a:0"), {{"bike", "ac_cdi", "a", 0.01}, {"bike", "ac_cdi", "b", 0.02}});
  k.put_case(closed("J0002", "a:0"), {});
  k.put_case(closed("J0003", "a:0 b:3", ""), {});
  auto groups = patterns(k);
  REQUIRE(groups.size() == 2);
  CHECK(groups[0].pattern == "a:0");
  CHECK(groups[0].jobs == 2);
  CHECK(k.case_summary().confirmed == 2);
  k.link_comeback("", "J0003", "J0001", "2026-03-01T00:00:00Z");
  groups = patterns(k);
  CHECK(groups[0].jobs == 1);
  CHECK(k.case_summary().superseded == 1);
  CHECK(k.came_back_from("", "J0003") == std::optional<std::string>("J0001"));
  k.put_case(closed("J0001", "b:0"), {});  // derived again: still superseded
  CHECK(patterns(k)[0].jobs == 1);
  CHECK(k.find_case("", "J0001")->pattern == "b:0");
  k.drop_case("", "J0002");
  CHECK_FALSE(k.find_case("", "J0002"));
  CHECK(k.class_odds().size() == 2);
  auto wasted = closed("J0004", "a:0");
  wasted.for_nothing = "coil plug";
  k.put_case(wasted, {});
  wasted.job = "J0005";
  wasted.for_nothing = "plug";
  k.put_case(wasted, {});
  using Counts = std::vector<std::pair<std::string, std::int64_t>>;
  CHECK(k.replaced_for_nothing("bike") == Counts{{"coil", 1}, {"plug", 2}});
  CHECK(k.replaced_for_nothing("other").empty());
}

TEST_CASE("counts kept as cases are written are those of counting the cases", "[history][property]") {
  const ScratchFolder folder;
  const auto store = store_of(GENERATE(true, false), folder);
  Knowledge& k = store->knowledge();
  const auto& c = k.connection();
  std::mt19937_64 random(test_seed("counts of cases"));
  const auto any = [&](const char* what, std::uint64_t most) { return what + std::to_string(random() % most); };
  std::int64_t largest = 0;
  for (int step = 0; step < 400; ++step) {
    const std::string job = any("J", 30);
    switch (random() % 4) {
      case 0:
      case 1: {
        auto one = closed(job, any("a:", 5));
        one.vehicle = any("bike", 2);
        k.put_case(one, {});
        break;
      }
      case 2:
        k.drop_case("", job);
        break;
      default:
        k.link_comeback("", job, any("J", 30), "now");
        break;
    }
    const auto as_text = [&](const std::string& from) {
      return c.text(
          "SELECT coalesce(group_concat(family || vehicle || pattern || ' ' || n, ','), '') FROM (" + from + ")",
          "test");
    };
    REQUIRE(as_text("SELECT family, vehicle, pattern, jobs AS n FROM case_counts ORDER BY 1, 2, 3") ==
            as_text("SELECT family, vehicle, pattern, count(*) AS n FROM cases WHERE superseded = 0 GROUP BY 1, 2, 3 "
                    "ORDER BY 1, 2, 3"));
    // Superseded are those, and only those, that another job is the comeback of.
    REQUIRE(c.number("SELECT count(*) FROM cases WHERE superseded <> EXISTS (SELECT 1 FROM comebacks WHERE first_job = "
                     "cases.job)",
                     "test") == 0);
    for (const auto& group : patterns(k)) largest = std::max(largest, group.jobs);
  }
  CHECK(largest > 2);
}

TEST_CASE("a set's name is given once, and events keep their order", "[history][unit]") {
  const ScratchFolder folder;
  const auto store = store_of(GENERATE(true, false), folder);
  Knowledge& k = store->knowledge();
  CHECK(k.add_rate_set({"spring", "2026-03-01T00:00:00Z", "", "{}"}));
  CHECK_FALSE(k.add_rate_set({"spring", "2026-04-01T00:00:00Z", "", "{1}"}));
  CHECK(k.rate_set("spring")->body == "{}");
  CHECK_FALSE(k.rate_set("autumn"));
  CHECK_FALSE(k.add_rate_set({"spring", "", "", "{}"}, RateEvent{"applied", "spring", "z"}));
  CHECK(k.rate_events().empty());  // the name is taken: neither
  k.add_rate_event({"applied", "spring", "a"});
  k.add_rate_event({"set_aside", "spring", "b"});
  REQUIRE(k.rate_events().size() == 2);
  CHECK(k.rate_events()[1].action == "set_aside");
}

TEST_CASE("a deleted customer leaves no byte of the name in the files", "[history][fault]") {
  const ScratchFolder folder;
  {
    const auto store = open_sqlite(folder.file("jobs.sqlite3"));
    const std::string job = store->create_job(example_header());
    store->knowledge().put_customer({job, "Ottilie Quennelworth of Frogmorton", "QM 77 XYZZY", "2026-02-01T00:00:00Z"});
    store->knowledge().put_customer({job, "Ottilie Q.", "QM 77 XYZZY", "2026-02-01T00:00:00Z"});  // shorter
    CHECK(store->knowledge().customer(job)->registration == "QM 77 XYZZY");
    CHECK(store->knowledge().delete_customer(job));
    CHECK_FALSE(store->knowledge().delete_customer(job));
    CHECK_FALSE(store->knowledge().customer(job));
    CHECK(bytes_of(folder.file("jobs.sqlite3")).find("Quennelworth") == std::string::npos);
    CHECK(bytes_of(folder.file("jobs.sqlite3")).find("Frogmorton") == std::string::npos);
    CHECK(bytes_of(folder.file("jobs.sqlite3-wal")).find("XYZZY") == std::string::npos);
  }
  CHECK(bytes_of(folder.file("jobs.sqlite3")).find("XYZZY") == std::string::npos);
}
