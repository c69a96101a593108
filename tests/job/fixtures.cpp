#include "fixtures.hpp"

#include <map>

#include "base/error.hpp"
#include "job/bodies.hpp"

namespace lostspark::job::test {
namespace {

using model::ComponentKind;
using model::Index;

model::Component component(std::string id, std::string group, ComponentKind kind, bool stops = false) {
  model::Component c;
  c.id = id;
  std::replace(id.begin(), id.end(), '_', ' ');
  c.title = id;
  c.group = std::move(group);
  c.kind = kind;
  c.stops_engine = stops;
  return c;
}

model::Node node(std::string id, Index owner) {
  model::Node n;
  n.id = std::move(id);
  n.component = owner;
  return n;
}

model::Element element(Index a, Index b, Index owner) {
  model::Element e;
  e.id = "e" + std::to_string(a) + "_" + std::to_string(b);
  e.a = a;
  e.b = b;
  e.component = owner;
  return e;
}

void add_mode(model::Vehicle& v, const std::string& component_id, const std::string& id, std::string group,
              double unprovoked, double hot, model::RepairKind kind, double price) {
  const Index c = *v.find_component(component_id);
  model::Repair r;
  r.id = component_id + ".mend_" + id;
  r.title = "mend the " + v.components[c].title;
  r.kind = kind;
  r.component = c;
  r.labour_min = 10;
  r.price = price;
  r.covers = {2};
  v.repairs.push_back(r);
  model::Mode m;
  m.id = component_id + "." + id;
  m.title = id;
  m.group = std::move(group);
  m.component = c;
  m.repair = static_cast<Index>(v.repairs.size()) - 1;
  m.prior = 0.01;
  m.visible = {unprovoked, hot, unprovoked, unprovoked, unprovoked, unprovoked};
  v.modes.push_back(m);
}

model::Test peak(std::string id, Index scene) {
  auto t = number_test();
  t.id = std::move(id);
  t.scene = scene;
  t.node_a = 3;
  t.covers = {2};
  return t;
}

}  // namespace

std::shared_ptr<model::Vehicle> small_vehicle(const std::string& version) {
  auto v = std::make_shared<model::Vehicle>();
  v->id = "small_bike";
  v->title = "small trail bike";
  v->family = "ac_cdi";
  v->family_version = version;
  v->network_text = "format = 1\nid = \"small_bike\"\n";
  v->components = {component("exciter_coil", "SRC", ComponentKind::part),
                   component("exciter_connector", "CON", ComponentKind::connector),
                   component("control_module", "CTL", ComponentKind::part),
                   component("kill_connector", "CON", ComponentKind::connector, true),
                   component("kill_wire", "CON", ComponentKind::wire, true),
                   component("kill_switch", "INH", ComponentKind::part, true),
                   component("key_switch", "INH", ComponentKind::part, true),
                   component("fuel", "FUE", ComponentKind::elsewhere)};
  v->nodes = {node("earth", model::k_none),     node("exciter_coil.output", 0), node("exciter_connector.coil_side", 1),
              node("control_module.source", 2), node("control_module.kill", 2), node("kill_connector.switch_side", 3),
              node("kill_switch.kill", 5)};
  v->elements = {element(1, 2, 4), element(2, 3, 1), element(4, 5, 3), element(5, 6, 4), element(6, 0, 5)};
  v->elements[0].component = *v->find_component("exciter_connector");
  model::Cover seat, tank, panel;
  seat.id = "seat";
  seat.title = "seat";
  seat.remove_min = 2;
  seat.refit_min = 2;
  tank = seat;
  tank.id = tank.title = "tank";
  tank.first = {0};
  panel = seat;
  panel.id = "side_panel";
  panel.title = "side panel";
  v->covers = {seat, tank, panel};
  model::Condition off, crank, hot;
  off.id = off.title = "engine_off";
  crank.id = crank.title = "cranking";
  crank.needs_crank = true;
  hot.id = hot.title = "hot";
  hot.is_state = false;
  hot.provocation = model::Provocation::hot;
  hot.minutes = 20;
  v->conditions = {off, crank, hot};
  model::Setup kill, gap;
  kill.id = "kill_unplugged";
  kill.title = "kill lead unplugged";
  kill.minutes = 1;
  kill.moves_contacts = true;
  kill.touches = {3};
  kill.effects = {{model::EffectKind::open_node, 4, 1}};
  gap.id = "gap_tester";
  gap.title = "gap tester";
  gap.minutes = 1;
  v->setups = {kill, gap};
  v->scenes = {{1, {}}, {1, {0}}, {1, {1}}, {0, {}}};
  auto spark = spark_test();
  spark.scene = 2;
  spark.output = 0;
  model::Output margin;
  margin.id = "discharge.spark";
  margin.kind = model::OutputKind::margin;
  v->outputs = {margin};
  auto ohm = number_test("ohm");
  ohm.id = "exciter_ohm@exciter_coil.output";
  ohm.title = "exciter coil resistance";
  ohm.reads = model::Reads::ohms;
  ohm.instrument = "ohmmeter";
  ohm.scene = 3;
  ohm.node_a = 3;
  ohm.node_b = 0;
  ohm.covers = {2};
  v->tests = {peak("exciter_peak@control_module.source", 0),
              peak("exciter_peak@control_module.source+kill_unplugged", 1), spark, ohm};
  add_mode(*v, "exciter_coil", "open", "SRC", 1, 1, model::RepairKind::replace, 90);
  add_mode(*v, "exciter_coil", "opens_hot", "SRC", 0.1, 0.8, model::RepairKind::replace, 90);
  add_mode(*v, "exciter_connector", "corroded", "CON", 0.9, 0.9, model::RepairKind::clean, 0);
  add_mode(*v, "control_module", "no_output", "CTL", 1, 1, model::RepairKind::replace, 150);
  add_mode(*v, "control_module", "wrong_part", "CTL", 1, 1, model::RepairKind::replace, 150);
  add_mode(*v, "kill_connector", "corroded", "CON", 0.9, 0.9, model::RepairKind::clean, 0);
  add_mode(*v, "kill_switch", "stuck", "INH", 1, 1, model::RepairKind::clean, 0);
  add_mode(*v, "fuel", "empty", "FUE", 1, 1, model::RepairKind::adjust, 0);
  model::Complaint no_spark, hot_cut;
  no_spark.id = "no_spark";
  no_spark.title = "no spark";
  no_spark.cylinders = {{0}};
  hot_cut.id = "dies_hot";
  hot_cut.title = "dies when hot";
  v->complaints = {no_spark, hot_cut};
  return v;
}

model::Workshop small_workshop() {
  model::Workshop w;
  w.instruments = {peak_meter(), ohmmeter()};
  model::Instrument gap;
  gap.id = gap.kind = "gap_tester";
  gap.title = "gap tester";
  gap.unit = "word";
  w.instruments.push_back(gap);
  return w;
}

VehicleSource small_source(const std::string& version) {
  return {[version](const std::string& id) -> std::shared_ptr<const model::Vehicle> {
            if (id != "small_bike") throw InputError("there is no vehicle '" + id + "'");
            return small_vehicle(version);
          },
          [version](const std::string&, const std::string&) -> std::shared_ptr<const model::Vehicle> {
            return small_vehicle(version);
          }};
}

Desk small_desk(history::Store& store, const std::string& version) {
  DeskOptions options;
  options.now = [tick = 0]() mutable { return "2026-03-01T10:00:" + std::to_string(10 + tick++ % 50) + "Z"; };
  return Desk(small_source(version), store, small_workshop(), options);
}

std::string evidence_text(const State& state) {
  // Moments and hook-ups are labels: two logs mean the same when a renaming makes them equal.
  std::map<std::int32_t, std::size_t> moments, hookups;
  const auto label = [](auto& names, std::int32_t x) {
    return x < 0 ? x : static_cast<std::int32_t>(names.try_emplace(x, names.size()).first->second);
  };
  Json out = Json::array();
  for (const auto& event : state.evidence) {
    Json j;
    if (const auto* c = std::get_if<model::Complained>(&event)) j = {{"complained", c->complaint}};
    if (const auto* w = std::get_if<model::Weighted>(&event))
      j = {{"weighted", w->component}, {"mode", w->mode}, {"factor", w->factor}};
    if (const auto* r = std::get_if<model::Reading>(&event))
      j = {{"test", r->test},
           {"value", to_json(r->value)},
           {"provocation", to_string(r->provocation)},
           {"moment", label(moments, r->moment)},
           {"hookup", label(hookups, r->hookup)},
           {"visit", r->visit}};
    if (const auto* t = std::get_if<model::Touched>(&event)) j = {{"touched", t->components}};
    if (const auto* r = std::get_if<model::Repaired>(&event)) j = {{"repaired", r->repair}};
    if (const auto* r = std::get_if<model::Refitted>(&event)) j = {{"refitted", r->repair}};
    out.push_back(j);
  }
  return out.dump();
}

std::string state_text(const State& s) {
  Json j{{"state", to_string(s.state)},
         {"outcome", s.outcome},
         {"covers", s.covers_off},
         {"setups", s.setups_standing},
         {"held", to_string(s.provocation)},
         {"visit", s.visit},
         {"helper", s.helper},
         {"notes", s.notes},
         {"touched_stops", s.stop_wiring_touched > 0},
         {"minutes", s.minutes}};
  for (const auto& r : s.repairs) j["repairs"].push_back({r.repair, to_string(r.part), r.price});
  for (const auto& c : s.checks) j["checks"].push_back({c.passed, c.words});
  for (const auto& c : s.stops) j["stops"].push_back(c.component);
  for (const auto& c : s.skipped) j["skipped"].push_back({c.test, to_string(c.reason)});
  return j.dump() + evidence_text(s);
}

}  // namespace lostspark::job::test
