// What a shop's file notes down for the shared history, and how it gets there: once, in order, whatever fails between.
#pragma once

#include <chrono>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "history/postgres_handle.hpp"
#include "history/shared.hpp"
#include "history/shared_tables.hpp"
#include "history/sqlite_handle.hpp"

namespace lostspark::history {

/// Over the connection of a store that outlives it.
class Outbox final : public SharedHistory {
 public:
  /// Notes in the file that it is shared, and everything it holds already for sending. Throws StoreError when no shop
  /// name is known or the file has another.
  Outbox(const Connection& local, std::string connection, const SharedOptions& options);

  void send() noexcept override;
  [[nodiscard]] std::int64_t waiting() const override;
  [[nodiscard]] std::string trouble() const override { return trouble_; }
  [[nodiscard]] std::string shop() const override { return shop_; }
  [[nodiscard]] std::string where() const override;
  [[nodiscard]] std::vector<ShopSummary> shops() const override;
  void send_all_again() override;

  void each_pattern(const std::function<void(const PatternCount&)>& row) const override;
  [[nodiscard]] std::vector<ClassOdds> class_odds() const override;
  [[nodiscard]] CaseSummary case_summary() const override;
  [[nodiscard]] std::vector<std::pair<std::string, std::int64_t>> replaced_for_nothing(
      const std::string& vehicle) const override;
  [[nodiscard]] std::vector<Exposure> exposures() const override;

 private:
  /// Connected, of our version, and this file a member of it. Throws StoreError.
  Server& server() const;
  void become_member(Server&) const;
  /// For counting: what waits is sent first. Throws StoreError when it cannot be.
  Server& up_to_date() const;
  /// Sends some rows; false when nothing waits.
  bool send_some(Server&) const;
  void send_row(Server&, const SharedTable&, const std::string& key, const std::string& key_2) const;
  void note_all() const;

  const Connection& local_;
  std::string connection_, shop_, member_;
  SharedOptions options_;
  mutable std::unique_ptr<Server> server_;  ///< a connection is no state of the shop: counting may make it
  std::string trouble_;
  std::optional<std::chrono::steady_clock::time_point> not_before_;
};

}  // namespace lostspark::history
