// Likelihood of a job's observations in one severity cell, mistaken readings and regimes enumerated, and the Gaussian
// state behind it for predicting further readings.
//
// Given cell and regime, logs of numbers are jointly Gaussian (vehicle, instrument and event unknowns, severity within
// the cell): y ~ N(m, W W' + E E' + c^2 + noise). Bounds (words, floors, ranges, regimes) are applied on top of the
// numbers-only state, in an order fixed by channel and value, each by exact moments of the truncated normal; bounds on
// one margin are applied together by one-dimensional quadrature. So the order of readings changes nothing but rounding.
#pragma once

#include <array>
#include <cstdint>
#include <limits>
#include <vector>

#include "inference/observation.hpp"
#include "inference/vector_math.hpp"

namespace lostspark::inference {

/// Which cell predicts: up to two faults, each in a severity cell of one level.
struct CellRef {
  Index a = model::k_none, b = model::k_none;
  int level = k_fine;
  std::uint32_t cell_a = 0, cell_b = 0;
  const PairCorrection* correction = nullptr;  ///< for pairs that share a stage
};

/// How far the ways in which readings contradict each other are followed. A job with many such readings has more of them
/// than anybody can wait for: the same limits then hold for every hypothesis, so that none is explained better than
/// another for its place in a list.
struct Effort {
  std::size_t mistakes = 6;          ///< single mistakes with a state of their own ...
  std::size_t second_mistakes = 4;   ///< ... and second ones beside each
  std::size_t combinations = 16;     ///< of the channels that numbers may have been read on, likeliest first
  std::size_t ways = 24;             ///< of the words, evaluated exactly
  std::size_t nodes = 4000;          ///< of the tree that finds them
};

/// Which fault showed at which observation.
struct Activity {
  std::uint64_t a = 0, b = 0;
};

/// So many numbers are tried on either of their channels; further ones are taken on their first.
inline constexpr std::size_t k_most_switching = 6;
/// Alternative of an observation that no way explains.
inline constexpr std::uint8_t k_no_way = 255;

/// One way the observations came about in a cell.
struct Branch {
  std::uint64_t mistaken = 0;             ///< observations taken as mistaken
  std::array<std::uint8_t, 64> choice{};  ///< alternative of each observation
  double log_weight = 0;                  ///< natural log of likelihood times probabilities of mistakes
};

/// Row of a channel in a cell: points into the tables for up to one fault, into a buffer for two.
struct Row {
  const double* table = nullptr;  ///< [mean, slope a, vehicle columns, padding, event columns]
  double mean = 0;
  double slope_b = 0;
};

/// What a branch taught about the unknowns z = [severity a, vehicle columns, padding, severity b, calibrations,
/// padding], prior N(0, I): mean, and the directions that lost variance: Cov = I - sum of v v'.
struct State {
  std::size_t width = 0, directions = 0;
  std::vector<double> mean;       ///< [width]
  std::vector<double> direction;  ///< [directions][width]
};

/// Mean and variance of a channel in a state; variance without reading noise.
struct ChannelMoments {
  double mean = 0, variance = 0;
};

/// What a channel shows without noise, as a linear function of a state's unknowns: its moments, and what covariances with it
/// are made of.
struct Functional {
  std::vector<double> weight;      ///< [Compiled::width], of the vehicle columns and severity a
  double slope_b = 0, calibration = 0;
  std::size_t instrument = 0;      ///< whose calibration
  std::vector<double> onto;        ///< [directions], its part along each
  double mean = 0, variance = 0;
};

class Likelihood {
 public:
  Likelihood(const Compiled& compiled, const Observations& observations);

  /// Natural log of p(observations | cell, activity), mistakes up to Options::mistakes included. Branches within a few
  /// nats of the best weight seen so far (plus log_prior) are appended to `branches` (weights without the prior).
  /// mistaken_share[i] receives the share of the return value in which observation i is mistaken.
  double log_likelihood(const CellRef& cell, const Activity& activity, double log_prior, std::vector<Branch>* branches,
                        std::vector<double>* mistaken_share = nullptr);

  /// State of a branch found before.
  void state(const CellRef& cell, const Activity& activity, const Branch& branch, State& out);
  /// Prediction of a channel in a state, when the faults named by active_a/b show.
  [[nodiscard]] ChannelMoments predict(const CellRef& cell, bool active_a, bool active_b, int channel,
                                       const State& state);
  /// The same for several channels.
  void predict(const CellRef& cell, bool active_a, bool active_b, const std::vector<int>& channels, const State& state,
               std::vector<ChannelMoments>& out);

  /// The channel as a function of the state's unknowns, events and noise left aside.
  void functional(const CellRef& cell, bool active_a, bool active_b, int channel, const State& state, Functional& out);
  /// Covariances of channels with it, in the same cell and state.
  void covariances(const CellRef& cell, bool active_a, bool active_b, const std::vector<int>& channels, const State& state,
                   const Functional& with, std::vector<double>& out);

  /// Running best of log_prior + log likelihood: cells far below it are judged by cheap estimates.
  double best = -1e300;
  /// Mistaken readings enumerated; starts as Options::mistakes, pairs of faults take one less (docs/inference.md).
  int mistake_limit = 0;
  Effort effort;
  std::size_t evaluations = 0;  ///< ways and mistakes looked at so far: the measure of work
  /// Once `evaluations` is above it, log_likelihood() returns early and its result means nothing.
  std::size_t most_evaluations = std::numeric_limits<std::size_t>::max();

