// vehicle list, show, check, draw (new: new_vehicle.cpp): what is described, and how well it can be told apart.
#include <fmt/format.h>
#include <CLI/CLI.hpp>

#include <algorithm>
#include <map>
#include <memory>
#include <ostream>

#include "base/error.hpp"
#include "faces/cli/context.hpp"
#include "faces/cli/draw.hpp"
#include "faces/cli/json_out.hpp"
#include "faces/cli/new_vehicle.hpp"
#include "faces/cli/text.hpp"
#include "inference/posterior.hpp"

namespace lostspark::faces {

namespace {

using model::Index;
using model::Vehicle;

const char* kind_name(model::ComponentKind kind) {
  switch (kind) {
    case model::ComponentKind::part:
      return "part";
    case model::ComponentKind::wire:
      return "wire";
    case model::ComponentKind::connector:
      return "connector";
    case model::ComponentKind::splice:
      return "splice";
    case model::ComponentKind::earth_point:
      return "earth_point";
    case model::ComponentKind::operator_state:
      return "operator_state";
    case model::ComponentKind::elsewhere:
      return "elsewhere";
  }
  return "part";
}

std::vector<std::string> cover_ids(const Vehicle& vehicle, const std::vector<Index>& covers) {
  std::vector<std::string> ids;
  for (const Index cover : covers) ids.push_back(vehicle.covers[static_cast<std::size_t>(cover)].id);
  return ids;
}

std::string component_id(const Vehicle& vehicle, Index component) {
  return component == model::k_none ? std::string() : vehicle.components[static_cast<std::size_t>(component)].id;
}

void list(Context& context) {
  std::vector<std::string> problems;
  const auto vehicles = sources::list_vehicles(context.folders, problems);
  for (const std::string& problem : problems) context.err << "lostspark: left out: " << problem << '\n';
  if (context.json) {
    Json rows = Json::array();
    for (const auto& v : vehicles)
      rows.push_back({{"id", v.id}, {"family", v.family}, {"title", v.title}, {"file", v.file.string()}});
    print_json(context, {{"vehicles", rows}, {"problems", problems}});
    return;
  }
  if (vehicles.empty()) {
    context.out << wrapped("No vehicle is described in the network folders. Name folders in LOSTSPARK_NETWORKS.");
    return;
  }
  Table table(0);
  for (const auto& v : vehicles) table.row({v.id, v.family, v.title});
  context.out << table.text();
}

Json vehicle_json(const Vehicle& v) {
  Json options = Json::object();
  for (const auto& [key, value] : v.options) options[key] = value;
  Json components = Json::array(), modes = Json::array(), repairs = Json::array(), covers = Json::array(),
       tests = Json::array(), complaints = Json::array();
  for (const auto& c : v.components)
    components.push_back({{"id", c.id},
                          {"title", c.title},
                          {"kind", kind_name(c.kind)},
                          {"group", c.group},
                          {"place", c.place},
                          {"covers", cover_ids(v, c.covers)},
                          {"stops_engine", c.stops_engine},
                          {"price", json_number(c.price)}});
  for (const auto& m : v.modes)
    modes.push_back({{"id", m.id},
                     {"title", m.title},
                     {"component", component_id(v, m.component)},
                     {"repair", m.repair == model::k_none ? "" : v.repairs[static_cast<std::size_t>(m.repair)].id},
                     {"prior_probability", json_number(m.prior)}});
  for (const auto& r : v.repairs)
    repairs.push_back({{"id", r.id},
                       {"title", r.title},
                       {"component", component_id(v, r.component)},
                       {"labour_min", json_number(r.labour_min)},
                       {"success_probability", json_number(r.success)},
                       {"price", json_number(r.price)}});
  for (const auto& c : v.covers)
    covers.push_back({{"id", c.id},
                      {"title", c.title},
                      {"remove_min", json_number(c.remove_min)},
                      {"refit_min", json_number(c.refit_min)},
                      {"first", cover_ids(v, c.first)}});
  for (const auto& t : v.tests)
    tests.push_back({{"id", t.id},
                     {"title", t.title},
                     {"unit", t.unit},
                     {"words", t.words},
                     {"instrument", t.instrument},
                     {"own_min", json_number(t.minutes)},
                     {"place", t.place},
                     {"covers", cover_ids(v, t.covers)}});
  for (const auto& c : v.complaints) complaints.push_back({{"id", c.id}, {"title", c.title}});
  return {{"vehicle",
           {{"id", v.id},
            {"title", v.title},
            {"family", v.family},
            {"family_version", v.family_version},
            {"options", options},
            {"components", components},
            {"modes", modes},
            {"repairs", repairs},
            {"covers", covers},
            {"tests", tests},
            {"complaints", complaints}}}};
}

void show(Context& context, const std::string& id, bool with_tests) {
  const auto vehicle = sources::load_vehicle(context.folders, id);
  const Vehicle& v = *vehicle;
  if (context.json) {
    print_json(context, vehicle_json(v));
    return;
  }
  std::string page = v.title + "\n";
  page += labelled("id", v.id);
  page += labelled("family", v.family + " " + v.family_version);
  std::vector<std::string> options;
  for (const auto& [key, value] : v.options) options.push_back(key + " = " + value);
  page += labelled("options", options.empty() ? "none" : listed(options));
  page += labelled("knows", counted(v.components.size(), "component") + ", " + counted(v.modes.size(), "way") +
                                " to fail, " + counted(v.tests.size(), "test"));
  page += "\nWhat can fail\n";
  Table components;
  for (const auto& c : v.components) components.row({c.id, c.place.empty() ? c.title : c.title + ", " + c.place});
  page += components.text();
  if (!v.covers.empty()) {
    page += "\nWhat may have to come off\n";
    Table covers;
    for (const auto& c : v.covers) {
      std::string first = c.first.empty() ? "" : ", after " + listed(cover_ids(v, c.first));
      covers.row(
          {c.id, c.title + ": " + number(c.remove_min) + " min off, " + number(c.refit_min) + " min on" + first});
    }
    page += covers.text();
  }
  page += "\nComplaints\n";
  Table complaints;
  for (const auto& c : v.complaints) complaints.row({c.id, c.title});
  page += complaints.text();
  if (with_tests) {
    page += "\nTests\n";
    Table tests;
    for (const auto& t : v.tests) tests.row({t.id, t.title + (t.is_word() ? "" : ", " + t.unit)});
    page += tests.text();
  } else {
    page += "\nThe tests are listed with --tests.\n";
  }
  context.out << page;
}

void check(Context& context, const std::string& id) {
  const auto vehicle = sources::load_vehicle(context.folders, id);
  const auto compiled = inference::compile(vehicle, workshop_of(context));
  const auto pairs = inference::ambiguities(*compiled);
  const auto invisible = inference::invisible_modes(*compiled);
  const auto& modes = vehicle->modes;
  const auto mode_id = [&](Index m) { return modes[static_cast<std::size_t>(m)].id; };
  if (context.json) {
    Json pair_rows = Json::array(), invisible_rows = Json::array();
    for (const auto& p : pairs) pair_rows.push_back({{"mode_a", mode_id(p.mode_a)}, {"mode_b", mode_id(p.mode_b)}});
    for (const Index m : invisible) invisible_rows.push_back(mode_id(m));
    print_json(context, {{"vehicle", vehicle->id},
                         {"modes", modes.size()},
                         {"tests", vehicle->tests.size()},
                         {"ambiguities", pair_rows},
                         {"invisible_modes", invisible_rows}});
    return;
  }
  std::string page = vehicle->id + ": the description is sound (" + counted(modes.size(), "way") + " to fail, " +
                     counted(vehicle->tests.size(), "test") + ").\n";
  if (pairs.empty()) {
    page += "\nEvery pair of faults is told apart by some test.\n";
  } else {
    page += "\nNo test of this shop tells these apart by more than its own scatter:\n";
    // One line a fault: what it can be mistaken for, so that a long list stays readable.
    std::map<Index, std::vector<std::string>> partners;
    for (const auto& p : pairs) partners[p.mode_a].push_back(mode_id(p.mode_b));
    for (const auto& [mode, others] : partners) {
      page += "  " + mode_id(mode) + "\n";
      page += wrapped("or " + listed(others), 6);
    }
  }
  if (invisible.empty()) {
    page += "\nEvery fault moves some test.\n";
  } else {
    page += "\nNo test of this shop moves with these:\n";
    for (const Index m : invisible) page += "  " + mode_id(m) + "\n";
  }
  context.out << page;
}

}  // namespace

void add_vehicle_commands(CLI::App& app, Context& context) {
  CLI::App* group = app.add_subcommand("vehicle", "the vehicles that are described");
  group->require_subcommand(1);

  CLI::App* list_command = group->add_subcommand("list", "every vehicle with its family");
  add_json_option(*list_command, context);
  list_command->callback([&context] { list(context); });

  const auto id = std::make_shared<std::string>();
  const auto with_tests = std::make_shared<bool>(false);
  CLI::App* show_command = group->add_subcommand("show", "components, covers, complaints, tests of one vehicle");
  show_command->add_option("vehicle", *id, "id, or path of a network file")->required()->type_name("VEHICLE");
  show_command->add_flag("--tests", *with_tests, "list the tests too");
  add_json_option(*show_command, context);
  show_command->callback([&context, id, with_tests] { show(context, *id, *with_tests); });

  CLI::App* check_command = group->add_subcommand(
      "check", "reads the description, lists the faults that no test separates and those that none shows");
  check_command->add_option("vehicle", *id, "id, or path of a network file")->required()->type_name("VEHICLE");
  add_json_option(*check_command, context);
  add_workshop_option(*check_command, context);
  check_command->callback([&context, id] { check(context, *id); });

  const auto request = std::make_shared<DrawRequest>();
  CLI::App* draw_command = group->add_subcommand("draw", "the circuit as a drawing");
  draw_command->add_option("vehicle", request->vehicle, "id, or path of a network file")
      ->required()
      ->type_name("VEHICLE");
  draw_command->add_option("--job", request->job, "shade every component by its probability in this job")
      ->type_name("JOB");
  draw_command->add_option("--as", request->format, "dot (Graphviz text) or svg")
      ->check(CLI::IsMember({"dot", "svg"}))
      ->type_name("FORMAT");
  draw_command->add_option("--output", request->output, "write to this file instead of standard output")
      ->type_name("FILE");
  add_store_option(*draw_command, context);
  draw_command->callback([&context, request] { draw(context, *request); });

  add_new_vehicle_command(*group, context);
}

}  // namespace lostspark::faces
