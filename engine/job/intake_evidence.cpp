// What the intake is worth as evidence. Every factor here is judgement; docs/job-log.md lists them.
#include <algorithm>
#include <array>
#include <utility>

#include "job/intake.hpp"
#include "job/intake_words.hpp"

namespace lostspark::job {
namespace {

using model::ComponentKind;
using model::Index;
using model::Mode;
using model::Provocation;
using model::Vehicle;

constexpr double k_near_recent_work = 4;   // complaints page, rule Q7: three to five times
constexpr double k_worn_when_new = 0.3;    // a part fitted new has not aged
constexpr double k_wrong_when_new = 4;     // but may be the wrong one
constexpr double k_contact_of_new = 3;     // and its contacts were moved by a person in a hurry
constexpr double k_loom_with_add_ons = 3;  // rule Q8
constexpr double k_elsewhere_provoked = 0.3;
constexpr double k_misreported = 0.15;  // customers are wrong about when it shows

bool contains(std::string_view text, std::string_view part) { return text.find(part) != std::string_view::npos; }

bool listed(std::string_view blank_separated, std::string_view word) {
  return contains(" " + std::string(blank_separated) + " ", " " + std::string(word) + " ");
}

bool wrong_part(const Mode& mode) { return contains(mode.id, "wrong") || contains(mode.id, "reversed"); }

/// How well a mode fits "it shows when `p`": seen under it, not seen without.
double fits(const Mode& mode, Provocation p) {
  const double without = mode.visible[static_cast<std::size_t>(Provocation::none)];
  const double with = mode.visible[static_cast<std::size_t>(p)];
  return k_misreported + (1 - k_misreported) * with * (1 - without);
}

bool said_by_complaint(const Intake& intake, Provocation p) {
  return std::any_of(intake.complaints.begin(), intake.complaints.end(),
                     [p](const auto& c) { return provocation_of_complaint(c) == p; });
}

class Weights {
 public:
  explicit Weights(const Vehicle& vehicle) : vehicle_(vehicle), factor_(vehicle.modes.size(), 1.0) {}

  /// Multiplies each mode of the vehicle by f(mode).
  template <class F>
  void each(F f) {
    for (std::size_t i = 0; i < factor_.size(); ++i) factor_[i] *= f(vehicle_.modes[i]);
  }

  void append_to(model::Evidence& out) const {
    for (std::size_t i = 0; i < factor_.size(); ++i)
      if (factor_[i] != 1.0)
        out.emplace_back(model::Weighted{vehicle_.modes[i].component, factor_[i], static_cast<Index>(i)});
  }

