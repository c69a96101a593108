// The harness: every link of the family becomes wires and contacts between nodes.
#include <algorithm>
#include <numeric>
#include <set>

#include "sources/compile.hpp"
#include "sources/text.hpp"

namespace lostspark::sources {
namespace {

// A terminal clipped on a wire or bolted to an earth point: the wire's own end, so that taking the harness off the
// terminal leaves the rest of the wire whole.
constexpr double k_end_ohm = 1e-3;
// Where a connector parts: opening the node between its halves leaves the wires of both sides whole.
constexpr double k_mate_ohm = 1e-4;

using Item = NetworkChainItem;

std::size_t at(Index row) { return static_cast<std::size_t>(row); }

std::string component_of(const std::string& terminal) { return terminal.substr(0, terminal.find('.')); }

class Harness {
 public:
  explicit Harness(Build& build) : b_(build), v_(build.vehicle) {}

  void run() {
    for (std::size_t i = 0; i < b_.family.links.size(); ++i) b_.links.add(b_.family.links[i].id, static_cast<Index>(i));
    b_.paths.resize(b_.family.links.size());
    declare_items();
    earth_points();
    for (const auto& chain : b_.network.chains) lay_out(chain);
    for (auto& laid : laid_) join(laid);
    if (!sound_) return;  // elements on broken chains would only repeat the same mistakes
    for (auto& laid : laid_) connect(laid);
    realise_without_chain();
    check_unused();
    check_connected();
  }

 private:
  struct Laid {
    const NetworkChain* chain = nullptr;
    Index link = model::k_none;
    std::vector<const Item*> items;  // without joins
    std::vector<Index> nodes;        // items + 1; k_none: joined later
    const Item* start_join = nullptr;
    const Item* end_join = nullptr;
    bool wire_end = false;  // the first wire has its own end at the terminal
  };

  void mistake(Spot spot, const std::string& key, const std::string& message) {
    b_.mistakes.add(spot, key, message);
    sound_ = false;
  }

  const NetworkHarnessItem* declared(const std::string& id) const {
    for (const auto& item : b_.network.harness)
      if (item.id.text == id) return &item;
    return nullptr;
  }

  Index add_component(model::ComponentKind kind, const Said& id, const std::string& title, const std::string& path) {
    if (id.text.empty()) return model::k_none;
    if (b_.components.find(id.text) != model::k_none) {
      // Twice in the file is the reader's to report; here only a clash with the family counts.
      for (const auto& c : b_.family.components)
        if (c.id == id.text)
          mistake(id.spot, path, "'" + id.text + "' is a component of the family: choose another id");
      return model::k_none;
    }
    model::Component c;
    c.id = id.text;
    c.title = title;
    c.group = "CON";
    c.kind = kind;
    c.price_class = 1;
    c.price = b_.network.price_of_class[1];
    const auto row = static_cast<Index>(v_.components.size());
    b_.components.add(c.id, row);
    v_.components.push_back(std::move(c));
    return row;
  }

  void declare_items() {
    for (const auto& item : b_.network.harness) {
      const auto kind = item.kind == HarnessKind::connector ? model::ComponentKind::connector
                        : item.kind == HarnessKind::splice  ? model::ComponentKind::splice
                                                            : model::ComponentKind::earth_point;
      const char* path = item.kind == HarnessKind::connector ? "connector"
                         : item.kind == HarnessKind::splice  ? "splice"
                                                             : "earth_point";
      const auto row = add_component(kind, item.id, item.title, path);
      if (row == model::k_none) continue;
      v_.components[at(row)].place = item.access.place;
      v_.components[at(row)].covers = b_.cover_rows(item.access.covers);
    }
    for (const auto& chain : b_.network.chains)
      for (const auto& item : chain.items)
        if (item.kind == Item::Kind::wire) {
          auto title = item.title;
          if (title.empty()) title = (item.colour.empty() ? "" : item.colour + " ") + spoken(item.id.text);
          const auto row = add_component(model::ComponentKind::wire, item.id, title, item.path + ".wire");
          if (row == model::k_none || item.part_of.text.empty()) continue;
          const auto whole = b_.components.find(item.part_of.text);
          if (whole != model::k_none && v_.components[at(whole)].kind == model::ComponentKind::part)
            v_.components[at(row)].part_of = whole;
          else
            mistake(item.part_of.spot, item.path + ".part_of",
                    "'" + item.part_of.text + "' is no part of the family" +
                        suggestion(item.part_of.text, b_.components.ids()));
        }
  }

