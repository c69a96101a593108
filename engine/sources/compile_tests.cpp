// Tests: one per test kind, place and set-up; scenes; effects of set-ups.
#include <algorithm>
#include <set>

#include "lostspark_plugin.h"
#include "sources/plugs.hpp"
#include "sources/text.hpp"

namespace lostspark::sources {
namespace {

using model::k_none;

std::size_t at(Index row) { return static_cast<std::size_t>(row); }

constexpr double k_insulation_ohm = 1e6;

class Tests {
 public:
  explicit Tests(Build& build) : b_(build), v_(build.vehicle), plugs_(build) {}

  void run() {
    plugs_.apply_effects();
    find_provocations();
    for (const auto& kind : b_.family.test_kinds) {
      const auto* stated = stated_access(kind.id);
      if (stated != nullptr && !stated->offered) continue;
      make(kind, stated);
    }
    check_access_rows();
    bands();
  }

 private:
  // ------------------------------------------------------------------------------------------------ provocations
  // Those that the network offers and that change how often some mode shows itself.
  void find_provocations() {
    for (std::size_t c = 0; c < v_.conditions.size(); ++c) {
      const auto& condition = v_.conditions[c];
      if (condition.is_state) continue;
      const auto& wanted = b_.network.provocations;
      if (wanted && std::none_of(wanted->begin(), wanted->end(), [&](const Said& s) { return s.text == condition.id; }))
        continue;
      const auto column = static_cast<std::size_t>(condition.provocation);
      if (std::any_of(v_.modes.begin(), v_.modes.end(),
                      [&](const model::Mode& m) { return m.visible[column] != m.visible[0]; }))
        provocations_.push_back(static_cast<Index>(c));
    }
    if (!b_.network.provocations) return;
    std::vector<std::string> names;
    for (const auto& c : v_.conditions)
      if (!c.is_state) names.push_back(c.id);
    for (const auto& said : *b_.network.provocations)
      if (std::find(names.begin(), names.end(), said.text) == names.end())
        b_.mistakes.add(said.spot, "vehicle.provocations",
                        "the family has no provocation '" + said.text + "'" + suggestion(said.text, names));
  }

  // ------------------------------------------------------------------------------------------------ tests
  struct Alternative {
    std::vector<Index> setups;
    std::string suffix;  ///< of the id: "+kill_unplugged"
  };

  std::vector<Alternative> alternatives(const FamilyTestKind& kind) const {
    std::vector<Alternative> all;
    for (const auto& piece : pieces_of(kind.setups, '|')) {
      auto names = words_of(piece);
      std::sort(names.begin(), names.end());
      Alternative a;
      for (const auto& name : names) {
        a.setups.push_back(b_.must(b_.setups, name));
        a.suffix += "+" + name;
      }
      std::sort(a.setups.begin(), a.setups.end());
      if (all.empty())
        a.suffix.clear();  // the kind's own
      else if (names.empty())
        a.suffix = "+none";
      all.push_back(std::move(a));
    }
    return all;
  }

  void make(const FamilyTestKind& kind, const NetworkAccess* stated) {
    for (const auto& alternative : alternatives(kind)) switch (kind.reads) {
        case LS_READS_HARNESS_VOLTS:
          volts(kind, alternative);
          break;
        case LS_READS_HARNESS_DROP:
          drops(kind, alternative);
          break;
        case LS_READS_OHMS:
          ohms(kind, alternative);
          break;
        case LS_READS_OUTPUT:
        case LS_READS_MARGIN_WORD:
          output(kind, alternative, stated);
          break;
        default:
          finding(kind, alternative, stated);
      }
  }

