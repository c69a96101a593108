// The whole store out and in again as text, lossless; a copy of the file; a check of it. docs/storage.md.
#pragma once

#include <cstdint>
#include <iosfwd>
#include <string>
#include <utility>
#include <vector>

#include "history/knowledge.hpp"
#include "history/store.hpp"

namespace lostspark::job {

enum class Customers { left_out, taken_along };

/// Rows written or read, by table.
using RowCounts = std::vector<std::pair<std::string, std::int64_t>>;

/// JSON lines: first {"lostspark_export":1,"schema":n}, then {"table":"jobs","row":{...}} a line. One state of the
/// store, streamed. Text that is no UTF-8 is written {"hex":"..."}. Throws InputError when the stream cannot be
/// written.
RowCounts export_lines(const history::Knowledge&, std::ostream& out, Customers);
/// One file a table (<table>.csv) in an existing or new folder; text always in quotes, numbers never. Throws InputError
/// when a file is there already or cannot be written.
RowCounts export_csv(const history::Knowledge&, const std::string& folder, Customers);

/// Into an empty store: all rows or none. Throws InputError naming the line for what is no export, for a newer schema
/// and for a store that holds something already.
RowCounts import_lines(const history::Knowledge&, std::istream& in, const std::string& file);
RowCounts import_csv(const history::Knowledge&, const std::string& folder);

/// A copy of the store while others may write; on disk when it returns. Throws InputError when the file exists,
/// StoreError when it cannot be made.
void backup(const history::Knowledge&, const std::string& file);

struct StoreCheck {
  std::vector<std::string> problems;  ///< empty: sound
  RowCounts rows;
  std::int64_t schema = 0;
};
/// Every page, every reference, every log without gaps, every pattern and set readable.
[[nodiscard]] StoreCheck check_store(const history::Knowledge&);

}  // namespace lostspark::job