  Index add_element(const std::string& id, Index a, Index b, double ohm, Index component) {
    model::Element e;
    e.id = id;
    e.a = a;
    e.b = b;
    e.resistance_ohm = ohm;
    e.component = component;
    v_.elements.push_back(std::move(e));
    return static_cast<Index>(v_.elements.size()) - 1;
  }

  // Each earth point is one contact: from its lug, on which all its chains lie, to bare metal or to the strap's lug.
  void earth_points() {
    for (const auto& item : b_.network.harness) {
      if (item.kind != HarnessKind::earth_point || item.id.text.empty()) continue;
      auto node = item_node(item, "lug");
      node.id = item.id.text + ".lug";
      b_.add_node(std::move(node), item.id.text + ".lug", "the " + item.title + ", lug");
    }
    std::map<std::string, const NetworkHarnessItem*> known;
    for (const auto& item : b_.network.harness)
      if (item.kind == HarnessKind::earth_point) known[item.id.text] = &item;
    std::vector<std::string> names;
    for (const auto& [id, item] : known) names.push_back(id);
    for (const auto& [id, item] : known) {
      if (id.empty()) continue;
      Index end = model::k_earth;
      if (!item->strap.text.empty()) {
        const auto strap = known.find(item->strap.text);
        if (strap == known.end()) {
          mistake(item->strap.spot, "earth_point.strap",
                  "unknown earth point '" + item->strap.text + "'" + suggestion(item->strap.text, names));
          continue;
        }
        if (straps_in_circle(known, id)) {
          mistake(item->strap.spot, "earth_point.strap", "the straps of '" + id + "' lead in a circle, never to metal");
          continue;
        }
        end = b_.nodes.find(item->strap.text + ".lug");
      }
      const auto lug = b_.nodes.find(id + ".lug");
      earth_element_[id] = add_element(id, lug, end, item->contact_ohm, b_.components.find(id));
    }
  }

  static bool straps_in_circle(const std::map<std::string, const NetworkHarnessItem*>& known,
                               const std::string& start) {
    std::set<std::string> seen;
    auto id = start;
    while (seen.insert(id).second) {
      const auto item = known.find(id);
      if (item == known.end() || item->second->strap.text.empty()) return false;
      id = item->second->strap.text;
    }
    return true;
  }

  model::Node item_node(const NetworkHarnessItem& item, const std::string& side) const {
    model::Node node;
    node.component = b_.components.find(item.id.text);
    node.side = side;
    node.place = item.title + (item.access.place.empty() ? "" : " " + item.access.place);
    node.probe = item.probe;
    node.blind_min = item.access.blind_min;
    node.covers = b_.cover_rows(item.access.covers);
    return node;
  }

  void lay_out(const NetworkChain& chain) {
    if (chain.link.text.empty()) return;
    Laid laid;
    laid.chain = &chain;
    laid.link = b_.links.find(chain.link.text);
    if (laid.link == model::k_none) {
      mistake(chain.link.spot, chain.path.substr(0, chain.path.rfind('.')) + ".link",
              "the family has no link '" + chain.link.text + "' with these options" +
                  suggestion(chain.link.text, b_.links.ids()));
      return;
    }
    const auto& link = b_.family.links[at(laid.link)];
    for (std::size_t i = 0; i < chain.items.size(); ++i) {
      const auto& item = chain.items[i];
      if (item.kind != Item::Kind::joins) {
        if (check_item(item, link, i + 1 == chain.items.size())) laid.items.push_back(&item);
        continue;
      }
      if (i == 0)
        laid.start_join = &item;
      else if (i + 1 == chain.items.size())
        laid.end_join = &item;
      else
        mistake(item.id.spot, item.path + ".joins", "stands in the middle: only the first or last item may join");
    }
    if (laid.items.empty()) {
      if (sound_)
        mistake(chain.link.spot, chain.path, "has no wire, connector, splice or earth point: expected at least one");
      return;
    }
    name_nodes(laid, link);
    laid_.push_back(std::move(laid));
  }