 private:
  const Vehicle& vehicle_;
  std::vector<double> factor_;
};

bool has(const std::vector<Index>& list, Index wanted) {
  return std::find(list.begin(), list.end(), wanted) != list.end();
}

/// Components of these groups and the contacts and wires next to them.
std::vector<Index> near_area(const Vehicle& vehicle, std::string_view groups) {
  std::vector<Index> out;
  for (std::size_t c = 0; c < vehicle.components.size(); ++c) {
    if (!listed(groups, vehicle.components[c].group)) continue;
    const auto index = static_cast<Index>(c);
    out.push_back(index);
    for (const Index contact : neighbouring_contacts(vehicle, index))
      if (!has(out, contact)) out.push_back(contact);
  }
  return out;
}

void weigh_recent_work(const Vehicle& vehicle, const Intake& intake, Weights& weights) {
  std::vector<Index> near;
  for (const auto& area : k_work_areas)
    if (std::find(intake.recent_work.begin(), intake.recent_work.end(), area.id) != intake.recent_work.end())
      for (const Index c : near_area(vehicle, area.groups))
        if (!has(near, c)) near.push_back(c);
  weights.each([&](const Mode& m) {
    return has(near, m.component) && (m.group == "CON" || m.group == "TIM" || wrong_part(m)) ? k_near_recent_work : 1.0;
  });
}

void weigh_replaced(const Vehicle& vehicle, const Intake& intake, Weights& weights) {
  std::vector<Index> fitted, contacts;
  for (const auto& id : intake.replaced)
    if (const auto c = vehicle.find_component(id)) {
      fitted.push_back(*c);
      for (const Index contact : neighbouring_contacts(vehicle, *c))
        if (!has(contacts, contact)) contacts.push_back(contact);
    }
  weights.each([&](const Mode& m) {
    if (has(fitted, m.component)) return wrong_part(m) ? k_wrong_when_new : k_worn_when_new;
    return has(contacts, m.component) ? k_contact_of_new : 1.0;
  });
}

void weigh_when(const Vehicle& vehicle, const Intake& intake, Weights& weights) {
  const auto elsewhere = [&](const Mode& m) {
    return m.component >= 0 && vehicle.components[m.component].kind == ComponentKind::elsewhere;
  };
  for (const auto& word : intake.shows) {
    const Provocation p = provocation_of_answer(word);
    // "dies when hot" as a complaint has said it already: once is enough.
    if (p == Provocation::none || said_by_complaint(intake, p)) continue;
    weights.each([&](const Mode& m) { return elsewhere(m) ? k_elsewhere_provoked : fits(m, p); });
  }
  const auto unprovoked = [](const Mode& m) { return m.visible[static_cast<std::size_t>(Provocation::none)]; };
  if (intake.extent == "always")
    weights.each([&](const Mode& m) { return elsewhere(m) ? 1.0 : 0.1 + 0.9 * unprovoked(m); });
  if (intake.extent == "comes_and_goes")
    weights.each([&](const Mode& m) { return elsewhere(m) ? k_elsewhere_provoked : 1.0 - 0.9 * unprovoked(m); });
}

/// The extent as a complaint word, where the family has one.
std::optional<Index> extent_complaint(const Vehicle& vehicle, const Intake& intake) {
  if (intake.extent == "one_cylinder") return vehicle.find_complaint("one_cylinder_dead");
  if (intake.extent == "two_cylinders") return vehicle.find_complaint("two_cylinders_dead");
  return std::nullopt;
}

void append_spark(const Vehicle& vehicle, const Intake& intake, model::Evidence& out) {
  if (intake.spark.empty() || intake.spark == "not_checked") return;
  const auto test = spark_test(vehicle);
  if (!test) return;
  // The customer spoke of the spark under whatever provokes the fault; this is a look in the workshop, nothing provoked.
  model::Reading reading;
  reading.test = *test;
  reading.value.kind = model::ValueKind::word;
  reading.value.word = intake.spark == "none" ? 0 : intake.spark == "weak" ? 1 : 2;
  out.emplace_back(reading);
}

}  // namespace

Provocation provocation_of_complaint(std::string_view complaint) {
  constexpr std::array<std::pair<std::string_view, Provocation>, 9> table{{{"hot", Provocation::hot},
                                                                           {"wet", Provocation::wet},
                                                                           {"wash", Provocation::wet},
                                                                           {"rain", Provocation::wet},
                                                                           {"bump", Provocation::shaken},
                                                                           {"shak", Provocation::shaken},
                                                                           {"steer", Provocation::steering},
                                                                           {"bars", Provocation::steering},
                                                                           {"load", Provocation::loaded}}};
  for (const auto& [part, p] : table)
    if (contains(complaint, part)) return p;
  return Provocation::none;
}

Provocation provocation_of_answer(std::string_view shows) {
  return shows == "cold" ? Provocation::none : provocation_of_complaint(shows);
}

std::optional<Index> spark_test(const Vehicle& vehicle) {
  std::optional<Index> best;
  std::size_t least = 0;
  for (std::size_t i = 0; i < vehicle.tests.size(); ++i) {
    const auto& t = vehicle.tests[i];
    if (t.reads != model::Reads::margin_word || t.provocation != Provocation::none) continue;
    // Spark at a tester that is earthed is the check; a clamp on the lead also sees a leak.
    std::size_t burden = t.instrument == "gap_tester" ? 0 : 10;
    if (t.scene >= 0)
      for (const Index s : vehicle.scenes[t.scene].setups) burden += vehicle.setups[s].moves_contacts ? 100 : 1;
    if (!best || burden < least) {
      best = static_cast<Index>(i);
      least = burden;
    }
  }
  return best;
}

Provocation complaint_provocation(const Vehicle&, const Intake& intake) {
  for (const auto& word : intake.shows)
    if (const auto p = provocation_of_answer(word); p != Provocation::none) return p;
  for (const auto& word : intake.complaints)
    if (const auto p = provocation_of_complaint(word); p != Provocation::none) return p;
  return Provocation::none;
}

std::vector<Index> neighbouring_contacts(const Vehicle& vehicle, Index component) {
  std::vector<Index> contacts;
  std::vector<char> seen(vehicle.nodes.size(), 0);
  std::vector<Index> open;
  const auto visit = [&](Index node) {
    if (node == model::k_earth || node < 0 || seen[node]) return;  // earth joins everything: not a way out
    seen[node] = 1;
    open.push_back(node);
  };
  for (std::size_t n = 0; n < vehicle.nodes.size(); ++n)
    if (vehicle.nodes[n].component == component) visit(static_cast<Index>(n));
  while (!open.empty()) {
    const Index node = open.back();
    open.pop_back();
    for (const auto& e : vehicle.elements) {
      if ((e.a != node && e.b != node) || e.component < 0 || e.component == component) continue;
      const auto kind = vehicle.components[e.component].kind;
      if (kind == ComponentKind::connector && !has(contacts, e.component)) contacts.push_back(e.component);
      if (kind == ComponentKind::wire || kind == ComponentKind::splice) visit(e.a == node ? e.b : e.a);
    }
  }
  std::sort(contacts.begin(), contacts.end());
  return contacts;
}

model::Evidence intake_evidence(const Vehicle& vehicle, const Intake& intake) {
  model::Evidence out;
  std::vector<Index> complained;
  for (const auto& word : intake.complaints)
    if (const auto c = vehicle.find_complaint(word)) complained.push_back(*c);
  if (const auto c = extent_complaint(vehicle, intake); c && !has(complained, *c)) {
    // "No spark" of one cylinder is not "no spark" of all.
    std::erase_if(complained, [&](Index other) {
      const auto& told = vehicle.complaints[other];
      return vehicle.complaints[*c].computed() && told.computed() && told.extent == model::Extent::all &&
             vehicle.complaints[*c].about(told.cylinders.front().back());
    });
    complained.push_back(*c);
  }
  for (const Index c : complained) out.emplace_back(model::Complained{c});
  Weights weights(vehicle);
  weigh_recent_work(vehicle, intake, weights);
  weigh_replaced(vehicle, intake, weights);
  weigh_when(vehicle, intake, weights);
  if (!intake.add_ons.empty())
    weights.each([&](const Mode& m) {
      return m.component >= 0 && vehicle.components[m.component].kind == ComponentKind::wire ? k_loom_with_add_ons
                                                                                             : 1.0;
    });
  weights.append_to(out);
  append_spark(vehicle, intake, out);
  return out;
}

}  // namespace lostspark::job
