// Opening, loading, two terminals, closing.
#include <unistd.h>

#include <filesystem>

#include "base/error.hpp"
#include "catch_all.hpp"
#include "fixtures.hpp"
#include "job/sheet.hpp"

using namespace lostspark;
using namespace lostspark::job;
using namespace lostspark::job::test;

namespace {

/// A fresh folder, gone at the end.
struct Folder {
  Folder() : path(std::filesystem::temp_directory_path() / ("lostspark_job_" + std::to_string(::getpid()))) {
    std::filesystem::remove_all(path);
    std::filesystem::create_directories(path);
  }
  ~Folder() { std::filesystem::remove_all(path); }
  std::filesystem::path path;
};

void two_terminals(history::Store& mine, history::Store& theirs) {
  auto my_desk = small_desk(mine);
  auto their_desk = small_desk(theirs);
  auto job = my_desk.open("small_bike", {});
  auto other = their_desk.load(job.id());
  other.record(k_peak, "168");
  const auto log_before = mine.log(job.id()).size();
  CHECK_THROWS_WITH(job.record(k_spark, "none"), Catch::Contains("another terminal") && Catch::Contains(job.id()) &&
                                                     Catch::Contains("enter it again"));
  CHECK(mine.log(job.id()).size() == log_before);
  CHECK(state_text(job.state()) == state_text(other.state()));  // what the other wrote is seen now
  job.record(k_spark, "none");
  CHECK_THROWS_AS(other.undo(), history::ConflictError);
  CHECK(state_text(job.state()) == state_text(other.state()));
  CHECK(state_text(my_desk.load(job.id()).state()) == state_text(job.state()));
}

}  // namespace

TEST_CASE("two terminals on one job in memory do not overwrite each other", "[job][fault]") {
  const auto store = history::open_memory();
  two_terminals(*store, *store);
}

TEST_CASE("two terminals on one job in a file do not overwrite each other", "[job][fault]") {
  const Folder folder;
  const auto file = (folder.path / "jobs.sqlite3").string();
  const auto mine = history::open_sqlite(file);
  const auto theirs = history::open_sqlite(file);
  two_terminals(*mine, *theirs);
}

TEST_CASE("a job refuses to replay on another version of its family", "[job][fault]") {
  const auto store = history::open_memory();
  auto desk = small_desk(*store, "1.0.0");
  const auto id = desk.open("small_bike", {}).id();
  auto newer = small_desk(*store, "1.1.0");
  CHECK_THROWS_AS(newer.load(id), PluginError);
  CHECK_THROWS_WITH(newer.load(id), Catch::Contains(id) && Catch::Contains("ac_cdi") && Catch::Contains("1.0.0") &&
                                        Catch::Contains("1.1.0"));
  CHECK_NOTHROW(desk.load(id));
}

TEST_CASE("a job of a family whose plugin is gone says so", "[job][fault]") {
  const auto store = history::open_memory();
  auto desk = small_desk(*store);
  const auto id = desk.open("small_bike", {}).id();
  auto source = small_source();
  source.load_text = [](const std::string&, const std::string& name) -> std::shared_ptr<const model::Vehicle> {
    throw PluginError(name + ": no plugin for family 'ac_cdi'");
  };
  Desk bare(source, *store, small_workshop());
  CHECK_THROWS_WITH(bare.load(id), Catch::Contains(id) && Catch::Contains("ac_cdi"));
}

TEST_CASE("a job keeps the workshop it was opened with", "[job][unit]") {
  const auto store = history::open_memory();
  auto desk = small_desk(*store);
  const auto id = desk.open("small_bike", {}).id();
  model::Workshop poor;
  poor.title = "another shop";
  Desk other(small_source(), *store, poor);
  const auto job = other.load(id);
  CHECK(workshop_json(job.workshop()) == workshop_json(small_workshop()));
  CHECK(workshop_json(workshop_from_json(workshop_json(poor))) == workshop_json(poor));
  auto bare = other.open("small_bike", {});
  CHECK_THROWS_WITH(bare.record(k_peak, "168"),
                    Catch::Contains("peak voltmeter") && Catch::Contains("ordinary multimeter"));
}