  bool check_item(const Item& item, const FamilyLink& link, bool last) {
    if (item.id.text.empty() || item.kind == Item::Kind::wire) return !item.id.text.empty();
    const auto* found = declared(item.id.text);
    const HarnessKind kind = item.kind == Item::Kind::connector ? HarnessKind::connector
                             : item.kind == Item::Kind::splice  ? HarnessKind::splice
                                                                : HarnessKind::earth_point;
    const char* word = kind == HarnessKind::connector ? "connector"
                       : kind == HarnessKind::splice  ? "splice"
                                                      : "earth_point";
    if (found == nullptr || found->kind != kind) {
      std::vector<std::string> names;
      for (const auto& other : b_.network.harness)
        if (other.kind == kind) names.push_back(other.id.text);
      mistake(item.id.spot, item.path + "." + word,
              std::string("unknown ") + word + " '" + item.id.text + "'" + suggestion(item.id.text, names));
      return false;
    }
    used_.insert(item.id.text);
    if (kind == HarnessKind::earth_point && (!last || link.to != "earth")) {
      mistake(
          item.id.spot, item.path + ".earth_point",
          last ? "link '" + link.id + "' does not end in earth" : "only the last item of a chain is an earth point");
      return false;
    }
    if (kind != HarnessKind::connector || item.pin.text.empty()) return true;
    const auto& pins = found->pins;
    if (std::none_of(pins.begin(), pins.end(), [&](const Said& p) { return p.text == item.pin.text; })) {
      std::vector<std::string> names;
      for (const auto& pin : pins) names.push_back(pin.text);
      mistake(item.pin.spot, item.path + ".pin",
              "connector '" + item.id.text + "' has no pin '" + item.pin.text + "'; valid: " + join_texts(names));
      return false;
    }
    if (!pins_.insert(item.id.text + "." + item.pin.text).second) {
      mistake(item.pin.spot, item.path + ".pin",
              "pin '" + item.pin.text + "' of '" + item.id.text + "' carries another chain already");
      return false;
    }
    return true;
  }

  static std::string join_texts(const std::vector<std::string>& names) { return sources::join(names, ", "); }

  // Which half of a contact: named for the component that it looks to.
  static std::string side(const FamilyLink& link, bool towards_start) {
    const auto from = component_of(link.from), to = component_of(link.to);
    if (from == to) return spoken_side(towards_start ? link.from : link.to);
    return (towards_start ? from : to) + "_side";
  }
  static std::string spoken_side(const std::string& terminal) {
    return terminal.substr(terminal.find('.') + 1) + "_side";
  }

  std::string side_words(const FamilyLink& link, bool towards_start) const {
    const auto from = component_of(link.from), to = component_of(link.to);
    if (from == to) return spoken(spoken_side(towards_start ? link.from : link.to));
    const auto& id = towards_start ? from : to;
    if (id == "earth") return "earth side";
    return v_.components[at(b_.components.find(id))].title + " side";
  }

  // Node between two items of a chain; `left` may be null at the start, `right` at the end.
  Index middle_node(const FamilyLink& link, const Item* left, const Item* right) {
    const auto is_contact = [](const Item* i) {
      return i != nullptr && (i->kind == Item::Kind::connector || i->kind == Item::Kind::splice);
    };
    model::Node node;
    std::string key, words;
    const Item* wire = left != nullptr && left->kind == Item::Kind::wire     ? left
                       : right != nullptr && right->kind == Item::Kind::wire ? right
                                                                             : nullptr;
    if (is_contact(left) || is_contact(right)) {
      const bool leaving = is_contact(left);
      const Item& contact = leaving ? *left : *right;
      const auto& item = *declared(contact.id.text);
      const auto side_id = side(link, !leaving);
      const auto pin = contact.pin.text.empty() ? "" : "." + contact.pin.text;
      node = item_node(item, side_id);
      node.id = item.id.text + pin + "." + side_id;
      if (!pin.empty()) node.place += ", pin " + contact.pin.text;
      node.place += ", " + side_words(link, !leaving);
      key = item.id.text + "." + side_id;
      words = "the " + item.title + ", " + side_words(link, !leaving);
    } else {
      // Inside the loom, between two wires: no meter gets there.
      const auto component = b_.components.find(wire->id.text);
      node.id = wire->id.text + ".far_end";
      node.component = component;
      node.side = "far_end";
      node.place = v_.components[at(component)].title + ", far end";
      key = node.id;
      words = "the far end of the " + v_.components[at(component)].title;
    }
    if (wire != nullptr) node.wire = wire->colour;
    if (b_.nodes.find(node.id) != model::k_none) {  // the same splice passed twice by one link
      node.id += "_" + link.id;
      key += "_" + link.id;
    }
    auto row = b_.add_node(std::move(node), key, words);
    if (is_contact(left) && is_contact(right)) alias(link, *right, true, row);
    return row;
  }

