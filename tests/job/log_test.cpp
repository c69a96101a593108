// Replay, undo, amend and strike: whatever the way, the same log in force gives the same state.
#include <algorithm>
#include <random>

#include "base/error.hpp"
#include "catch_all.hpp"
#include "fixtures.hpp"

using namespace lostspark;
using namespace lostspark::job;
using namespace lostspark::job::test;

namespace {

Intake usual_intake() {
  Intake i;
  i.complaints = {"no_spark"};
  i.replaced = {"control_module"};
  i.covers_off = {"seat"};
  return i;
}

/// One random action; true when it was recorded.
bool random_action(Job& job, std::mt19937_64& random) {
  const auto pick = [&](int n) { return std::uniform_int_distribution<int>(0, n - 1)(random); };
  const char* const tests[] = {k_peak, k_peak_unplugged, k_spark, k_ohm};
  const char* const volts[] = {"168", "about 90", "0", "150..200", "jumping 0..190", "150 170 165", "over"};
  const char* const words[] = {"none", "irregular", "steady"};
  const auto value = [&](int t) { return t == 2 ? words[pick(3)] : volts[pick(7)]; };
  try {
    switch (pick(14)) {
      case 0:
      case 1:
      case 2: {
        const int t = pick(4);
        ReadingOptions how;
        how.reseated = pick(2) == 0;
        how.same_crank = pick(4) == 0;
        job.record(tests[t], value(t), how);
        break;
      }
      case 3:
        job.skip(tests[pick(4)], static_cast<SkipReason>(pick(4)));
        break;
      case 4: {
        if (job.state().readings.empty()) return false;
        const auto& t =
            job.state().readings[static_cast<std::size_t>(pick(static_cast<int>(job.state().readings.size())))];
        job.amend(t.sequence, value(t.reading.test == 2 ? 2 : 0));
        break;
      }
      case 5:
        job.strike(1 + pick(static_cast<int>(job.state().last)), "slipped clip");
        break;
      case 6: {
        const char* const covers[] = {"seat", "tank", "side_panel"};
        job.cover(covers[pick(3)], pick(2) == 0);
        break;
      }
      case 7:
        job.setup(pick(2) == 0 ? "kill_unplugged" : "gap_tester", pick(2) == 0);
        break;
      case 8:
        job.provoke(pick(2) == 0 ? model::Provocation::hot : model::Provocation::none);
        break;
      case 9:
        job.touched({pick(2) == 0 ? "exciter_connector" : "kill_connector"});
        break;
      case 10: {
        RepairOptions how;
        how.part = pick(2) == 0 ? PartState::tried : PartState::fitted;
        job.repaired(job.vehicle().repairs[static_cast<std::size_t>(pick(8))].id, how);
        break;
      }
      case 11:
        job.returned(job.vehicle().repairs[static_cast<std::size_t>(pick(8))].id);
        break;
      case 12:
        job.check(pick(2) == 0 ? "passed" : "irregular");
        break;
      default:
        job.set_state(static_cast<history::JobState>(pick(3)));
    }
    return true;
  } catch (const InputError&) {
    return false;
  }
}

}  // namespace

TEST_CASE("a job replayed from its log is the job that was left", "[job][property]") {
  for (std::uint64_t seed = 1; seed <= 20; ++seed) {
    INFO("seed " << seed);
    std::mt19937_64 random(seed);
    const auto store = history::open_memory();
    auto desk = small_desk(*store);
    auto job = desk.open("small_bike", usual_intake());
    int done = 0;
    while (done < 25) done += random_action(job, random);
    const auto again = desk.load(job.id());
    CHECK(state_text(again.state()) == state_text(job.state()));
    CHECK(again.log() == job.log());
    CHECK(again.state().evidence.size() == again.state().evidence_entry.size());
  }
}

TEST_CASE("undo goes back to the state before the last action, all the way", "[job][property]") {
  for (std::uint64_t seed = 101; seed <= 115; ++seed) {
    INFO("seed " << seed);
    std::mt19937_64 random(seed);
    const auto store = history::open_memory();
    auto desk = small_desk(*store);
    auto job = desk.open("small_bike", usual_intake());
    std::vector<std::string> before;
    while (before.size() < 20) {
      const auto now = state_text(job.state());
      if (random_action(job, random)) before.push_back(now);
    }
    const auto entries = job.log().size();
    for (std::size_t i = before.size(); i-- > 0;) {
      job.undo();
      INFO("action " << i);
      REQUIRE(state_text(job.state()) == before[i]);
    }
    CHECK_THROWS_AS(job.undo(), InputError);
    CHECK(job.log().size() == entries + before.size());  // nothing is ever taken out of the log
    CHECK(state_text(desk.load(job.id()).state()) == before.front());
  }
}

TEST_CASE("an amended reading counts as if it had been typed so at once", "[job][unit]") {
  const auto store = history::open_memory();
  auto desk = small_desk(*store);
  auto slip = desk.open("small_bike", usual_intake());
  const auto first = slip.record(k_peak, "16.8").sequence;
  slip.record(k_peak_unplugged, "216");
  slip.record(k_spark, "none");
  slip.amend(first, "168");
  slip.amend(first, "170");
  auto clean = desk.open("small_bike", usual_intake());
  clean.record(k_peak, "170");
  clean.record(k_peak_unplugged, "216");
  clean.record(k_spark, "none");
  CHECK(state_text(slip.state()) == state_text(clean.state()));
  CHECK(slip.state().find_reading(first)->amended);
  slip.undo();
  CHECK(slip.state().find_reading(first)->reading.value.number == 168);
}

