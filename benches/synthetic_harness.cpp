#include "synthetic_harness.hpp"

#include <string>

namespace lostspark::benches {
namespace {

using model::Index;

template <class T>
Index add(std::vector<T>& rows, T row) {
  rows.push_back(std::move(row));
  return static_cast<Index>(rows.size() - 1);
}

Index add_parameter(model::Vehicle& vehicle, std::string id, std::string unit, double typical, double log_sd) {
  model::Parameter parameter;
  parameter.id = std::move(id);
  parameter.unit = std::move(unit);
  parameter.typical = typical;
  parameter.log_sd = log_sd;
  return add(vehicle.parameters, std::move(parameter));
}

Index add_node(model::Vehicle& vehicle, std::string id) {
  model::Node node;
  node.id = std::move(id);
  node.probe = true;
  return add(vehicle.nodes, std::move(node));
}

/// A contact between two nodes with its component, its fault and its repair.
void add_contact(model::Vehicle& vehicle, Index a, Index b, int total) {
  const std::string id = "contact_" + std::to_string(vehicle.components.size());
  model::Component component;
  component.id = component.title = id;
  component.group = "CON";
  component.kind = model::ComponentKind::connector;
  const Index owner = add(vehicle.components, component);

  model::Element element;
  element.id = id;
  element.a = a, element.b = b;
  element.resistance_ohm = 0.01;
  element.component = owner;
  const Index wire = add(vehicle.elements, element);

  model::Repair repair;
  repair.id = id + ".clean";
  repair.title = "clean " + id;
  repair.kind = model::RepairKind::clean;
  repair.component = owner;
  repair.labour_min = 10;
  const Index cure = add(vehicle.repairs, repair);

  model::Mode mode;
  mode.id = id + ".corroded";
  mode.title = "corroded";
  mode.group = "CON";
  mode.component = owner;
  mode.repair = cure;
  mode.share = 1000.0 / total;
  mode.prior = vehicle.ignition_faults_per_vehicle * mode.share / 1000;
  mode.changes = {{model::ChangeTarget::element_series, wire, model::Operation::set, 0.5, 100}};
  vehicle.modes.push_back(std::move(mode));
}

void add_test(model::Vehicle& vehicle, Index node) {
  model::Test test;
  test.id = "volts@" + vehicle.nodes[static_cast<std::size_t>(node)].id;
  test.title = test.id;
  test.unit = "volt";
  test.kind = "volts";
  test.reads = model::Reads::node_volts;
  test.scene = 0;
  test.node_a = node;
  test.instrument = "multimeter";
  test.log_sd = 0.02;
  vehicle.tests.push_back(std::move(test));
}

}  // namespace

std::shared_ptr<const model::Vehicle> synthetic_harness(const HarnessSize& size) {
  auto vehicle = std::make_shared<model::Vehicle>();
  vehicle->id = vehicle->title = "harness_" + std::to_string(size.components);
  vehicle->family = "none";
  add_node(*vehicle, "earth");
  model::Condition state;
  state.id = state.title = "key_on";
  vehicle->conditions.push_back(state);
  vehicle->scenes.push_back({0, {}});
  vehicle->complaints.push_back({.id = "no_spark", .title = "no spark", .by_group = {{"CON", 10.0}}});

  // One battery and one kind of load for all branches: two unknowns, whatever the size.
  const Index emf = add_parameter(*vehicle, "emf_volt", "volt", 12.6, 0.05);
  const Index load_ohm = add_parameter(*vehicle, "load_ohm", "ohm", 100, 0.05);
  const int length = size.components / size.branches;
  const int points = size.tests / size.branches;
  for (int branch = 0; branch < size.branches; ++branch) {
    const std::string name = "branch_" + std::to_string(branch);
    model::Element source;
    source.id = name + ".source";
    Index here = add_node(*vehicle, name + ".0");
    source.a = here, source.b = model::k_earth;
    source.resistance_ohm = 0.05;
    source.emf_parameter = emf;
    vehicle->elements.push_back(source);
    int tested = 0;
    for (int i = 0; i < length; ++i) {
      const Index next = add_node(*vehicle, name + "." + std::to_string(i + 1));
      add_contact(*vehicle, here, next, length * size.branches);
      here = next;
      if ((i + 1) * points / length > tested) {
        add_test(*vehicle, here);
        ++tested;
      }
    }
    for (; tested < points; ++tested) add_test(*vehicle, here);  // fewer contacts than points: the rest at the load
    model::Element load;
    load.id = name + ".load";
    load.a = here, load.b = model::k_earth;
    load.resistance_parameter = load_ohm;
    vehicle->elements.push_back(load);
  }
  return vehicle;
}

model::Workshop synthetic_workshop() {
  model::Workshop workshop;
  model::Instrument meter;
  meter.id = meter.title = meter.kind = "multimeter";
  meter.unit = "volt";
  meter.accuracy_log_sd = 0.005;
  meter.step = 0.01;
  meter.floor = 0.01;
  meter.range = 600;
  meter.input_ohm = 1e7;
  workshop.instruments.push_back(meter);
  return workshop;
}

}  // namespace lostspark::benches
