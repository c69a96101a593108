// Stage tables of one vehicle: predictions of every channel for the healthy vehicle and for every mode's severity cells.
// Row of a cell and channel: [mean, slope, vehicle columns ..., padding, event columns ...], natural logs; slope and columns per
// standard deviation of the severity within the cell, of the unknown between vehicles, and of its redraw at an event.
#pragma once

#include <map>
#include <mutex>
#include <vector>

#include "inference/channels.hpp"
#include "inference/posterior.hpp"

namespace lostspark::inference {

/// Severity cells of one fault set member at one resolution.
struct CellSet {
  std::vector<double> weight;            ///< of each cell, sums to 1
  std::vector<double> centre;            ///< severity
  std::vector<double> half_width;        ///< sd of severity within the cell
  std::vector<double> rows;              ///< [cell][channel][stride]
};

/// Resolutions kept per mode.
enum Level { k_coarse = 0, k_medium = 1, k_fine = 2, k_levels = 3 };

struct ModeTable {
  bool electrical = false;               ///< moves some channel
  Footprint footprint;
  std::vector<std::uint8_t> moves;       ///< by channel: some row differs from the healthy one
  CellSet cells[k_levels];
  [[nodiscard]] std::size_t count(int level) const { return cells[level].weight.size(); }
};

/// Means of a pair minus what the two single faults add up to; [cell a][cell b][channel]. Empty: they add up.
struct PairCorrection {
  std::vector<double> shift;
};

class Compiled {
 public:
  std::shared_ptr<const model::Vehicle> vehicle;
  model::Workshop workshop;
  Options options;
  std::vector<UnknownColumn> columns;
  std::vector<std::size_t> event_columns;  ///< columns that are redrawn at an event
  std::size_t channel_count = 0, stride = 0;
  std::size_t width = 0;                 ///< slope and vehicle columns, padded with zeros to a multiple of four
  std::size_t event_at = 0;              ///< first event column in a row = 1 + width
  std::vector<Channel> channels;
  std::vector<TestMap> tests;
  std::vector<std::vector<int>> margin_channel;
  Index complaint_scene = model::k_none;
  std::vector<double> healthy;           ///< [channel][stride]
  std::vector<ModeTable> modes;
  std::vector<double> log_odds;          ///< prior odds of each mode
  double mode_odds_sum = 0;
  std::vector<std::vector<std::pair<Index, double>>> shared_cause;  ///< by mode: later modes and the odds that one cause brought both
  /// Prior odds of a pair: independent, or brought by one common cause.
  [[nodiscard]] double pair_log_odds(Index a, Index b) const;

  [[nodiscard]] const double* row(Index mode, int level, std::size_t cell, int channel) const {
    return &modes[mode].cells[level].rows[(cell * channel_count + channel) * stride];
  }
  [[nodiscard]] const double* healthy_row(int channel) const { return &healthy[channel * stride]; }
  [[nodiscard]] bool joint(Index a, Index b) const {
    return modes[a].electrical && modes[b].electrical && (modes[a].footprint & modes[b].footprint).any();
  }
  /// Correction of a pair whose faults share a stage, evaluated on first use and kept. Thread-safe.
  [[nodiscard]] const PairCorrection& correction(Index a, Index b, int level) const;

  explicit Compiled(std::shared_ptr<const model::Vehicle> v, const model::Workshop& w, const Options& o);

 private:
  /// Tables of all modes, on as many threads as there are instances of the physics to be had.
  void tabulate_all();
  void tabulate(Index mode, ChannelPhysics& physics);
  void share_causes();
  void set_column(double* row, std::size_t column, double slope) const;
  mutable ChannelPhysics physics_;
  mutable std::mutex mutex_;
  mutable std::map<std::tuple<Index, Index, int>, PairCorrection> corrections_;
};

}  // namespace lostspark::inference
