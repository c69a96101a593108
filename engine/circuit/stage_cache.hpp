// Remembers stage results by their inputs: most faults leave most stages as they are, and scenes share them.
#pragma once

#include <cstdint>
#include <cstring>
#include <span>
#include <vector>

namespace lostspark::circuit {

/// Direct-mapped cache of one stage; exact comparison of the inputs' bits, so a hit is the same answer.
class StageCache {
 public:
  StageCache(std::size_t inputs, std::size_t outputs, std::size_t slots = 512)
      : inputs_(inputs), outputs_(outputs), slots_(slots), used_(slots, 0),
        data_(slots * (inputs + outputs), 0.0) {}

  /// Slot for these inputs; `hit` tells whether its outputs are valid already.
  std::size_t find(std::span<const double> in, bool& hit) {
    std::uint64_t hash = 1469598103934665603ULL;
    for (double value : in) {
      std::uint64_t bits;
      std::memcpy(&bits, &value, sizeof bits);
      hash = (hash ^ (bits >> 12)) * 1099511628211ULL;
      hash ^= hash >> 29;
    }
    const std::size_t slot = hash % slots_;
    double* row = &data_[slot * (inputs_ + outputs_)];
    hit = used_[slot] && std::memcmp(row, in.data(), inputs_ * sizeof(double)) == 0;
    if (!hit) {
      std::memcpy(row, in.data(), inputs_ * sizeof(double));
      used_[slot] = 0;
    }
    return slot;
  }
  [[nodiscard]] std::span<double> outputs(std::size_t slot) {
    return {&data_[slot * (inputs_ + outputs_) + inputs_], outputs_};
  }
  void filled(std::size_t slot) { used_[slot] = 1; }

 private:
  std::size_t inputs_, outputs_, slots_;
  std::vector<char> used_;
  std::vector<double> data_;
};

}  // namespace lostspark::circuit
