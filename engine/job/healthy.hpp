// Healthy values of a vehicle: what the file predicts, what the shop's readings make of it, and where a band comes
// from.
#pragma once

#include <memory>
#include <string>
#include <vector>

#include "history/knowledge.hpp"
#include "job/learned.hpp"
#include "model/instrument.hpp"

namespace lostspark::job {

/// What the equations predict for every number test of a healthy vehicle, and how it moves with the parameters.
struct HealthyRows {
  std::vector<int> channel;                 ///< by test: row of what follows, -1 for words
  std::vector<double> centre;               ///< log, in the test's unit
  std::vector<model::Index> parameter;      ///< those with a spread between vehicles that move something
  std::vector<std::vector<double>> column;  ///< [channel][parameter]: change of the log per sd
  std::vector<double> event_variance;       ///< by channel
};
[[nodiscard]] HealthyRows healthy_rows(const std::shared_ptr<const model::Vehicle>&, const model::Workshop&);

/// What the readings make of the parameters and tests of this vehicle (as its file describes it). Empty without
/// readings.
[[nodiscard]] Learned learn_healthy(const std::shared_ptr<const model::Vehicle>& as_filed, const model::Workshop&,
                                    const std::vector<history::Baseline>& readings);

/// Band of one test, with its origin.
struct HealthyView {
  model::Index test = model::k_none;
  std::string test_id, title, unit, place;
  double low = 0, median = 0, high = 0;  ///< 90 % band of a reading; in the test's unit
  std::string origin;                    ///< "shop (7)", "service data", "vehicle file", "family default"
  std::string origin_note;               ///< page or person behind it, or empty
  std::int32_t readings = 0;
  double stated_low = 0, stated_high = 0;  ///< of the file's [[healthy]] row; 0: not stated
  std::string stated_origin, stated_note;  ///< empty: no such row
  std::string contradiction;               ///< what does not fit, in one sentence; or empty
};
/// Every number test in the order of the vehicle. `as_filed` and `learned` are the vehicle before and after.
[[nodiscard]] std::vector<HealthyView> healthy_bands(const std::shared_ptr<const model::Vehicle>& as_filed,
                                                     const std::shared_ptr<const model::Vehicle>& learned,
                                                     const model::Workshop&,
                                                     const std::vector<history::Baseline>& readings);

/// "service data", "shop", "judgement", "family".
[[nodiscard]] std::string origin_words(model::Origin);
/// Where the band of a test comes from, by the vehicle the job was opened with: "shop (7)", "service data: page 12",
/// "vehicle file", "family default". `matters_most`: the parameter that moves the test most.
[[nodiscard]] std::string band_origin(const model::Vehicle&, const model::Test&, model::Index matters_most);

}  // namespace lostspark::job
