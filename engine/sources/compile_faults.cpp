// Modes and repairs: the family's, and those of the harness from the shares of the links.
#include <algorithm>
#include <cmath>

#include "sources/compile.hpp"
#include "sources/text.hpp"

namespace lostspark::sources {
namespace {

std::size_t at(Index row) { return static_cast<std::size_t>(row); }

// How zones multiply the exposure of an item, and how often a fault there shows. All judgement; docs/network-files.md.
struct Sensitivity {
  double heat, wet, vibration, steering;
};
constexpr Sensitivity k_corroded{1.3, 2.0, 1.5, 1.0};
constexpr Sensitivity k_open{1.3, 1.0, 2.0, 2.0};
constexpr Sensitivity k_chafed{1.0, 1.0, 2.0, 3.0};
constexpr double k_shows_unprovoked = 0.6;  ///< a fault that some zone can wake: mixture of constant and intermittent
constexpr double k_shows_provoked = 0.9;

double exposure_of(const Piece& piece, const Sensitivity& s) {
  double factor = piece.exposure;
  if (piece.zones.heat) factor *= s.heat;
  if (piece.zones.wet) factor *= s.wet;
  if (piece.zones.vibration) factor *= s.vibration;
  if (piece.zones.steering) factor *= s.steering;
  return factor;
}

model::Visibility visibility_of(const Piece& piece, const Sensitivity& s) {
  const bool hot = piece.zones.heat && s.heat > 1, wet = piece.zones.wet && s.wet > 1;
  const bool shaken = piece.zones.vibration && s.vibration > 1, steering = piece.zones.steering && s.steering > 1;
  model::Visibility seen;
  seen.fill(hot || wet || shaken || steering ? k_shows_unprovoked : 1.0);
  const auto wake = [&](model::Provocation p, bool yes) {
    if (yes) seen[static_cast<std::size_t>(p)] = k_shows_provoked;
  };
  wake(model::Provocation::hot, hot);
  wake(model::Provocation::wet, wet);
  wake(model::Provocation::shaken, shaken);
  wake(model::Provocation::steering, steering);
  return seen;
}

enum class Harm { corroded, open, chafed };

class Faults {
 public:
  explicit Faults(Build& build) : b_(build), v_(build.vehicle) {}

  void run() {
    family_repairs();
    family_modes();
    for (std::size_t i = 0; i < b_.family.links.size(); ++i) split(static_cast<Index>(i));
    overrides();
    priors();
  }

 private:
  Index add_repair(model::Repair repair) {
    const auto row = static_cast<Index>(v_.repairs.size());
    b_.repairs.add(repair.id, row);
    v_.repairs.push_back(std::move(repair));
    return row;
  }

  void family_repairs() {
    for (const auto& r : b_.family.repairs) {
      const auto component = b_.must(b_.components, r.component);
      const auto& c = v_.components[at(component)];
      model::Repair m;
      m.id = r.component + "." + r.id;
      m.title = r.title;
      m.kind = r.kind == "clean"    ? model::RepairKind::clean
               : r.kind == "adjust" ? model::RepairKind::adjust
                                    : model::RepairKind::replace;
      m.component = component;
      m.labour_min = r.labour_min;
      m.success = r.success;
      // The part itself costs what the network says; other material what its class says.
      m.price = r.price_class == 0 ? 0
                : m.kind == model::RepairKind::replace && r.price_class == c.price_class
                    ? c.price
                    : b_.network.price_of_class[r.price_class];
      m.covers = c.covers;
      add_repair(std::move(m));
    }
  }

  void family_modes() {
    for (const auto& r : b_.family.modes) {
      model::Mode m;
      m.id = r.component + "." + r.id;
      m.component = b_.must(b_.components, r.component);
      m.title = r.title;
      m.group = r.group.empty() ? v_.components[at(m.component)].group : r.group;
      m.how_it_fails = r.how_it_fails;
      m.repair = b_.must(b_.repairs, r.component + "." + r.repair);
      m.share = r.share;
      std::copy(std::begin(r.visible), std::end(r.visible), m.visible.begin());
      b_.modes.add(m.id, static_cast<Index>(v_.modes.size()));
      v_.modes.push_back(std::move(m));
    }
    for (const auto& r : b_.family.changes)
      v_.modes[at(b_.must(b_.modes, r.mode))].changes.push_back(
          {model::ChangeTarget::parameter, b_.must(b_.parameters, r.parameter),
           r.scale ? model::Operation::scale : model::Operation::set, r.mild, r.severe});
  }

