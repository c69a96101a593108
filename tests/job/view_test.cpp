// What a job tells: steps, meanings, notices, why, the check and the sheet, on a vehicle whose physics is one product.
#include <algorithm>

#include "base/error.hpp"
#include "catch_all.hpp"
#include "fixtures.hpp"
#include "job/auto_run.hpp"
#include "job/sheet.hpp"
#include "support/toy_vehicle.hpp"

using namespace lostspark;
using namespace lostspark::job;
using model::Index;

namespace {

/// Source weak (reading and spark low), gain lost (same, for a deal less money), key sheared (a finding only).
struct Toy {
  std::shared_ptr<model::Vehicle> v = toy::make_vehicle();
  std::unique_ptr<history::Store> store = history::open_memory();
  Index weak = 0, loose = 0, key = 0, peak = 0, spark = 0, look = 0;

  Toy() {
    using model::ChangeTarget;
    using model::Operation;
    v->title = "toy bike";
    v->family = "toy";
    weak = toy::add_mode(*v, "coil", 0.02, {{ChangeTarget::parameter, 0, Operation::scale, 0.3, 0.02}});
    loose = toy::add_mode(*v, "joint", 0.02, {{ChangeTarget::parameter, 1, Operation::scale, 0.3, 0.02}});
    key = toy::add_mode(*v, "key", 0.02, {{ChangeTarget::parameter, 2, Operation::scale, 3, 6}});
    v->components[v->modes[key].component].group = "TIM";
    v->repairs[v->modes[weak].repair].price = 100;
    v->repairs[v->modes[loose].repair].price = 0;
    v->repairs[v->modes[loose].repair].kind = model::RepairKind::clean;
    peak = toy::add_number(*v, "peak", 0, 0.05);
    v->tests[peak].low_means = "source or joint";
    v->tests[peak].hook_up = "red to the box, black to earth";
    spark = toy::add_word(*v, "spark");
    look = toy::add_finding(*v, "look", {{loose, 0.9}});
    v->cautions = {
        {.id = "S22", .signal_word = "WARNING", .text = "kick-back", .avoid = "use the starter"},
        {.id = "S02", .signal_word = "DANGER", .text = "fields", .avoid = "keep away", .before_first = true}};
    v->tests[peak].cautions = {1};
    v->complaints = {{.id = "no_spark", .title = "no spark", .cylinders = {{1}}, .word = 0}};
  }
  Desk desk() {
    const std::shared_ptr<const model::Vehicle> vehicle = v;
    DeskOptions options;
    options.inference.pairs = false;
    options.now = [] { return "2026-03-01T10:00:00Z"; };
    auto workshop = toy::make_workshop(0.02);
    return Desk({[vehicle](const std::string&) { return vehicle; },
                 [vehicle](const std::string&, const std::string&) { return vehicle; }},
                *store, workshop, options);
  }
  Job open(std::optional<double> limit = std::nullopt) {
    Intake intake;
    intake.complaints = {"no_spark"};
    intake.limit = limit;
    return desk().open("toy", intake);
  }
};

double chance(const std::vector<SuspectView>& suspects, Index mode) {
  for (const auto& s : suspects)
    if (s.mode == mode) return s.probability;
  return 0;
}

bool noticed(const Job& job, const std::string& kind, std::int64_t sequence = 0) {
  const auto notices = job.notices();
  return std::any_of(notices.begin(), notices.end(),
                     [&](const auto& n) { return n.kind == kind && n.sequence == sequence; });
}

}  // namespace

TEST_CASE("each result of a test is foretold with the suspects it would leave", "[job][property]") {
  Toy toy;
  auto job = toy.open();
  const auto step = job.step(toy.peak);
  double sum = 0;
  for (const auto& r : step.results) sum += r.probability;
  CHECK(sum == Approx(1).margin(0.02));  // lines under half a percent are left out
  const auto low =
      std::find_if(step.results.begin(), step.results.end(), [](const auto& r) { return r.name == "low"; });
  const auto healthy =
      std::find_if(step.results.begin(), step.results.end(), [](const auto& r) { return r.name == "healthy"; });
  REQUIRE(low != step.results.end());
  REQUIRE(healthy != step.results.end());
  CHECK(low->meaning == "source or joint");
  CHECK(low->high == healthy->low);
  CHECK(chance(low->suspects, toy.weak) + chance(low->suspects, toy.loose) > 0.8);
  CHECK(chance(healthy->suspects, toy.key) > 0.5);
  // a healthy reading really taken leaves what was foretold
  job.record(toy.peak, [] {
    model::Value v;
    v.number = 200;
    return v;
  }());
  CHECK(chance(job.suspects(), toy.key) == Approx(chance(healthy->suspects, toy.key)).margin(0.03));
  CHECK(step.hook_up == std::vector<std::string>{"red to the box, black to earth"});
  CHECK(step.ready == "ready? then crank");
}

