// family list, show, check: the plugins, and whether a plugin can be trusted.
#include <CLI/CLI.hpp>
#include <memory>
#include <ostream>

#include "base/error.hpp"
#include "faces/cli/child_check.hpp"
#include "faces/cli/context.hpp"
#include "faces/cli/json_out.hpp"
#include "faces/cli/text.hpp"
#include "sources/text.hpp"

namespace lostspark::faces {

namespace {

std::vector<sources::FamilyInfo> families(Context& context, std::vector<std::string>& problems) {
  auto found = sources::list_families(context.folders, problems);
  for (const std::string& problem : problems) context.err << "lostspark: left out: " << problem << '\n';
  return found;
}

Json family_json(const sources::FamilyInfo& f) {
  return {{"id", f.id}, {"title", f.title}, {"version", f.version}, {"library", f.library.string()}};
}

void list(Context& context) {
  std::vector<std::string> problems;
  const auto found = families(context, problems);
  if (context.json) {
    Json rows = Json::array();
    for (const auto& f : found) rows.push_back(family_json(f));
    print_json(context, {{"families", rows}, {"problems", problems}});
    return;
  }
  if (found.empty()) {
    context.out << wrapped("No family plugin is in the plugin folders. Name folders in LOSTSPARK_PLUGINS.");
    return;
  }
  Table table(0);
  for (const auto& f : found) table.row({f.id, f.version, f.title});
  context.out << table.text();
}

void show(Context& context, const std::string& id) {
  std::vector<std::string> problems, ids;
  const auto found = families(context, problems);
  for (const auto& f : found) {
    ids.push_back(f.id);
    if (f.id != id) continue;
    std::vector<std::string> vehicles;
    for (const auto& v : sources::list_vehicles(context.folders, problems))
      if (v.family == id) vehicles.push_back(v.id);
    if (context.json) {
      Json document{{"family", family_json(f)}};
      document["family"]["vehicles"] = vehicles;
      print_json(context, document);
      return;
    }
    context.out << f.title << '\n'
                << labelled("id", f.id) << labelled("version", f.version) << labelled("library", f.library.string())
                << labelled("vehicles", listed(vehicles));
    return;
  }
  throw InputError("no family \"" + id + "\" is loaded" + sources::suggestion(id, ids) + "; see lostspark family list");
}

void check(Context& context, const std::string& path, int seconds) {
  const auto problems = check_family_in_child(path, seconds);
  if (context.json) {
    print_json(context, {{"library", path}, {"sound", problems.empty()}, {"problems", problems}});
  } else if (problems.empty()) {
    context.out << path << ": sound\n";
  } else {
    for (const std::string& problem : problems) context.out << problem << '\n';
    context.out << path << ": " << counted(problems.size(), "problem") << '\n';
  }
  if (!problems.empty()) context.exit_code = 3;
}

}  // namespace

void add_family_commands(CLI::App& app, Context& context) {
  CLI::App* group = app.add_subcommand("family", "the kinds of ignition system: plugins");
  group->require_subcommand(1);

  CLI::App* list_command = group->add_subcommand("list", "every family whose plugin loads");
  add_json_option(*list_command, context);
  list_command->callback([&context] { list(context); });

  const auto id = std::make_shared<std::string>();
  CLI::App* show_command = group->add_subcommand("show", "version, library and vehicles of one family");
  show_command->add_option("family", *id, "id of the family")->required()->type_name("FAMILY");
  add_json_option(*show_command, context);
  show_command->callback([&context, id] { show(context, *id); });

  const auto path = std::make_shared<std::string>();
  const auto seconds = std::make_shared<int>(10);
  CLI::App* check_command =
      group->add_subcommand("check", "runs a plugin in a process of its own and says what is wrong with it");
  check_command->add_option("path", *path, "the plugin's library file")->required()->type_name("PATH");
  check_command->add_option("--seconds", *seconds, "how long it may take (10)")
      ->check(CLI::Range(1, 3600))
      ->type_name("N");
  add_json_option(*check_command, context);
  check_command->callback([&context, path, seconds] { check(context, *path, *seconds); });
}

}  // namespace lostspark::faces
