#include "faces/cli/session.hpp"

#include <ostream>

#include "base/error.hpp"
#include "faces/cli/text.hpp"
#include "history/knowledge.hpp"
#include "job/memory.hpp"

namespace lostspark::faces {

Session::Session(const Context& context, Keep keep) : workshop_(workshop_of(context)) {
  store_ = keep == Keep::in_memory
               ? history::open_memory()
               : history::open_sqlite(context.store.empty() ? history::default_store_path() : context.store);
  desk_ = std::make_unique<job::Desk>(job::vehicle_source(context.folders), *store_, workshop_);
}

void Session::learn_from(Context& context, const job::Job& job) {
  try {
    if (job.state().state == history::JobState::closed) {
      const auto taught = job::remember(*desk_, job);
      if (!taught || context.json) return;
      const auto& c = taught->closed;
      std::string line = c.confirmed.empty()
                             ? "no fault confirmed"
                             : "fault confirmed (" + job::confirmation_words(c.confirmed) + "): " + c.faults;
      if (!c.for_nothing.empty()) line += "; replaced for nothing: " + c.for_nothing;
      if (taught->healthy_readings > 0) line += "; " + counted(taught->healthy_readings, "healthy reading");
      context.out << labelled("learned", line);
    } else if (desk_->store().knowledge().find_case("", job.id())) {
      desk_->store().knowledge().drop_case("", job.id());
      desk_->store().knowledge().take_from_job(job.id(), {});
    }
  } catch (const Error& error) {
    context.err << "lostspark: recorded, but nothing was learned from it yet: " << error.what() << '\n';
  }
}

}  // namespace lostspark::faces