TEST_CASE("word results carry their words and add up to one", "[job][property]") {
  Toy toy;
  auto job = toy.open();
  const auto step = job.step(toy.spark);
  double sum = 0;
  for (const auto& r : step.results) sum += r.probability;
  CHECK(sum == Approx(1).margin(0.02));
  REQUIRE_FALSE(step.results.empty());
  CHECK(step.results.front().name == "none");
  CHECK(step.results.front().probability > 0.5);
}

TEST_CASE("the caution against kick-back comes with key suspects and only with them", "[job][unit]") {
  Toy toy;
  auto job = toy.open();
  const auto has_s22 = [&] {
    const auto cautions = job.step(toy.peak).cautions;
    return std::any_of(cautions.begin(), cautions.end(), [](const auto& c) { return c.id == "S22"; });
  };
  CHECK(noticed(job, "kick_back"));
  CHECK(has_s22());
  CHECK(job.step(toy.peak).cautions.front().signal_word == "DANGER");
  job.record("peak", "20");
  CHECK_FALSE(noticed(job, "kick_back"));
  CHECK_FALSE(has_s22());
  CHECK(job.cautions_before_first().size() == 1);
}

TEST_CASE("a reading that contradicts the others is named, consistent ones are not", "[job][unit]") {
  Toy toy;
  auto job = toy.open();
  job.record("peak", "20");
  ReadingOptions reseated;
  reseated.reseated = true;
  job.record("peak", "19", reseated);
  CHECK_FALSE(noticed(job, "contradiction", 3));
  CHECK_FALSE(noticed(job, "contradiction", 4));
  const auto slip = job.record("peak", "900", reseated).sequence;
  CHECK(noticed(job, "contradiction", slip));
  CHECK_FALSE(noticed(job, "contradiction", 3));
  job.strike(slip, "peak hold not cleared");
  CHECK_FALSE(noticed(job, "contradiction", slip));
}

TEST_CASE("that nothing here is likely at fault is told once a reading says so", "[job][unit]") {
  Toy toy;
  toy.v->complaints.push_back({.id = "no_start", .title = "no start", .by_group = {{"CON", 0.1}}});
  Intake intake;
  intake.complaints = {"no_start"};
  auto job = toy.desk().open("toy", intake);
  CHECK_FALSE(noticed(job, "nothing_here"));
  job.record("peak", "200");
  CHECK(noticed(job, "nothing_here"));
  auto faulty = toy.open();
  faulty.record("peak", "20");
  CHECK_FALSE(noticed(faulty, "nothing_here"));
}

TEST_CASE("why names the readings that moved a suspect and what each suspect predicts", "[job][unit]") {
  Toy toy;
  auto job = toy.open();
  const auto first = job.record("peak", "20").sequence;
  job.record("look", "found");
  const auto why = job.why(toy.spark);
  CHECK(why.suspects.front().mode == toy.loose);
  double ratio = 0;
  for (const auto& i : why.influences) {
    CHECK(i.likelihood_ratio > 0);
    if (i.sequence != first && i.mode_id == "joint.bad") ratio = i.likelihood_ratio;
  }
  CHECK(ratio > 1);  // the look spoke for the joint
  CHECK(why.predictions.size() == why.suspects.size() + 1);
  CHECK(why.test == toy.spark);
  CHECK_FALSE(why.results.empty());
}

TEST_CASE("a look is offered once until what it looks at is mended", "[job][unit]") {
  Toy toy;
  auto job = toy.open();
  const auto kept_back = [&] {
    const auto out = job.bench_state().not_available;
    return std::find(out.begin(), out.end(), toy.look) != out.end();
  };
  CHECK_FALSE(kept_back());
  job.record("look", "nothing");
  CHECK(kept_back());
  job.repaired("coil.replace");
  CHECK(kept_back());
  job.repaired("joint.replace");
  CHECK_FALSE(kept_back());
}

