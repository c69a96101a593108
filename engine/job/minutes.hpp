// Minutes really taken: out of closed jobs, into factors by item, and onto a vehicle (docs/learning.md, 3).
#pragma once

#include <map>
#include <string>
#include <vector>

#include "history/knowledge.hpp"
#include "job/learned.hpp"
#include "learning/minutes.hpp"

namespace lostspark::job {

class Job;

/// How many times longer than the file says each item takes.
struct MinuteSet {
  using Factors = std::map<std::string, double>;
  double all = 1;                           ///< items that nobody has noted
  std::map<std::string, Factors> networks;  ///< covers
  std::map<std::string, Factors> families;  ///< set-ups, conditions, test kinds, classes of repair
  [[nodiscard]] bool empty() const { return all == 1 && networks.empty() && families.empty(); }
  bool operator==(const MinuteSet&) const = default;
};

/// One item as learned.
struct MinuteView {
  std::string where;  ///< network of a cover, family of everything else
  std::string item;   ///< "cover.seat"
  double steps = 0;   ///< noted steps it was part of
  learning::MinuteFactor factor;
};

struct LearnedMinutes {
  double steps = 0;              ///< noted steps of closed jobs
  learning::MinuteFactor never;  ///< what was never noted
  std::vector<MinuteView> rows;  ///< by where and item
  [[nodiscard]] MinuteSet as_set() const;
};
/// What the noted steps of this shop's closed jobs say now. Throws StoreError when a row cannot be read.
[[nodiscard]] LearnedMinutes learn_minutes(const history::Knowledge&);

/// Factors of the items of this vehicle that differ from 1.
[[nodiscard]] std::vector<Learned::Minutes> minutes_of(const MinuteSet&, const model::Vehicle&);
/// Multiplies the vehicle's minutes.
void apply_minutes(model::Vehicle&, const std::vector<Learned::Minutes>&);

/// The noted steps of a job, in the file's minutes.
[[nodiscard]] std::vector<history::StepMinutes> noted_steps(const Job&);

}  // namespace lostspark::job
