#include "catch_all.hpp"
#include "cli/golden.hpp"
#include "faces/cli/cards.hpp"
#include "faces/cli/json_views.hpp"

#include <sstream>

using namespace lostspark;
using namespace lostspark::faces;
using test::golden_difference;

namespace {

job::SuspectView suspect(const char* mode, const char* title, double probability) {
  job::SuspectView s;
  s.mode_id = mode;
  s.component_id = std::string(mode).substr(0, std::string(mode).find('.'));
  s.title = title;
  s.probability = probability;
  return s;
}

job::StepView peak_step() {
  job::StepView s;
  s.id = "exciter_peak@control_module.source";
  s.title = "exciter coil peak, at the control module";
  s.unit = "volt";
  s.instrument = "peak-reading voltmeter";
  s.where = {"2-pole white connector behind the left side panel", "module side, wire black/red"};
  s.take_off = {"left side panel (1 min)"};
  s.hook_up = {"Peak voltmeter, plus to the source wire, minus to bare engine metal; leave the connector plugged in."};
  s.state = {"kick start: switch on run, gear in neutral, three firm kicks"};
  s.ready = "ready? then crank";
  s.ask = "a value in V: 168, 150..200, below, over";
  s.access_min = 4.2;
  s.cautions = {{"S01", "WARNING", "ignition voltages can give a shock", "hands off while cranking"},
                {"S11", "NOTICE", "pulses above the rating destroy the meter", "peak adapter and rated probes"}};
  job::ResultClass none{"none", "below 5 V", 0, 5, 0.2, "nothing arrives from the source", {}};
  none.suspects = {suspect("kill_wire.chafed_to_earth", "kill wire: chafed to earth", 0.6),
                   suspect("exciter_coil.open", "exciter coil: open", 0.2)};
  job::ResultClass healthy{"healthy", "120..290 V", 120, 290, 0.7, "the source is good as far as here", {}};
  s.results = {none, healthy};
  return s;
}

}  // namespace

TEST_CASE("the screen of a test tells place, way, hook-up, meaning, minutes and cautions", "[cli][golden]") {
  std::set<std::string> shown;
  const std::string page = heading(3, peak_step().title) + step_card({}, peak_step(), shown) + ready_lines(peak_step());
  CHECK(golden_difference("card_test.txt", page) == "");
  CHECK(shown == std::set<std::string>{"S01", "S11"});
}

TEST_CASE("a caution shown before keeps its signal word and what to do", "[cli][unit]") {
  std::set<std::string> shown;
  const auto cautions = peak_step().cautions;
  CHECK(caution_lines(cautions, shown).find("can give a shock") != std::string::npos);
  const std::string again = caution_lines(cautions, shown);
  CHECK(again.find("can give a shock") == std::string::npos);
  CHECK(again.find("WARNING") != std::string::npos);
  CHECK(again.find("Hands off while cranking.") != std::string::npos);
}

TEST_CASE("the screen of a repair tells reason, cost and chance", "[cli][golden]") {
  job::RepairView r;
  r.id = "kill_wire.repair";
  r.title = "insulate and re-route the kill wire";
  r.kind = "adjust";
  r.where = {"steering head"};
  r.take_off = {"number plate mask (3 min)"};
  r.why = {"exciter coil peak below 5 V with the kill lead on, 216 V with it off"};
  r.labour_min = 20;
  r.price = 4;
  r.success = 0.95;
  r.cures = 0.83;
  r.over_limit = true;
  std::set<std::string> shown;
  CHECK(golden_difference("card_repair.txt", heading(7, r.title) + repair_card(r, shown)) == "");
}

TEST_CASE("bits and likelihood ratios stand in why and nowhere else in the text", "[cli][golden]") {
  model::Vehicle v;
  model::Test t;
  t.title = "exciter coil peak, at the control module";
  v.tests.push_back(t);
  job::WhyView why;
  why.suspects = {suspect("kill_wire.chafed_to_earth", "kill wire: chafed to earth", 0.83),
                  suspect("exciter_coil.open", "exciter coil: open", 0.09)};
  why.influences = {{3, "exciter coil peak: below", "kill_wire.chafed_to_earth", "kill wire: chafed to earth", 5.2},
                    {3, "exciter coil peak: below", "spark_plug.fouled", "spark plug: fouled", 0.031},
                    {4, "spark: none", "fuel.empty", "fuel: none", 0}};
  why.test = 0;
  why.predictions = {{"kill_wire.chafed_to_earth", "kill wire: chafed to earth", 0.83, "180..250 V"},
                     {"exciter_coil.open", "exciter coil: open", 0.09, "below"}};
  why.results = peak_step().results;
  why.gain_bits = 0.52;
  why.access_min = 4.2;
  why.gain_bits_per_min = 0.124;
  why.expected_cost_min = 41;
  why.no_test_cost_min = 58;
  why.nothing_wrong = 0.002;
  why.unexplored_mass = 0.0004;
  const std::string page = why_page(v, why);
  CHECK(golden_difference("why.txt", page) == "");
  CHECK(page.find("0.52 bit") != std::string::npos);

  planning::Plan plan;
  planning::Advice advice;
  advice.test = 0;
  advice.gain_bits = 0.5271;
  advice.gain_bits_per_min = 0.1248;
  advice.access_min = 4.2;
  plan.steps = {advice};
  std::set<std::string> shown;
  for (const std::string& text : {plan_page(v, plan), step_card(v, peak_step(), shown), suspect_line(why.suspects)}) {
    CHECK(text.find("bit") == std::string::npos);
    CHECK(text.find("likelihood") == std::string::npos);
    CHECK(text.find("0.52") == std::string::npos);
  }
}

TEST_CASE("no line of a screen is wider than a page", "[cli][property]") {
  job::StepView step = peak_step();
  step.title = std::string(20, 'x') + " " + step.title + " " + step.title + " " + step.title;
  step.results[0].meaning += " and so on and on until the line would be far too long for any page we print on";
  std::set<std::string> shown;
  std::istringstream page(heading(12, step.title) + step_card({}, step, shown));
  for (std::string line; std::getline(page, line);) CHECK(line.size() <= 88);
}

TEST_CASE("an infinite bound is null in JSON and numbers keep six digits", "[cli][unit]") {
  job::StepView step = peak_step();
  step.results[1].high = std::numeric_limits<double>::infinity();
  step.results[1].low = 120.123456789;
  const Json document = step_json(step);
  CHECK(document["results"][1]["high"].is_null());
  CHECK(document["results"][1]["low"].dump() == "120.123");
  CHECK(document["access_min"] == 4.2);
}
