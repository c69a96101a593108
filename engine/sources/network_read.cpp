#include <algorithm>
#include <map>

#include "sources/network_file.hpp"
#include "sources/text.hpp"
#include "sources/toml_section.hpp"

namespace lostspark::sources {
namespace {

const std::vector<std::string> k_zone_names{"heat", "wet", "vibration", "steering"};
const std::vector<std::string> k_origins{"service_data", "shop", "judgement"};
// Colours of IEC 60757, from memory.
const std::vector<std::string> k_colours{"BK", "BN", "RD", "OG", "YE", "GN", "BU",
                                         "VT", "GY", "WH", "PK", "GD", "TQ", "SR"};

bool is_colour(const std::string& text) {
  if (text.size() % 2 != 0) return false;
  for (std::size_t i = 0; i < text.size(); i += 2)
    if (std::find(k_colours.begin(), k_colours.end(), text.substr(i, 2)) == k_colours.end()) return false;
  return true;
}

constexpr double k_most_minutes = 1e4;
constexpr double k_any = 1e12;

model::Origin origin_of(const std::string& text) {
  if (text == "service_data") return model::Origin::service_data;
  return text == "shop" ? model::Origin::shop : model::Origin::judgement;
}

class Reader {
 public:
  Reader(const toml::table& file, Mistakes& mistakes) : file_(file), mistakes_(mistakes) {}

  NetworkFile run() {
    check_sections(file_, network_sections(), mistakes_);
    vehicle();
    options();
    prices();
    each("parameter", [&](Section& s, const toml::table& t) { parameter(s, t); });
    each("cover", [&](Section& s, const toml::table&) { cover(s); });
    each("connector", [&](Section& s, const toml::table&) { harness_item(s, HarnessKind::connector); });
    each("splice", [&](Section& s, const toml::table&) { harness_item(s, HarnessKind::splice); });
    each("earth_point", [&](Section& s, const toml::table&) { harness_item(s, HarnessKind::earth_point); });
    each("chain", [&](Section& s, const toml::table&) { chain(s); });
    each("component", [&](Section& s, const toml::table&) { component(s); });
    each("repair", [&](Section& s, const toml::table&) { repair(s); });
    each("access", [&](Section& s, const toml::table&) { access_of_test(s); });
    each("healthy", [&](Section& s, const toml::table&) { band(s); });
    check_covers();
    check_covers_known();
    check_unique_rows();
    return std::move(network_);
  }

 private:
  template <class Read>
  void each(const char* name, Read read) {
    const auto* array = file_.get_as<toml::array>(name);
    if (array == nullptr) return;
    std::size_t number = 0;
    for (const auto& node : *array) {
      ++number;
      const auto* table = node.as_table();
      if (table == nullptr) continue;  // check_sections has said so
      Section section(*table, std::string(name) + "[" + std::to_string(number) + "]", network_section(name), mistakes_);
      read(section, *table);
      section.finish();
    }
  }

  void vehicle() {
    const auto* table = file_.get_as<toml::table>("vehicle");
    if (table == nullptr) {
      if (file_.get("vehicle") == nullptr) mistakes_.add({1, 1}, "vehicle", "is missing: expected a table [vehicle]");
      return;
    }
    Section s(*table, "vehicle", network_section("vehicle"), mistakes_);
    network_.id = s.identifier("id");
    network_.title = s.text("title");
    network_.family = s.identifier("family");
    network_.kind = s.text("kind");
    network_.ignition_faults_per_vehicle = s.number("ignition_faults_per_vehicle", 0.08, 1e-6, 1);
    if (s.has("elsewhere_share")) network_.elsewhere_share = s.number("elsewhere_share", 0.18, 0, 0.9);
    if (s.has("provocations")) network_.provocations = s.list("provocations");
    s.finish();
  }

