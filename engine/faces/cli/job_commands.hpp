// The `job` command group is split over files by what its commands do; this is what they share.
#pragma once

#include <functional>
#include <memory>
#include <string>

#include "faces/cli/context.hpp"
#include "job/job.hpp"

namespace lostspark::faces {

/// Adds a command on one stored job: a positional JOB, --store, --json. `act` gets the loaded job.
CLI::App* add_job_command(CLI::App& group, Context& context, const std::string& name, const std::string& about,
                          std::function<void(job::Job&)> act);
/// Prints what an action did.
void print_done(Context& context, const job::Job& job, const job::Done& done);

void add_job_open_commands(CLI::App& group, Context& context);   ///< open, list
void add_job_ask_commands(CLI::App& group, Context& context);    ///< next, suspects, why, step, show, sheet
void add_job_act_commands(CLI::App& group, Context& context);    ///< reading, skip, amend, repaired, check, close ...
void add_job_bench_commands(CLI::App& group, Context& context);  ///< covers, setup, held, touched

}  // namespace lostspark::faces
