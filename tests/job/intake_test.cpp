#include "job/intake.hpp"

#include <set>

#include "base/error.hpp"
#include "catch_all.hpp"
#include "fixtures.hpp"
#include "job/bodies.hpp"

using namespace lostspark;
using namespace lostspark::job;
using namespace lostspark::job::test;

namespace {

double factor_of(const model::Vehicle& v, const Intake& intake, const std::string& mode) {
  for (const auto& event : intake_evidence(v, intake))
    if (const auto* w = std::get_if<model::Weighted>(&event))
      if (w->mode == *v.find_mode(mode)) return w->factor;
  return 1;
}

const Question& question(const std::vector<Question>& all, const std::string& id) {
  for (const auto& q : all)
    if (q.id == id) return q;
  throw InternalError("no question " + id);
}

}  // namespace

TEST_CASE("every intake answer is one key of a numeric keypad and may be skipped", "[job][unit]") {
  const auto v = small_vehicle();
  const auto questions = intake_questions(*v);
  std::vector<std::string> ids;
  Intake nothing;
  for (const auto& q : questions) {
    ids.push_back(q.id);
    std::set<std::string> keys;
    for (const auto& c : q.choices) {
      CHECK(c.key.size() == 1);
      CHECK(std::string("123456789").find(c.key) != std::string::npos);
      CHECK(keys.insert(c.key).second);
    }
    answer(nothing, q, "");
    answer(nothing, q, "  ");
  }
  CHECK(nothing == Intake{});
  CHECK(intake_evidence(*v, nothing).empty());
  CHECK(ids == std::vector<std::string>{"complaint", "extent", "shows", "recent_work", "replaced", "covers_off",
                                        "add_ons", "spark", "limit"});
  CHECK(question(questions, "replaced").choices.size() == 2);  // parts a repair replaces: coil and module
}

TEST_CASE("keys fill the intake, wrong ones are refused with those that would do", "[job][unit]") {
  const auto v = small_vehicle();
  const auto questions = intake_questions(*v);
  Intake i;
  answer(i, question(questions, "complaint"), "21");
  answer(i, question(questions, "complaint"), "1");
  CHECK(i.complaints == std::vector<std::string>{"dies_hot", "no_spark"});
  answer(i, question(questions, "spark"), "3");
  CHECK(i.spark == "good");
  answer(i, question(questions, "limit"), "150,50");
  CHECK(*i.limit == Approx(150.5));
  CHECK_THROWS_WITH(answer(i, question(questions, "spark"), "9"), Catch::Contains("keys 1 to 4"));
  CHECK_THROWS_WITH(answer(i, question(questions, "spark"), "12"), Catch::Contains("one key"));
  CHECK_THROWS_WITH(answer(i, question(questions, "limit"), "-5"), Catch::Contains("no amount"));
  CHECK_THROWS_WITH(answer(i, question(questions, "limit"), "5 6"), Catch::Contains("no amount"));
  CHECK_NOTHROW(check_intake(*v, i));
  CHECK(intake_from(Json::parse(intake_json(i))) == i);
  CHECK(intake_lines(*v, i).front() == "complaint: dies when hot, no spark");
}

TEST_CASE("long lists are asked nine at a time", "[job][unit]") {
  auto v = *small_vehicle();
  for (int i = 0; i < 20; ++i) {
    auto c = v.complaints.front();
    c.id = "word_" + std::to_string(i);
    v.complaints.push_back(c);
  }
  const auto questions = intake_questions(v);
  CHECK(questions[0].choices.size() == 9);
  CHECK(questions[1].id == "complaint.2");
  CHECK(questions[2].choices.size() == 4);
  Intake i;
  answer(i, questions[1], "1");
  answer(i, questions[2], "4");
  CHECK(i.complaints == std::vector<std::string>{"word_7", "word_19"});
}

