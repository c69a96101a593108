// What the log of a job says to inference: readings and touches in the order they happened.
#pragma once

#include <cstdint>
#include <variant>
#include <vector>

#include "model/vehicle.hpp"

namespace lostspark::model {

/// What was read. Values in the test's unit.
enum class ValueKind : std::uint8_t { number, interval, below_floor, over_range, word };
struct Value {
  ValueKind kind = ValueKind::number;
  double number = 0;        ///< number; the largest of several kicks where kicks > 1
  double low = 0, high = 0; ///< interval (high may be infinity, low may be 0)
  int kicks = 1;            ///< several kicks behind one number: each redraws event and reading
  std::vector<double> each; ///< the kicks one by one, when they were given
  std::size_t word = 0;     ///< index into Test::words
  bool about = false;       ///< said as "about": twice the reading scatter
};

struct Reading {
  Index test = k_none;
  Value value;
  Provocation provocation = Provocation::none;  ///< in force when it was taken
  std::int32_t moment = -1;   ///< readings with the same number >= 0 were taken at one crank and share its unknowns
  std::int32_t hookup = -1;   ///< readings with the same number >= 0 share one hook-up and so one chance of being mistaken
  std::int32_t visit = 0;     ///< heat and wet hold through a visit
};

/// The complaint as reported at intake.
struct Complained {
  Index complaint = k_none;
};

/// Contacts of these components were moved (unplugged and plugged again): each may be cured or hidden.
struct Touched {
  std::vector<Index> components;
};

/// A repair was carried out.
struct Repaired {
  Index repair = k_none;
};

/// A repair was undone (old part refitted): its modes are back as they were; contacts stay touched.
struct Refitted {
  Index repair = k_none;
};

/// A prior was changed by what the intake told (recent work, new part, age): multiplies the prior of a component's modes.
struct Weighted {
  Index component = k_none;
  double factor = 1;
  Index mode = k_none;          ///< only this mode of the component; k_none: all its modes
};

/// The functional check: whether the complaint is still there, whatever the spark looks like.
struct Checked {
  bool still_there = false;
  Provocation provocation = Provocation::none;  ///< the complaint's, under which it was checked
};

using Event = std::variant<Complained, Weighted, Reading, Touched, Repaired, Refitted, Checked>;
using Evidence = std::vector<Event>;

}  // namespace lostspark::model
