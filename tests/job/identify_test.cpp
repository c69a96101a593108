// The family of an unknown vehicle: typical vehicles, contradictions, nothing told; and the page that holds the
// numbers.
#include "job/identify.hpp"

#include <algorithm>
#include <fstream>
#include <set>
#include <sstream>

#include "base/error.hpp"
#include "catch_all.hpp"

using namespace lostspark;
using namespace lostspark::job;

namespace {

Seen seen_of(const std::vector<std::string>& told) {
  Seen seen;
  for (const auto& t : told) see(seen, t);
  return seen;
}

double probability(const Identification& found, const std::string& family) {
  for (const auto& f : found.families)
    if (f.id == family) return f.probability;
  return -1;
}

std::string page(const char* name) {
  std::ifstream in(std::string(LOSTSPARK_SOURCE_DIR) + "/docs/" + name);
  std::ostringstream text;
  text << in.rdbuf();
  return std::move(text).str();
}

std::vector<std::string> cells(const std::string& row) {
  std::vector<std::string> all;
  std::istringstream line(row);
  for (std::string cell; std::getline(line, cell, '|');) {
    const auto first = cell.find_first_not_of(' ');
    all.push_back(first == std::string::npos ? "" : cell.substr(first, cell.find_last_not_of(' ') - first + 1));
  }
  if (!all.empty()) all.erase(all.begin());  // before the first bar
  return all;
}

/// The message of the mistake, empty where there was none.
template <class Action>
std::string mistake_of(const Action& action) {
  try {
    action();
  } catch (const InputError& error) {
    return error.what();
  }
  return {};
}

}  // namespace

TEST_CASE("a typical vehicle of each family is told with more than 0.8", "[job][unit]") {
  // What somebody would see on such a machine, from the pages of the families; not read off the table of likelihoods.
  const std::vector<std::pair<std::string, std::vector<std::string>>> typical{
      {"ac_cdi",
       {"machine=trail_bike", "battery=none", "cylinders=one", "breaker=none", "outputs=one_lead",
        "module_wires=to_seven", "coil_wires=one", "stop=earths", "coil_feed=none", "primary_ohm=0.3",
        "first_peak=negative"}},
      {"dc_cdi",
       {"machine=scooter", "battery=fitted", "cylinders=one", "outputs=one_lead", "module_wires=to_seven",
        "stop=interrupts", "coil_feed=none", "first_peak=negative"}},
      {"outboard_cdi", {"machine=outboard", "cylinders=three", "outputs=one_lead", "stop=earths", "coil_feed=none"}},
      {"flywheel_magneto",
       {"machine=mower", "battery=none", "cylinders=one", "module_wires=no_module", "coil_wires=one", "stop=earths"}},
      {"flywheel_magneto", {"machine=mower", "battery=none", "breaker=seen", "stop=earths"}},
      {"transistor_inductive",
       {"machine=road_bike", "battery=fitted", "cylinders=one", "breaker=none", "outputs=one_lead",
        "module_wires=to_seven", "coil_wires=two", "stop=interrupts", "coil_feed=battery_volts", "primary_ohm=2.2"}},
      {"coil_on_plug",
       {"machine=sport_bike", "cylinders=four", "outputs=on_plug", "module_wires=more", "coil_feed=battery_volts"}},
      {"breaker_points",
       {"machine=road_bike", "battery=fitted", "cylinders=two", "breaker=seen", "outputs=one_lead",
        "module_wires=no_module", "coil_feed=battery_volts", "primary_ohm=3.4"}},
      {"breaker_points", {"machine=car", "cylinders=four", "breaker=seen", "outputs=distributor"}},
      {"wasted_spark",
       {"machine=road_bike", "battery=fitted", "cylinders=two", "breaker=none", "outputs=two_leads", "coil_wires=two",
        "stop=interrupts"}}};
  for (const auto& [family, told] : typical) {
    const auto found = identify(seen_of(told), {});
    CAPTURE(family, told.size(), found.families[0].id, found.families[0].probability);
    CHECK(found.families.front().id == family);
    CHECK(probability(found, family) > 0.8);
  }
}

