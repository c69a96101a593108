// The tables of the job store and the steps that bring an older file forward.
#pragma once

#include <cstdint>
#include <span>
#include <string_view>

#include "history/sqlite_handle.hpp"

namespace lostspark::history {

/// "LSPK": PRAGMA application_id of every job store, so that a foreign SQLite file is refused, never written to.
inline constexpr std::int64_t k_application_id = 0x4C53504B;

/// Step n (from 0) takes a file from schema version n to n + 1; step 0 starts from an empty file. A released step never
/// changes: a new need is a new step at the end.
[[nodiscard]] std::span<const std::string_view> schema_steps();

/// Version of the file, 0 for an empty one. Reads only; throws StoreError for a foreign file and for one above `known`.
[[nodiscard]] std::int64_t schema_version(const Connection& connection, std::int64_t known);

/// Checks whose file it is and runs the missing steps in one transaction, so that two terminals that open an old file at
/// once migrate it once, and a failed step leaves the old version. Throws StoreError for a foreign or newer file.
/// `steps` is a parameter so that tests can try versions that do not exist yet.
void bring_up_to_date(const Connection& connection, std::span<const std::string_view> steps);

}  // namespace lostspark::history
