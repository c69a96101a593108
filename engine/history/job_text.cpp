#include "history/job_text.hpp"

#include <array>

#include "history/sqlite_message.hpp"

namespace lostspark::history {

namespace {
constexpr std::array<std::string_view, 4> k_states{"open", "waiting_for_part", "waiting_for_customer", "closed"};
}

std::string job_id(std::int64_t number) {
  const std::string digits = std::to_string(number);
  std::string id("J");
  if (digits.size() < 4) id.append(4 - digits.size(), '0');
  return id.append(digits);
}

std::string_view text_of(JobState state) {
  const auto index = static_cast<std::size_t>(state);
  ensure(index < k_states.size(), "job state out of range");
  return k_states[index];
}

JobState state_of(std::string_view text) {
  for (std::size_t i = 0; i < k_states.size(); ++i)
    if (k_states[i] == text) return static_cast<JobState>(i);
  throw StoreError("the job store holds an unknown job state '" + printable(text) +
                   "'; it may come from a newer lostspark, install that one");
}

void check_expected(const std::string& job, std::int64_t last, std::int64_t expected_last) {
  if (last == expected_last) return;
  throw ConflictError("job " + job + " has " + std::to_string(last) + " entries where " +
                      std::to_string(expected_last) +
                      " were expected: another terminal has written to it, nothing was saved; read the job again and "
                      "repeat the step if it is still wanted");
}

void throw_no_such_job(const std::string& job, const std::string& where) {
  throw StoreError("there is no job " + job + " in " + where + "; list the jobs to see which there are");
}

}  // namespace lostspark::history
