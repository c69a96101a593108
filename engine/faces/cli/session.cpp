#include "faces/cli/session.hpp"

#include <cstdlib>
#include <ostream>

#include "base/error.hpp"
#include "faces/cli/text.hpp"
#include "history/knowledge.hpp"
#include "history/shared.hpp"
#include "job/memory.hpp"

namespace lostspark::faces {

namespace {

std::string environment(const char* name) {
  const char* value = std::getenv(name);
  return value == nullptr ? "" : value;
}

std::unique_ptr<history::Store> open_kept(const Context& context) {
  const std::string store = context.store.empty() ? environment("LOSTSPARK_STORE") : context.store;
  if (store.empty()) return history::open_sqlite(history::default_store_path());
  if (!history::names_shared(store)) return history::open_sqlite(store);
  history::SharedOptions options;
  options.shop = environment("LOSTSPARK_SHOP");
  options.customers = environment("LOSTSPARK_SHARE_CUSTOMERS") == "yes";
  return history::open_shared(store, history::default_store_path(), options);
}

}  // namespace

Session::Session(const Context& context, Keep keep) : err_(context.err), workshop_(workshop_of(context)) {
  store_ = keep == Keep::in_memory ? history::open_memory() : open_kept(context);
  desk_ = std::make_unique<job::Desk>(job::vehicle_source(context.folders), *store_, workshop_);
}

Session::~Session() {
  auto* shared = store_->shared();
  if (shared == nullptr) return;
  try {
    shared->send();
    if (const auto left = shared->waiting(); left > 0)
      err_ << "lostspark: kept here, not yet in the shared history: "
           << counted(static_cast<std::size_t>(left), "change") << ", sent with a later command; " << shared->trouble()
           << '\n';
  } catch (const std::exception& error) {
    err_ << "lostspark: " << error.what() << '\n';
  }
}

const history::CaseSource& Session::cases(bool own) const {
  if (auto* shared = store_->shared(); shared != nullptr && !own) return *shared;
  return store_->knowledge();
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
      if (taught->noted_steps > 0) line += "; minutes of " + counted(taught->noted_steps, "step");
      context.out << labelled("learned", line);
    } else if (desk_->store().knowledge().find_case("", job.id())) {
      job::unlearn(*desk_, job.id());
    }
  } catch (const Error& error) {
    context.err << "lostspark: recorded, but nothing was learned from it yet: " << error.what() << '\n';
  }
}

}  // namespace lostspark::faces