TEST_CASE("contradictory answers leave the family open and the warnings standing", "[job][unit]") {
  // Points and a control unit, no battery and a coil on each plug: somebody looked wrong, nobody knows where.
  const auto found =
      identify(seen_of({"battery=none", "breaker=seen", "outputs=on_plug", "module_wires=more", "stop=earths"}), {});
  CAPTURE(found.families[0].id, found.families[0].probability);
  CHECK(found.families.front().probability < 0.8);
  CHECK_FALSE(found.certain());
  CHECK_FALSE(found.warnings.empty());
  CHECK_FALSE(found.signs.empty());
}

TEST_CASE("nothing told gives the prior, and each answer moves it the right way", "[job][unit]") {
  const auto nothing = identify({}, {"ac_cdi"});
  double sum = 0;
  for (std::size_t f = 0; f < known_families().size(); ++f) {
    const auto& id = known_families()[f].id;
    CHECK(probability(nothing, id) == Approx(family_signs().prior[f] / 100));  // the priors sum to 100
    sum += probability(nothing, id);
  }
  CHECK(sum == Approx(1.0));
  for (const auto& f : nothing.families) CHECK(f.installed == (f.id == "ac_cdi"));
  CHECK(nothing.signs.size() == sign_questions().size());
  // Seen before measured.
  std::vector<bool> measured;
  for (const auto& s : nothing.signs)
    for (const auto& q : sign_questions())
      if (q.id == s.sign) measured.push_back(q.measured);
  CHECK(std::is_sorted(measured.begin(), measured.end()));

  const auto volts = identify(seen_of({"coil_feed=battery_volts"}), {});
  CHECK(probability(volts, "ac_cdi") < 0.2 * probability(nothing, "ac_cdi"));
  CHECK(probability(volts, "breaker_points") > probability(nothing, "breaker_points"));
  const auto negative = identify(seen_of({"first_peak=negative"}), {});
  CHECK(probability(negative, "dc_cdi") > 2 * probability(nothing, "dc_cdi"));
  CHECK(probability(negative, "transistor_inductive") < 0.3 * probability(nothing, "transistor_inductive"));
}

TEST_CASE("a warning stands while the families that it protects are possible, and ends when one is certain",
          "[job][unit]") {
  const auto stands = [](const Identification& found, const std::string& id) {
    return std::any_of(found.warnings.begin(), found.warnings.end(), [&](const auto* w) { return w->id == id; });
  };
  CHECK(identify({}, {}).warnings.size() == family_hazards().size());
  // Between flywheel ignitions nothing asks for battery volts; a coil fed by the battery is out of the question.
  const auto flywheel = identify(seen_of({"battery=none", "stop=earths", "machine=other"}), {});
  REQUIRE_FALSE(flywheel.certain());
  CHECK_FALSE(stands(flywheel, "key_left_on"));
  CHECK(stands(flywheel, "battery_on_coil"));
  // Open between a magneto and battery systems: volts on the coil would harm the one.
  const auto open = identify(seen_of({"machine=other", "cylinders=one"}), {});
  REQUIRE_FALSE(open.certain());
  CHECK(stands(open, "battery_on_coil"));
  CHECK(stands(open, "cdi_coil"));
  const auto certain =
      identify(seen_of({"machine=sport_bike", "cylinders=four", "outputs=on_plug", "module_wires=more"}), {});
  REQUIRE(certain.certain());
  CHECK(certain.warnings.empty());
}

TEST_CASE("ohms of a primary fall into their answer, ends to the lower one", "[job][unit]") {
  for (const auto& [ohms, word] : {std::pair{"0", "to_half"},
                                   {"0.5", "to_half"},
                                   {"0.51", "to_one_and_half"},
                                   {"3.4", "to_six"},
                                   {"6.1", "more"},
                                   {"1e6", "more"}})
    CHECK(answer_of(seen_of({std::string("primary_ohm=") + ohms}), "primary_ohm") == word);
  for (const char* wrong : {"primary_ohm=-1", "primary_ohm=nan", "primary_ohm=", "primary_ohm=2x", "battery=2",
                            "battery", "batery=none", "=none"})
    CHECK_FALSE(mistake_of([&] { (void)seen_of({wrong}); }).empty());
  CHECK(mistake_of([&] { (void)seen_of({"batery=none"}); }).find("did you mean 'battery'") != std::string::npos);
}