TEST_CASE("a repair done over says what to do otherwise, the first time it says nothing", "[job][unit]") {
  Toy toy;
  const Index coil = toy.v->modes[toy.weak].repair, joint = toy.v->modes[toy.loose].repair;
  auto job = toy.open();
  const auto again = [&](Index repair) { return job.repair_step(repair).done_before; };
  CHECK(again(coil).empty());
  job.repaired("coil.replace");
  job.check("failed");
  CHECK(again(coil).find("fit another") != std::string::npos);
  CHECK(again(joint).empty());
  job.repaired("joint.replace");
  CHECK(again(joint).find("cleaning does not mend") != std::string::npos);
  job.undo();
  CHECK(again(joint).empty());
  toy.v->components[toy.v->modes[toy.loose].component].kind = model::ComponentKind::connector;
  auto other = toy.open();
  other.repaired("joint.replace");
  CHECK(other.repair_step(joint).done_before.find("crimp new ones") != std::string::npos);
}

TEST_CASE("a reading is asked for once more only while nothing was moved since it", "[job][unit]") {
  Toy toy;
  auto job = toy.open();
  const auto once_more = [&] { return job.step(toy.peak).repeats; };
  CHECK_FALSE(once_more());
  const auto first = job.record("peak", "20").sequence;
  CHECK(once_more());
  CHECK_FALSE(job.step(toy.look).repeats);
  job.amend(first, "25");
  CHECK(once_more());
  job.repaired("joint.replace");
  CHECK_FALSE(once_more());
  job.undo();
  CHECK(once_more());
  job.record("look", "nothing");
  CHECK_FALSE(once_more());
  job.undo();
  CHECK(once_more());
  job.strike(first, "wrong lead");
  CHECK_FALSE(once_more());
}

TEST_CASE("the simulated run takes a reading asked for once more with the leads seated anew", "[job][regress]") {
  Toy toy;
  simulation::Bench bench(toy.v, toy::make_workshop(0.02), 3, {.mistakes = false});
  bench.put(bench.draw_with({toy.weak}));
  auto job = toy.open();
  const auto peak_first = [&](const planning::Plan& plan) {
    const auto at = std::find_if(plan.steps.begin(), plan.steps.end(), [&](const planning::Advice& a) {
      return a.kind == planning::StepKind::test && a.test == toy.peak;
    });
    return at == plan.steps.end() ? std::size_t{0} : static_cast<std::size_t>(at - plan.steps.begin());
  };
  (void)run_simulated(job, bench, {.choose = peak_first});
  const auto& readings = job.state().readings;
  REQUIRE(readings.size() >= 2);
  REQUIRE(readings[0].reading.test == toy.peak);
  REQUIRE(readings[1].reading.test == toy.peak);
  CHECK(readings[0].reading.hookup != readings[1].reading.hookup);
}

TEST_CASE("the check asks for the worst reading again, and the sheet proves the repair with it", "[job][unit]") {
  Toy toy;
  auto job = toy.open(50);
  job.record("look", "nothing");
  const auto bad = job.record("peak", "20").sequence;
  CHECK(job.repair_step(toy.v->modes[toy.weak].repair).over_limit);
  CHECK_FALSE(job.repair_step(toy.v->modes[toy.loose].repair).over_limit);
  job.repaired("coil.replace");
  const auto check = job.check_view();
  CHECK(check.repeat_sequence == bad);
  CHECK(check.repeat_test == "peak");
  CHECK(check.stops.empty());
  job.check("passed");
  job.record("peak", "205");
  job.note("gasket was torn");
  job.close(Outcome::fixed);
  const auto sheet = make_sheet(job);
  CHECK(sheet.proof_before == "20 V");
  CHECK(sheet.proof_after == "205 V");
  CHECK(sheet.cause == "coil: bad");
  CHECK(sheet.correction == "replace coil");
  CHECK(sheet.parts_money == 100);
  CHECK(sheet.values.size() == 4);
  CHECK(noticed(job, "limit"));
  const auto text = render(sheet);
  // in the order a reader needs them
  const std::vector<std::string> order{"Intake",          "complaint: no spark",      "Complaint, cause",
                                       "replace coil",    "20 V before, 205 V after", "Values",
                                       "peak voltmeter",  "Time and parts",           "fitted",
                                       "gasket was torn", "DANGER: fields",           "take precedence"};
  std::size_t at = 0;
  std::string flat = text;
  std::replace(flat.begin(), flat.end(), '\n', ' ');
  for (const auto& part : order) {
    INFO(part << "\n" << text);
    const auto next = flat.find(part, at);
    REQUIRE(next != std::string::npos);
    at = next;
  }
}

