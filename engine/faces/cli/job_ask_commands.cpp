// job next, suspects, why, step, show, sheet: questions; nothing is written.
#include <CLI/CLI.hpp>
#include <memory>
#include <ostream>

#include "faces/cli/cards.hpp"
#include "faces/cli/draw.hpp"
#include "faces/cli/job_commands.hpp"
#include "faces/cli/job_plan.hpp"
#include "faces/cli/json_views.hpp"
#include "faces/cli/text.hpp"
#include "job/sheet.hpp"

namespace lostspark::faces {

namespace {

void next(Context& context, const job::Job& job) {
  const auto plan = job.next();
  if (context.json)
    print_json(context, plan_json(job, plan));
  else
    context.out << plan_page(job.vehicle(), plan, 12, Ids::shown) << notice_lines(job.notices());
}

void suspects(Context& context, const job::Job& job, double least) {
  if (context.json)
    print_json(context, suspects_json(job, least));
  else
    context.out << suspect_table(job.suspects(least), job.posterior().nothing_wrong(),
                                 job.posterior().unexplored_mass());
}

void why(Context& context, const job::Job& job, const std::string& test) {
  const auto view = test.empty() ? job.why() : job.why(job.test(test));
  if (context.json)
    print_json(context, why_json(job, view));
  else
    context.out << why_page(job.vehicle(), view);
}

/// How to take a test or do a repair; without a name the one that is advised.
void step(Context& context, const job::Job& job, const std::string& id) {
  std::optional<model::Index> test, repair;
  if (!id.empty()) {
    repair = job.vehicle().find_repair(id);
    if (!repair) test = job.test(id);
  } else {
    for (const auto& advice : job.next().steps) {
      if (advice.kind == planning::StepKind::test) test = advice.test;
      if (advice.kind == planning::StepKind::repair) repair = advice.repair;
      break;
    }
  }
  std::set<std::string> shown;
  if (test) {
    const auto view = job.step(*test);
    if (context.json)
      print_json(context, {{"job", job.id()}, {"step", step_json(view)}});
    else
      context.out << heading(0, view.title) << labelled("id", view.id) << step_card(job.vehicle(), view, shown)
                  << ready_lines(view) << labelled("answer", view.ask);
  } else if (repair) {
    const auto view = job.repair_step(*repair);
    if (context.json)
      print_json(context, {{"job", job.id()}, {"step", repair_json(view)}});
    else
      context.out << heading(0, view.title) << labelled("id", view.id) << repair_card(view, shown);
  } else if (context.json) {
    print_json(context, {{"job", job.id()}, {"step", nullptr}});
  } else {
    context.out << "No test or repair is advised: refer the job on, or close it as not ignition.\n";
  }
}

void show(Context& context, const job::Job& job) {
  if (context.json) {
    print_json(context, job_json(job));
    return;
  }
  const auto& state = job.state();
  context.out << "Job " << job.id() << ", " << job.vehicle().title << '\n'
              << labelled("state", job::to_string(state.state) + (state.outcome.empty() ? "" : ", " + state.outcome))
              << labelled("opened", job.header().opened_at)
              << labelled("family", job.header().family + " " + job.header().family_version) << bench_page(job)
              << "\nEntries\n"
              << history_table(job.history());
}

void sheet(Context& context, const job::Job& job) {
  const auto page = make_sheet(job);
  if (context.json)
    print_json(context, {{"sheet", sheet_json(page)}});
  else
    context.out << render(page);
}

struct PlanRequest {
  int depth = 3;
  std::string format = "text", output;
};

void plan(Context& context, const job::Job& job, const PlanRequest& request) {
  const auto tree = job.plan();
  if (context.json) {
    print_json(context, tree_json(job, tree, request.depth));
    return;
  }
  if (request.format == "text") {
    double parts = 0;
    for (const auto& done : job.state().repairs)
      if (done.part == job::PartState::fitted) parts += done.price;
    write_out(context, tree_page(job.vehicle(), tree, request.depth) + "\n" +
                           quote_page(tree.quote, job.state().minutes, parts, job.workshop().labour_rate_per_hour),
              request.output);
    return;
  }
  const std::string dot = tree_dot(job.vehicle(), tree, request.depth);
  write_out(context, request.format == "svg" ? svg_of(dot) : dot, request.output);
}

}  // namespace

void add_job_ask_commands(CLI::App& group, Context& context) {
  add_job_command(group, context, "next", "what to do next, best first",
                  [&context](const job::Job& job) { next(context, job); });
  const auto least = std::make_shared<double>(1e-4);
  add_job_command(group, context, "suspects", "every suspect and its probability",
                  [&context, least](const job::Job& job) { suspects(context, job, *least); })
      ->add_option("--least", *least, "leave out what is less probable (0.0001)")
      ->check(CLI::Range(0.0, 1.0))
      ->type_name("P");
  const auto test = std::make_shared<std::string>();
  add_job_command(group, context, "why", "which readings moved which suspect, and what a test would tell",
                  [&context, test](const job::Job& job) { why(context, job, *test); })
      ->add_option("test", *test, "id of a test; the advised one if left out")
      ->type_name("TEST");
  const auto id = std::make_shared<std::string>();
  add_job_command(group, context, "step", "how to take a test or do a repair",
                  [&context, id](const job::Job& job) { step(context, job, *id); })
      ->add_option("step", *id, "id of a test or repair; the advised one if left out")
      ->type_name("STEP");
  const auto request = std::make_shared<PlanRequest>();
  CLI::App* plan_command =
      add_job_command(group, context, "plan", "the advice followed through its results, and what it will cost",
                      [&context, request](const job::Job& job) { plan(context, job, *request); });
  plan_command->add_option("--depth", request->depth, "steps shown after each other (3)")
      ->check(CLI::Range(1, 12))
      ->type_name("N");
  plan_command->add_option("--as", request->format, "text, dot (Graphviz text) or svg")
      ->check(CLI::IsMember({"text", "dot", "svg"}))
      ->type_name("FORMAT");
  plan_command->add_option("--output", request->output, "write to this file instead of standard output")
      ->type_name("FILE");
  add_job_command(group, context, "show", "state and entries of a job",
                  [&context](const job::Job& job) { show(context, job); });
  add_job_command(group, context, "sheet", "the job on paper",
                  [&context](const job::Job& job) { sheet(context, job); });
}

}  // namespace lostspark::faces