  // Splits the shares of one link over its items by exposure. What has no item to sit on falls to the next best one:
  // corrosion without a contact sits on the wires' crimps, an open without wire or pin on splices and earth points; a
  // chafed wire needs a wire.
  void split(Index link) {
    const auto& l = b_.family.links[at(link)];
    std::vector<const Piece*> wires, contacts, joints, all;
    for (const auto& p : b_.pieces) {
      if (p.link != link) continue;
      all.push_back(&p);
      (p.kind == Piece::Kind::wire ? wires : p.kind == Piece::Kind::contact ? contacts : joints).push_back(&p);
    }
    auto corrodible = contacts;
    corrodible.insert(corrodible.end(), joints.begin(), joints.end());
    auto breakable = wires;
    breakable.insert(breakable.end(), contacts.begin(), contacts.end());
    spread(l, Harm::corroded, l.corroded_share, corrodible.empty() ? wires : corrodible, k_corroded);
    spread(l, Harm::open, l.open_share, breakable.empty() ? joints : breakable, k_open);
    spread(l, Harm::chafed, l.chafed_share, wires, k_chafed);
  }

  void spread(const FamilyLink& link, Harm harm, double share, const std::vector<const Piece*>& pieces,
              const Sensitivity& sensitivity) {
    double total = 0;
    for (const auto* p : pieces) total += exposure_of(*p, sensitivity);
    if (share <= 0 || total <= 0) return;
    for (const auto* p : pieces) add_share(link, harm, share * exposure_of(*p, sensitivity) / total, *p, sensitivity);
  }

  void add_share(const FamilyLink& link, Harm harm, double share, const Piece& piece, const Sensitivity& sensitivity) {
    if (share <= 0) return;
    const auto& c = v_.components[at(piece.component)];
    const char* word = harm == Harm::corroded ? "corroded" : harm == Harm::open ? "open" : "chafed";
    const auto id = c.id + "." + labelled(piece) + word;
    const auto of_link = "link:" + link.id + "." + word;
    if (const auto known = b_.modes.find(id); known != model::k_none) {  // an earth point that several links share
      b_.link_modes[known].push_back(of_link);
      auto& mode = v_.modes[at(known)];
      mode.share += share;
      if (harm == Harm::corroded) {
        auto& change = mode.changes.front();
        change.mild = std::min(change.mild, link.corroded_mild);
        change.severe = std::max(change.severe, link.corroded_severe);
      }
      return;
    }
    model::Mode m;
    m.id = id;
    m.component = piece.component;
    m.group = link.group;
    m.share = share;
    m.visible = visibility_of(piece, sensitivity);
    m.repair = repair_of(piece);
    describe(m, link, harm, piece);
    b_.link_modes[static_cast<Index>(v_.modes.size())].push_back(of_link);
    b_.modes.add(m.id, static_cast<Index>(v_.modes.size()));
    v_.modes.push_back(std::move(m));
  }

  // A splice in one link only needs no label.
  std::string labelled(const Piece& piece) const {
    if (piece.kind != Piece::Kind::splice) return piece.label;
    return std::count_if(b_.pieces.begin(), b_.pieces.end(),
                         [&](const Piece& p) { return p.component == piece.component; }) > 1
               ? piece.label
               : "";
  }