TEST_CASE("a struck reading counts as if it had never been taken", "[job][unit]") {
  const auto store = history::open_memory();
  auto desk = small_desk(*store);
  auto job = desk.open("small_bike", usual_intake());
  job.cover("side_panel", true);
  const auto wrong = job.record(k_peak, "0").sequence;
  job.record(k_peak_unplugged, "216");
  job.strike(wrong, "wrong polarity");
  auto clean = desk.open("small_bike", usual_intake());
  clean.cover("side_panel", true);
  clean.record(k_peak_unplugged, "216");
  CHECK(evidence_text(job.state()) == evidence_text(clean.state()));
  CHECK(job.state().find_reading(wrong) == nullptr);
  CHECK_THROWS_AS(job.strike(wrong, "again"), InputError);
  CHECK_THROWS_AS(job.amend(wrong, "5"), InputError);
  job.undo();
  CHECK(job.state().find_reading(wrong) != nullptr);
  for (const auto& line : job.history())
    if (line.sequence == wrong) CHECK(line.status == HistoryLine::Status::in_force);
}

TEST_CASE("a reading brings its covers, set-ups and moved contacts into the log", "[job][unit]") {
  const auto store = history::open_memory();
  auto desk = small_desk(*store);
  auto job = desk.open("small_bike", {});
  const auto done = job.record(k_peak_unplugged, "216");
  CHECK(job.state().covers_off == std::vector<Index>{2});
  CHECK(job.state().setups_standing == std::vector<Index>{0});
  CHECK(done.also.size() == 3);
  CHECK(evidence_text(job.state()).find("touched") < evidence_text(job.state()).find("\"test\""));
  // the next test does not want the kill lead off: it is plugged in again, and no contact is moved by plugging
  job.record(k_peak, "168");
  CHECK(job.state().setups_standing.empty());
  job.record(k_ohm, "310");
  CHECK(job.state().evidence.size() == 5);
  // the connector is open already
  job.record(k_ohm, "312");
  CHECK(job.state().evidence.size() == 6);
  job.undo();
  job.undo();
  job.undo();
  job.undo();
  CHECK(job.state().covers_off.empty());
  CHECK(job.state().setups_standing.empty());
  CHECK(job.state().evidence.empty());
}

TEST_CASE("a repeat without touching the clips shares its hook-up, a re-seated one does not", "[job][unit]") {
  const auto store = history::open_memory();
  auto desk = small_desk(*store);
  auto job = desk.open("small_bike", {});
  job.record(k_peak, "168");
  job.record(k_peak, "170");
  ReadingOptions how;
  how.reseated = true;
  job.record(k_peak, "90", how);
  how = {};
  how.same_crank = true;
  job.record(k_spark, "none", how);
  const auto& r = job.state().readings;
  REQUIRE(r.size() == 4);
  CHECK(r[0].reading.hookup == r[1].reading.hookup);
  CHECK(r[1].reading.moment != r[0].reading.moment);
  CHECK(r[2].reading.hookup != r[1].reading.hookup);
  CHECK(r[3].reading.moment == r[2].reading.moment);
}

TEST_CASE("a visit ends where the job waits, and heat with it", "[job][unit]") {
  const auto store = history::open_memory();
  auto desk = small_desk(*store);
  auto job = desk.open("small_bike", {});
  job.provoke(model::Provocation::hot);
  job.record(k_peak, "168");
  CHECK(job.state().readings.back().reading.provocation == model::Provocation::hot);
  job.set_state(history::JobState::waiting_for_part);
  CHECK(store->jobs().front().state == history::JobState::waiting_for_part);
  job.set_state(history::JobState::open);
  job.record(k_peak, "168");
  CHECK(job.state().readings.back().reading.provocation == model::Provocation::none);
  CHECK(job.state().readings.back().reading.visit == 1);
  CHECK(job.state().readings.front().reading.visit == 0);
}

TEST_CASE("covers come off in their order and go back in the reverse", "[job][unit]") {
  const auto store = history::open_memory();
  auto desk = small_desk(*store);
  auto job = desk.open("small_bike", {});
  job.cover("tank", true);
  CHECK(job.state().covers_off == std::vector<Index>{0, 1});
  job.cover("seat", false);
  CHECK(job.state().covers_off.empty());
  CHECK_THROWS_WITH(job.cover("seet", true), Catch::Contains("nearest: 'seat'"));
  CHECK_THROWS_WITH(job.cover("seat", false), Catch::Contains("on already"));
}

TEST_CASE("a log that cannot be read is refused by job and entry", "[job][fault]") {
  const auto store = history::open_memory();
  auto desk = small_desk(*store);
  auto job = desk.open("small_bike", {});
  const auto broken = GENERATE(std::string("{"), std::string("[]"),
                               std::string("{\"test\":\"gone\",\"value\":{\"kind\":\"number\",\"number\":1}}"),
                               std::string("{\"test\":\"spark@plug\",\"value\":{\"kind\":\"word\",\"word\":7}}"),
                               std::string("{\"test\":\"spark@plug\"}"));
  history::LogEntry entry;
  entry.kind = "reading";
  entry.body = broken;
  store->append(job.id(), job.state().last, {entry}, history::JobState::open);
  try {
    (void)desk.load(job.id());
    FAIL("a broken log was loaded");
  } catch (const StoreError& e) {
    CHECK(std::string(e.what()).find(job.id()) != std::string::npos);
    CHECK(std::string(e.what()).find("entry 3") != std::string::npos);
  }
}

TEST_CASE("an entry of a newer program is refused by name", "[job][fault]") {
  const auto store = history::open_memory();
  auto desk = small_desk(*store);
  auto job = desk.open("small_bike", {});
  store->append(job.id(), job.state().last, {{0, "hologram", "{}", ""}}, history::JobState::open);
  CHECK_THROWS_WITH(desk.load(job.id()), Catch::Contains("hologram") && Catch::Contains("newer"));
}
