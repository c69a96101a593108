// The shop's own file, and behind it the history it shares. Nothing waits for the server: a row is acknowledged when it
// is in the file.
#include <utility>

#include "history/outbox.hpp"

namespace lostspark::history {

namespace {

class SharedStore final : public Store {
 public:
  SharedStore(const std::string& connection, const std::string& path, const SharedOptions& options,
              const SqliteOptions& sqlite)
      : local_(open_sqlite(path, sqlite)), outbox_(local_->knowledge().connection(), connection, options) {}

  std::string create_job(JobHeader header, const std::vector<LogEntry>& first) override {
    std::string id = local_->create_job(std::move(header), first);
    outbox_.send();
    return id;
  }

  void append(const std::string& job, std::int64_t expected_last, const std::vector<LogEntry>& entries,
              JobState state) override {
    local_->append(job, expected_last, entries, state);
    outbox_.send();
  }

  std::optional<JobHeader> header(const std::string& job) const override { return local_->header(job); }
  std::vector<LogEntry> log(const std::string& job) const override { return local_->log(job); }
  std::vector<JobSummary> jobs() const override { return local_->jobs(); }
  Knowledge& knowledge() override { return local_->knowledge(); }
  SharedHistory* shared() override { return &outbox_; }

 private:
  std::unique_ptr<Store> local_;
  Outbox outbox_;
};

}  // namespace

bool names_shared(const std::string& store) {
  return store.starts_with("postgresql://") || store.starts_with("postgres://");
}

std::unique_ptr<Store> open_shared(const std::string& connection, const std::string& path, const SharedOptions& options,
                                   const SqliteOptions& sqlite) {
  return std::make_unique<SharedStore>(connection, path, options, sqlite);
}

}  // namespace lostspark::history