TEST_CASE("unknown names are answered with the nearest one", "[job][unit]") {
  const auto store = history::open_memory();
  auto desk = small_desk(*store);
  auto job = desk.open("small_bike", {});
  CHECK_THROWS_WITH(desk.load("J0009"), Catch::Contains("J0009") && Catch::Contains(job.id()));
  CHECK_THROWS_WITH(job.record("exciter_peak@control_module.sorce", "5"), Catch::Contains(k_peak));
  CHECK_THROWS_WITH(job.record("spark", "5"), Catch::Contains(k_spark));
  CHECK_THROWS_WITH(job.repaired("kill_switch.mend_stck"), Catch::Contains("kill_switch.mend_stuck"));
  CHECK_THROWS_WITH(job.touched({"kill_wir"}), Catch::Contains("kill_wire"));
  CHECK_THROWS_WITH(job.setup("kill_unpluged", true), Catch::Contains("kill_unplugged"));
  CHECK_THROWS_WITH(job.stop_checked("kill_switsh"), Catch::Contains("kill_switch"));
  Intake intake;
  intake.complaints = {"no_sparks"};
  CHECK_THROWS_WITH(desk.open("small_bike", intake), Catch::Contains("no_spark"));
  CHECK(store->jobs().size() == 1);  // a refused intake opens no job
  CHECK_THROWS_WITH(job.amend(2, "5"), Catch::Contains("no reading"));
  CHECK_THROWS_WITH(job.amend(77, "5"), Catch::Contains("77"));
  CHECK(job.state().last == 2);
}

TEST_CASE("a job that touched kill wiring closes as fixed only when every stop is recorded since", "[job][unit]") {
  const auto store = history::open_memory();
  auto desk = small_desk(*store);
  auto job = desk.open("small_bike", {});
  const auto way = GENERATE(0, 1, 2);
  INFO("by a set-up that unplugs it, by a repair of the switch, by hand: " << way);
  if (way == 0) {
    job.record(k_peak_unplugged, "216");
    job.setup("kill_unplugged", false);
  } else if (way == 1) {
    job.repaired("kill_switch.mend_stuck");
  } else {
    job.touched({"kill_wire"});
  }
  CHECK(job.stops_needed());
  job.stop_checked("kill_switch");
  job.touched({"kill_connector"});  // moved again: what was proved before counts no more
  job.repaired("exciter_connector.mend_corroded");
  CHECK_THROWS_WITH(job.close(Outcome::fixed), Catch::Contains("check"));
  job.check("passed");
  CHECK_THROWS_WITH(job.close(Outcome::fixed), Catch::Contains("kill switch") && Catch::Contains("key switch"));
  job.stop_checked("kill_switch");
  CHECK_THROWS_WITH(job.close(Outcome::fixed), !Catch::Contains("kill switch") && Catch::Contains("key switch"));
  CHECK(job.state().state == history::JobState::open);
  job.stop_checked("key_switch");
  job.setup("kill_unplugged", true);
  CHECK_THROWS_WITH(job.stop_checked("key_switch"), Catch::Contains("kill lead unplugged"));
  CHECK_THROWS_WITH(job.close(Outcome::fixed), Catch::Contains("kill lead unplugged"));
  job.undo();
  job.close(Outcome::fixed);
  CHECK(store->jobs().front().state == history::JobState::closed);
  CHECK(job.state().covers_off.empty());
  CHECK(job.state().setups_standing.empty());  // the check's gap tester went in passing
  CHECK_THROWS_WITH(job.record(k_peak, "5"), Catch::Contains("closed (fixed)"));
  job.undo();
  CHECK(job.state().state == history::JobState::open);
}

TEST_CASE("a job that left the kill wiring alone needs no stops recorded", "[job][unit]") {
  const auto store = history::open_memory();
  auto desk = small_desk(*store);
  auto job = desk.open("small_bike", {});
  job.record(k_peak, "0");
  job.repaired("exciter_coil.mend_open");
  job.check("steady");
  job.setup("gap_tester", false);
  CHECK_FALSE(job.stops_needed());
  CHECK_NOTHROW(job.close(Outcome::fixed));
}

