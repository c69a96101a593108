// What a job is opened with beyond its network file: figures of healthy vehicles, shares of faults and minutes that the
// shop has learned. Kept in the job's first entry, so that it replays on the same numbers whatever is learned later.
#pragma once

#include <memory>
#include <string>
#include <vector>

#include "model/vehicle.hpp"

namespace lostspark::job {

struct Learned {
  struct Parameter {
    std::string id;
    double typical = 1, log_sd = 0, event_log_sd = 0;
  };
  struct Test {
    std::string id;
    double log_offset = 0;  ///< what the equations leave unexplained
    std::int32_t readings = 0;
  };
  struct Share {
    std::string mode;
    double share = 0;  ///< per 1000 ignition complaints, in place of the file's
  };
  struct Minutes {
    std::string item;
    double factor = 1;  ///< of the file's minutes
  };
  std::vector<Parameter> parameters;
  std::vector<Test> tests;
  std::string set;  ///< name of the applied set of shares and minutes; empty: the files'
  std::vector<Share> shares;
  std::vector<Minutes> minutes;
  [[nodiscard]] bool empty() const { return parameters.empty() && tests.empty() && set.empty(); }
};

/// The vehicle with these figures; the same object where nothing was learned. Ids the vehicle does not have are passed
/// over (the log they come from was written for the same network text, so there are none).
[[nodiscard]] std::shared_ptr<const model::Vehicle> with_learned(const std::shared_ptr<const model::Vehicle>&,
                                                                 const Learned&);

/// JSON text for the log and back. Throws StoreError when damaged.
[[nodiscard]] std::string learned_json(const Learned&);
[[nodiscard]] Learned learned_from_json(const std::string&);

}  // namespace lostspark::job