  void describe(model::Mode& m, const FamilyLink& link, Harm harm, const Piece& piece) const {
    const auto on = piece.words.empty() || labelled(piece).empty() ? std::string() : " (" + piece.words + ")";
    const bool wire = piece.kind == Piece::Kind::wire;
    const auto carries = " in the " + link.title;
    switch (harm) {
      case Harm::corroded:
        m.title = (wire ? "corroded crimp" : "corroded contact") + on;
        m.how_it_fails = "rust, green copper or a spread terminal puts resistance" + carries;
        m.changes = {{model::ChangeTarget::element_series, piece.element, model::Operation::set, link.corroded_mild,
                      link.corroded_severe}};
        break;
      case Harm::open:
        m.title = (wire ? "broken wire" : "contact does not meet") + on;
        m.how_it_fails = wire ? "the copper is broken, often inside sound insulation" + carries
                              : "the terminal has backed out or broken off" + carries;
        m.changes = {{model::ChangeTarget::element_series, piece.element, model::Operation::set, model::k_open_ohm,
                      model::k_open_ohm}};
        break;
      case Harm::chafed:
        m.title = "chafed to earth" + on;
        m.how_it_fails = "rubbed through on metal along its run: it drags down what lies" + carries;
        m.changes = {{model::ChangeTarget::element_shunt, piece.element, model::Operation::set, link.chafed_mild,
                      link.chafed_severe}};
    }
  }

  // One repair per harness item. Minutes and success: judgement, after the wiring rows common to all families.
  Index repair_of(const Piece& piece) {
    const auto& c = v_.components[at(piece.component)];
    const bool wire = piece.kind == Piece::Kind::wire;
    const auto id = c.id + (wire ? ".mend" : ".clean");
    if (const auto known = b_.repairs.find(id); known != model::k_none) return known;
    model::Repair r;
    r.id = id;
    r.component = piece.component;
    r.covers = c.covers;
    r.price = b_.network.price_of_class[1];
    if (wire) {
      const bool chafes = b_.family.links[at(piece.link)].chafed_share > 0;
      r.title = "mend the " + c.title + (chafes ? " and tie it clear of metal" : "");
      r.kind = model::RepairKind::adjust;
      r.labour_min = chafes ? 20 : 15;
      r.success = 0.95;
    } else {
      r.title = "clean and " + std::string(piece.kind == Piece::Kind::earth_point ? "tighten" : "re-tension") +
                " the " + c.title;
      r.kind = model::RepairKind::clean;
      r.labour_min = 12;
      r.success = 0.9;
    }
    return add_repair(std::move(r));
  }

  void overrides() {
    std::size_t number = 0;
    for (const auto& said : b_.network.repairs) {
      const auto path = "repair[" + std::to_string(++number) + "].id";
      const auto row = b_.repairs.find(said.id.text);
      if (row == model::k_none) {
        if (!said.id.text.empty())
          b_.mistakes.add(said.id.spot, path,
                          "there is no repair '" + said.id.text + "': expected component.repair" +
                              suggestion(said.id.text, b_.repairs.ids()));
        continue;
      }
      auto& r = v_.repairs[at(row)];
      r.labour_min = said.labour_min.value_or(r.labour_min);
      r.success = said.success.value_or(r.success);
      r.price = said.price.value_or(r.price);
      if (said.covers) r.covers = b_.cover_rows(*said.covers);
    }
  }

  bool is_elsewhere(const model::Mode& m) const {
    return v_.components[at(m.component)].kind == model::ComponentKind::elsewhere;
  }

  void priors() {
    double here = 0, elsewhere = 0;
    for (const auto& m : v_.modes) (is_elsewhere(m) ? elsewhere : here) += m.share;
    const auto wanted = b_.network.elsewhere_share;
    if (wanted && elsewhere > 0) {
      const double factor = here * *wanted / (1 - *wanted) / elsewhere;
      for (auto& m : v_.modes)
        if (is_elsewhere(m)) m.share *= factor;
      elsewhere *= factor;
    }
    v_.elsewhere_share = here + elsewhere > 0 ? elsewhere / (here + elsewhere) : 0;
    v_.ignition_faults_per_vehicle = b_.network.ignition_faults_per_vehicle;
    for (auto& m : v_.modes)
      m.prior =
          std::min(0.5, v_.ignition_faults_per_vehicle * m.share / 1000 * v_.components[at(m.component)].age_factor);
  }

  Build& b_;
  model::Vehicle& v_;
};

}  // namespace

void build_faults(Build& build) { Faults(build).run(); }

}  // namespace lostspark::sources