  model::Test start(const FamilyTestKind& kind, const Alternative& alternative, const std::string& place_key) {
    model::Test t;
    t.kind = kind.id;
    t.id = kind.id + (place_key.empty() ? "" : "@" + place_key) + alternative.suffix;
    t.title = kind.title;
    t.unit = kind.unit;
    t.scene = scene(b_.must(b_.conditions, kind.condition), alternative.setups);
    for (const auto& margin : words_of(kind.dead_below)) t.dead_below.push_back(b_.must(b_.outputs, margin));
    t.instrument = kind.instrument;
    t.log_sd = kind.log_sd;
    t.minutes = kind.minutes;
    t.mistaken = kind.mistaken;
    t.place = kind.place;
    t.hook_up = kind.hook_up;
    t.low_means = kind.low_means;
    t.zero_means = kind.zero_means;
    t.high_means = kind.high_means;
    for (const auto& caution : words_of(kind.cautions)) t.cautions.push_back(b_.must(b_.cautions, caution));
    return t;
  }

  Index scene(Index condition, const std::vector<Index>& setups) {
    for (std::size_t i = 0; i < v_.scenes.size(); ++i)
      if (v_.scenes[i].condition == condition && v_.scenes[i].setups == setups) return static_cast<Index>(i);
    v_.scenes.push_back({condition, setups});
    return static_cast<Index>(v_.scenes.size()) - 1;
  }

  std::string setup_words(const Alternative& alternative) const {
    std::string words;
    for (const auto s : alternative.setups) words += ", " + v_.setups[at(s)].title;
    return words;
  }

  // Covers over the place and over the contacts that its set-ups move; false where the test cannot be done: the engine
  // would have to run without a cover it needs.
  bool set_access(model::Test& t, std::vector<Index> covers, double blind_min) const {
    std::vector<Index> moved;
    for (const auto s : v_.scenes[at(t.scene)].setups)
      for (const auto c : v_.setups[at(s)].touches) add_missing(moved, v_.components[at(c)].covers);
    t.covers = std::move(covers);
    const bool blind = blind_min >= 0 && moved.empty() && !t.covers.empty();
    add_missing(t.covers, moved);
    std::sort(t.covers.begin(), t.covers.end());
    t.blind_min = blind ? blind_min : -1;
    const auto& condition = v_.conditions[at(v_.scenes[at(t.scene)].condition)];
    if (blind || t.covers.empty()) return true;
    if (condition.covers_fitted) return false;
    if (!condition.running) return true;
    return std::all_of(t.covers.begin(), t.covers.end(), [&](Index c) { return may_run_without(c); });
  }

  // A cover is off only after those before it.
  bool may_run_without(Index cover) const {
    const auto& c = v_.covers[at(cover)];
    return c.may_run_without &&
           std::all_of(c.first.begin(), c.first.end(), [&](Index before) { return may_run_without(before); });
  }

  // Adds the test and, where asked, its twins under each provocation.
  void add(model::Test t, bool provoked) {
    if (!ids_.insert(t.id).second) return;
    v_.tests.push_back(t);
    if (!provoked) return;
    const auto& state = v_.conditions[at(v_.scenes[at(t.scene)].condition)];
    for (const auto p : provocations_) {
      const auto& condition = v_.conditions[at(p)];
      if (condition.running && !state.running) continue;
      if (condition.engine_off && (state.running || state.needs_crank)) continue;
      if (condition.covers_fitted && !t.covers.empty() && t.blind_min < 0) continue;
      if (t.reads == model::Reads::ohms && !provocation_reaches(t, condition.provocation)) continue;
      auto twin = t;
      twin.id += "/" + condition.id;
      twin.title += ", " + condition.title;
      twin.provocation = condition.provocation;
      twin.condition_extra = p;
      ids_.insert(twin.id);
      v_.tests.push_back(std::move(twin));
    }
  }

