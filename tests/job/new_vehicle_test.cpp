// Drafts of network files: every installed family on every form of machine.
#include "job/new_vehicle.hpp"

#include <algorithm>
#include <map>

#include "base/error.hpp"
#include "catch_all.hpp"
#include "sources/family_instance.hpp"

using namespace lostspark;
using namespace lostspark::job;

namespace {

sources::Draft draft(const sources::Folders& folders, const std::string& family, const std::string& machine,
                     sources::Settings options = {}) {
  Seen seen;
  see(seen, "machine", machine);
  NewVehicle vehicle;
  vehicle.id = "first_draft";
  vehicle.title = "A \"first\" \\ draft";  // must come back as it is
  vehicle.family = family;
  vehicle.options = std::move(options);
  return draft_of(folders, seen, vehicle);
}

std::shared_ptr<const model::Vehicle> loaded(const sources::Folders& folders, const sources::Draft& d) {
  return sources::load_vehicle_text(folders, sources::draft_network(folders, d), "draft.toml");
}

/// Every setting of options that changes what is fitted: each option at each of its values, the others at default.
std::vector<sources::Settings> variants(const std::vector<sources::FamilyOption>& options) {
  std::vector<sources::Settings> all{{}};
  for (const auto& option : options) {
    std::vector<std::string> values;
    if (option.kind == "bool") values = {"true", "false"};
    if (option.kind == "choice") {
      std::string value;
      for (const char c : option.choices + "|")
        if (c == '|') {
          values.push_back(value);
          value.clear();
        } else if (c != ' ') {
          value += c;
        }
    }
    if (option.id == "cylinders") values = {option.choices.substr(0, option.choices.find('.')), "3"};
    for (const auto& value : values)
      if (sources::option_mistake(option, value).empty() && value != option.default_value)
        all.push_back({{option.id, value}});
  }
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

TEST_CASE("the draft of every installed family on every form of machine is read without a mistake", "[job][unit]") {
  const auto folders = sources::default_folders();
  std::vector<std::string> problems;
  const auto families = sources::list_families(folders, problems);
  REQUIRE_FALSE(families.empty());
  for (const auto& family : families)
    for (const auto& form : vehicle_forms()) {
      CAPTURE(family.id, form.id);
      const auto v = loaded(folders, draft(folders, family.id, form.id));
      CHECK(v->id == "first_draft");
      CHECK(v->title == "A \"first\" \\ draft");
      CHECK(v->family == family.id);
      CHECK(v->tests.size() > 20);
      CHECK_FALSE(v->complaints.empty());
      for (const auto& c : v->covers)
        CHECK(std::any_of(form.covers.begin(), form.covers.end(), [&](const auto& f) { return f.id == c.id; }));
    }
}

TEST_CASE("the draft is read without a mistake whatever is fitted", "[job][unit]") {
  const auto folders = sources::default_folders();
  std::vector<std::string> problems;
  for (const auto& family : sources::list_families(folders, problems))
    for (const auto& options : variants(sources::family_options(folders, family.id))) {
      CAPTURE(family.id, options.size(), options.empty() ? "" : options[0].first,
              options.empty() ? "" : options[0].second);
      CHECK_NOTHROW(loaded(folders, draft(folders, family.id, "road_bike", options)));
    }
}

TEST_CASE("a draft spreads every value wider than its family and says where it comes from", "[job][unit]") {
  const auto folders = sources::default_folders();
  const auto d = draft(folders, "ac_cdi", "trail_bike");
  const auto v = loaded(folders, d);
  // What the family says: the same network without its parameters.
  auto text = sources::draft_network(folders, d);
  const auto first = text.find("[[parameter]]"), last = text.find("[[cover]]");
  REQUIRE(first != std::string::npos);
  text.erase(first, last - first);
  const auto narrow = sources::load_vehicle_text(folders, text, "narrow.toml");
  REQUIRE(narrow->parameters.size() == v->parameters.size());
  std::size_t wider = 0;
  for (std::size_t i = 0; i < v->parameters.size(); ++i) {
    const auto& wide = v->parameters[i];
    const auto& own = narrow->parameters[i];
    CAPTURE(wide.id);
    CHECK(wide.typical == Approx(own.typical).epsilon(1e-5));  // six digits in the file
    if (own.log_sd <= 0) continue;
    ++wider;
    CHECK(wide.log_sd == Approx(sources::k_draft_spread * own.log_sd).epsilon(1e-5));
    CHECK(wide.origin == model::Origin::judgement);
    CHECK(wide.origin_note.find("widened") != std::string::npos);
  }
  CHECK(wider > 10);
}

TEST_CASE("what lies over a component is what the form says, or what somebody said", "[job][unit]") {
  const auto folders = sources::default_folders();
  Seen seen;
  see(seen, "machine=trail_bike");
  NewVehicle vehicle;
  vehicle.id = "moped";
  vehicle.title = "Moped";
  vehicle.family = "ac_cdi";
  vehicle.elsewhere = {placed("control_module=fuel_tank"), placed("ignition_coil=open")};
  const auto v = loaded(folders, draft_of(folders, seen, vehicle));
  const auto covers = [&](const std::string& id) {
    std::vector<std::string> names;
    for (const auto c : v->components[static_cast<std::size_t>(*v->find_component(id))].covers)
      names.push_back(v->covers[static_cast<std::size_t>(c)].id);
    std::sort(names.begin(), names.end());
    return names;
  };
  using Names = std::vector<std::string>;
  CHECK(covers("control_module") == Names{"fuel_tank"});
  CHECK(covers("ignition_coil").empty());
  CHECK(covers("exciter") == Names{"flywheel_off"});
  // The seat comes off before the tank, so it is written too though nothing lies under it alone.
  CHECK(std::any_of(v->covers.begin(), v->covers.end(), [](const auto& c) { return c.id == "seat"; }));

  vehicle.elsewhere = {placed("control_modul=fuel_tank")};
  CHECK(mistake_of([&] { (void)draft_of(folders, seen, vehicle); }).find("did you mean 'control_module'") !=
        std::string::npos);
  vehicle.elsewhere = {placed("control_module=fuel_tnk")};
  CHECK(mistake_of([&] { (void)draft_of(folders, seen, vehicle); }).find("did you mean 'fuel_tank'") !=
        std::string::npos);
  vehicle.elsewhere = {};
  vehicle.options = {{"start", "pedal"}};
  CHECK_THROWS_AS(draft_of(folders, seen, vehicle), InputError);
  vehicle.options = {{"stat", "kick"}};
  CHECK(mistake_of([&] { (void)draft_of(folders, seen, vehicle); }).find("did you mean 'start'") != std::string::npos);
  CHECK_THROWS_AS(placed("control_module"), InputError);
  CHECK_THROWS_AS(option_told("start="), InputError);
}

TEST_CASE("forms name covers that they have, and every form has its machine", "[job][unit]") {
  for (const auto& form : vehicle_forms()) {
    CAPTURE(form.id);
    for (const auto& row : form.places) {
      CHECK_NOTHROW(place_under(form, row.stems.front(), row.covers));
      CHECK_NOTHROW(place_under(form, row.stems.front(), row.plug));
    }
    for (const auto& cover : form.covers) CHECK_NOTHROW(place_under(form, "x", cover.first));
  }
  const auto& machines = sign_questions().front();
  REQUIRE(machines.id == "machine");
  for (const auto& answer : family_signs().signs.front().answers) CHECK_NOTHROW(vehicle_form(answer));
  CHECK(vehicle_form("").covers.empty());
  CHECK(place_of(vehicle_form("sport_bike"), "ignition_coil_3").covers == std::vector<std::string>{"airbox"});
  CHECK(place_of(vehicle_form("trail_bike"), "flywheel_key").covers == std::vector<std::string>{"flywheel_off"});
}

TEST_CASE("an id is made of a title", "[job][unit]") {
  CHECK(id_of_title("Old Moped 50") == "old_moped_50");
  CHECK(id_of_title("  50 ccm -- Moped! ") == "ccm_moped");
  CHECK(id_of_title("42") == "vehicle");
  CHECK(id_of_title("") == "vehicle");
}

TEST_CASE("a draft of an open family carries the warnings, one of a certain family does not", "[job][unit]") {
  const auto folders = sources::default_folders();
  NewVehicle vehicle;
  vehicle.id = "found";
  vehicle.title = "Found";
  vehicle.family = "ac_cdi";
  Seen open;
  see(open, "machine=trail_bike");
  const auto text = sources::draft_network(folders, draft_of(folders, open, vehicle));
  CHECK(text.find("# Until the family is certain:") != std::string::npos);
  CHECK(text.find("(S23)") != std::string::npos);
  for (const char* more : {"battery=none", "stop=earths", "module_wires=to_seven", "first_peak=negative"})
    see(open, more);
  REQUIRE(identify(open, {}).certain());
  CHECK(sources::draft_network(folders, draft_of(folders, open, vehicle)).find("Until") == std::string::npos);
  // Who names the family and tells nothing knows it.
  CHECK(sources::draft_network(folders, draft_of(folders, {}, vehicle)).find("Until") == std::string::npos);
}
