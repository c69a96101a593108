// What a cell's state says of channels to be read.
#include <algorithm>
#include <cmath>
#include <tuple>

#include "inference/likelihood.hpp"

namespace lostspark::inference {
namespace {

/// Mean and variance that the vehicle columns add for each row: w m, w w - sum of (w v)^2, with w followed by slope b and
/// the calibration (scalars). Directions are [directions][width].
LOSTSPARK_WIDE void project(const Row* rows, const double* calibration, const std::size_t* instrument, std::size_t count,
                            const State& s, std::size_t columns, double* mean, double* variance) {
  for (std::size_t c = 0; c < count; ++c) {
    const double* w = rows[c].table + 1;
    const double slope = rows[c].slope_b, scale = calibration[c];
    const std::size_t at = columns + 1 + instrument[c];
    double m = slope * s.mean[columns] + scale * s.mean[at], v = slope * slope + scale * scale;
    for (std::size_t k = 0; k < columns; ++k) {
      m += w[k] * s.mean[k];
      v += w[k] * w[k];
    }
    for (std::size_t d = 0; d < s.directions; ++d) {
      const double* direction = &s.direction[d * s.width];
      const double p = slope * direction[columns] + scale * direction[at] + dot(w, direction, columns);
      v -= p * p;
    }
    mean[c] = m;
    variance[c] = v;
  }
}

/// Part of a row along one direction of a state; `at` is where its calibration stands there.
double along(const Row& row, double calibration, std::size_t at, const double* direction, std::size_t columns) {
  return dot(row.table + 1, direction, columns) + row.slope_b * direction[columns] + calibration * direction[at];
}

}  // namespace

std::pair<std::size_t, double> Likelihood::calibration_of(int channel) const {
  const auto& description = compiled_.channels[channel];
  const int instrument = description.margin ? -1 : compiled_.tests[description.test].instrument;
  return {static_cast<std::size_t>(std::max(instrument, 0)), instrument >= 0 ? std::sqrt(accuracy_[instrument]) : 0.0};
}

void Likelihood::predict(const CellRef& cell, bool active_a, bool active_b, const std::vector<int>& channels,
                         const State& s, std::vector<ChannelMoments>& out) {
  const std::size_t count = channels.size();
  out.resize(count);
  predict_rows_.resize(count);
  predict_buffer_.resize(count * compiled_.stride);
  predict_mean_.resize(2 * count);
  predict_variance_.resize(count);
  predict_instrument_.resize(count);
  double *mean = predict_mean_.data(), *calibration = mean + count;
  for (std::size_t c = 0; c < count; ++c) {
    predict_rows_[c] = expand(cell, active_a, active_b, channels[c], &predict_buffer_[c * compiled_.stride]);
    std::tie(predict_instrument_[c], calibration[c]) = calibration_of(channels[c]);
  }
  project(predict_rows_.data(), calibration, predict_instrument_.data(), count, s, columns_, mean, predict_variance_.data());
  for (std::size_t c = 0; c < count; ++c) {
    out[c] = {predict_rows_[c].mean + mean[c], std::max(predict_variance_[c], 1e-12)};
    const double* row = predict_rows_[c].table;
    for (std::size_t k = 1 + columns_; k < compiled_.stride; ++k) out[c].variance += row[k] * row[k];
  }
}

ChannelMoments Likelihood::predict(const CellRef& cell, bool active_a, bool active_b, int channel, const State& s) {
  one_channel_.assign(1, channel);
  predict(cell, active_a, active_b, one_channel_, s, one_moment_);
  return one_moment_.front();
}

void Likelihood::functional(const CellRef& cell, bool active_a, bool active_b, int channel, const State& s,
                            Functional& out) {
  const Row row = expand(cell, active_a, active_b, channel, predict_buffer_.data());
  const double* w = row.table + 1;
  out.weight.assign(w, w + columns_);
  out.slope_b = row.slope_b;
  std::tie(out.instrument, out.calibration) = calibration_of(channel);
  const std::size_t at = columns_ + 1 + out.instrument;
  out.mean = row.mean + along(row, out.calibration, at, s.mean.data(), columns_);
  out.variance = dot(w, w, columns_) + out.slope_b * out.slope_b + out.calibration * out.calibration;
  out.onto.resize(s.directions);
  for (std::size_t d = 0; d < s.directions; ++d) {
    out.onto[d] = along(row, out.calibration, at, &s.direction[d * s.width], columns_);
    out.variance -= out.onto[d] * out.onto[d];
  }
  out.variance = std::max(out.variance, 0.0);
}

void Likelihood::covariances(const CellRef& cell, bool active_a, bool active_b, const std::vector<int>& channels,
                             const State& s, const Functional& with, std::vector<double>& out) {
  out.resize(channels.size());
  for (std::size_t c = 0; c < channels.size(); ++c) {
    const Row row = expand(cell, active_a, active_b, channels[c], predict_buffer_.data());
    const auto [instrument, calibration] = calibration_of(channels[c]);
    double sum = dot(row.table + 1, with.weight.data(), columns_) + row.slope_b * with.slope_b;
    if (instrument == with.instrument) sum += calibration * with.calibration;
    const std::size_t at = columns_ + 1 + instrument;
    for (std::size_t d = 0; d < s.directions; ++d)
      sum -= with.onto[d] * along(row, calibration, at, &s.direction[d * s.width], columns_);
    out[c] = sum;
  }
}

}  // namespace lostspark::inference