  // Some mode that the provocation wakes changes what this ohmmeter sees: elements joined to the meter's clips with the
  // test's set-ups standing.
  bool provocation_reaches(const model::Test& t, model::Provocation provocation) const {
    const auto& setups = v_.scenes[at(t.scene)].setups;
    std::vector<bool> reached(v_.nodes.size(), false), seen(v_.elements.size(), false);
    std::vector<Index> queue{t.node_a};  // what hangs on the other clip alone carries none of the meter's current
    for (std::size_t k = 0; k < queue.size(); ++k) {
      if (queue[k] == model::k_earth || queue[k] == t.node_b || reached[at(queue[k])]) continue;
      reached[at(queue[k])] = true;
      for (std::size_t e = 0; e < v_.elements.size(); ++e) {
        const auto& element = v_.elements[e];
        if (element.use == model::ElementUse::running_only || (element.a != queue[k] && element.b != queue[k]))
          continue;
        if (plugs_.opens(setups, element.a) || plugs_.opens(setups, element.b)) continue;
        seen[e] = true;
        // Behind a sound switch or insulation nothing is seen.
        const auto p = element.resistance_parameter;
        if (p == k_none || v_.parameters[at(p)].typical < k_insulation_ohm)
          queue.push_back(element.a == queue[k] ? element.b : element.a);
      }
    }
    const auto touches = [&](const model::Change& change) {
      if (change.target != model::ChangeTarget::parameter) return static_cast<bool>(seen[at(change.index)]);
      for (std::size_t e = 0; e < v_.elements.size(); ++e)
        if (seen[e] && v_.elements[e].resistance_parameter == change.index) return true;
      return false;
    };
    const auto column = static_cast<std::size_t>(provocation);
    return std::any_of(v_.modes.begin(), v_.modes.end(), [&](const model::Mode& m) {
      return m.visible[column] != m.visible[0] && std::any_of(m.changes.begin(), m.changes.end(), touches);
    });
  }

  // Points of a link that still hang on its source under these set-ups: [0, last].
  std::size_t last_live_point(const LinkPath& path, const std::vector<Index>& setups) const {
    for (std::size_t i = 0; i + 1 < path.nodes.size(); ++i)
      if (plugs_.opens(setups, path.nodes[i]) || plugs_.opens(setups, path.nodes[i + 1])) return i;
    return path.nodes.size() - 1;
  }

  // Key of a point in test ids: with the pin where the link passes the same connector twice.
  std::string key_on(const LinkPath& path, Index node) const {
    const auto& key = b_.node_keys[at(node)];
    const auto same = std::count_if(path.nodes.begin(), path.nodes.end(),
                                    [&](Index other) { return b_.node_keys[at(other)] == key; });
    return same > 1 ? v_.nodes[at(node)].id : key;
  }

  void volts(const FamilyTestKind& kind, const Alternative& alternative) {
    const auto& path = b_.paths[at(b_.must(b_.links, kind.subject))];
    const auto last = last_live_point(path, alternative.setups);
    // Provoked readings are taken where all faults of the link show: at its sink, on an earth lead at the part's tag.
    const bool to_earth = b_.family.links[at(b_.must(b_.links, kind.subject))].to == "earth";
    std::size_t sink = path.nodes.size();
    for (std::size_t i = 0; i <= last; ++i)
      if (path.nodes[i] != model::k_earth && v_.nodes[at(path.nodes[i])].probe && !(to_earth && sink <= last)) sink = i;
    for (std::size_t i = 0; i <= last; ++i) {
      const auto row = path.nodes[i];
      const auto& node = v_.nodes[at(row)];
      if (row == model::k_earth || !node.probe) continue;
      auto t = start(kind, alternative, key_on(path, row));
      t.reads = model::Reads::node_volts;
      t.title += " at " + b_.node_words[at(row)] + setup_words(alternative);
      t.node_a = row;
      set_stages(t, kind);
      t.place = node.place + (node.wire.empty() ? "" : ", " + node.wire + " wire");
      if (set_access(t, node.covers, node.blind_min)) add(std::move(t), i == sink && alternative.suffix.empty());
    }
  }