  // Another name of a node: the contact's side where it is a terminal or the next contact's node.
  void alias(const FamilyLink& link, const Item& contact, bool towards_start, Index node) {
    if (contact.kind != Item::Kind::connector && contact.kind != Item::Kind::splice) return;
    const auto pin = contact.pin.text.empty() ? "" : "." + contact.pin.text;
    b_.nodes.add(contact.id.text + pin + "." + side(link, towards_start), node);
  }

  void name_nodes(Laid& laid, const FamilyLink& link) {
    const auto n = laid.items.size();
    laid.nodes.assign(n + 1, model::k_none);
    const bool to_earth_point = laid.items.back()->kind == Item::Kind::earth_point;
    if (laid.start_join == nullptr) laid.nodes[0] = b_.node_of(link.from);
    if (laid.end_join == nullptr) laid.nodes[n] = to_earth_point ? earth_end(*laid.items.back()) : b_.node_of(link.to);
    for (std::size_t i = 1; i < n; ++i) {
      const bool lug = i + 1 == n && to_earth_point;
      laid.nodes[i] =
          lug ? b_.nodes.find(laid.items[i]->id.text + ".lug") : middle_node(link, laid.items[i - 1], laid.items[i]);
      if (lug) alias(link, *laid.items[i - 1], false, laid.nodes[i]);
    }
    if (laid.nodes[0] != model::k_none) {
      alias(link, *laid.items.front(), true, laid.nodes[0]);
      note_colour(laid.nodes[0], *laid.items.front());
    }
    if (laid.nodes[n] != model::k_none && !to_earth_point) {
      alias(link, *laid.items.back(), false, laid.nodes[n]);
      note_colour(laid.nodes[n], *laid.items.back());
    }
  }

  void note_colour(Index node, const Item& item) {
    if (item.kind == Item::Kind::wire && node != model::k_earth && v_.nodes[at(node)].wire.empty())
      v_.nodes[at(node)].wire = item.colour;
  }

  Index earth_end(const Item& item) const {
    const auto element = earth_element_.find(item.id.text);
    return element == earth_element_.end() ? model::k_earth : v_.elements[at(element->second)].b;
  }

  void join(Laid& laid) {
    for (const auto* item : {laid.start_join, laid.end_join}) {
      if (item == nullptr) continue;
      const auto node = b_.nodes.find(item->id.text);
      if (item->id.text.ends_with(".lug") && node != model::k_none) {
        const auto point = component_of(item->id.text);
        mistake(item->id.spot, item->path + ".joins",
                "'" + item->id.text + "' is an earth point: expected { earth_point = \"" + point + "\" }");
        continue;
      }
      if (node == model::k_none || node == model::k_earth) {
        std::vector<std::string> names;
        for (const auto& id : b_.nodes.ids())
          if (id != "earth") names.push_back(id);
        mistake(item->id.spot, item->path + ".joins",
                "no chain has a node '" + item->id.text + "'" + suggestion(item->id.text, names));
        continue;
      }
      (item == laid.start_join ? laid.nodes.front() : laid.nodes.back()) = node;
    }
  }

  void connect(Laid& laid) {
    auto& path = b_.paths[at(laid.link)];
    if (!path.nodes.empty()) return;  // a second chain for the link: reported by the reader
    path.joined_start = laid.start_join != nullptr;
    path.nodes.push_back(laid.nodes[0]);
    for (std::size_t i = 0; i < laid.items.size(); ++i) connect_item(laid, i, path);
    set_wire_covers(laid);
  }

