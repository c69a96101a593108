// What every command of the command line shares: streams, global options, the exit code.
#pragma once

#include <iosfwd>
#include <string>

#include "sources/load.hpp"

namespace CLI {
class App;
}

namespace lostspark::faces {

/// One run of the program. Commands write results to `out`, everything a person should notice beside them to `err`.
struct Context {
  std::istream& in;
  std::ostream& out;
  std::ostream& err;
  sources::Folders folders;
  bool json = false;     ///< --json: `out` gets exactly one JSON document
  std::string store;     ///< --store: path of the job store, empty = the default one
  std::string workshop;  ///< --workshop: TOML file, empty = the default one
  int exit_code = 0;     ///< set by a command that did its work but has bad news (family check)
};

/// Adds --json to a command.
void add_json_option(CLI::App& command, Context& context);
/// Adds --store to a command.
void add_store_option(CLI::App& command, Context& context);
/// Adds --workshop to a command.
void add_workshop_option(CLI::App& command, Context& context);
/// The workshop in force: the named file or the built-in one.
[[nodiscard]] model::Workshop workshop_of(const Context& context);

// One function per command group, one file each.
void add_trace_command(CLI::App& app, Context& context);
void add_job_commands(CLI::App& app, Context& context);
void add_vehicle_commands(CLI::App& app, Context& context);
void add_family_commands(CLI::App& app, Context& context);
void add_workshop_commands(CLI::App& app, Context& context);
void add_baseline_commands(CLI::App& app, Context& context);
void add_rates_commands(CLI::App& app, Context& context);
void add_data_commands(CLI::App& app, Context& context);

}  // namespace lostspark::faces
