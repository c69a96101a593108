// A history that several shops share: every shop works on its own SQLite file; what it wrote is sent to one PostgreSQL
// database, where closed cases of all shops are counted. docs/shared-history.md.
#pragma once

#include <memory>
#include <string>
#include <vector>

#include "history/knowledge.hpp"
#include "history/store.hpp"

namespace lostspark::history {

struct SharedOptions {
  std::string shop;        ///< name of this shop there; empty: the one this file was given before
  bool customers = false;  ///< send names, registration numbers, notes and the customers' own words too
  int retry_after_s = 10;  ///< after a failure the database is left alone for this long
};

struct ShopSummary {
  std::string shop;
  std::int64_t jobs = 0, cases = 0;
};

/// The shop's view of the shared database. Counts are over all shops.
class SharedHistory : public CaseSource {
 public:
  /// Sends what waits, in the order it was written; rows that are there already are not doubled. Trouble is kept in
  /// trouble(), nothing is thrown and nothing lost.
  virtual void send() noexcept = 0;
  /// Rows written here and not sent yet.
  [[nodiscard]] virtual std::int64_t waiting() const = 0;
  /// Why the last send failed; empty when it did not.
  [[nodiscard]] virtual std::string trouble() const = 0;
  [[nodiscard]] virtual std::string shop() const = 0;
  /// Server and database, without any password.
  [[nodiscard]] virtual std::string where() const = 0;
  /// All shops with what they sent. Throws StoreError when the database cannot be reached.
  [[nodiscard]] virtual std::vector<ShopSummary> shops() const = 0;
  /// Notes everything in the file for sending again: for a server that was set back to an old backup.
  virtual void send_all_again() = 0;
};

/// Does this name of a store mean a shared database ("postgresql://..." or "postgres://...")?
[[nodiscard]] bool names_shared(const std::string& store);

/// Opens the shop's file as open_sqlite() does and shares it. The database need not be reachable; it is first used when
/// something is sent or counted. Throws StoreError when the file cannot be opened or no shop name is known, and in a
/// build without libpq.
[[nodiscard]] std::unique_ptr<Store> open_shared(const std::string& connection, const std::string& path,
                                                 const SharedOptions& options, const SqliteOptions& sqlite = {});

}  // namespace lostspark::history
