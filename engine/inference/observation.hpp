// The evidence of a job, turned into what cells can be judged by: per reading the ways it can come about, and per mode
// the patterns in which the fault was there and showed itself.
#pragma once

#include <cstdint>
#include <vector>

#include "inference/compiled.hpp"
#include "model/evidence.hpp"

namespace lostspark::inference {

/// A number read on a channel: log value.
struct NumberAtom {
  int channel = -1;
  double value = 0;            ///< natural log
  double noise_variance = 0;   ///< reading scatter, step, spread of an interval
  double event_share = 1;      ///< 1 / kicks behind the number: averages the event's unknowns
};

/// A channel known to lie between two bounds.
struct BoundAtom {
  int channel = -1;
  double low = 0, high = 0;
  double noise_variance = 0;
};

/// One way a reading can come about: all its atoms hold.
struct Alternative {
  std::vector<NumberAtom> numbers;   // none or one
  std::vector<BoundAtom> bounds;
};

struct Observation {
  std::size_t event = 0;             ///< position in the evidence
  Index test = model::k_none;        ///< k_none: the complaint
  std::vector<Alternative> alternatives;
  bool finding = false;
  bool unprovoked = false;           ///< complaint about what is seen while nothing provokes the fault
  std::size_t word = 0;
  double mistaken = 0;               ///< probability that the hook-up was bad
  double mistaken_density = 0;       ///< of this value if it was
  int moment = 0;                    ///< observations with the same number share the event's unknowns
  int hookup = 0;                    ///< observations with the same number are mistaken together
  int instrument = -1;
  model::Provocation provocation = model::Provocation::none;
  int visit = 0;
  bool check = false;                ///< the functional check: a finding about all faults at once
  int duplicate_of = -1;             ///< finding repeated without a touch between: its miss is shared
};

/// A way a mode's presence ran through the job: bit i of `active` = it showed at observation i, of `present` = it was
/// there.
struct Pattern {
  std::uint64_t active = 0, present = 0;
  bool present_now = true;
  double log_probability = 0;
};

/// Evidence compiled for one vehicle.
struct Observations {
  std::vector<Observation> list;
  std::vector<std::vector<Pattern>> patterns;   ///< by mode, likeliest first
  std::vector<std::uint64_t> relevant;          ///< by mode: observations that change with it
  std::vector<double> log_weight;               ///< by mode: intake weights (natural log); add up over a fault set
  std::vector<double> log_complaint;            ///< by mode: complaint tables (natural log); the largest of a fault set
  double healthy_log_weight = 0;                ///< the same for "nothing wrong"
};

/// Words of one finding at most; a vehicle with more is refused by compile().
inline constexpr std::size_t k_most_words = 32;

/// Throws CapacityError beyond 60 readings.
[[nodiscard]] Observations observe(const Compiled& compiled, const model::Evidence& evidence);
/// Alternatives for one value of one test; also used to predict.
[[nodiscard]] std::vector<Alternative> alternatives_of(const Compiled& compiled, Index test, const model::Value& value);
/// Probability that the functional check shows this given which modes are present: a fault shows itself or hides.
[[nodiscard]] double check_probability(bool still_there, model::Provocation provocation,
                                       std::span<const model::Mode> modes, std::span<const Index> present);
/// Probability of a finding's word given which modes are present.
[[nodiscard]] double finding_probability(const model::Test& test, std::size_t word, std::span<const Index> present);

}  // namespace lostspark::inference