 private:
  struct Atom {  // a number or bound of some alternative, with its row in this cell
    int channel = -1;
    std::size_t observation = 0;
    bool number = false;
    double value = 0, low = 0, high = 0, noise = 0, share = 1;
    int instrument = -1;
    bool couples = false;  // bound that shares its event with a number of the same observation
    Row row;
    double own_event = 0, variance = 0;  // event part, and total variance without noise
    int live = -1;                       // place in the matrices of this cell; -1: its way cannot be, or it is certain
    [[nodiscard]] bool feels_event() const { return number || couples; }
  };
  struct Leaf {  // a choice of ways for the observations in open_, with a first estimate
    std::array<std::uint8_t, 64> way{};
    double log = 0;
  };
  /// Instrument behind a channel and the sd of its calibration, 0 for margins.
  [[nodiscard]] std::pair<std::size_t, double> calibration_of(int channel) const;
  [[nodiscard]] Row expand(const CellRef& cell, bool a, bool b, int channel, double* buffer) const;
  void prepare(const CellRef& cell, const Activity& activity);
  [[nodiscard]] double covariance(const Atom& x, const Atom& y) const;
  [[nodiscard]] double shared(const Atom& x, const Atom& y);
  /// Numbers chosen and not mistaken: their factor, and numbers_log_, which no bound can raise.
  void factor_numbers(std::uint64_t mistaken, const std::array<std::uint8_t, 64>& choice);
  void take_numbers(std::uint64_t mistaken, const std::array<std::uint8_t, 64>& choice);
  void list_combinations(std::uint64_t mistaken, std::array<std::uint8_t, 64>& choice);
  void condition(const Atom& x);
  [[nodiscard]] double conditional(const Atom& x, const Atom& y);
  [[nodiscard]] double bound_noise(const Atom& x) const { return x.noise + (x.couples ? 0 : x.own_event); }
  double evaluate(std::uint64_t mistaken, const std::array<std::uint8_t, 64>& choice, State* state);
  void apply_bounds(State* state, double& log);
  void record_numbers(State& state) const;
  void record_bound(State& state, const Atom& x, double gain, double shrink);
  double explore(std::uint64_t mistaken, int depth, std::size_t from, double log_prior, std::vector<Branch>* branches,
                 std::vector<double>* shares);
  double find_leaves(std::uint64_t mistaken, const std::array<std::uint8_t, 64>& choice, double least);
  struct Cut {  // a bound, and the row of a level that holds its channel
    std::size_t row = 0;
    const Atom* atom = nullptr;
  };
  double cut(std::vector<double>& level, const Cut& bound, std::size_t from);
  void descend(std::size_t depth, double log);

  const Compiled& compiled_;
  const Observations& observations_;
  std::size_t columns_ = 0, width_ = 0;      // Compiled::width; entries of z, padded
  std::vector<double> accuracy_;             // calibration variance by instrument
  std::vector<std::uint64_t> hookup_group_;  // observations of the same hook-up, by observation
  std::uint64_t explicit_ = 0;               // first readings of the hook-ups whose mistake has a state of its own
  double reference_ = 0;                     // log weight of the cell without mistakes

  // Atoms of all alternatives: first_atom_[o][k] .. of alternative k; rows are refreshed per cell by prepare().
  std::vector<Atom> atoms_;
  std::vector<std::vector<std::uint32_t>> first_atom_;
  std::vector<double> buffer_;
  std::vector<std::array<std::uint8_t, 8>> ways_;
  std::vector<std::uint8_t> way_count_;
  std::vector<std::uint8_t> has_numbers_;  // by observation: its alternatives hold numbers
  std::size_t live_ = 0;                   // atoms with a place
  std::vector<double> shared_;             // [live][live] prior covariance, NaN until asked for

  // Given the numbers taken last (take_numbers): their factor, and what they say of the bounds.
  std::vector<const Atom*> number_;
  double numbers_log_ = 0;
  std::vector<double> factor_, alpha_, column_, number_rest_;
  std::vector<double> given_mean_,
      white_;                      // by place: mean (NaN until asked for), whitened covariance with the numbers
  std::vector<double> given_cov_;  // [live][live], NaN until asked for

  struct Combination {  // channels that switching numbers were read on
    std::array<std::uint8_t, k_most_switching> way{};
    double log = 0;  // numbers_log_
  };
  std::vector<std::size_t> switching_;     // numbers that may have been read on either of two channels
  std::vector<Combination> combinations_;  // scratch of list_combinations(), likeliest numbers first

  // Scratch of apply_bounds().
  std::vector<const Atom*> chosen_;  // bounds chosen
  std::vector<double> mean_, noise_, cov_, bound_log_, work_, plain_;
  std::vector<double> log_rest_;    // by observation: what it cost by itself
  std::vector<double> log_charge_;  // and at most more, were it the one that the other bounds contradict
  std::vector<std::size_t> order_;

  // Scratch of find_leaves(): a level holds mean [rows] and covariance [rows][rows] after the ways chosen so far.
  std::vector<std::size_t> open_;                         // observations with several ways
  std::vector<const Atom*> seen_;                         // by row: a bound on its channel
  std::vector<Cut> always_;                               // bounds that hold whatever the ways
  std::vector<std::vector<std::vector<Cut>>> way_atoms_;  // by open observation and way
  std::vector<std::size_t> row_begin_;                    // by open observation: its first row
  std::vector<double> cut_row_;
  std::vector<std::vector<double>> level_;
  std::array<std::uint8_t, 64> way_{};
  std::vector<Leaf> leaves_;
  double best_leaf_ = 0, least_leaf_ = 0;
  std::size_t nodes_ = 0;
  std::vector<double> predict_buffer_;
  std::vector<Row> predict_rows_;
  std::vector<double> predict_mean_, predict_variance_;
  std::vector<std::size_t> predict_instrument_;
  std::vector<int> one_channel_;
  std::vector<ChannelMoments> one_moment_;
};

}  // namespace lostspark::inference
