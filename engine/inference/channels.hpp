// What is predicted: one channel per number a test may show and per margin of a scene, as natural logarithms.
#pragma once

#include <bitset>
#include <memory>
#include <span>
#include <vector>

#include "circuit/circuit.hpp"
#include "model/generative.hpp"
#include "model/instrument.hpp"

namespace lostspark::inference {

using model::Index;

/// A predicted quantity: log of a reading (unit of the test) or a margin (already a log).
struct Channel {
  Index test = model::k_none;    ///< number channels: a test that reads it
  Index scene = model::k_none;
  Index output = model::k_none;  ///< margin, or the output of an output test (primary or switched)
  bool margin = false;
  double soft_floor = 1e-9;      ///< added before the log, far below what the instrument shows
  double soft_cap = 1e12;        ///< values saturate far beyond the range
  double log_offset = 0;         ///< learned from healthy vehicles, added to what the circuit says
};

/// How one test maps to channels, and what its instrument does; SI-free: log of the test's unit.
struct TestMap {
  int primary = -1, switched = -1;       ///< number channels
  int switch_margin = -1, word_margin = -1;
  std::vector<int> dead_below;           ///< margin channels
  int instrument = -1;                   ///< row of Workshop::instruments, -1: the shop has none
  double noise_variance = 0.01;          ///< of the log, reading scatter and step near mid-scale
  double floor = 0, range = 1e12, step = 0;
  double shown_from = 0, shown_to = 1e12;  ///< values that round to floor .. range on the display
};

/// Spreads and column scales of the unknowns that move any channel.
struct UnknownColumn {
  Index parameter = model::k_none;
  double scale = 1;                      ///< sd in which the column is expressed
  double vehicle = 1;                    ///< 1 where the vehicle spread is that sd, 0: event only
  double event_ratio = 0;                ///< event sd / scale
};

using Footprint = std::bitset<512>;      ///< stages and zones something touches directly

using model::k_word_half_width;
using model::k_word_sd;

/// All channels of a vehicle, and the physics behind them at one point.
class ChannelPhysics {
 public:
  ChannelPhysics(std::shared_ptr<const model::Vehicle> vehicle, const model::Workshop& workshop);

  std::vector<Channel> channels;
  std::vector<TestMap> tests;            ///< by vehicle test
  std::vector<std::vector<int>> margin_channel;  ///< [scene][output] or -1
  Index complaint_scene = model::k_none;         ///< where computed complaints are told; k_none: nowhere

  /// Fills out[channels] at a point. `ohms`: evaluate ohm channels too, else they keep what `out` holds.
  void evaluate(std::span<const circuit::ActiveMode> faults, std::span<const double> log_shift, bool running, bool ohms,
                std::span<double> out);
  /// Constant shift of parameters that the workshop's instruments set (rise time of the peak meter).
  [[nodiscard]] const std::vector<double>& base_shift() const { return base_shift_; }
  [[nodiscard]] Footprint footprint_of_parameter(Index parameter) const;
  [[nodiscard]] Footprint footprint_of_mode(Index mode) const;
  /// Bits of the ohm network in a footprint.
  [[nodiscard]] bool touches_ohms(const Footprint& f) const { return (f & ohm_bits_).any(); }
  [[nodiscard]] bool touches_running(const Footprint& f) const { return (f & ~ohm_bits_).any(); }

 private:
  Footprint footprint_of_element(Index element) const;
  Footprint own_footprint(Index parameter) const;
  std::shared_ptr<const model::Vehicle> vehicle_;
  circuit::Circuit circuit_;
  std::vector<double> base_shift_;
  std::vector<int> running_zone_, ohm_zone_;  // by node
  std::vector<std::vector<int>> zone_stages_; // stages with a terminal in the running zone
  Footprint ohm_bits_;
  std::vector<double> meter_ohm_;             // by test
};

}  // namespace lostspark::inference