TEST_CASE("recent work raises contacts and wrong parts near it, nothing else", "[job][unit]") {
  const auto v = small_vehicle();
  Intake i;
  i.recent_work = {"module_wiring"};
  CHECK(factor_of(*v, i, "exciter_connector.corroded") == 4);
  CHECK(factor_of(*v, i, "kill_connector.corroded") == 4);
  CHECK(factor_of(*v, i, "control_module.wrong_part") == 4);
  CHECK(factor_of(*v, i, "control_module.no_output") == 1);
  CHECK(factor_of(*v, i, "exciter_coil.open") == 1);
  CHECK(factor_of(*v, i, "kill_switch.stuck") == 1);
}

TEST_CASE("a part fitted new has not aged, may be wrong, and its contacts were moved", "[job][unit]") {
  const auto v = small_vehicle();
  Intake i;
  i.replaced = {"control_module"};
  CHECK(factor_of(*v, i, "control_module.no_output") == Approx(0.3));
  CHECK(factor_of(*v, i, "control_module.wrong_part") == 4);
  CHECK(factor_of(*v, i, "exciter_connector.corroded") == 3);
  CHECK(factor_of(*v, i, "kill_connector.corroded") == 3);
  CHECK(factor_of(*v, i, "exciter_coil.open") == 1);
  i.recent_work = {"module_wiring"};
  CHECK(factor_of(*v, i, "exciter_connector.corroded") == 12);
}

TEST_CASE("what shows only when hot speaks for what fails only when hot", "[job][unit]") {
  const auto v = small_vehicle();
  Intake i;
  i.shows = {"hot"};
  CHECK(factor_of(*v, i, "exciter_coil.opens_hot") > 3 * factor_of(*v, i, "exciter_coil.open"));
  CHECK(complaint_provocation(*v, i) == model::Provocation::hot);
  // said once by the complaint word: not counted twice
  i.complaints = {"dies_hot"};
  CHECK(factor_of(*v, i, "exciter_coil.opens_hot") == 1);
  i = {};
  i.extent = "comes_and_goes";
  CHECK(factor_of(*v, i, "exciter_coil.opens_hot") > 3 * factor_of(*v, i, "exciter_coil.open"));
  i.extent = "always";
  CHECK(3 * factor_of(*v, i, "exciter_coil.opens_hot") < 1.0);
  CHECK(factor_of(*v, i, "exciter_coil.open") == 1);
  i = {};
  i.shows = {"cold"};
  CHECK(complaint_provocation(*v, i) == model::Provocation::none);
}

TEST_CASE("the spark on arrival is a reading of its own beside the complaint", "[job][unit]") {
  const auto v = small_vehicle();
  Intake i;
  i.spark = "weak";
  auto evidence = intake_evidence(*v, i);
  REQUIRE(evidence.size() == 1);
  const auto& reading = std::get<model::Reading>(evidence.front());
  CHECK(reading.test == *v->find_test(k_spark));
  CHECK(reading.value.word == 1);
  i.complaints = {"no_spark"};
  evidence = intake_evidence(*v, i);
  REQUIRE(evidence.size() == 2);
  CHECK(std::holds_alternative<model::Complained>(evidence.front()));
  CHECK(std::get<model::Reading>(evidence.back()).value.word == 1);
  i.spark = "not_checked";
  i.complaints.clear();
  CHECK(intake_evidence(*v, i).empty());
}

TEST_CASE("contacts next to a part are found through wires, never through earth or another part", "[job][unit]") {
  const auto v = small_vehicle();
  CHECK(neighbouring_contacts(*v, *v->find_component("control_module")) == std::vector<model::Index>{1, 3});
  CHECK(neighbouring_contacts(*v, *v->find_component("kill_switch")) == std::vector<model::Index>{3});
  CHECK(neighbouring_contacts(*v, *v->find_component("exciter_coil")) == std::vector<model::Index>{1});
  CHECK(neighbouring_contacts(*v, *v->find_component("fuel")).empty());
}