TEST_CASE("of two readings off the scale the one that should be furthest on it is the proof", "[job][unit]") {
  Toy toy;
  toy::add_number(*toy.v, "demand", 2, 0.05);
  using model::ChangeTarget;
  using model::Operation;
  toy.v->modes[toy.weak].changes = {{ChangeTarget::parameter, 0, Operation::scale, 1e-4, 1e-5},
                                    {ChangeTarget::parameter, 2, Operation::scale, 1e-4, 1e-5}};
  auto job = toy.open();
  const auto source = job.record("peak", "below").sequence;  // 200 volt when healthy
  job.record("demand", "below");                             // 80 volt
  job.repaired("coil.replace");
  CHECK(job.check_view().repeat_sequence == source);
}

TEST_CASE("no line of a sheet is longer than 80 columns", "[job][property]") {
  Sheet sheet;
  sheet.workshop = "Quillmarsh Workshop";
  sheet.job = "J0001";
  sheet.complaint = std::string(300, 'x');
  sheet.cause = "a b " + std::string(90, 'y') + " c";
  sheet.parts.push_back({std::string(200, 'z'), "fitted", 12.5, 10});
  sheet.values.push_back({1234, "t", std::string(100, 't') + " and more", "168 V", "meter", "cranking", "", true});
  sheet.deference = deference_text();
  const auto text = render(sheet);
  std::size_t at = 0;
  while (at < text.size()) {
    const auto end = text.find('\n', at);
    REQUIRE(end != std::string::npos);
    INFO(text.substr(at, end - at));
    CHECK(end - at <= 80);
    at = end + 1;
  }
  CHECK(std::count(text.begin(), text.end(), 'z') == 200);
}

TEST_CASE("the simulated vehicle is diagnosed, mended, proved and its log replays to the same numbers",
          "[job][property]") {
  Toy toy;
  int cured = 0, runs = 0;
  for (std::uint64_t seed = 1; seed <= 12; ++seed) {
    INFO("seed " << seed);
    simulation::Bench bench(toy.v, toy::make_workshop(0.02), seed, {.mistakes = seed % 2 == 0});
    const Index hidden = seed % 3 == 0 ? toy.weak : seed % 3 == 1 ? toy.loose : toy.key;
    bench.put(bench.draw_with({hidden}));
    auto job = toy.open();
    std::vector<std::string> told;
    const auto result =
        run_simulated(job, bench, {.after = [&](const AutoStep& s) { told.push_back(s.title + ": " + s.answer); }});
    CHECK(result.steps <= 40);
    CHECK(told.size() == static_cast<std::size_t>(result.steps));
    ++runs;
    cured += result.end == AutoResult::End::fixed && result.cured;
    if (result.end == AutoResult::End::fixed) {
      CHECK(job.state().state == history::JobState::closed);
      CHECK(job.state().checks.back().passed);
    }
    const auto again = toy.desk().load(job.id());
    CHECK(again.posterior().component_probability() == job.posterior().component_probability());
    CHECK(again.posterior().log_evidence() == job.posterior().log_evidence());
  }
  CHECK(cured >= runs - 2);
}

TEST_CASE("no part is fitted while it is likelier that nothing here is at fault", "[job][property]") {
  Toy toy;
  toy.v->complaints.push_back({.id = "no_start", .title = "no start", .by_group = {{"CON", 0.1}}});
  for (std::uint64_t seed = 1; seed <= 5; ++seed) {
    INFO("seed " << seed);
    simulation::Bench bench(toy.v, toy::make_workshop(0.02), seed, {.mistakes = false});
    bench.put(bench.draw_with({}));
    Intake intake;
    intake.complaints = {"no_start"};
    auto job = toy.desk().open("toy", intake);
    const auto result = run_simulated(job, bench);
    CHECK(job.posterior().nothing_wrong() > 0.5);
    CHECK(result.first_part_repair == model::k_none);
    CHECK(result.end == AutoResult::End::not_ignition);
    CHECK(job.state().outcome == "not_ignition");
  }
}
