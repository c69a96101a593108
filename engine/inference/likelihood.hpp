// Likelihood of a job's observations in one severity cell, mistaken readings and regimes enumerated, and the Gaussian
// state behind it for predicting further readings.
//
// Given cell and regime, logs of numbers are jointly Gaussian (vehicle, instrument and event unknowns, severity within
// the cell): y ~ N(m, W W' + E E' + c^2 + noise). Bounds (words, floors, ranges, regimes) are applied on top of the
// numbers-only state, in an order fixed by channel and value, each by exact moments of the truncated normal; bounds on one
// margin are applied together by one-dimensional quadrature. So the order of readings changes nothing but rounding.
#pragma once

#include <array>
#include <cstdint>
#include <vector>

#include "inference/observation.hpp"

namespace lostspark::inference {

/// Which cell predicts: up to two faults, each in a severity cell of one level.
struct CellRef {
  Index a = model::k_none, b = model::k_none;
  int level = k_fine;
  std::uint32_t cell_a = 0, cell_b = 0;
  const PairCorrection* correction = nullptr;  ///< for pairs that share a stage
};

/// Which fault showed at which observation.
struct Activity {
  std::uint64_t a = 0, b = 0;
};

/// One way the observations came about in a cell.
struct Branch {
  std::uint64_t mistaken = 0;                  ///< observations taken as mistaken
  std::array<std::uint8_t, 64> choice{};       ///< alternative of each observation
  double log_weight = 0;                       ///< natural log of likelihood times probabilities of mistakes
};

/// Gaussian state of a branch: everything needed to predict another channel.
struct State {
  std::size_t numbers = 0, steps = 0;
  std::vector<double> rows;                    ///< [numbers + steps][width], vehicle and severity part
  std::vector<int> instrument;                 ///< of each variable, -1: none
  std::vector<double> factor;                  ///< lower Cholesky factor of the numbers' covariance [numbers^2]
  std::vector<double> alpha;                   ///< covariance^-1 (y - m)
  std::vector<double> whitened;                ///< [steps][numbers]: factor^-1 cov(numbers, step)
  std::vector<double> coupling;                ///< [steps][steps]: covariance of earlier step with this one when applied
  std::vector<double> gain, shrink;            ///< of each step
};

/// Mean and variance of a channel in a state; `event`/`instrument` of the reading to come add to the variance.
struct ChannelMoments {
  double mean = 0, variance = 0;               ///< variance: vehicle, severity and event, without reading noise
  double event_variance = 0;
};

class Likelihood {
 public:
  Likelihood(const Compiled& compiled, const Observations& observations);

  /// Natural log of p(observations | cell, activity), mistakes up to Options::mistakes included. Branches within
  /// `keep_within` nats of the best weight seen so far (plus log_prior) are appended to `branches` (weights without the
  /// prior). mistaken_weight[i] receives exp(log share) of observation i being mistaken, relative to the return value.
  double log_likelihood(const CellRef& cell, const Activity& activity, double log_prior, std::vector<Branch>* branches,
                        std::vector<double>* mistaken_share = nullptr);

  /// State of a branch found before.
  void state(const CellRef& cell, const Activity& activity, const Branch& branch, State& out);
  /// Prediction of a channel when the faults named by active_a/b show.
  ChannelMoments predict(const CellRef& cell, bool active_a, bool active_b, int channel, const State& state);

  /// Running best of log_prior + log likelihood: cells far below it are judged by cheap estimates.
  double best = -1e300;

 private:
  struct Variable {                            // a number or a bound of the chosen alternatives
    int channel = -1;
    std::size_t observation = 0;
    double value = 0, low = 0, high = 0, noise = 0, share = 1;
    int moment = 0, instrument = -1;
    bool couples = false;                      // bound that shares its event with a number of the same observation
  };
  void expand(const CellRef& cell, bool a, bool b, int channel, double* row, double& mean) const;
  bool viable(const CellRef& cell, const Activity& activity, const Alternative& way, std::size_t observation);
  double evaluate(const CellRef& cell, const Activity& activity, std::uint64_t mistaken,
                  const std::array<std::uint8_t, 64>& choice, State* state);
  double explore(const CellRef& cell, const Activity& activity, std::uint64_t mistaken, int depth, std::size_t from,
                 double log_prior, std::vector<Branch>* branches, std::vector<double>* shares);
  double covariance(std::size_t i, std::size_t j) const;

  const Compiled& compiled_;
  const Observations& observations_;
  std::uint64_t explicit_ = 0;                 // first readings of the hook-ups whose mistake has a state of its own
  double reference_ = 0;                       // log weight of the cell without mistakes
  std::size_t width_ = 0;                      // columns + 2 severities
  std::vector<std::size_t> event_columns_;
  std::vector<double> accuracy_;               // calibration variance by instrument
  // Scratch, reused over cells.
  std::vector<Variable> variables_;
  std::vector<double> rows_, event_rows_, factor_, inverse_, alpha_, residual_, mean_, cov_, white_, quad_, probe_, log_rest_, bound_log_;
  std::vector<std::size_t> order_;
};

}  // namespace lostspark::inference
