#include "faces/cli/run.hpp"

#include <CLI/CLI.hpp>
#include <algorithm>
#include <exception>
#include <iostream>
#include <new>
#include <nlohmann/json.hpp>

#include "base/error.hpp"
#include "faces/cli/context.hpp"
#include "faces/cli/negative.hpp"

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
    "  lostspark trace trail_bike_125                 trace a fault, guided, in this terminal\n"
    "  lostspark trace trail_bike_125 --play          watch a whole diagnosis on a simulated vehicle\n"
    "  lostspark job open --vehicle trail_bike_125 --complaint no_spark --json\n"
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
    const nlohmann::json error{{"error", {{"kind", kind}, {"message", message}, {"exit_code", exit_code}}}};
    context.out << error.dump(2, ' ', false, nlohmann::json::error_handler_t::replace) << '\n';
  }
  context.out.flush();
  return exit_code;
}

std::string one_line(std::string text) {
  std::replace(text.begin(), text.end(), '\n', ' ');
  return text;
}

}  // namespace

void add_json_option(CLI::App& command, Context& context) {
  command.add_flag("--json", context.json, "print one JSON document instead of text (docs/json.md)");
}

void add_store_option(CLI::App& command, Context& context) {
  command.add_option("--store", context.store, "file that holds the jobs")->type_name("FILE");
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
    std::vector<std::string> words = guarded(arguments);
    std::reverse(words.begin(), words.end());  // CLI11 takes them from the back
    app.parse(words);
    out.flush();
    return context.exit_code;
  } catch (const CLI::Success& wanted) {
    return app.exit(wanted, out, err);  // --help and --version
  } catch (const CLI::ParseError& error) {
    return report(context, "usage", one_line(error.what()) + " (see lostspark --help)", 2);
  } catch (const Error& error) {
    return report(context, kind_of(error), error.what(), error.exit_code());
  } catch (const std::bad_alloc&) {
    return report(context, "internal", "out of memory", 4);
  } catch (const std::exception& error) {
    return report(context, "internal", std::string("internal error: ") + error.what() + " (please report this)", 4);
  }
}

}  // namespace lostspark::faces
