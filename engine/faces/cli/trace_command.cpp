// trace: the guided job in a terminal, or played by the program itself.
#include <unistd.h>

#include <CLI/CLI.hpp>
#include <iostream>
#include <memory>

#include "base/error.hpp"
#include "faces/cli/context.hpp"
#include "faces/cli/guide.hpp"
#include "faces/cli/play.hpp"
#include "faces/cli/session.hpp"

namespace lostspark::faces {

namespace {

struct TraceRequest {
  std::string vehicle, job;
  bool play = false, keep = true, minutes = false;
  PlayRequest hidden;
};

void guide(Context& context, const TraceRequest& request) {
  Session session(context);
  const bool typed_here = &context.in == &std::cin && ::isatty(STDIN_FILENO) != 0;
  Prompt prompt(context.in, context.out, !typed_here);
  std::string again = "lostspark trace --job ";
  const std::string where = context.store.empty() ? "" : " --store " + context.store;
  if (!request.job.empty()) {
    Guide(prompt, session.desk().load(request.job), again + request.job + where, request.minutes).run();
    session.learn_from(context, session.desk().load(request.job));
    return;
  }
  const auto vehicle = session.desk().vehicle(request.vehicle);
  job::Intake intake;
  intake.complaints = request.hidden.complaints;
  job::check_intake(*vehicle, intake);
  try {
    intake = ask_intake(prompt, *vehicle, intake);
  } catch (const EndOfInput&) {
    throw InputError("the input ended during the intake; no job was opened");
  }
  job::Job job = session.desk().open(request.vehicle, intake);
  const std::string id = job.id();
  again += id + where;
  Guide(prompt, std::move(job), again, request.minutes).run();
  session.learn_from(context, session.desk().load(id));
}

void trace(Context& context, TraceRequest& request) {
  if (request.vehicle.empty() == request.job.empty())
    throw UsageError("name a vehicle to open a job, or --job JOB to go on with one (see lostspark trace --help)");
  if (!request.play) {
    if (!request.hidden.fault.empty()) throw UsageError("--fault hides a fault in the simulated vehicle: add --play");
    guide(context, request);
    return;
  }
  if (request.vehicle.empty()) throw UsageError("--play opens a job of its own: name a vehicle instead of --job");
  request.hidden.vehicle = request.vehicle;
  // A play is no customer's job: it stays out of the shop's jobs unless a store is named for it.
  Session session(context, context.store.empty() ? Keep::in_memory : Keep::on_disk);
  play(context, session, request.hidden);
}

}  // namespace

void add_trace_command(CLI::App& app, Context& context) {
  const auto request = std::make_shared<TraceRequest>();
  CLI::App* command = app.add_subcommand("trace", "trace a fault, guided step by step");
  command->add_option("vehicle", request->vehicle, "id, or path of a network file")->type_name("VEHICLE");
  command->add_option("--job", request->job, "go on with this job")->type_name("JOB");
  command->add_option("--complaint", request->hidden.complaints, "complaint word; may be given several times")
      ->type_name("WORD")
      ->allow_extra_args(false);
  command->add_flag("--minutes", request->minutes, "ask after every step how long it took; the shop learns from it");
  command->add_flag("--play", request->play, "the program plays the vehicle too, with a hidden fault");
  command->add_option("--seed", request->hidden.seed, "another number, another hidden fault (1)")->type_name("N");
  command->add_option("--fault", request->hidden.fault, "hide this fault: component.mode")->type_name("FAULT");
  add_store_option(*command, context);
  add_workshop_option(*command, context);
  command->footer(
      "Everything can be answered from a numeric keypad: Enter goes on, / opens a numbered menu.\n"
      "Examples:\n"
      "  lostspark trace quillmarsh_trail_125 --complaint no_spark\n"
      "  lostspark trace --job J0003                     go on with a job\n"
      "  lostspark trace quillmarsh_trail_125 --play --seed 7  watch one\n");
  command->callback([&context, request] { trace(context, *request); });
}

}  // namespace lostspark::faces