  void options() {
    const auto* table = file_.get_as<toml::table>("options");
    if (table == nullptr) return;
    for (auto&& [name, node] : *table) {
      const std::string key(name.str());
      const Said id{key, spot_of(node)};
      if (const auto text = node.value_exact<std::string>())
        network_.options.emplace_back(id, *text);
      else if (const auto flag = node.value_exact<bool>())
        network_.options.emplace_back(id, *flag ? "true" : "false");
      else if (const auto whole = node.value_exact<std::int64_t>())
        network_.options.emplace_back(id, std::to_string(*whole));
      else
        mistakes_.add(id.spot, "options." + key, "expected a text, a whole number, true or false");
    }
  }

  void prices() {
    const auto* table = file_.get_as<toml::table>("prices");
    if (table == nullptr) return;
    Section s(*table, "prices", network_section("prices"), mistakes_);
    for (int i = 1; i <= 5; ++i) {
      auto& price = network_.price_of_class[i];
      price = s.number(("class_" + std::to_string(i)).c_str(), price, 0, k_any);
    }
    s.finish();
  }

  void parameter(Section& s, const toml::table& table) {
    NetworkParameter p;
    p.id = s.identifier("id");
    std::string value_key;
    for (auto&& [name, node] : table) {
      const std::string key(name.str());
      if (key != "value" && !key.starts_with("value_")) continue;
      s.allow(key);
      p.value_spot = spot_of(name.source());
      if (!value_key.empty())
        mistakes_.add(p.value_spot, s.path_of(key), "'" + value_key + "' states the value already");
      value_key = key;
      if (key != "value") p.unit = key.substr(6);
      const auto value = node.is_number() ? node.value<double>() : std::nullopt;
      if (value && *value > 0 && *value < 1e15)
        p.value = *value;
      else
        mistakes_.add(p.value_spot, s.path_of(key), "expected a number above 0");
    }
    if (s.has("log_sd")) p.log_sd = s.number("log_sd", 0, 0, 5);
    if (s.has("event_log_sd")) p.event_log_sd = s.number("event_log_sd", 0, 0, 5);
    p.origin = origin_of(s.choice("origin", "judgement", k_origins));
    p.note = s.text("note");
    network_.parameters.push_back(std::move(p));
  }

  void cover(Section& s) {
    NetworkCover c;
    c.id = s.identifier("id");
    c.title = s.text("title", spoken(c.id.text));
    c.remove_min = s.number("remove_min", 0, 0, k_most_minutes);
    c.refit_min = s.number("refit_min", 0, 0, k_most_minutes);
    c.first = s.list("first");
    c.may_run_without = s.flag("may_run_without", true);
    network_.covers.push_back(std::move(c));
  }

  Access access(Section& s) {
    Access a;
    a.place = s.text("place");
    a.covers = covers(s);
    if (s.has("blind_min")) a.blind_min = s.number("blind_min", -1, 0, k_most_minutes);
    return a;
  }

  std::vector<Said> covers(Section& s) {
    auto list = s.list("covers");
    for (const auto& said : list) cover_mentions_.emplace_back(said, s.path_of("covers"));
    return list;
  }

  Zones zones(Section& s) {
    Zones z;
    for (const auto& said : s.list("zones")) {
      if (said.text == "heat")
        z.heat = true;
      else if (said.text == "wet")
        z.wet = true;
      else if (said.text == "vibration")
        z.vibration = true;
      else if (said.text == "steering")
        z.steering = true;
      else
        mistakes_.add(said.spot, s.path_of("zones"),
                      "unknown zone '" + said.text + "'" + suggestion(said.text, k_zone_names));
    }
    return z;
  }

  void harness_item(Section& s, HarnessKind kind) {
    NetworkHarnessItem item;
    item.kind = kind;
    item.id = s.identifier("id");
    item.title = s.text("title", spoken(item.id.text));
    item.access = access(s);
    item.zones = zones(s);
    item.exposure = s.number("exposure", 1, 0, 1000);
    item.contact_ohm = s.number("contact_ohm", 0.01, 1e-6, 1e6);
    item.probe = s.flag("probe", true);
    if (kind == HarnessKind::connector) item.pins = s.list("pins");
    if (kind == HarnessKind::earth_point) item.strap = s.identifier("strap");
    for (std::size_t i = 0; i < item.pins.size(); ++i) {
      if (!is_identifier("p" + item.pins[i].text))
        mistakes_.add(item.pins[i].spot, s.path_of("pins"),
                      "'" + item.pins[i].text + "' is no pin: expected small letters, digits and _");
      for (std::size_t k = 0; k < i; ++k)
        if (item.pins[k].text == item.pins[i].text)
          mistakes_.add(item.pins[i].spot, s.path_of("pins"), "pin '" + item.pins[i].text + "' appears twice");
    }
    network_.harness.push_back(std::move(item));
  }