  void connect_item(Laid& laid, std::size_t i, LinkPath& path) {
    const auto& item = *laid.items[i];
    const auto& link = b_.family.links[at(laid.link)];
    const auto component = b_.components.find(item.id.text);
    Index from = path.nodes.back();
    const Index to = laid.nodes[i + 1];
    Piece piece;
    piece.component = component;
    piece.link = laid.link;
    piece.exposure = item.exposure;
    piece.zones = item.zones;
    if (item.kind == Item::Kind::wire) {
      piece.kind = Piece::Kind::wire;
      if (i == 0 && !path.joined_start) {
        model::Node end;
        end.id = item.id.text + ".near_end";
        end.component = component;
        end.side = "near_end";
        end.place = v_.components[at(component)].title + ", near end";
        end.wire = item.colour;
        const auto row = b_.add_node(std::move(end), item.id.text + ".near_end", "");
        path.elements.push_back(add_element(item.id.text + "_end", from, row, k_end_ohm, component));
        path.nodes.push_back(row);
        from = row;
      }
      piece.element = add_element(item.id.text, from, to, item.ohm, component);
    } else {
      const auto& declared_item = *declared(item.id.text);
      piece.zones = declared_item.zones;
      piece.exposure = declared_item.exposure;
      if (item.kind == Item::Kind::earth_point) {
        piece.kind = Piece::Kind::earth_point;
        piece.element = earth_element_.at(item.id.text);
        const auto lug = v_.elements[at(piece.element)].a;
        if (from != lug) {
          path.elements.push_back(add_element(link.id + "_lug", from, lug, k_end_ohm, component));
          path.nodes.push_back(lug);
        }
      } else {
        const bool splice = item.kind == Item::Kind::splice;
        piece.kind = splice ? Piece::Kind::splice : Piece::Kind::contact;
        piece.label = splice ? link.id + "_" : "pin_" + item.pin.text + "_";
        piece.words = splice ? "leg of the " + link.title : "pin " + item.pin.text;
        const auto id = item.id.text + "." + (splice ? link.id : item.pin.text);
        if (!splice && is_outermost(laid, i)) from = mate(declared_item, id, from, path);
        piece.element = add_element(id, from, to, declared_item.contact_ohm, component);
      }
    }
    v_.components[at(component)].stops_engine |= link.stops_engine;
    path.elements.push_back(piece.element);
    path.nodes.push_back(to);
    b_.pieces.push_back(std::move(piece));
    if (item.kind == Item::Kind::earth_point) along_straps(item.id.text, laid.link, path);
  }

  // Set-ups unplug the connector next to an end of a link; those between never part.
  static bool is_outermost(const Laid& laid, std::size_t i) {
    const auto connector = [](const Item* item) { return item->kind == Item::Kind::connector; };
    const auto here = laid.items.begin() + static_cast<std::ptrdiff_t>(i);
    return std::none_of(laid.items.begin(), here, connector) || std::none_of(here + 1, laid.items.end(), connector);
  }

  Index mate(const NetworkHarnessItem& item, const std::string& id, Index from, LinkPath& path) {
    auto node = item_node(item, "mated");
    node.id = id + ".mated";
    node.probe = false;
    const auto row = b_.add_node(std::move(node), id + ".mated", "");
    path.elements.push_back(add_element(id + "_mate", from, row, k_mate_ohm, b_.components.find(item.id.text)));
    path.nodes.push_back(row);
    return row;
  }

  // The straps an earth point leads through carry the link as well.
  void along_straps(const std::string& id, Index link, LinkPath& path) {
    auto next = declared(id)->strap.text;
    while (!next.empty()) {
      const auto& strap = *declared(next);
      used_.insert(next);
      Piece piece{Piece::Kind::earth_point,
                  b_.components.find(next),
                  earth_element_.at(next),
                  link,
                  "",
                  "",
                  strap.zones,
                  strap.exposure};
      v_.components[at(piece.component)].stops_engine |= b_.family.links[at(link)].stops_engine;
      path.elements.push_back(piece.element);
      path.nodes.push_back(v_.elements[at(piece.element)].b);
      b_.pieces.push_back(std::move(piece));
      next = strap.strap.text;
    }
  }