  void drops(const FamilyTestKind& kind, const Alternative& alternative) {
    const auto link_row = b_.must(b_.links, kind.subject);
    const auto& path = b_.paths[at(link_row)];
    const auto last = last_live_point(path, alternative.setups);
    std::vector<std::size_t> points;
    for (std::size_t i = 0; i <= last; ++i)
      if (v_.nodes[at(path.nodes[i])].probe) points.push_back(i);
    if (points.size() < 2) return;
    const bool whole = b_.family.links[at(link_row)].to == "earth" && path.nodes[points.back()] == model::k_earth;
    if (whole)
      drop(kind, alternative, path, points.front(), points.back(), b_.family.links[at(link_row)].id + ".whole");
    for (std::size_t k = 0; k + 1 < points.size(); ++k) {
      if (whole && points.size() == 2) break;  // the same as the whole
      drop(kind, alternative, path, points[k], points[k + 1], across(path, points[k], points[k + 1]));
    }
  }

  void set_stages(model::Test& t, const FamilyTestKind& kind) const {
    for (const auto& stage : words_of(kind.source)) {
      const auto row = b_.must(b_.stages, stage);
      if (t.stage == k_none)
        t.stage = row;
      else
        t.further_stages.push_back(row);
    }
  }

  // What lies between two points: "frame_earth.across", or the first and last item where there are several.
  std::string across(const LinkPath& path, std::size_t from, std::size_t to) const {
    std::vector<std::string> items;
    for (auto i = from; i < to; ++i) {
      const auto& e = v_.elements[at(path.elements[i])];
      const auto name = e.component == k_none ? e.id : v_.components[at(e.component)].id;
      if (items.empty() || items.back() != name) items.push_back(name);
    }
    return items.size() == 1 ? items[0] + ".across" : items.front() + ".to_" + items.back();
  }

  void drop(const FamilyTestKind& kind, const Alternative& alternative, const LinkPath& path, std::size_t from,
            std::size_t to, const std::string& key) {
    auto t = start(kind, alternative, key);
    const auto a = path.nodes[from], b = path.nodes[to];
    t.reads = model::Reads::drop_volts;
    t.title += " from " + b_.node_words[at(a)] + " to " + b_.node_words[at(b)] + setup_words(alternative);
    t.node_a = a;
    t.node_b = b;
    set_stages(t, kind);
    t.place = v_.nodes[at(a)].place + " to " + v_.nodes[at(b)].place;
    auto covers = v_.nodes[at(a)].covers;
    add_missing(covers, v_.nodes[at(b)].covers);
    if (set_access(t, std::move(covers), blind_of({a, b}))) add(std::move(t), false);
  }

  // Probing several points without taking covers off: possible if each is open or has its own blind way.
  double blind_of(const std::vector<Index>& nodes) const {
    double minutes = 0;
    for (const auto n : nodes) {
      const auto& node = v_.nodes[at(n)];
      if (node.covers.empty()) continue;
      if (node.blind_min < 0) return -1;
      minutes += node.blind_min;
    }
    return minutes;
  }

  // ------------------------------------------------------------------------------------------------ ohms
  void ohms(const FamilyTestKind& kind, Alternative alternative) {
    const bool given = plugs_.opens_any(alternative.setups);
    Index a = b_.node_of(kind.subject);
    if (given && !plugs_.opens_at(alternative.setups, kind.subject))
      a = plugs_.loose_end(kind.subject, alternative.setups);
    else
      a = plugs_.measured_at(kind.subject);
    if (a == k_none) return;
    if (!given && !plugs_.links_at(kind.subject).empty()) alternative.setups.push_back(plugs_.unplug(kind.subject));
    std::sort(alternative.setups.begin(), alternative.setups.end());
    const Index b = kind.against == "earth" ? model::k_earth : plugs_.return_at(kind.against);
    if (b == k_none || a == b) return;
    auto t = start(kind, alternative, b_.node_keys[at(a)]);
    t.reads = model::Reads::ohms;
    const auto& node = v_.nodes[at(a)];
    t.title += " at " + b_.node_words[at(a)] + setup_words(alternative);
    t.node_a = a;
    t.node_b = b;
    t.place = node.place + (node.wire.empty() ? "" : ", " + node.wire + " wire");
    if (b != model::k_earth) t.place += ", against " + v_.nodes[at(b)].place;
    auto covers = node.covers;
    add_missing(covers, v_.nodes[at(b)].covers);
    if (set_access(t, std::move(covers), -1)) add(std::move(t), true);
  }