TEST_CASE("answers propose the options that they settle", "[job][unit]") {
  const auto seen = seen_of({"cylinders=four", "breaker=seen", "outputs=distributor"});
  CHECK(told_option(seen, "cylinders") == "4");
  CHECK(told_option(seen, "distributor") == "true");
  CHECK(told_option(seen, "switching") == "points");
  CHECK(told_option(seen, "pairs") == "2");
  CHECK_FALSE(told_option(seen, "alarm"));
  CHECK_FALSE(told_option({}, "cylinders"));
  CHECK_FALSE(told_option(seen_of({"cylinders=more"}), "cylinders"));
}

TEST_CASE("docs/unknown-vehicles.md holds the numbers of the program", "[job][unit]") {
  std::set<std::vector<std::string>> rows;
  std::istringstream lines(page("unknown-vehicles.md"));
  for (std::string line; std::getline(lines, line);)
    if (line.starts_with("|")) rows.insert(cells(line));
  const auto& table = family_signs();
  const auto row_of = [&](const std::string& sign, const std::string& answer, const std::vector<double>& numbers,
                          const std::string& source) {
    std::vector<std::string> row{sign, answer};
    for (const double x : numbers) row.push_back(std::to_string(static_cast<int>(x)));
    row.push_back(source);
    return row;
  };
  std::vector<std::string> head{"sign", "answer"};
  head.insert(head.end(), table.classes.begin(), table.classes.end());
  head.push_back("source");
  CHECK(rows.contains(head));
  CHECK(rows.contains(row_of("prior", "", table.prior, "judgement")));
  REQUIRE(table.signs.size() == sign_questions().size());
  for (std::size_t s = 0; s < table.signs.size(); ++s) {
    const auto& sign = table.signs[s];
    CAPTURE(sign.id);
    CHECK(sign_questions()[s].id == sign.id);
    CHECK(sign_questions()[s].words.size() == sign.answers.size());
    CHECK(sign.answers.size() <= 9);  // one key of a numeric keypad
    REQUIRE(sign.weight.size() == sign.answers.size());
    std::vector<double> sums(table.classes.size(), 0);
    for (std::size_t a = 0; a < sign.answers.size(); ++a) {
      CAPTURE(sign.answers[a]);
      CHECK(rows.contains(row_of(sign.id, sign.answers[a], sign.weight[a], sign_questions()[s].source)));
      for (std::size_t c = 0; c < sums.size(); ++c) sums[c] += sign.weight[a][c];
    }
    for (const double sum : sums) CHECK(sum == 100);
  }
}

TEST_CASE("hazards name families and safety notes that exist, and stand in the page", "[job][unit]") {
  const auto safety = page("safety.md"), unknown = page("unknown-vehicles.md");
  std::set<std::string> families, hazards;
  for (const auto& f : known_families()) families.insert(f.id);
  for (const auto& h : family_hazards()) {
    CAPTURE(h.id);
    hazards.insert(h.id);
    CHECK_FALSE(h.harms.empty());
    for (const auto& id : h.harms) CHECK(families.contains(id));
    std::string harms;
    for (const auto& id : h.harms) harms += (harms.empty() ? "" : ", ") + id;
    if (h.harms.size() == families.size()) harms = "all";
    CHECK(unknown.find("| " + harms + " | " + (h.note.empty() ? "-" : h.note) + " |") != std::string::npos);
    if (h.note.empty()) continue;
    const auto& note = safety_note(h.note);
    CHECK(safety.find("| " + note.id + " | " + note.signal_word + " |") != std::string::npos);
  }
  for (const auto& q : sign_questions()) {
    CAPTURE(q.id);
    for (const auto& id : q.notes)
      CHECK(safety.find("| " + id + " | " + safety_note(id).signal_word + " |") != std::string::npos);
    for (const auto& id : q.hazards) CHECK(hazards.contains(id));
    if (q.measured) CHECK_FALSE(q.notes.empty());
  }
}
