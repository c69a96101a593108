// The guided job: one screen after the other, the job room says what comes next, a person answers.
#pragma once

#include <optional>
#include <set>
#include <string>

#include "faces/cli/prompt.hpp"
#include "job/job.hpp"

namespace lostspark::faces {

/// Asks the intake questions; those about complaints are left out when `intake` names some already.
/// '-' goes back to the question before.
[[nodiscard]] job::Intake ask_intake(Prompt& prompt, const model::Vehicle& vehicle, job::Intake intake);

/// Leads one job to its end, or until the person leaves or the input ends. Every answer is on disk before the next
/// question; a mistake in an answer is told and asked again.
class Guide {
 public:
  /// `command` is what resumes this job, told when it is left open: "lostspark trace --job J0003".
  /// `ask_minutes`: after every reading and repair it asks how long that took; Enter leaves it out.
  Guide(Prompt& prompt, job::Job job, std::string command, bool ask_minutes = false);
  void run();

 private:
  using Index = model::Index;
  /// After a command: ask the same thing again, or drop the screen and look at the job afresh.
  enum class Then { ask_again, look_afresh };

  void next_screen();
  void take_test(Index test);
  void do_repair(Index repair);
  void do_check();
  void do_close();
  void do_refer();
  void close_unmended(std::int64_t check);  ///< a check passed and nothing had been mended
  void tell_news();
  [[nodiscard]] bool check_is_due() const;
  [[nodiscard]] bool end_is_due() const;

  /// Reads a line; Enter and text come back, every other command is carried out (nothing comes back) and sets then_.
  [[nodiscard]] std::optional<Command> ask(std::string_view question, std::optional<Index> test = std::nullopt);
  Then carry_out(const Command& command, std::optional<Index> test);
  Then skip(const std::string& reason, std::optional<Index> test);
  Then choose_step(const std::string& id);
  Then choose_repair(const std::string& id);
  Then change_bench();
  Then correct_reading();
  Then end_job(const std::string& how);
  Then correct_by_number(Wish wish, const std::string& rest);
  Then bench_by_words(Wish wish, const std::string& rest);
  void put_back();  ///< asks about every set-up that still stands
  /// Asks about every stop and interlock to be recorded; false: one does not work.
  [[nodiscard]] bool see_stops();
  void close(job::Outcome outcome);
  void told(const job::Done& done);
  void ask_how_long();

  Prompt& prompt_;
  job::Job job_;
  std::string command_;
  bool ask_minutes_ = false;
  Then then_ = Then::ask_again;
  bool over_ = false;
  int number_ = 0;  ///< of the screen shown
  std::optional<Index> wanted_test_, wanted_repair_;
  std::set<Index> declined_;  ///< repairs the person does not want now
  std::set<std::string> shown_cautions_, shown_notices_;
  bool check_declined_ = false;      ///< the person has seen the complaint and wants no check before the job goes elsewhere
  std::int64_t went_on_after_ = -1;  ///< passed check after which the person went on looking
  std::int64_t proof_offered_ = -1;  ///< passed check for which the repeat reading was offered
};

}  // namespace lostspark::faces