  // ------------------------------------------------------------------------------------------------ outputs, findings
  const NetworkAccess* stated_access(const std::string& kind) const {
    for (const auto& a : b_.network.accesses)
      if (a.test.text == kind) return &a;
    return nullptr;
  }

  // Place and covers of a test off the harness: from [[access]], else from the component its place names.
  bool place_at(model::Test& t, const NetworkAccess* stated, Index component) const {
    std::vector<Index> covers;
    double blind = -1;
    if (stated != nullptr && !stated->component.text.empty()) component = b_.components.find(stated->component.text);
    if (component == k_none) component = b_.components.find(t.place);
    if (component != k_none) {
      const auto& c = v_.components[at(component)];
      t.place = c.title + (c.place.empty() ? "" : " " + c.place);
      covers = c.covers;
      for (const auto& said : b_.network.components)
        if (said.id.text == c.id) blind = said.access.blind_min;
      for (const auto& said : b_.network.harness)
        if (said.id.text == c.id) blind = said.access.blind_min;
    }
    if (stated != nullptr) {
      if (stated->has_place) t.place = stated->access.place;
      if (stated->has_covers) covers = b_.cover_rows(stated->access.covers);
      if (stated->has_blind) blind = stated->access.blind_min;
    }
    return set_access(t, std::move(covers), blind);
  }

  void output(const FamilyTestKind& kind, const Alternative& alternative, const NetworkAccess* stated) {
    auto t = start(kind, alternative, "");
    t.reads = kind.reads == LS_READS_OUTPUT ? model::Reads::output : model::Reads::margin_word;
    t.title += setup_words(alternative);
    t.output = b_.must(b_.outputs, kind.subject);
    if (!kind.switch_margin.empty()) {
      t.switch_margin = b_.must(b_.outputs, kind.switch_margin);
      t.switch_output = b_.must(b_.outputs, kind.switch_output);
    }
    if (t.reads == model::Reads::margin_word) t.words = {"none", "irregular", "steady"};
    const bool provoked = alternative.suffix.empty() && (stated == nullptr || stated->provoked);
    if (place_at(t, stated, k_none)) add(std::move(t), provoked);
  }

  void finding(const FamilyTestKind& kind, const Alternative& alternative, const NetworkAccess* stated) {
    if (kind.subject != "components") {
      const auto component = kind.subject.empty() ? k_none : b_.must(b_.components, kind.subject);
      one_finding(kind, alternative, stated, component, kind.subject);
      return;
    }
    for (std::size_t c = 0; c < v_.components.size(); ++c) {
      const auto& component = v_.components[c];
      const bool harness = component.kind != model::ComponentKind::part &&
                           component.kind != model::ComponentKind::operator_state &&
                           component.kind != model::ComponentKind::elsewhere;
      if (harness || !component.place.empty())
        one_finding(kind, alternative, stated, static_cast<Index>(c), component.id);
    }
  }

