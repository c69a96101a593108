// The plain store: what the SQLite store must behave like, minus the disk.
#include <map>
#include <memory>
#include <utility>

#include "history/job_text.hpp"
#include "history/knowledge.hpp"
#include "history/schema.hpp"
#include "history/store.hpp"

namespace lostspark::history {

namespace {

Connection in_memory() {
  Connection connection(":memory:", "");
  bring_up_to_date(connection, schema_steps());
  return connection;
}

class MemoryStore final : public Store {
 public:
  std::string create_job(JobHeader header, const std::vector<LogEntry>& first) override {
    const auto number = static_cast<std::int64_t>(jobs_.size()) + 1;
    header.id = job_id(number);
    const std::string id = header.id;
    std::vector<LogEntry> log = first;
    for (std::size_t i = 0; i < log.size(); ++i) log[i].sequence = static_cast<std::int64_t>(i) + 1;
    jobs_.emplace(number, Job{std::move(header), std::move(log), JobState::open});
    numbers_.emplace(id, number);
    return id;
  }

  void append(const std::string& job, std::int64_t expected_last, const std::vector<LogEntry>& entries,
              JobState state) override {
    const auto found = numbers_.find(job);
    if (found == numbers_.end()) throw_no_such_job(job, "memory");
    Job& target = jobs_.at(found->second);
    check_expected(job, static_cast<std::int64_t>(target.log.size()), expected_last);
    std::vector<LogEntry> added = entries;
    target.log.reserve(target.log.size() + added.size());  // all or nothing: what follows cannot run out of memory
    for (LogEntry& entry : added) {
      entry.sequence = static_cast<std::int64_t>(target.log.size()) + 1;
      target.log.push_back(std::move(entry));
    }
    target.state = state;
  }

  std::optional<JobHeader> header(const std::string& job) const override {
    const Job* found = find(job);
    return found ? std::optional(found->header) : std::nullopt;
  }

  std::vector<LogEntry> log(const std::string& job) const override {
    const Job* found = find(job);
    return found ? found->log : std::vector<LogEntry>{};
  }

  std::vector<JobSummary> jobs() const override {
    std::vector<JobSummary> all;
    for (const auto& [number, job] : jobs_) {
      JobSummary summary{job.header, job.state, static_cast<std::int64_t>(job.log.size()),
                         job.log.empty() ? job.header.opened_at : job.log.back().at};
      summary.header.network_text.clear();
      summary.header.workshop_json.clear();
      all.push_back(std::move(summary));
    }
    return all;
  }

  Knowledge& knowledge() override { return knowledge_; }

 private:
  struct Job {
    JobHeader header;
    std::vector<LogEntry> log;
    JobState state = JobState::open;
  };

  const Job* find(const std::string& job) const {
    const auto found = numbers_.find(job);
    return found == numbers_.end() ? nullptr : &jobs_.at(found->second);
  }

  std::map<std::int64_t, Job> jobs_;  ///< by number: the order they were opened in
  std::map<std::string, std::int64_t> numbers_;
  Connection connection_ = in_memory();  ///< the shop's knowledge: the same tables and queries, without a disk
  Knowledge knowledge_{connection_};
};

}  // namespace

std::unique_ptr<Store> open_memory() { return std::make_unique<MemoryStore>(); }

}  // namespace lostspark::history
