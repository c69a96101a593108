// job reading, took, skip, amend, strike, undo, repaired, returned, check, stop, note, wait, resume, close: entries of
// the log.
#include <CLI/CLI.hpp>
#include <memory>
#include <optional>
#include <ostream>

#include "base/error.hpp"
#include "faces/cli/cards.hpp"
#include "faces/cli/job_commands.hpp"
#include "faces/cli/json_views.hpp"
#include "faces/cli/negative.hpp"
#include "faces/cli/number_checks.hpp"
#include "faces/cli/text.hpp"

namespace lostspark::faces {

namespace {

/// The words of a reading as one text: `150 170 165` may come as three arguments.
std::string spoken(const std::vector<std::string>& words) {
  std::string text;
  for (const std::string& word : words) text += (text.empty() ? "" : " ") + unguarded(word);
  return text;
}

void add_reading(CLI::App& group, Context& context) {
  struct Request {
    std::string test, held;
    std::vector<std::string> value;
    bool reseated = false, same_crank = false;
  };
  const auto r = std::make_shared<Request>();
  CLI::App* command = add_job_command(group, context, "reading", "record a reading", [&context, r](job::Job& job) {
    job::ReadingOptions options;
    if (!r->held.empty()) options.provocation = job::provocation(r->held);
    options.reseated = r->reseated;
    options.same_crank = r->same_crank;
    print_done(context, job, job.record(r->test, spoken(r->value), options));
  });
  command->add_option("test", r->test, "id of the test")->required()->type_name("TEST");
  command->add_option("value", r->value, "as people say it: 168, 0.17kV, 150..200, below, steady")
      ->required()
      ->type_name("VALUE");
  command->add_option("--held", r->held, "taken hot, wet, shaken, steering or loaded")->type_name("WORD");
  command->add_flag("--reseated", r->reseated, "clips re-seated and meter proved before this repeat");
  command->add_flag("--same-crank", r->same_crank, "read at the same crank or kick as the reading before");
  command->footer(
      "Examples:\n  lostspark job reading J0001 TEST 168\n  lostspark job reading J0001 TEST 150 170 165\n"
      "  lostspark job reading J0001 TEST '>250' --json\n");
}

void add_took(CLI::App& group, Context& context) {
  struct Request {
    std::vector<std::string> minutes;
    std::int64_t entry = 0;
  };
  const auto r = std::make_shared<Request>();
  CLI::App* took = add_job_command(
      group, context, "took", "minutes the last step really took, covers and set-up included",
      [&context, r](job::Job& job) {
        print_done(context, job, job.took(spoken(r->minutes), r->entry > 0 ? std::optional(r->entry) : std::nullopt));
      });
  took->add_option("minutes", r->minutes, "minutes at work: 12, 7.5")->required()->type_name("MINUTES");
  took->add_option("--entry", r->entry, "of the step with this entry (job show), not of the last one")
      ->check(above_zero())
      ->type_name("N");
  took->footer(
      "The shop's own minutes take the place of the file's once they are applied: lostspark rates show, rates apply.\n"
      "Examples:\n  lostspark job took J0001 12\n  lostspark job took J0001 7.5 --entry 9\n");
}

void add_corrections(CLI::App& group, Context& context) {
  struct Request {
    std::string test, reason;
    std::int64_t entry = 0;
    std::vector<std::string> words;
  };
  const auto r = std::make_shared<Request>();
  CLI::App* skip = add_job_command(
      group, context, "skip", "leave a test out, with the reason",
      [&context, r](job::Job& job) { print_done(context, job, job.skip(r->test, job::skip_reason(r->reason))); });
  skip->add_option("test", r->test, "id of the test")->required()->type_name("TEST");
  skip->add_option("reason", r->reason, "cannot_reach, no_tool, no_helper or not_now (1 to 4)")
      ->required()
      ->type_name("REASON");
  CLI::App* amend = add_job_command(
      group, context, "amend", "give an earlier reading or check again",
      [&context, r](job::Job& job) { print_done(context, job, job.amend(r->entry, spoken(r->words))); });
  amend->add_option("entry", r->entry, "number of the entry (job show)")->required()->type_name("N");
  amend->add_option("value", r->words, "what it showed")->required()->type_name("VALUE");
  CLI::App* strike = add_job_command(
      group, context, "strike", "take an entry out of the account",
      [&context, r](job::Job& job) { print_done(context, job, job.strike(r->entry, spoken(r->words))); });
  strike->add_option("entry", r->entry, "number of the entry (job show)")->required()->type_name("N");
  strike->add_option("reason", r->words, "why")->type_name("WORDS");
  add_job_command(group, context, "undo", "take back the last entry",
                  [&context](job::Job& job) { print_done(context, job, job.undo()); });
}

void add_repairs(CLI::App& group, Context& context) {
  struct Request {
    std::string repair, result, stop, works;
    double price = -1;
    bool tried = false;
  };
  const auto r = std::make_shared<Request>();
  CLI::App* repaired = add_job_command(group, context, "repaired", "a repair was done", [&context, r](job::Job& job) {
    job::RepairOptions options;
    if (r->price >= 0) options.price = r->price;
    if (r->tried) options.part = job::PartState::tried;
    print_done(context, job, job.repaired(r->repair, options));
  });
  repaired->add_option("repair", r->repair, "id of the repair")->required()->type_name("REPAIR");
  repaired->add_option("--price", r->price, "what the part cost, units of money")
      ->check(above_zero(true))
      ->type_name("MONEY");
  repaired->add_flag("--tried", r->tried, "a known-good part that may go back");
  CLI::App* returned =
      add_job_command(group, context, "returned", "the old part was refitted, the new one given back",
                      [&context, r](job::Job& job) { print_done(context, job, job.returned(r->repair)); });
  returned->add_option("repair", r->repair, "id of the repair")->required()->type_name("REPAIR");
  CLI::App* check =
      add_job_command(group, context, "check", "what the functional check showed; without a result: how to check",
                      [&context, r](job::Job& job) {
                        if (!r->result.empty()) return print_done(context, job, job.check(r->result));
                        const auto view = job.check_view();
                        if (context.json)
                          print_json(context, {{"job", job.id()}, {"check", check_json(view)}});
                        else
                          context.out << heading(0, view.title) << check_card(view);
                      });
  check
      ->add_option(
          "result", r->result,
          "passed, failed, still_there (it sparks, but the complaint is still there), or the word of the check test")
      ->type_name("RESULT");
  CLI::App* stop =
      add_job_command(group, context, "stop", "a stop or interlock was seen to work", [&context, r](job::Job& job) {
        if (r->works != "works")
          throw InputError("'" + r->works +
                           "' is not recorded for a stop; expected works (else it stays unrecorded: job note)");
        print_done(context, job, job.stop_checked(r->stop));
      });
  stop->add_option("component", r->stop, "id of the stop or interlock")->required()->type_name("COMPONENT");
  stop->add_option("state", r->works, "works")->required()->type_name("works");
}

void add_endings(CLI::App& group, Context& context) {
  struct Request {
    std::string whom, outcome;
    std::vector<std::string> words;
  };
  const auto r = std::make_shared<Request>();
  CLI::App* note = add_job_command(group, context, "note", "words for the sheet", [&context, r](job::Job& job) {
    print_done(context, job, job.note(spoken(r->words)));
  });
  note->add_option("words", r->words, "what should be known")->required()->type_name("WORDS");
  CLI::App* wait = add_job_command(group, context, "wait", "the job waits", [&context, r](job::Job& job) {
    if (r->whom != "part" && r->whom != "customer")
      throw InputError("a job does not wait for '" + r->whom + "'; expected part or customer");
    print_done(context, job,
               job.set_state(r->whom == "part" ? history::JobState::waiting_for_part
                                               : history::JobState::waiting_for_customer));
  });
  wait->add_option("for", r->whom, "part or customer")->required()->type_name("WHOM");
  add_job_command(group, context, "resume", "the job goes on",
                  [&context](job::Job& job) { print_done(context, job, job.set_state(history::JobState::open)); });
  CLI::App* close = add_job_command(group, context, "close", "end the job", [&context, r](job::Job& job) {
    print_done(context, job, job.close(job::outcome(r->outcome)));
  });
  close->add_option("outcome", r->outcome, "fixed, not_ignition or referred_on")->required()->type_name("OUTCOME");
}

}  // namespace

void add_job_act_commands(CLI::App& group, Context& context) {
  add_reading(group, context);
  add_took(group, context);
  add_corrections(group, context);
  add_repairs(group, context);
  add_endings(group, context);
}

}  // namespace lostspark::faces