  void one_finding(const FamilyTestKind& kind, const Alternative& alternative, const NetworkAccess* stated,
                   Index component, const std::string& key) {
    auto t = start(kind, alternative, key);
    t.reads = model::Reads::finding;
    const bool each = kind.subject == "components";
    if (each) t.title += ": " + v_.components[at(component)].title;
    t.title += setup_words(alternative);
    t.words = {"nothing found"};
    for (const auto& row : b_.family.findings) {
      if (row.test_kind != kind.id) continue;
      if (row.mode.empty()) {  // the word without any mode behind it
        t.words.front() = row.word;
        t.false_alarm = 1 - row.probability;
      } else if (std::find(t.words.begin(), t.words.end(), row.word) == t.words.end()) {
        t.words.push_back(row.word);
      }
    }
    for (const auto& row : b_.family.findings) {
      if (row.test_kind != kind.id || row.mode.empty()) continue;
      const auto word = std::find(t.words.begin(), t.words.end(), row.word) - t.words.begin();
      for (std::size_t m = 0; m < v_.modes.size(); ++m) {
        if (each && v_.modes[m].component != component) continue;
        if (!covers_mode(row.mode, v_.modes[m].id) && !is_of_link(row.mode, static_cast<Index>(m))) continue;
        // A row for the very mode stands over a pattern.
        const auto known = std::find_if(t.findings.begin(), t.findings.end(),
                                        [&](const model::FindingRow& f) { return at(f.mode) == m; });
        if (known == t.findings.end())
          t.findings.push_back({static_cast<Index>(m), static_cast<std::size_t>(word), row.probability});
        else if (row.mode.find('*') == std::string::npos)
          *known = {static_cast<Index>(m), static_cast<std::size_t>(word), row.probability};
      }
    }
    if (t.findings.empty()) return;  // nothing to be found there
    if (place_at(t, stated, component)) add(std::move(t), false);
  }

  // "exciter.open", "exciter.*", "*.corroded" (also pin_1_corroded), and "component.*": any mode of the component
  // looked at.
  static bool covers_mode(const std::string& pattern, const std::string& mode) {
    if (pattern == "component.*" || matches(pattern, mode)) return true;
    if (!pattern.starts_with("*.")) return false;
    return matches("*_" + pattern.substr(2), mode);
  }

  // "link:crank_wire.open": that fault anywhere along a link of the family, whatever the network calls its items.
  bool is_of_link(const std::string& pattern, Index mode) const {
    const auto found = b_.link_modes.find(mode);
    return found != b_.link_modes.end() &&
           std::any_of(found->second.begin(), found->second.end(),
                       [&](const std::string& name) { return matches(pattern, name); });
  }

  // ------------------------------------------------------------------------------------------------ the network's rows
  void check_access_rows() {
    std::vector<std::string> kinds;
    for (const auto& kind : b_.family.test_kinds) kinds.push_back(kind.id);
    std::size_t number = 0;
    for (const auto& a : b_.network.accesses) {
      const auto path = "access[" + std::to_string(++number) + "]";
      if (!a.test.text.empty() && std::find(kinds.begin(), kinds.end(), a.test.text) == kinds.end())
        b_.mistakes.add(a.test.spot, path + ".test",
                        "the family has no test kind '" + a.test.text + "'" + suggestion(a.test.text, kinds));
      if (!a.component.text.empty() && b_.components.find(a.component.text) == k_none)
        b_.mistakes.add(
            a.component.spot, path + ".component",
            "unknown component '" + a.component.text + "'" + suggestion(a.component.text, b_.components.ids()));
    }
  }

  void bands() {
    std::vector<std::string> ids;
    for (const auto& t : v_.tests) ids.push_back(t.id);
    std::set<std::string> done;
    std::size_t number = 0;
    for (const auto& band : b_.network.bands) {
      const auto path = "healthy[" + std::to_string(++number) + "].test";
      bool any = band.test.text.empty();
      for (auto& t : v_.tests) {
        if (!matches(band.test.text, t.id)) continue;
        any = true;
        if (!done.insert(t.id).second) continue;
        t.healthy_low = band.low;
        t.healthy_high = band.high;
        t.healthy_origin = band.origin;
        t.healthy_note = band.note;
      }
      if (!any)
        b_.mistakes.add(band.test.spot, path,
                        "no test fits '" + band.test.text + "'" + suggestion(band.test.text, ids));
    }
  }

  Build& b_;
  model::Vehicle& v_;
  Plugs plugs_;
  std::vector<Index> provocations_;
  std::set<std::string> ids_;
};

}  // namespace

void build_tests(Build& build) { Tests(build).run(); }

}  // namespace lostspark::sources