  void chain(Section& s) {
    NetworkChain chain;
    chain.path = s.path_of("items");
    chain.link = s.identifier("link");
    const auto* node = s.node("items");
    const auto* items = node == nullptr ? nullptr : node->as_array();
    if (node != nullptr && items == nullptr) s.mistake("items", "expected a list of items { wire = \"...\" }");
    if (items != nullptr) {
      std::size_t number = 0;
      for (const auto& entry : *items) {
        ++number;
        const auto path = chain.path + "[" + std::to_string(number) + "]";
        if (const auto* table = entry.as_table())
          chain_item(*table, path, chain);
        else
          mistakes_.add(spot_of(entry), path,
                        "expected an item { wire = \"...\" }, { connector = \"...\", pin = \"...\" } ...");
      }
    }
    network_.chains.push_back(std::move(chain));
  }

  void chain_item(const toml::table& table, const std::string& path, NetworkChain& chain) {
    using Kind = NetworkChainItem::Kind;
    Section s(table, path, chain_item_keys(), mistakes_);
    static const std::pair<const char*, Kind> kinds[] = {{"wire", Kind::wire},
                                                         {"connector", Kind::connector},
                                                         {"splice", Kind::splice},
                                                         {"earth_point", Kind::earth_point},
                                                         {"joins", Kind::joins}};
    NetworkChainItem item;
    item.path = path;
    int named = 0;
    for (const auto& [key, kind] : kinds) {
      if (!s.has(key)) continue;
      ++named;
      item.kind = kind;
      item.id = kind == Kind::joins ? Said{s.text(key), s.spot_of_key(key)} : s.identifier(key);
    }
    if (named != 1)
      mistakes_.add(s.spot(), path, "expected exactly one of wire, connector, splice, earth_point, joins");
    item.pin = {s.text("pin"), s.spot_of_key("pin")};
    if (named == 1 && (item.kind == Kind::connector) != s.has("pin"))
      mistakes_.add(s.spot(), path + ".pin",
                    item.kind == Kind::connector ? "is missing: expected the pin of the connector"
                                                 : "goes with a connector only");
    item.ohm = s.number("ohm", 0.02, 1e-6, 1e6);
    item.colour = s.text("colour");
    if (!is_colour(item.colour))
      s.mistake("colour",
                "'" + item.colour + "' is no wire colour: expected letters of IEC 60757, as \"BK\" or \"BKRD\"");
    item.title = s.text("title", item.colour.empty() ? spoken(item.id.text) : "");
    item.access.place = s.text("place");
    item.access.covers = covers(s);
    item.zones = zones(s);
    item.exposure = s.number("exposure", 1, 0, 1000);
    if (s.has("part_of")) item.part_of = s.identifier("part_of");
    if (named == 1 && item.kind != Kind::wire)
      for (const char* key : {"ohm", "colour", "title", "place", "covers", "zones", "exposure", "part_of"})
        if (s.has(key)) s.mistake(key, "goes with a wire only; of other items it is stated where they are declared");
    s.finish();
    if (named == 1) chain.items.push_back(std::move(item));
  }

  void component(Section& s) {
    NetworkComponent c;
    c.id = s.identifier("id");
    c.title = s.text("title");
    c.access = access(s);
    c.probe = s.flag("probe", true);
    if (s.has("price")) c.price = s.number("price", 0, 0, k_any);
    c.age_factor = s.number("age_factor", 1, 0, 1000);
    network_.components.push_back(std::move(c));
  }

