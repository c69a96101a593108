// How job ids and states are written; the same in every store.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>

#include "history/store.hpp"

namespace lostspark::history {

/// 7 -> "J0007"; longer numbers simply grow.
[[nodiscard]] std::string job_id(std::int64_t number);

/// The state's name in the database.
[[nodiscard]] std::string_view text_of(JobState state);
/// Throws StoreError naming the word when it is no state.
[[nodiscard]] JobState state_of(std::string_view text);

/// Throws ConflictError when the log's last sequence is not the one the caller has read.
void check_expected(const std::string& job, std::int64_t last, std::int64_t expected_last);
[[noreturn]] void throw_no_such_job(const std::string& job, const std::string& where);

}  // namespace lostspark::history
