// job covers, setup, held, touched: what is off, connected and held on the vehicle now, asked and corrected.
#include <CLI/CLI.hpp>
#include <memory>
#include <ostream>

#include "base/error.hpp"
#include "faces/cli/cards.hpp"
#include "faces/cli/job_commands.hpp"
#include "faces/cli/json_views.hpp"
#include "faces/cli/text.hpp"

namespace lostspark::faces {

namespace {

void print_bench(Context& context, const job::Job& job) {
  if (context.json) {
    print_json(context, bench_json(job));
    return;
  }
  Table covers, setups;
  for (const auto& c : job.covers()) covers.row({c.id, c.off ? "off" : "on", c.title});
  for (const auto& s : job.setups()) setups.row({s.id, s.standing ? "made" : "undone", s.title});
  context.out << "Covers\n"
              << covers.text() << "Set-ups\n"
              << setups.text() << labelled("held", job::to_string(job.state().provocation));
}

}  // namespace

void add_job_bench_commands(CLI::App& group, Context& context) {
  struct Request {
    std::vector<std::string> off, on, components;
    std::string setup, how, held;
  };
  const auto r = std::make_shared<Request>();

  CLI::App* covers = add_job_command(group, context, "covers", "which covers are off; --off and --on correct it",
                                     [&context, r](job::Job& job) {
                                       for (const auto& id : r->off) job.cover(id, true);
                                       for (const auto& id : r->on) job.cover(id, false);
                                       print_bench(context, job);
                                     });
  covers->add_option("--off", r->off, "this cover is off")->type_name("COVER")->allow_extra_args(false);
  covers->add_option("--on", r->on, "this cover is on")->type_name("COVER")->allow_extra_args(false);

  CLI::App* setup = add_job_command(group, context, "setup", "which set-ups stand; with two words: correct one",
                                    [&context, r](job::Job& job) {
                                      if (r->setup.empty()) return print_bench(context, job);
                                      if (r->how != "made" && r->how != "undone")
                                        throw InputError("a set-up is made or undone, not '" + r->how + "'");
                                      print_done(context, job, job.setup(r->setup, r->how == "made"));
                                    });
  setup->add_option("setup", r->setup, "id of the set-up")->type_name("SETUP");
  setup->add_option("state", r->how, "made or undone")->type_name("made|undone");

  CLI::App* held = add_job_command(
      group, context, "held", "what is held from now on: hot, wet ...",
      [&context, r](job::Job& job) { print_done(context, job, job.provoke(job::provocation(r->held))); });
  held->add_option("provocation", r->held, "none, hot, wet, shaken, steering or loaded")->required()->type_name("WORD");

  CLI::App* touched =
      add_job_command(group, context, "touched", "contacts of these components were unplugged and plugged again",
                      [&context, r](job::Job& job) { print_done(context, job, job.touched(r->components)); });
  touched->add_option("components", r->components, "ids of the components")->required()->type_name("COMPONENT");
}

}  // namespace lostspark::faces
