#include "faces/cli/session.hpp"

namespace lostspark::faces {

Session::Session(const Context& context, Keep keep) : workshop_(workshop_of(context)) {
  store_ = keep == Keep::in_memory
               ? history::open_memory()
               : history::open_sqlite(context.store.empty() ? history::default_store_path() : context.store);
  desk_ = std::make_unique<job::Desk>(job::vehicle_source(context.folders), *store_, workshop_);
}

}  // namespace lostspark::faces