TEST_CASE("a failed or outdated check does not close a job as fixed", "[job][unit]") {
  const auto store = history::open_memory();
  auto desk = small_desk(*store);
  Intake intake;
  intake.complaints = {"no_spark"};
  auto job = desk.open("small_bike", intake);
  job.repaired("exciter_coil.mend_open");
  job.check("failed");
  job.setup("gap_tester", false);
  CHECK(job.state().readings.back().reading.value.word == 0);  // what the complaint says
  CHECK_THROWS_WITH(job.close(Outcome::fixed), Catch::Contains("failed"));
  job.check("passed");
  job.repaired("exciter_connector.mend_corroded");
  job.setup("gap_tester", false);
  CHECK_THROWS_WITH(job.close(Outcome::fixed), Catch::Contains("after the last repair"));
  CHECK_NOTHROW(job.close(Outcome::referred_on));
}

TEST_CASE("a part on trial is kept or given back before the job closes as fixed", "[job][unit]") {
  const auto store = history::open_memory();
  auto desk = small_desk(*store);
  auto job = desk.open("small_bike", {});
  RepairOptions trial;
  trial.part = PartState::tried;
  job.repaired("control_module.mend_no_output", trial);
  job.check("passed");
  job.setup("gap_tester", false);
  CHECK_THROWS_WITH(job.close(Outcome::fixed), Catch::Contains("on trial"));
  const auto events = job.state().evidence.size();
  SECTION("kept: nothing happens to the vehicle") {
    job.repaired("control_module.mend_no_output");
    CHECK(job.state().evidence.size() == events);
    CHECK(job.state().repairs.back().part == PartState::fitted);
    CHECK(job.state().repairs.back().price == 150);
    for (const auto& stop : job.stops())
      if (job.stops_needed()) job.stop_checked(stop.id);
    CHECK_NOTHROW(job.close(Outcome::fixed));
  }
  SECTION("given back: the old part is in again") {
    job.returned("control_module.mend_no_output");
    CHECK(std::holds_alternative<model::Refitted>(job.state().evidence.back()));
    CHECK(job.state().repairs.back().part == PartState::returned);
    CHECK(job.state().repairs.back().price == 0);
    CHECK_THROWS_AS(job.returned("control_module.mend_no_output"), InputError);
  }
}

TEST_CASE("skips keep tests back for as long as their reason holds", "[job][unit]") {
  const auto store = history::open_memory();
  auto desk = small_desk(*store);
  auto job = desk.open("small_bike", {});
  const auto offered = [&](const char* test) {
    const auto left_out = job.bench_state().not_available;
    return std::find(left_out.begin(), left_out.end(), job.test(test)) == left_out.end();
  };
  job.skip(k_peak, SkipReason::no_tool);
  CHECK_FALSE(offered(k_peak));
  CHECK_FALSE(offered(k_peak_unplugged));  // the same instrument
  CHECK(offered(k_ohm));
  job.undo();
  job.skip(k_ohm, SkipReason::not_now);
  job.skip(k_peak, SkipReason::cannot_reach);
  CHECK_FALSE(offered(k_ohm));
  CHECK(offered(k_peak_unplugged));
  job.repaired("exciter_connector.mend_corroded");
  CHECK(offered(k_ohm));
  CHECK_FALSE(offered(k_peak));
  CHECK(job.bench_state().helper);
  job.skip(k_spark, SkipReason::no_helper);
  CHECK_FALSE(job.bench_state().helper);
  CHECK(offered(k_spark));
}

TEST_CASE("a test read twice is offered again only after a repair", "[job][unit]") {
  const auto store = history::open_memory();
  auto desk = small_desk(*store);
  auto job = desk.open("small_bike", {});
  job.record(k_peak, "168");
  CHECK(job.bench_state().not_available.empty());
  job.record(k_peak, "165");
  CHECK(job.bench_state().not_available == std::vector<Index>{0});
  job.repaired("exciter_connector.mend_corroded");
  CHECK(job.bench_state().not_available.empty());
}
