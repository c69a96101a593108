// The exception family of lostspark, split by who must act; faces catch once and turn it into an exit code.
#pragma once

#include <stdexcept>
#include <string>

namespace lostspark {

/// Base of all errors that carry one message for a person: what, where, what to do next.
class Error : public std::runtime_error {
 public:
  using std::runtime_error::runtime_error;
  /// Process exit code of a face: 1 input, 2 usage, 3 store or plugin, 4 ours.
  [[nodiscard]] virtual int exit_code() const noexcept { return 4; }
};

/// A person can mend it: a file, a reading, an identifier.
class InputError : public Error {
 public:
  using Error::Error;
  [[nodiscard]] int exit_code() const noexcept override { return 1; }
};

/// The command line itself is wrong.
class UsageError : public Error {
 public:
  using Error::Error;
  [[nodiscard]] int exit_code() const noexcept override { return 2; }
};

/// A plugin is missing, broken or lies; the message names the library file and the cause.
class PluginError : public Error {
 public:
  using Error::Error;
  [[nodiscard]] int exit_code() const noexcept override { return 3; }
};

/// The job store cannot be read or written.
class StoreError : public Error {
 public:
  using Error::Error;
  [[nodiscard]] int exit_code() const noexcept override { return 3; }
};

/// Too large: the message holds the estimate and the limit.
class CapacityError : public Error {
 public:
  using Error::Error;
  [[nodiscard]] int exit_code() const noexcept override { return 1; }
};

/// Our own mistake.
class InternalError : public Error {
 public:
  using Error::Error;
};

/// Throws InternalError when `condition` is false; on in release builds too.
inline void ensure(bool condition, const char* what) {
  if (!condition) throw InternalError(std::string("internal error: ") + what + " (please report this)");
}

}  // namespace lostspark
