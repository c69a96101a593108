#include "faces/cli/run.hpp"

#include <CLI/CLI.hpp>
#include <algorithm>
#include <exception>
#include <iostream>
#include <new>

#include "base/error.hpp"
#include "faces/cli/context.hpp"
#include "faces/cli/json_out.hpp"
#include "faces/cli/negative.hpp"
#include "sources/text.hpp"

#ifndef LOSTSPARK_VERSION
#define LOSTSPARK_VERSION "unknown"
#endif

namespace lostspark::faces {

namespace {

constexpr const char* k_about =
    "Traces ignition faults: says what to measure next, learns from every reading, proves the repair.";

constexpr const char* k_examples =
    "Examples:\n"
    "  lostspark vehicle list                         which vehicles are described\n"
    "  lostspark trace quillmarsh_trail_125           trace a fault, guided, in this terminal\n"
    "  lostspark trace quillmarsh_trail_125 --play    watch a whole diagnosis on a simulated vehicle\n"
    "  lostspark job open --vehicle quillmarsh_trail_125 --complaint no_spark --json\n"
    "\n"
    "Exit codes: 0 done, 1 something given is wrong, 2 the command line is wrong,\n"
    "            3 job store or plugin, 4 a mistake of the program.\n";

const char* kind_of(const Error& error) {
  switch (error.exit_code()) {
    case 1:
      return "input";
    case 2:
      return "usage";
    case 3:
      return dynamic_cast<const PluginError*>(&error) != nullptr ? "plugin" : "store";
    default:
      return "internal";
  }
}

/// One message out, whatever went wrong. Messages of several lines (all mistakes of a file) stay as they are.
int report(Context& context, const std::string& kind, const std::string& message, int exit_code) {
  context.err << "lostspark: " << message << '\n';
  if (context.json) {
    print_json(context, {{"error", {{"kind", kind}, {"message", message}, {"exit_code", exit_code}}}});
  }
  context.out.flush();
  return exit_code;
}

std::string one_line(std::string text) {
  std::replace(text.begin(), text.end(), '\n', ' ');
  return text;
}

/// What is wrong with the command words, where CLI11 only says that one is missing; empty: nothing.
std::string wrong_command(const CLI::App& app, const std::vector<std::string>& arguments) {
  const CLI::App* group = &app;
  std::string said = "lostspark";
  for (const std::string& word : arguments) {
    const auto commands = group->get_subcommands([](const CLI::App*) { return true; });
    if (commands.empty()) return {};
    if (!word.empty() && word[0] == '-') continue;
    std::vector<std::string> names;
    const CLI::App* next = nullptr;
    for (const CLI::App* command : commands) {
      names.push_back(command->get_name());
      if (names.back() == word) next = command;
    }
    if (next == nullptr) return "no command '" + word + "' after " + said + sources::suggestion(word, names);
    group = next;
    said += " " + word;
  }
  return group->get_subcommands([](const CLI::App*) { return true; }).empty() ? ""
                                                                              : "a command is missing after " + said;
}

}  // namespace

void add_json_option(CLI::App& command, Context& context) {
  command.add_flag("--json", context.json, "print one JSON document instead of text (docs/json.md)");
}

void add_store_option(CLI::App& command, Context& context) {
  command.add_option("--store", context.store, "file that holds the jobs, or postgresql://... of a shared history")
      ->type_name("FILE|URL");
}

void add_workshop_option(CLI::App& command, Context& context) {
  command.add_option("--workshop", context.workshop, "what the shop owns: instruments, helper, rates")
      ->type_name("FILE");
}

model::Workshop workshop_of(const Context& context) {
  return context.workshop.empty() ? sources::default_workshop(context.folders)
                                  : sources::load_workshop(context.workshop);
}

int run(const std::vector<std::string>& arguments, std::istream& in, std::ostream& out, std::ostream& err) {
  Context context{in, out, err, {}};
  // Known before parsing, so that a wrong command line is answered in JSON too.
  context.json = std::find(arguments.begin(), arguments.end(), "--json") != arguments.end();
  CLI::App app{k_about, "lostspark"};
  app.footer(k_examples);
  app.set_version_flag("--version", std::string("lostspark ") + LOSTSPARK_VERSION, "print the version");
  app.get_formatter()->column_width(34);
  app.require_subcommand(1);
  try {
    context.folders = sources::default_folders();
    add_trace_command(app, context);
    add_job_commands(app, context);
    add_vehicle_commands(app, context);
    add_family_commands(app, context);
    add_workshop_commands(app, context);
    add_baseline_commands(app, context);
    add_rates_commands(app, context);
    add_data_commands(app, context);
    std::vector<std::string> words = guarded(arguments);
    std::reverse(words.begin(), words.end());  // CLI11 takes them from the back
    app.parse(words);
    out.flush();
    return context.exit_code;
  } catch (const CLI::Success& wanted) {
    return app.exit(wanted, out, err);  // --help and --version
  } catch (const CLI::ParseError& error) {
    const std::string wrong = wrong_command(app, arguments);
    return report(context, "usage", (wrong.empty() ? one_line(error.what()) : wrong) + " (see lostspark --help)", 2);
  } catch (const Error& error) {
    return report(context, kind_of(error), error.what(), error.exit_code());
  } catch (const std::bad_alloc&) {
    return report(context, "internal", "out of memory", 4);
  } catch (const std::exception& error) {
    return report(context, "internal", std::string("internal error: ") + error.what() + " (please report this)", 4);
  }
}

}  // namespace lostspark::faces
