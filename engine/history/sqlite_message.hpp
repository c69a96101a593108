// SQLite's result codes as one sentence for the person at the terminal: what failed, where, why, what to do.
#pragma once

#include <string>
#include <string_view>

namespace lostspark::history {

struct SqliteFailure {
  std::string_view doing;   ///< completes "cannot ..."
  std::string_view path;
  int code = 0;             ///< extended result code
  int system_errno = 0;     ///< errno of the call that failed, 0 when unknown
  std::string_view detail;  ///< SQLite's own words, used where we have none
};

[[nodiscard]] std::string sqlite_message(const SqliteFailure& failure);

/// "cannot DOING PATH: CAUSE; REMEDY": the one form of all messages of this room.
[[nodiscard]] std::string store_message(std::string_view doing, std::string_view path, std::string_view cause,
                                        std::string_view remedy);

/// Foreign text made fit for one line of a message: other bytes than printable ASCII become one blank, the end is cut off after a word.
[[nodiscard]] std::string printable(std::string_view text);

/// What to do about a damaged file; said in more than one place.
extern const std::string_view k_damaged_remedy;

}  // namespace lostspark::history
