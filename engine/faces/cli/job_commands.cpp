// job: the same job from scripts, one command a question or an entry of the log.
#include "faces/cli/job_commands.hpp"

#include <CLI/CLI.hpp>
#include <memory>
#include <ostream>

#include "base/error.hpp"
#include "faces/cli/cards.hpp"
#include "faces/cli/json_views.hpp"
#include "faces/cli/number_checks.hpp"
#include "faces/cli/session.hpp"
#include "faces/cli/text.hpp"
#include "history/knowledge.hpp"
#include "job/sheet.hpp"

namespace lostspark::faces {

namespace {

struct OpenRequest {
  std::string vehicle;
  job::Intake intake;
  double limit = -1;
  std::string comeback_of, customer, registration;
};

void open(Context& context, OpenRequest& request) {
  if (request.limit >= 0) request.intake.limit = request.limit;
  Session session(context);
  if (!request.comeback_of.empty()) static_cast<void>(session.desk().load(request.comeback_of));  // it must exist
  const job::Job job = session.desk().open(request.vehicle, request.intake);
  auto& knowledge = session.desk().store().knowledge();
  if (!request.comeback_of.empty()) knowledge.link_comeback("", job.id(), request.comeback_of, session.desk().now());
  if (!request.customer.empty() || !request.registration.empty())
    knowledge.put_customer({job.id(), request.customer, request.registration, session.desk().now()});
  if (context.json)
    print_json(context, {{"job", job.id()}, {"vehicle", job.vehicle().id}});
  else
    context.out << job.id() << '\n';
}

void list(Context& context) {
  Session session(context);
  const auto jobs = session.desk().jobs();
  if (context.json) {
    Json rows = Json::array();
    for (const auto& j : jobs) rows.push_back(summary_json(j));
    print_json(context, {{"jobs", rows}});
    return;
  }
  if (jobs.empty()) {
    context.out << "No job yet.\n";
    return;
  }
  Table table(0);
  for (const auto& j : jobs)
    table.row({j.header.id, j.header.vehicle, job::to_string(j.state), "changed " + j.changed_at});
  context.out << table.text();
}

}  // namespace

CLI::App* add_job_command(CLI::App& group, Context& context, const std::string& name, const std::string& about,
                          std::function<void(job::Job&)> act) {
  const auto id = std::make_shared<std::string>();
  CLI::App* command = group.add_subcommand(name, about);
  command->add_option("job", *id, "id of the job")->required()->type_name("JOB");
  add_json_option(*command, context);
  add_store_option(*command, context);
  command->callback([&context, id, act = std::move(act)] {
    Session session(context);
    job::Job job = session.desk().load(*id);
    const auto before = job.state().state;
    act(job);
    if (job.state().state != before) session.learn_from(context, job);
  });
  return command;
}

void print_done(Context& context, const job::Job& job, const job::Done& done) {
  if (context.json) {
    print_json(context, done_json(job, done));
    return;
  }
  context.out << done.text << '\n';
  for (const std::string& line : done.also) context.out << "  " << line << '\n';
}

void add_job_open_commands(CLI::App& group, Context& context) {
  const auto request = std::make_shared<OpenRequest>();
  CLI::App* command = group.add_subcommand("open", "open a job with what the customer and the first look tell");
  auto& intake = request->intake;
  const auto words = [&](const char* name, std::vector<std::string>& into, const char* about) {
    command->add_option(name, into, about)->type_name("WORD")->allow_extra_args(false);
  };
  command->add_option("--vehicle", request->vehicle, "id, or path of a network file")->required()->type_name("ID");
  words("--complaint", intake.complaints, "complaint word of the vehicle; may be given several times");
  command->add_option("--extent", intake.extent, "always, comes_and_goes, all_cylinders, one_cylinder, two_cylinders")
      ->type_name("WORD");
  words("--shows", intake.shows, "when it shows: hot, cold, wet, shaken, steering, loaded");
  words("--recent-work", intake.recent_work, "source_side, trigger_side, module_wiring, coil_and_plug, switches");
  words("--replaced", intake.replaced, "component that was fitted new already");
  words("--cover-off", intake.covers_off, "cover that was off on arrival");
  words("--add-on", intake.add_ons, "lights, alarm, other");
  command->add_option("--spark", intake.spark, "none, weak, good, not_checked")->type_name("WORD");
  command->add_option("--limit", request->limit, "the customer's limit, units of money")
      ->check(above_zero(true))
      ->type_name("MONEY");
  command
      ->add_option("--comeback-of", request->comeback_of, "job after which this vehicle came back with the complaint")
      ->type_name("JOB");
  command->add_option("--customer", request->customer, "name of the customer, kept apart from the job")
      ->type_name("NAME");
  command->add_option("--registration", request->registration, "registration number, kept apart from the job")
      ->type_name("TEXT");
  command->add_option("--words", intake.words, "the complaint in the customer's own words")->type_name("TEXT");
  add_json_option(*command, context);
  add_store_option(*command, context);
  add_workshop_option(*command, context);
  command->callback([&context, request] { open(context, *request); });

  struct Link {
    std::string job, first;
  };
  const auto link = std::make_shared<Link>();
  CLI::App* comeback = group.add_subcommand("comeback", "this job is the comeback of an earlier one: only it counts");
  comeback->add_option("job", link->job, "id of the job")->required()->type_name("JOB");
  comeback->add_option("first", link->first, "id of the job after which the vehicle came back")
      ->required()
      ->type_name("FIRST");
  add_json_option(*comeback, context);
  add_store_option(*comeback, context);
  comeback->callback([&context, link] {
    Session session(context);
    const job::Job job = session.desk().load(link->job), first = session.desk().load(link->first);
    if (job.id() == first.id() || job.header().opened_at < first.header().opened_at)
      throw InputError("job " + job.id() + " was not opened after job " + first.id() +
                       ", so it cannot be its comeback");
    session.desk().store().knowledge().link_comeback("", job.id(), first.id(), session.desk().now());
    if (context.json)
      print_json(context, {{"job", job.id()}, {"comeback_of", first.id()}});
    else
      context.out << "job " << job.id() << " is the comeback of job " << first.id() << '\n';
  });

  CLI::App* list_command = group.add_subcommand("list", "every job and its state");
  add_json_option(*list_command, context);
  add_store_option(*list_command, context);
  list_command->callback([&context] { list(context); });
}

void add_job_commands(CLI::App& app, Context& context) {
  CLI::App* group = app.add_subcommand("job", "one job from scripts: open, ask, record, close");
  group->require_subcommand(1);
  add_job_open_commands(*group, context);
  add_job_ask_commands(*group, context);
  add_job_act_commands(*group, context);
  add_job_bench_commands(*group, context);
  group->footer(
      "Examples:\n"
      "  lostspark job open --vehicle quillmarsh_trail_125 --complaint no_spark --json\n"
      "  lostspark job next J0001 --json\n"
      "  lostspark job reading J0001 TEST 168\n"
      "  lostspark job suspects J0001\n");
}

}  // namespace lostspark::faces
