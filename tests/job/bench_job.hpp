// A whole job in memory on a vehicle of networks/ whose faults are chosen: its other values are the healthy medians,
// readings are without mistakes and touching cures nothing.
#pragma once

#include <algorithm>
#include <cstdint>
#include <memory>
#include <string>
#include <utility>
#include <vector>

#include "job/job.hpp"
#include "simulation/bench.hpp"
#include "sources/load.hpp"

namespace lostspark::job {

class BenchJob {
 public:
  /// `faults`: mode id and severity, 0 mild to 1 severe. `seed`: what the instruments scatter, which faults show when.
  BenchJob(std::string id, const std::vector<std::pair<std::string, double>>& faults, std::uint64_t seed = 9)
      : id_(std::move(id)), seed_(seed) {
    std::vector<Index> modes;
    for (const auto& fault : faults) modes.push_back(vehicle->find_mode(fault.first).value());
    auto truth = bench.draw_with(modes);
    for (auto& present : truth.faults)
      for (std::size_t k = 0; k < modes.size(); ++k)
        if (present.mode == modes[k]) present.severity = faults[k].second;
    std::fill(truth.log_shift.begin(), truth.log_shift.end(), 0.0);
    std::fill(truth.calibration.begin(), truth.calibration.end(), 0.0);
    bench.put(truth);
  }

  [[nodiscard]] Job open(const std::string& complaint) {
    Intake intake;
    intake.complaints = {complaint};
    return desk.open(id_, intake);
  }
  /// Reads the test on the bench and records it.
  void take(Job& job, const std::string& id) {
    const auto test = job.test(id);
    const auto value = bench.read(test);
    const auto& words = vehicle->tests[static_cast<std::size_t>(test)].words;
    seen += id + ": " + (words.empty() ? std::to_string(value.number) : words[value.word]) + "\n";
    (void)job.record(test, value);
  }

 private:
  std::string id_;
  std::uint64_t seed_;
  sources::Folders folders_ = sources::default_folders();

 public:
  std::unique_ptr<history::Store> store = history::open_memory();
  Desk desk{vehicle_source(folders_), *store, sources::default_workshop(folders_)};
  std::shared_ptr<const model::Vehicle> vehicle = desk.vehicle(id_);
  simulation::Bench bench{vehicle, sources::default_workshop(folders_), seed_, {false, false}};
  std::string seen;  ///< what was read, a line each
};

inline double probability(const Job& job, const std::string& component) {
  return job.posterior().component_probability().at(job.vehicle().find_component(component).value());
}

}  // namespace lostspark::job
