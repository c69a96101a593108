// Whole jobs on the trail bike that comes with the program: plugin, network file, inference, advice, log.
#include <algorithm>

#include "base/error.hpp"
#include "catch_all.hpp"
#include "fixtures.hpp"
#include "job/auto_run.hpp"
#include "job/sheet.hpp"

using namespace lostspark;
using namespace lostspark::job;

namespace {

Desk real_desk(history::Store& store) {
  const auto folders = sources::default_folders();
  return Desk(vehicle_source(folders), store, sources::default_workshop(folders));
}

ReadingOptions with_bars_left() {
  ReadingOptions how;
  how.provocation = model::Provocation::steering;
  return how;
}

}  // namespace

// A kill wire chafed at the steering head: the readings are those of an invented case, written before this program.
TEST_CASE("a chafed kill wire is found by its case's readings, the module never first", "[job][golden]") {
  const auto store = history::open_memory();
  auto desk = real_desk(*store);
  Intake intake;
  intake.complaints = {"no_spark", "cuts_steering"};
  intake.shows = {"steering"};
  auto job = desk.open("quillmarsh_trail_125", intake);
  const auto module_leads = [&] {
    const auto suspects = job.suspects();
    return !suspects.empty() && suspects.front().component_id == "control_module";
  };
  CHECK_FALSE(module_leads());
  job.record("spark", "none", with_bars_left());
  CHECK_FALSE(module_leads());
  const auto peak = job.record("exciter_peak@control_module.source", "0.6", with_bars_left()).sequence;
  CHECK_FALSE(module_leads());
  job.record("exciter_peak@control_module.source+kill_unplugged", "216", with_bars_left());
  CHECK_FALSE(module_leads());
  // input good with the kill lead off: what is left lies in the kill circuit
  double stops = 0;
  for (const auto& s : job.suspects(1e-6))
    if (job.vehicle().components[s.component].stops_engine) stops += s.probability;
  CHECK(stops > 0.9);
  job.record("kill_lead_ohm@kill_connector.kill_switch_side", "0.8", with_bars_left());
  // bars turned right: over 1 megohm. It comes and goes with the bars: a wire, no switch
  job.record("kill_lead_ohm@kill_connector.kill_switch_side", ">1M");
  const auto leading = job.suspects().front();
  INFO(leading.mode_id);
  CHECK(leading.mode_id.find("chafed") != std::string::npos);
  CHECK(job.vehicle().components[leading.component].stops_engine);
  CHECK(job.notices().empty());

  job.setup("kill_unplugged", false);
  job.repaired(job.vehicle().repairs[job.vehicle().modes[leading.mode].repair].id);
  const auto check = job.check_view();
  CHECK(check.repeat_sequence != 0);
  CHECK(check.stops.size() == 3);
  job.check("steady");
  CHECK(job.state().readings.back().reading.provocation == model::Provocation::steering);
  job.record("exciter_peak@control_module.source", "216", with_bars_left());
  CHECK_THROWS_WITH(job.close(Outcome::fixed), Catch::Contains("kill switch") && Catch::Contains("tether switch"));
  for (const auto& stop : job.stops()) job.stop_checked(stop.id);
  job.close(Outcome::fixed);
  const auto sheet = make_sheet(job);
  CHECK(sheet.proof_before == "0.6 V");
  CHECK(sheet.proof_after == "216 V");
  CHECK(sheet.cause.find("chafed") != std::string::npos);

  const auto again = desk.load(job.id());
  CHECK(again.posterior().component_probability() == job.posterior().component_probability());
  CHECK(again.state().find_reading(peak)->reading.value.number == 0.6);
  CHECK(render(make_sheet(again)) == render(sheet));
}

TEST_CASE("every test of the trail bike can be presented, typed and recorded", "[job][property]") {
  const auto store = history::open_memory();
  auto desk = real_desk(*store);
  auto job = desk.open("quillmarsh_trail_125", {});
  int recorded = 0;
  for (std::size_t t = 0; t < job.vehicle().tests.size(); ++t) {
    const auto& test = job.vehicle().tests[t];
    INFO(test.id);
    if (job.workshop().find(test.instrument, test.is_word() ? "" : test.unit) == nullptr) {
      CHECK_THROWS_AS(job.record(test.id, "1"), InputError);
      continue;
    }
    const auto done = job.record(test.id, test.is_word() ? "1" : "5..50");
    CHECK(job.state().last >= done.sequence);
    ++recorded;
    // what stands now is what the test wanted
    auto standing = job.state().setups_standing;
    std::sort(standing.begin(), standing.end());
    auto wanted = job.vehicle().scenes[test.scene].setups;
    std::sort(wanted.begin(), wanted.end());
    CHECK(standing == wanted);
  }
  CHECK(recorded > 50);
  const auto again = desk.load(job.id());
  CHECK(test::state_text(again.state()) == test::state_text(job.state()));
}

TEST_CASE("a step tells where, how, in which state and what results would mean", "[job][property]") {
  const auto store = history::open_memory();
  auto desk = real_desk(*store);
  Intake intake;
  intake.complaints = {"no_spark"};
  const auto job = desk.open("quillmarsh_trail_125", intake);
  for (const auto* id : {"exciter_peak@control_module.source", "spark", "plug_look@spark_plug",
                         "kill_lead_ohm@kill_connector.kill_switch_side/steering"}) {
    const auto step = job.step(job.test(id));
    INFO(id);
    CHECK_FALSE(step.where.empty());
    CHECK_FALSE(step.hook_up.empty());
    CHECK_FALSE(step.state.empty());
    CHECK_FALSE(step.ask.empty());
    CHECK(step.access_min >= 0.5);
    CHECK(step.results.size() >= 2);
    double sum = 0;
    for (const auto& r : step.results) {
      CHECK_FALSE(r.range.empty());
      CHECK_FALSE(r.suspects.empty());
      sum += r.probability;
    }
    CHECK(sum == Approx(1).margin(0.05));
  }
  // unplugging may cure the contact: what can be probed at it comes first
  CHECK_FALSE(job.step(job.test("exciter_peak_unplugged@module_connector.exciter_side")).before_unplugging.empty());
  CHECK(job.cautions_before_first().size() >= 3);
}

TEST_CASE("simulated trail bikes are mended on the advice alone", "[job][slow]") {
  const auto store = history::open_memory();
  auto desk = real_desk(*store);
  const auto vehicle = desk.vehicle("quillmarsh_trail_125");
  Intake intake;
  intake.complaints = {"no_spark"};
  int right = 0;
  constexpr int runs = 6;
  for (std::uint64_t seed = 1; seed <= runs; ++seed) {
    INFO("seed " << seed);
    simulation::Bench bench(vehicle, sources::default_workshop(sources::default_folders()), seed);
    const auto truth = bench.draw(vehicle->find_complaint("no_spark").value());
    bench.put(truth);
    auto job = desk.open("quillmarsh_trail_125", intake);
    const auto result = run_simulated(job, bench, {.step_limit = 12});
    if (result.end == AutoResult::End::fixed) right += result.cured;
    if (result.end == AutoResult::End::not_ignition) right += truth.faults.empty();
    const auto again = desk.load(job.id());
    CHECK(test::state_text(again.state()) == test::state_text(job.state()));
  }
  CHECK(right >= 4);
}