  void repair(Section& s) {
    NetworkRepair r;
    r.id = {s.text("id"), s.spot_of_key("id")};
    if (s.has("labour_min")) r.labour_min = s.number("labour_min", 0, 0, k_most_minutes);
    if (s.has("success")) r.success = s.number("success", 1, 0, 1);
    if (s.has("price")) r.price = s.number("price", 0, 0, k_any);
    if (s.has("covers")) r.covers = covers(s);
    network_.repairs.push_back(std::move(r));
  }

  void access_of_test(Section& s) {
    NetworkAccess a;
    a.test = s.identifier("test");
    a.component = s.identifier("component");
    a.access = access(s);
    a.has_place = s.has("place");
    a.has_covers = s.has("covers");
    a.has_blind = s.has("blind_min");
    a.offered = s.flag("offered", true);
    a.provoked = s.flag("provoked", true);
    network_.accesses.push_back(std::move(a));
  }

  void band(Section& s) {
    NetworkBand b;
    b.test = {s.text("test"), s.spot_of_key("test")};
    b.low = s.number("low", 0, 0, k_any);
    b.high = s.number("high", 0, 0, k_any);
    b.origin = origin_of(s.choice("origin", "judgement", k_origins));
    b.note = s.text("note");
    if (!s.has("low") && !s.has("high"))
      mistakes_.add(s.spot(), s.path_of("low"), "is missing: expected low, high or both");
    if (s.has("low") && s.has("high") && b.low > b.high)
      s.mistake("high", "is below low: expected " + number_text(b.low) + " or more");
    network_.bands.push_back(std::move(b));
  }

  void check_covers_known() {
    std::vector<std::string> ids;
    for (const auto& c : network_.covers) ids.push_back(c.id.text);
    std::size_t number = 0;
    for (const auto& c : network_.covers) {
      ++number;
      for (const auto& said : c.first)
        cover_mentions_.emplace_back(said, "cover[" + std::to_string(number) + "].first");
    }
    for (const auto& [said, path] : cover_mentions_)
      if (std::find(ids.begin(), ids.end(), said.text) == ids.end())
        mistakes_.add(said.spot, path, "unknown cover '" + said.text + "'" + suggestion(said.text, ids));
  }

  void check_covers() {
    const auto circle = cover_circle(network_.covers);
    if (circle.empty()) return;
    Spot spot;
    for (const auto& c : network_.covers)
      if (c.id.text == circle.front()) spot = c.id.spot;
    mistakes_.add(spot, "cover",
                  "covers stand in a circle, so none can come off first: " + join(circle, " needs ") + " needs " +
                      circle.front());
  }

  // Ids that must not appear twice; harness items and wires share one name space.
  void check_unique_rows() {
    unique("cover", network_.covers, [](const auto& r) { return r.id; });
    unique("parameter", network_.parameters, [](const auto& r) { return r.id; });
    unique("component", network_.components, [](const auto& r) { return r.id; });
    unique("repair", network_.repairs, [](const auto& r) { return r.id; });
    unique("access", network_.accesses, [](const auto& r) { return r.test; });
    unique("chain", network_.chains, [](const auto& r) { return r.link; });
    std::vector<Said> items;
    for (const auto& item : network_.harness) items.push_back(item.id);
    for (const auto& chain : network_.chains)
      for (const auto& item : chain.items)
        if (item.kind == NetworkChainItem::Kind::wire) items.push_back(item.id);
    unique("harness", items, [](const auto& r) { return r; });
  }

  template <class Rows, class Id>
  void unique(const std::string& what, const Rows& rows, Id id) {
    std::map<std::string, Spot> seen;
    for (const auto& row : rows) {
      const Said said = id(row);
      if (said.text.empty()) continue;
      const auto [first, fresh] = seen.emplace(said.text, said.spot);
      if (!fresh)
        mistakes_.add(said.spot, what,
                      "'" + said.text + "' is there already, in line " + std::to_string(first->second.line));
    }
  }

  const toml::table& file_;
  Mistakes& mistakes_;
  NetworkFile network_;
  std::vector<std::pair<Said, std::string>> cover_mentions_;
};

}  // namespace

NetworkFile read_network(const std::string& text, Mistakes& mistakes) {
  const auto file = parse_toml(text, mistakes);
  return Reader(file, mistakes).run();
}

}  // namespace lostspark::sources
