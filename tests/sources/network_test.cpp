// Network files: what a sound one becomes, and how mistakes are told.
#include <algorithm>
#include <cmath>
#include <set>
#include <string>

#include "base/error.hpp"
#include "catch_all.hpp"
#include "sources/network_file.hpp"
#include "sources/network_keys.hpp"
#include "toy.hpp"

using namespace lostspark;
using model::Index;

namespace {

bool contains(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

const model::Mode& mode(const model::Vehicle& v, const char* id) {
  const auto row = v.find_mode(id);
  INFO("mode " << id);
  REQUIRE(row.has_value());
  return v.modes[static_cast<std::size_t>(*row)];
}
const model::Test& test_of(const model::Vehicle& v, const char* id) {
  const auto row = v.find_test(id);
  INFO("test " << id);
  REQUIRE(row.has_value());
  return v.tests[static_cast<std::size_t>(*row)];
}

std::vector<std::string> names(const model::Vehicle& v, const std::vector<Index>& covers) {
  std::vector<std::string> ids;
  for (const auto c : covers) ids.push_back(v.covers[static_cast<std::size_t>(c)].id);
  return ids;
}

}  // namespace

TEST_CASE("the tests of the toy network are these", "[sources][golden]") {
  const auto v = test::load_toy(test::toy_network());
  std::string text;
  for (const auto& t : v->tests) {
    text += t.id + " | " + t.title + " | " + t.place + " |";
    for (const auto& cover : names(*v, t.covers)) text += " " + cover;
    if (t.blind_min >= 0) text += " or blind";
    text += '\n';
  }
  test::check_golden("sources_toy_tests.txt", text);
}

TEST_CASE("the circuit of the toy network is this", "[sources][golden]") {
  const auto v = test::load_toy(test::toy_network());
  std::string text;
  for (const auto& n : v->nodes) text += "node " + n.id + " | " + n.place + (n.probe ? "" : " | no probe") + '\n';
  for (const auto& e : v->elements)
    text += "element " + e.id + " | " + v->nodes[static_cast<std::size_t>(e.a)].id + " - " +
            v->nodes[static_cast<std::size_t>(e.b)].id + '\n';
  for (const auto& m : v->modes)
    text += "mode " + m.id + " | " + m.title + " | " + v->repairs[static_cast<std::size_t>(m.repair)].title + '\n';
  test::check_golden("sources_toy_circuit.txt", text);
}

TEST_CASE("every mistake of form in a file is told at once, each with its place", "[sources][golden]") {
  const auto text = test::file_text(std::string(LOSTSPARK_SOURCE_DIR) + "/tests/sources/broken/broken_form.toml");
  test::check_golden("sources_broken_form.txt", test::mistakes_of(text) + "\n");
}

TEST_CASE("every mistake against the family is told at once, each with its place", "[sources][golden]") {
  const auto text = test::file_text(std::string(LOSTSPARK_SOURCE_DIR) + "/tests/sources/broken/broken_family.toml");
  test::check_golden("sources_broken_family.txt", test::mistakes_of(text) + "\n");
}

TEST_CASE("a file that is no TOML names line and column", "[sources][unit]") {
  const auto message = test::mistakes_of("format = 1\n[vehicle\n");
  CHECK(message.starts_with("toy.toml:2:9: not valid TOML"));
}

TEST_CASE("another format number is refused", "[sources][unit]") {
  CHECK(contains(test::mistakes_of(test::toy_network_with("format = 1", "format = 2")), "format: expected 1"));
  CHECK(contains(test::mistakes_of(test::toy_network_with("format = 1\n", "")), "format: is missing"));
}

TEST_CASE("one wrong thing is one line that names what was meant", "[sources][unit]") {
  const auto [from, to, cause] = GENERATE(table<std::string, std::string, std::string>({
      {"covers = [\"tank\"]", "covers = [\"tanck\"]", "unknown cover 'tanck'; did you mean 'tank'?"},
      {"first = [\"seat\"]", "first = [\"saet\"]", "unknown cover 'saet'; did you mean 'seat'?"},
      {"remove_min = 6", "remove_min = -6", "expected a number (minute) from 0 to 10000, found -6"},
      {"remove_min = 6", "remove_min = nan", "expected a number (minute) from 0 to 10000, found nan"},
      {"remove_min = 6", "remove_mins = 6", "unknown key; did you mean 'remove_min'?"},
      {"switches = 2", "switches = 3", "options.switches: expected a whole number from 1 to 2, found '3'"},
      {"switches = 2", "switches = 2.5", "options.switches: expected a text, a whole number, true or false"},
      {"switches = 2", "switch = 2", "the family has no option 'switch'; did you mean 'switches'?"},
      {"switches = 2", "lamp = \"yes\"", "options.lamp: expected true or false, found 'yes'"},
      {"value_volt = 120", "value_ohm = 120", "the unit of 'emf_volt' is volt: expected value_volt"},
      {"value_volt = 120", "value_volt = 0", "expected a number above 0"},
      {"origin = \"shop\"", "origin = \"hearsay\"", "expected one of service_data, shop, judgement, found 'hearsay'"},
      {"zones = [\"wet\"]", "zones = [\"damp\"]", "unknown zone 'damp'"},
      {"ohm = 0.1 }", "ohm = 0.1, part_of = \"sourse\" }", "'sourse' is no part of the family; did you mean 'source'?"},
      {"ohm = 0.1 }", "ohm = 0.1, part_of = \"consumer_connector\" }", "'consumer_connector' is no part of the family"},
      {"link = \"source_lead\"", "link = \"source_leads\"", "the family has no link 'source_leads'"},
      {"pin = \"a\"", "pin = \"d\"", "connector 'consumer_connector' has no pin 'd'; valid: a, b, c"},
      {"colour = \"GN\"", "colour = \"green\"", "'green' is no wire colour: expected letters of IEC 60757"},
      {"pin = \"b\"", "pin = \"a\"", "pin 'a' of 'consumer_connector' carries another chain already"},
      {"{ splice = \"stop_splice\" }", "{ splice = \"stop_splise\" }", "unknown splice 'stop_splise'; did you mean"},
      {"joins = \"consumer_connector.c.earth_side\"", "joins = \"consumer_connector.c.earthside\"",
       "no chain has a node 'consumer_connector.c.earthside'; did you mean 'consumer_connector.c.earth_side'?"},
      {"joins = \"consumer_connector.c.earth_side\"", "joins = \"frame_earth.lug\"",
       "is an earth point: expected { earth_point = \"frame_earth\" }"},
      {"strap = \"engine_strap\"", "strap = \"frame_earth\"", "lead in a circle, never to metal"},
      {"family = \"toy\"", "family = \"toi\"", "no plugin folder has the family 'toi'; did you mean 'toy'?"},
      {"family = \"toy\"", "family = \"./toy.so\"", "'./toy.so' is no identifier"},
      {"test = \"input_peak@*\"", "test = \"inputpeak*\"", "no test fits 'inputpeak*'"},
      {"low = 60", "low = 600", "healthy[1].high: is below low: expected 600 or more"},
      {"id = \"lead\"", "id = \"leed\"", "the family has no component 'leed' with these options; did you mean 'lead'?"},
      {"[[splice]]\nid = \"stop_splice\"", "[[splice]]\nid = \"source\"", "'source' is a component of the family"},
  }));
  const auto message = test::mistakes_of(test::toy_network_with(from, to));
  CAPTURE(to, message);
  CHECK(contains(message, cause));
  CHECK(message.starts_with("toy.toml:"));
}

TEST_CASE("covers that wait for each other are a mistake, chains of covers are not", "[sources][property]") {
  const auto circle = test::mistakes_of(
      test::toy_network_with("id = \"seat\"\nremove_min = 2", "id = \"seat\"\nfirst = [\"tank\"]\nremove_min = 2"));
  CHECK(contains(circle, "covers stand in a circle, so none can come off first: seat needs tank needs seat"));
  // Any order of declaration of a chain c0 <- c1 <- ... is free of circles; closing it is not.
  for (int turn = 0; turn < 5; ++turn) {
    std::vector<sources::NetworkCover> covers;
    for (int i = 0; i < 5; ++i) {
      sources::NetworkCover c;
      const int id = (i * 2 + turn) % 5;
      c.id.text = "c" + std::to_string(id);
      if (id > 0) c.first.push_back({"c" + std::to_string(id - 1), {}});
      covers.push_back(std::move(c));
    }
    CHECK(sources::cover_circle(covers).empty());
    for (auto& c : covers)
      if (c.id.text == "c0") c.first.push_back({"c4", {}});
    CHECK(sources::cover_circle(covers).size() == 5);
  }
}

TEST_CASE("a link without chain and a connector without use are mistakes", "[sources][unit]") {
  const auto missing = test::mistakes_of(test::toy_network_with(
      "[[chain]]\nlink = \"source_earth\"\nitems = [ { earth_point = \"engine_strap\" } ]\n", ""));
  CHECK(contains(missing, "link 'source_earth' (source earth, source.ground to earth) is not realised"));
  const auto idle = test::mistakes_of(
      test::toy_network_with("[[splice]]", "[[connector]]\nid = \"idle_connector\"\npins = [\"1\"]\n\n[[splice]]"));
  CHECK(contains(idle, "connector: 'idle_connector' is in no chain"));
}

TEST_CASE("a chain that joins another must still lead to its link's end", "[sources][unit]") {
  const auto message = test::mistakes_of(test::toy_network_with("{ joins = \"consumer_connector.c.earth_side\" }",
                                                                "{ joins = \"source_connector.1.source_side\" }"));
  CHECK(contains(message, "does not lead from stop_switch.ground to earth: check where it joins"));
}

TEST_CASE("options come back as written, with the family's defaults for the rest", "[sources][unit]") {
  const auto v = test::load_toy(test::toy_network());
  const std::vector<std::pair<std::string, std::string>> expected{
      {"switches", "2"}, {"lamp", "false"}, {"mood", "calm"}};
  CHECK(v->options == expected);
  const auto other =
      test::load_toy(test::toy_network_with("switches = 2", "switches = \"1\"\nlamp = true\nmood = \"merry\""));
  const std::vector<std::pair<std::string, std::string>> changed{
      {"switches", "1"}, {"lamp", "true"}, {"mood", "merry"}};
  CHECK(other->options == changed);
}

TEST_CASE("a vehicle loaded from its own stored text is the same vehicle", "[sources][property]") {
  const auto v = test::load_toy(test::toy_network());
  const auto again = test::load_toy(v->network_text);
  REQUIRE(again->tests.size() == v->tests.size());
  for (std::size_t i = 0; i < v->tests.size(); ++i) CHECK(again->tests[i].id == v->tests[i].id);
  CHECK(again->family == "toy");
  CHECK(again->family_version == "0.9.1");
}

TEST_CASE("stated parameters replace the family's and keep their origin", "[sources][unit]") {
  const auto v = test::load_toy(test::toy_network());
  const auto& p = v->parameters[static_cast<std::size_t>(*v->find_parameter("emf_volt"))];
  CHECK(p.typical == 120);
  CHECK(p.log_sd == 0.2);
  CHECK(p.event_log_sd == 0.05);  // not stated: the family's
  CHECK(p.origin == model::Origin::shop);
  CHECK(p.origin_note == "three benches measured");
  CHECK(v->parameters[static_cast<std::size_t>(*v->find_parameter("source_ohm"))].origin == model::Origin::family);
}

TEST_CASE("a part's own lead is renewed with it, other wires are not", "[sources][unit]") {
  const auto v = test::load_toy(test::toy_network_with("ohm = 0.1 }", "ohm = 0.1, part_of = \"source\" }"));
  const auto lead = *v->find_component("source_pigtail"), wire = *v->find_component("source_wire");
  CHECK(v->components[static_cast<std::size_t>(lead)].part_of == *v->find_component("source"));
  int renewing = 0;
  for (std::size_t r = 0; r < v->repairs.size(); ++r) {
    const auto& repair = v->repairs[r];
    if (repair.kind != model::RepairKind::replace || v->components[static_cast<std::size_t>(repair.component)].id != "source")
      continue;
    ++renewing;
    CHECK(model::mends(*v, static_cast<Index>(r), *v->find_mode("source_pigtail.open")));
    CHECK(!model::mends(*v, static_cast<Index>(r), *v->find_mode("source_wire.open")));
    CHECK(!model::renews(*v, static_cast<Index>(r), wire));
  }
  CHECK(renewing > 0);
}

TEST_CASE("the shares of a link are split over its items and none is lost", "[sources][property]") {
  const auto v = test::load_toy(test::toy_network());
  double corroded = 0, open = 0, chafed = 0;
  for (const char* id : {"source_connector.pin_1_corroded", "consumer_connector.pin_a_corroded"})
    corroded += mode(*v, id).share;
  CHECK(corroded == Approx(30));
  for (const char* id :
       {"source_pigtail.open", "source_wire.open", "source_connector.pin_1_open", "consumer_connector.pin_a_open"})
    open += mode(*v, id).share;
  CHECK(open == Approx(15));
  for (const char* id : {"source_pigtail.chafed", "source_wire.chafed"}) chafed += mode(*v, id).share;
  CHECK(chafed == Approx(10));
  // A wet connector corrodes twice as often as a dry one; a wire at the steering chafes three times as often.
  CHECK(mode(*v, "source_connector.pin_1_corroded").share == Approx(20));
  CHECK(mode(*v, "stop_wire.chafed").share == Approx(3 * mode(*v, "switch_wire.chafed").share));
  CHECK(mode(*v, "stop_wire.chafed").visible[static_cast<std::size_t>(model::Provocation::steering)] == 0.9);
}

TEST_CASE("an earth strap carries the shares of all links that end on it", "[sources][unit]") {
  const auto v = test::load_toy(test::toy_network());
  // consumer_earth 26: connector c, frame earth and the strap at equal exposure; source_earth 5: the strap alone.
  CHECK(mode(*v, "frame_earth.corroded").share == Approx(26.0 / 3));
  CHECK(mode(*v, "engine_strap.corroded").share == Approx(26.0 / 3 + 5));
  const auto& component = v->components[static_cast<std::size_t>(*v->find_component("stop_wire"))];
  CHECK(component.stops_engine);  // part of the stop circuit, as its link is
}

TEST_CASE("priors are expected faults times share, and the part elsewhere is as stated", "[sources][property]") {
  const auto v = test::load_toy(test::toy_network());
  CHECK(mode(*v, "source.open").prior == Approx(0.08 * 39 / 1000));
  const auto other = test::load_toy(test::toy_network_with(
      "kind = \"bench\"", "kind = \"bench\"\nignition_faults_per_vehicle = 0.2\nelsewhere_share = 0.25"));
  CHECK(mode(*other, "source.open").prior == Approx(0.2 * 39 / 1000));
  double here = 0, elsewhere = 0;
  for (const auto& m : other->modes) (m.group == "FUE" ? elsewhere : here) += m.share;
  CHECK(elsewhere / (here + elsewhere) == Approx(0.25));
  CHECK(other->elsewhere_share == Approx(0.25));
  const auto aged = test::load_toy(
      test::toy_network_with("place = \"behind the flywheel\"", "place = \"behind the flywheel\"\nage_factor = 3"));
  CHECK(mode(*aged, "source.open").prior == Approx(3 * mode(*v, "source.open").prior));
}

TEST_CASE("unplugging a pin opens it between its halves and moves that connector", "[sources][unit]") {
  const auto v = test::load_toy(test::toy_network());
  const auto& setup = v->setups[static_cast<std::size_t>(*v->find_setup("stop_unplugged"))];
  REQUIRE(setup.effects.size() == 1);
  CHECK(setup.effects[0].kind == model::EffectKind::open_node);
  CHECK(v->nodes[static_cast<std::size_t>(setup.effects[0].target)].id == "consumer_connector.b.mated");
  REQUIRE(setup.touches.size() == 1);
  CHECK(v->components[static_cast<std::size_t>(setup.touches[0])].id == "consumer_connector");
  const auto& test = test_of(*v, "stop_ohm_test@consumer_connector.stop_switch_side");
  CHECK(v->nodes[static_cast<std::size_t>(test.node_a)].id == "consumer_connector.b.stop_switch_side");
  CHECK(test.node_b == model::k_earth);
}

TEST_CASE("a winding out of reach is measured at its connector with the connector unplugged", "[sources][unit]") {
  const auto v = test::load_toy(test::toy_network());
  const auto& test = test_of(*v, "source_ohm_test@source_connector.source_side");
  const auto& scene = v->scenes[static_cast<std::size_t>(test.scene)];
  REQUIRE(scene.setups.size() == 1);
  const auto& setup = v->setups[static_cast<std::size_t>(scene.setups[0])];
  CHECK(setup.id == "source_connector_unplugged");
  CHECK(setup.moves_contacts);
  CHECK(test.node_b == model::k_earth);  // the source's own earth is behind the flywheel: bare metal stands for it
}

TEST_CASE("with the consumer unplugged only points on the source's side are offered", "[sources][unit]") {
  const auto v = test::load_toy(test::toy_network());
  CHECK(v->find_test("source_peak@source_connector.source_side").has_value());
  CHECK(v->find_test("source_peak@consumer_connector.source_side").has_value());
  CHECK_FALSE(v->find_test("source_peak@consumer.in").has_value());
}

TEST_CASE("a test that needs a cover off the running engine must not lose is not offered", "[sources][unit]") {
  CHECK_FALSE(test::load_toy(test::toy_network())->find_test("runs").has_value());
  const auto v = test::load_toy(test::toy_network_with("may_run_without = false\n", ""));
  CHECK(v->find_test("runs").has_value());
}

TEST_CASE("set-ups bring their connector's covers to a test", "[sources][unit]") {
  const auto v = test::load_toy(test::toy_network());
  const auto& plain = test_of(*v, "input_peak@source_connector.source_side");
  CHECK(plain.covers.empty());
  const auto& unplugged = test_of(*v, "input_peak@source_connector.source_side+stop_unplugged");
  CHECK(names(*v, unplugged.covers) == std::vector<std::string>{"seat"});
}

TEST_CASE("an access row moves a test or takes it away", "[sources][unit]") {
  const auto moved = test::load_toy(
      test::toy_network_with("[[healthy]]", "[[access]]\ntest = \"works\"\ncomponent = \"lead\"\n\n[[healthy]]"));
  CHECK(names(*moved, test_of(*moved, "works").covers) == std::vector<std::string>{"tank"});
  const auto gone = test::load_toy(
      test::toy_network_with("[[healthy]]", "[[access]]\ntest = \"works\"\noffered = false\n\n[[healthy]]"));
  CHECK_FALSE(gone->find_test("works").has_value());
}

TEST_CASE("findings reach the modes their patterns name", "[sources][unit]") {
  const auto v = test::load_toy(test::toy_network());
  const auto& look = test_of(*v, "look@source_connector");
  CHECK(look.words == std::vector<std::string>{"sound", "dirty", "bare wire", "loose", "broken", "stuck"});
  CHECK(look.false_alarm == Approx(0.05));
  std::set<std::string> seen;
  for (const auto& row : look.findings) seen.insert(v->modes[static_cast<std::size_t>(row.mode)].id);
  CHECK(seen == std::set<std::string>{"source_connector.pin_1_corroded", "source_connector.pin_1_open"});
  // The row for one mode stands over the pattern.
  const auto& source = test_of(*v, "look@source");
  REQUIRE(source.findings.size() == 1);
  CHECK(source.words[source.findings[0].word] == "broken");
}

TEST_CASE("every key is in the documents with unit, default and meaning", "[sources][unit]") {
  const auto docs = test::file_text(std::string(LOSTSPARK_SOURCE_DIR) + "/docs/network-files.md");
  const auto workshop = test::file_text(std::string(LOSTSPARK_SOURCE_DIR) + "/docs/workshop.md");
  const auto check = [](const std::string& page, const sources::SectionKeys& section) {
    for (const auto& key : section.keys) {
      const auto row =
          std::string("| `") + key.name + "` | " + key.unit + " | " + key.standard + " | " + key.meaning + " |";
      INFO(section.name << " wants the row " << row);
      CHECK(contains(page, row));
    }
  };
  for (const auto& section : sources::network_sections()) check(docs, section);
  check(docs, sources::chain_item_keys());
  for (const auto& section : sources::workshop_sections()) check(workshop, section);
}
