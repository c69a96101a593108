// The job store and the desk over it, opened once per command.
#pragma once

#include <memory>

#include "faces/cli/context.hpp"
#include "history/knowledge.hpp"
#include "history/store.hpp"
#include "job/job.hpp"

namespace lostspark::faces {

/// Where the jobs of this run live.
enum class Keep { on_disk, in_memory };

/// Owns the store; jobs got from the desk must not outlive it.
class Session {
 public:
  explicit Session(const Context& context, Keep keep = Keep::on_disk);
  /// What a shared history has not got yet is sent, or said to wait on `err`.
  ~Session();
  Session(const Session&) = delete;
  Session& operator=(const Session&) = delete;
  [[nodiscard]] job::Desk& desk() { return *desk_; }
  [[nodiscard]] const model::Workshop& workshop() const { return workshop_; }
  /// Where closed cases are counted: all shops of a shared history, or this shop alone.
  [[nodiscard]] const history::CaseSource& cases(bool own) const;
  /// After a change of this job's state: a closed job's case and healthy readings are stored, an opened one's dropped.
  /// What was recorded stands whatever happens here; trouble is told on `err` and mended by the next `lostspark rates`.
  void learn_from(Context& context, const job::Job& job);

 private:
  std::ostream& err_;
  model::Workshop workshop_;
  std::unique_ptr<history::Store> store_;
  std::unique_ptr<job::Desk> desk_;
};

}  // namespace lostspark::faces