  void set_wire_covers(const Laid& laid) {
    for (std::size_t i = 0; i < laid.items.size(); ++i) {
      const auto& item = *laid.items[i];
      if (item.kind != Item::Kind::wire) continue;
      auto& c = v_.components[at(b_.components.find(item.id.text))];
      c.place = item.access.place;
      std::vector<std::string> ends;
      for (const std::size_t k : {i - 1, i + 1}) {
        if (k >= laid.items.size() || laid.items[k]->kind == Item::Kind::wire) continue;  // i - 1 wraps at the start
        const auto& neighbour = v_.components[at(b_.components.find(laid.items[k]->id.text))];
        ends.push_back(neighbour.title);
        if (item.access.covers.empty()) add_missing(c.covers, neighbour.covers);
      }
      if (c.place.empty() && !ends.empty())
        c.place = ends.size() == 2 ? "between " + ends[0] + " and " + ends[1] : "at the " + ends[0];
      if (!item.access.covers.empty()) c.covers = b_.cover_rows(item.access.covers);
      std::sort(c.covers.begin(), c.covers.end());
    }
  }

  void realise_without_chain() {
    for (std::size_t i = 0; i < b_.family.links.size(); ++i) {
      if (!b_.paths[i].nodes.empty()) continue;
      const auto& link = b_.family.links[i];
      if (link.carries != "high_tension") {
        const bool named = std::any_of(b_.network.chains.begin(), b_.network.chains.end(),
                                       [&](const NetworkChain& c) { return c.link.text == link.id; });
        if (!named)
          mistake({}, "chain",
                  "link '" + link.id + "' (" + link.title + ", " + link.from + " to " + link.to +
                      ") is not realised: expected [[chain]] link = \"" + link.id + "\"");
        continue;
      }
      // High tension needs no chain: lead and cap are components of the family.
      auto& path = b_.paths[i];
      path.nodes = {b_.node_of(link.from), b_.node_of(link.to)};
      path.elements = {add_element(link.id + "_joint", path.nodes[0], path.nodes[1], k_end_ohm, model::k_none)};
    }
  }

  void check_unused() {
    for (const auto& item : b_.network.harness)
      if (!item.id.text.empty() && !used_.contains(item.id.text))
        mistake(item.id.spot,
                item.kind == HarnessKind::connector ? "connector"
                : item.kind == HarnessKind::splice  ? "splice"
                                                    : "earth_point",
                "'" + item.id.text + "' is in no chain: expected a chain item, or remove it");
  }

  // A chain that joins another one must still lead from the link's first terminal to its second.
  void check_connected() {
    if (!sound_) return;
    std::vector<Index> root(v_.nodes.size());
    std::iota(root.begin(), root.end(), 0);
    const auto find = [&](Index node) {
      while (root[at(node)] != node) node = root[at(node)] = root[at(root[at(node)])];
      return node;
    };
    std::vector<bool> earthed(v_.nodes.size(), false);
    for (const auto& e : v_.elements) {
      if (e.component == model::k_none) continue;
      const auto kind = v_.components[at(e.component)].kind;
      if (kind == model::ComponentKind::part || kind == model::ComponentKind::operator_state) continue;
      if (e.a != model::k_earth && e.b != model::k_earth)
        root[at(find(e.a))] = find(e.b);
      else
        earthed[at(e.a == model::k_earth ? e.b : e.a)] = true;
    }
    std::set<Index> earthed_roots;
    for (std::size_t n = 1; n < earthed.size(); ++n)
      if (earthed[n]) earthed_roots.insert(find(static_cast<Index>(n)));
    for (const auto& laid : laid_) {
      const auto& link = b_.family.links[at(laid.link)];
      const auto from = find(b_.node_of(link.from));
      const bool reached = link.to == "earth" ? earthed_roots.contains(from) : find(b_.node_of(link.to)) == from;
      if (!reached)
        mistake(laid.chain->link.spot, laid.chain->path,
                "does not lead from " + link.from + " to " + link.to + ": check where it joins");
    }
  }

  Build& b_;
  model::Vehicle& v_;
  std::vector<Laid> laid_;
  std::map<std::string, Index> earth_element_;
  std::set<std::string> used_, pins_;
  bool sound_ = true;
};

}  // namespace

void build_harness(Build& build) { Harness(build).run(); }

}  // namespace lostspark::sources
