#include "faces/cli/guide.hpp"

#include <algorithm>

#include "base/error.hpp"
#include "faces/cli/cards.hpp"
#include "faces/cli/text.hpp"
#include "job/sheet.hpp"

namespace lostspark::faces {

Guide::Guide(Prompt& prompt, job::Job job, std::string command, bool ask_minutes)
    : prompt_(prompt), job_(std::move(job)), command_(std::move(command)), ask_minutes_(ask_minutes) {
  const auto& state = job_.state();
  number_ = static_cast<int>(state.repairs.size() + state.checks.size());
  for (const auto& reading : state.readings) number_ += reading.at_intake ? 0 : 1;
}

void Guide::run() {
  prompt_.say("\n" + wrapped(job_.vehicle().title + ", job " + job_.id()));
  bool first = true;
  while (!over_) {
    try {
      if (first && job_.state().state != history::JobState::closed) {
        if (job_.state().state != history::JobState::open) told(job_.set_state(history::JobState::open));
        prompt_.say("\n" + first_page(job_.cautions_before_first(), shown_cautions_));
        static_cast<void>(prompt_.line("Enter when read:"));
      }
      first = false;
      next_screen();
    } catch (const InputError& error) {
      prompt_.say(labelled("not done", error.what()));
    } catch (const history::ConflictError& error) {
      // Another terminal wrote to this job and nothing of ours was recorded: the job has been read again, look afresh.
      prompt_.say(labelled("not done", error.what()));
    } catch (const EndOfInput&) {
      over_ = true;
    }
  }
  if (job_.state().state != history::JobState::closed)
    prompt_.say("\n" + wrapped("The job is kept as it stands (" + job::to_string(job_.state().state) +
                               "). Go on with: " + command_));
}

void Guide::told(const job::Done& done) { prompt_.say(done_lines(done)); }

void Guide::ask_how_long() {
  while (ask_minutes_) {
    const std::string typed = prompt_.line("minutes it took, Enter to leave it out:");
    if (typed.empty()) return;
    try {
      return told(job_.took(typed));
    } catch (const InputError& error) {
      prompt_.say(labelled("not noted", error.what()));
    }
  }
}

void Guide::tell_news() {
  std::vector<job::Notice> fresh;
  for (const auto& notice : job_.notices())
    if (shown_notices_.insert(notice.kind + std::to_string(notice.sequence)).second) fresh.push_back(notice);
  prompt_.say(notice_lines(fresh));
}

bool Guide::check_is_due() const {
  const auto& state = job_.state();
  std::int64_t repaired = 0;
  for (const auto& r : state.repairs)
    if (r.part != job::PartState::returned) repaired = std::max(repaired, r.sequence);
  return repaired > 0 && (state.checks.empty() || state.checks.back().sequence < repaired);
}

bool Guide::end_is_due() const {
  const auto& checks = job_.state().checks;
  return !checks.empty() && checks.back().passed && !check_is_due() && checks.back().sequence != went_on_after_;
}

void Guide::next_screen() {
  if (job_.state().state == history::JobState::closed) {
    prompt_.say("\n" + render(make_sheet(job_)));
    over_ = true;
    return;
  }
  tell_news();
  if (wanted_test_) {
    const Index test = *wanted_test_;
    wanted_test_.reset();
    return take_test(test);
  }
  if (wanted_repair_) {
    const Index repair = *wanted_repair_;
    wanted_repair_.reset();
    return do_repair(repair);
  }
  if (check_is_due()) return do_check();
  if (end_is_due()) return do_close();
  const auto plan = job_.next();
  if (plan.nothing_separates && shown_notices_.insert("nothing_separates").second)
    prompt_.say(labelled("mind", "no test in this shop tells the suspects that are left apart"));
  for (const auto& advice : plan.steps) {
    if (advice.kind == planning::StepKind::test) return take_test(advice.test);
    if (advice.kind == planning::StepKind::refer) return do_refer();
    if (declined_.count(advice.repair) == 0) return do_repair(advice.repair);
  }
  do_refer();
}

std::optional<Command> Guide::ask(std::string_view question, std::optional<Index> test) {
  Command command = parse_command(prompt_.line(question));
  if (command.wish == Wish::menu) {
    const auto item = prompt_.choose("What would you like?", menu_lines());
    if (!item) {
      then_ = Then::ask_again;
      return std::nullopt;
    }
    command = {menu_wish(*item), {}};
  }
  if (command.wish == Wish::enter || command.wish == Wish::text) return command;
  try {
    then_ = carry_out(command, test);
  } catch (const InputError& error) {
    prompt_.say(labelled("not done", error.what()));
    then_ = Then::ask_again;
  }
  return std::nullopt;
}

void Guide::take_test(Index test) {
  const job::StepView step = job_.step(test);
  ++number_;
  prompt_.say("\n" + heading(number_, step.title) + step_card(job_.vehicle(), step, shown_cautions_));
  // Where nothing turns, getting ready is part of hooking up.
  const bool turns = step.ready != "ready?";
  if (!turns) prompt_.say(ready_lines(step));

  // Three moments, each with its own answer: nobody types a value with one hand on the kick lever.
  for (;;) {
    const auto answer = ask("hook up, then Enter (/ for a menu):", test);
    if (answer && answer->wish == Wish::enter) break;
    if (answer) prompt_.say(wrapped("The reading comes in a moment. Enter when it is hooked up.", 2));
    if (!answer && then_ == Then::look_afresh) return;
  }
  if (turns) prompt_.say(ready_lines(step));
  while (turns) {
    const auto answer = ask(sentence(step.ready) + ". Enter when done (/ for a menu):", test);
    if (answer && answer->wish == Wish::enter) break;
    if (answer) prompt_.say(wrapped("The reading comes next. Enter when it has been done.", 2));
    if (!answer && then_ == Then::look_afresh) return;
  }
  prompt_.say(labelled("answer", step.ask));
  for (;;) {
    const auto answer = ask("it shows (/ for a menu):", test);
    if (!answer) {
      if (then_ == Then::look_afresh) return;
      continue;
    }
    if (answer->wish == Wish::enter) {
      prompt_.say(wrapped("Type what it shows; / opens the menu, /1 skips this test.", 2));
      continue;
    }
    try {
      told(job_.record(step.id, answer->rest, {.reseated = step.repeats}));
      prompt_.say(suspect_line(job_.suspects()));
      return ask_how_long();
    } catch (const InputError& error) {
      prompt_.say(labelled("not noted", error.what()));
    }
  }
}

void Guide::do_repair(Index repair) {
  const job::RepairView view = job_.repair_step(repair);
  const bool part = view.kind == "replace";
  ++number_;
  prompt_.say("\n" + heading(number_, view.title) + repair_card(view, shown_cautions_));
  const std::string question =
      part ? "1 done, 2 tried with a known-good part, 3 not now (/ for a menu):" : "1 done, 2 not now (/ for a menu):";
  for (;;) {
    const auto answer = ask(question);
    if (!answer) {
      if (then_ == Then::look_afresh) return;
      continue;
    }
    const std::string& key = answer->rest;
    if (key == (part ? "3" : "2")) {
      declined_.insert(repair);
      return;
    }
    if (key == "1" || (part && key == "2")) {
      job::RepairOptions options;
      if (key == "2") options.part = job::PartState::tried;
      told(job_.repaired(view.id, options));
      declined_.clear();  // what was not wanted before this repair may be wanted after it
      return ask_how_long();
    }
    prompt_.say(wrapped("One of the numbers, please: a repair is noted only when somebody says it was done.", 2));
  }
}

void Guide::do_check() {
  ++number_;
  const job::CheckView view = job_.check_view();
  prompt_.say("\n" + heading(number_, "Does it work now? " + sentence(view.title)) + check_card(view));
  for (;;) {
    const auto answer = ask("1 it works, 2 no spark, 3 it sparks but the complaint is still there (/ for a menu):");
    if (!answer) {
      if (then_ == Then::look_afresh) return;
      continue;
    }
    if (answer->wish == Wish::enter) continue;
    try {
      told(job_.check(answer->rest));
    } catch (const InputError& error) {
      prompt_.say(labelled("not noted", error.what()));
      continue;
    }
    const auto& state = job_.state();
    if (!state.checks.back().passed && !state.repairs.empty() && state.repairs.back().part == job::PartState::tried) {
      const std::string id = job_.vehicle().repairs[static_cast<std::size_t>(state.repairs.back().repair)].id;
      if (prompt_.choose("Is the old part back in?", {"yes, the known-good part goes back", "no, it stays"}) == 0)
        told(job_.returned(id));
    }
    return;
  }
}

void Guide::do_close() {
  const std::int64_t check = job_.state().checks.back().sequence;
  const job::CheckView view = job_.check_view();
  if (view.repeat_sequence != 0 && proof_offered_ != check) {
    proof_offered_ = check;
    prompt_.say("\n" + labelled("proof", "take this reading again: " + view.repeat_text));
    return take_test(job_.test(view.repeat_test));
  }
  for (const auto& done : job_.state().repairs) {
    if (done.part != job::PartState::tried) continue;
    const auto& repair = job_.vehicle().repairs[static_cast<std::size_t>(done.repair)];
    const auto answer =
        prompt_.choose("The part on trial (" + repair.title + "):", {"stays in and is billed", "goes back"});
    if (answer == 0) told(job_.repaired(repair.id));
    if (answer == 1) told(job_.returned(repair.id));
    if (answer) return;  // the job has changed: look at it afresh
  }
  put_back();
  if (!see_stops()) {
    went_on_after_ = check;
    return;
  }
  const auto& repairs = job_.state().repairs;
  if (repairs.empty()) return close_unmended(check);
  const Index mended = job_.vehicle().repairs[static_cast<std::size_t>(repairs.back().repair)].component;
  const bool elsewhere = mended != model::k_none && job_.vehicle().components[static_cast<std::size_t>(mended)].kind ==
                                                        model::ComponentKind::elsewhere;
  const auto outcome = elsewhere ? job::Outcome::not_ignition : job::Outcome::fixed;
  for (;;) {
    const auto answer = ask(elsewhere ? "1 close as not ignition, 2 go on looking (/ for a menu):"
                                      : "1 close as fixed, 2 go on looking (/ for a menu):");
    if (!answer) {
      if (then_ == Then::look_afresh) return;
      continue;
    }
    if (answer->rest == "1") return close(outcome);
    if (answer->rest == "2") {
      went_on_after_ = check;
      return;
    }
  }
}

void Guide::close_unmended(std::int64_t check) {
  for (;;) {
    const auto answer = ask("It works and nothing was mended. 1 not ignition, 2 referred on, 3 go on looking (/ for a menu):");
    if (!answer) {
      if (then_ == Then::look_afresh) return;
      continue;
    }
    if (answer->rest == "1") return close(job::Outcome::not_ignition);
    if (answer->rest == "2") return close(job::Outcome::referred_on);
    if (answer->rest == "3") {
      went_on_after_ = check;
      return;
    }
  }
}

void Guide::do_refer() {
  // Nobody sends a vehicle away without having seen whether the complaint is there: if it is, something is wrong.
  const bool seen = !job_.state().checks.empty() && !check_is_due();
  if (!seen && !check_declined_) {
    prompt_.say("\n" + wrapped("Before the job goes elsewhere: is the complaint there, the way it came up?"));
    const auto answer = prompt_.choose("See to it now?", {"yes", "no, it was seen already"});
    if (answer == 0) return do_check();
    check_declined_ = true;
  }
  prompt_.say("\n" + wrapped("No test or repair left here is worth its time. Refer the job on, say that it is not the "
                             "ignition, or choose a step yourself."));
  for (;;) {
    const auto answer = ask("1 referred on, 2 not ignition, 3 choose a step (/ for a menu):");
    if (!answer) {
      if (then_ == Then::look_afresh) return;
      continue;
    }
    if (answer->rest == "1") return close(job::Outcome::referred_on);
    if (answer->rest == "2") return close(job::Outcome::not_ignition);
    if (answer->rest == "3" && choose_step({}) == Then::look_afresh) return;
  }
}

void Guide::put_back() {
  for (const auto& setup : job_.setups()) {
    if (!setup.standing) continue;
    if (prompt_.choose("Still set up: " + setup.title + ". Is it undone?", {"yes", "no"}) == 0)
      told(job_.setup(setup.id, false));
  }
}

bool Guide::see_stops() {
  for (const auto& stop : job_.check_view().stops) {
    if (stop.recorded) continue;
    const auto answer =
        prompt_.choose("Try it: does the " + stop.title + " stop the engine, and let it run when it should?",
                       {"yes, seen to work", "no"});
    if (answer == 0) told(job_.stop_checked(stop.id));
    if (answer == 1) {
      told(job_.note(stop.title + " does not work as it should"));
      return false;
    }
  }
  return true;
}

void Guide::close(job::Outcome outcome) {
  put_back();
  if (outcome == job::Outcome::fixed && !see_stops()) throw InputError("a stop that does not work is not fixed");
  told(job_.close(outcome));
}

}  // namespace lostspark::faces
