// The intake, one question a screen.
#include "base/error.hpp"
#include "faces/cli/guide.hpp"
#include "faces/cli/text.hpp"

namespace lostspark::faces {

job::Intake ask_intake(Prompt& prompt, const model::Vehicle& vehicle, job::Intake intake) {
  std::vector<job::Question> questions;
  const bool told = !intake.complaints.empty();
  for (const auto& q : job::intake_questions(vehicle))
    if (!told || q.id.substr(0, 9) != "complaint") questions.push_back(q);
  prompt.say(wrapped("First what the customer says. One key each; Enter leaves a question out, - goes back."));
  std::vector<job::Intake> before;  // what stood before each question, so that going back forgets its answer
  for (std::size_t i = 0; i < questions.size();) {
    const job::Question& q = questions[i];
    before.resize(i);
    before.push_back(intake);
    Table table(4);
    for (const auto& c : q.choices) table.row({c.key, c.text});
    prompt.say("\n" + wrapped(sentence(q.text)) + table.text());
    const char* how = q.kind == job::AnswerKind::one       ? "one key:"
                      : q.kind == job::AnswerKind::several ? "keys, as many as fit:"
                                                           : "amount:";
    for (;;) {
      const std::string typed = prompt.line(how);
      if (typed == "-") {
        if (i > 0) intake = before[--i];
        break;
      }
      try {
        job::answer(intake, q, typed);
        ++i;
        break;
      } catch (const InputError& error) {
        intake = before[i];
        prompt.say(wrapped(error.what()));
      }
    }
  }
  return intake;
}

}  // namespace lostspark::faces
