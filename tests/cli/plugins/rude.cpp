// A plugin that misbehaves the moment it is asked for its family; which way is chosen when it is compiled.
#include <unistd.h>
#include <csignal>
#include <cstdio>

#include "lostspark_plugin.h"

namespace {

const void* query(const char*) {
#if defined(RUDE_CRASH)
  std::signal(SIGSEGV, SIG_DFL);  // under a sanitizer too
  std::raise(SIGSEGV);
#elif defined(RUDE_HANG)
  for (;;) ::pause();
#elif defined(RUDE_LEAVE)
  ::_exit(0);
#elif defined(RUDE_THROW)
  throw 42;
#else
  for (int i = 0; i < 10000; ++i) std::puts("{\"sound\": true}");
#endif
  return nullptr;
}

}  // namespace

extern "C" __attribute__((visibility("default")))
const ls_entry_v1 lostspark_entry{LS_ABI_MAJOR, LS_ABI_MINOR, sizeof(ls_entry_v1), "rude", "1.0.0", query};
