#include "learning/healthy.hpp"

#include <algorithm>
#include <boost/math/distributions/students_t.hpp>
#include <cmath>
#include <map>

#include "base/error.hpp"

namespace lostspark::learning {
namespace {

constexpr int k_rounds = 8;  // of weights for mistaken readings; they settle in three or four
constexpr double k_least_kept = 1e-3;

/// What one vehicle's readings add: X' C^-1 X, X' C^-1 r, r' C^-1 r and how many readings they are worth.
struct Information {
  Square precision;
  std::vector<double> vector;
  double square = 0, readings = 0;
  explicit Information(std::size_t n) : precision(n), vector(n, 0.0) {}
  void add(const Information& other, double sign) {
    for (std::size_t i = 0; i < precision.at.size(); ++i) precision.at[i] += sign * other.precision.at[i];
    for (std::size_t i = 0; i < vector.size(); ++i) vector[i] += sign * other.vector[i];
    square += sign * other.square;
    readings += sign * other.readings;
  }
};

class Fitter {
 public:
  Fitter(const HealthyPrior& prior, std::span<const HealthyReading> readings, std::size_t tests)
      : prior_(prior), readings_(readings), parameters_(prior.doubt.size()), n_(parameters_ + tests) {
    for (std::size_t i = 0; i < readings.size(); ++i) {
      ensure(readings[i].column.size() == parameters_ && readings[i].test < tests, "a healthy reading does not fit");
      vehicles_[readings[i].individual].push_back(i);
    }
    kept_.assign(readings.size(), 1.0);
  }

  HealthyFit run() {
    HealthyFit fit;
    for (int round = 0; round < k_rounds; ++round) {
      std::map<std::size_t, Information> own;
      Information all(n_);
      for (const auto& [individual, members] : vehicles_) {
        const auto [at, made] = own.emplace(individual, information(members));
        all.add(at->second, 1);
      }
      fit = posterior(all);
      double moved = 0;
      for (const auto& [individual, members] : vehicles_) {
        // Judged by the others: a reading must not vouch for itself.
        Information others = all;
        others.add(own.at(individual), -1);
        moved = std::max(moved, weigh(posterior(others), members));
      }
      if (moved < 1e-3) break;
    }
    fit.kept = kept_;
    fit.relevance.assign(parameters_, 0.0);
    for (std::size_t i = 0; i < readings_.size(); ++i) {
      double most = 0;
      for (const double c : readings_[i].column) most = std::max(most, c * c);
      for (std::size_t k = 0; k < parameters_ && most > 0; ++k)
        fit.relevance[k] = std::max(fit.relevance[k], kept_[i] * readings_[i].column[k] * readings_[i].column[k] / most);
    }
    return fit;
  }

 private:
  Information information(const std::vector<std::size_t>& members) const {
    Square c(members.size());
    for (std::size_t i = 0; i < members.size(); ++i) {
      const auto& a = readings_[members[i]];
      for (std::size_t j = 0; j <= i; ++j) {
        double sum = 0;
        for (std::size_t k = 0; k < parameters_; ++k)
          sum += a.column[k] * (1 - prior_.doubt[k]) * readings_[members[j]].column[k];
        c(i, j) = c(j, i) = sum;
      }
      c(i, i) += std::max(a.noise_variance, 1e-8) / std::max(kept_[members[i]], k_least_kept);
    }
    const auto factor = cholesky(c);
    Information out(n_);
    std::vector<double> r;
    for (const auto m : members) {
      r.push_back(readings_[m].residual);
      out.readings += kept_[m] > k_least_kept ? kept_[m] : 0;
    }
    const auto weighted = solve(factor, r);
    for (std::size_t i = 0; i < members.size(); ++i) out.square += r[i] * weighted[i];
    const Square inv = inverse(factor);
    for (std::size_t i = 0; i < members.size(); ++i) {
      each(members[i], [&](std::size_t p, double x) {
        out.vector[p] += x * weighted[i];
        for (std::size_t j = 0; j < members.size(); ++j)
          each(members[j], [&](std::size_t q, double y) { out.precision(p, q) += x * inv(i, j) * y; });
      });
    }
    return out;
  }

  /// Non-zero entries of a reading's design row.
  template <class F>
  void each(std::size_t reading, const F& use) const {
    const auto& r = readings_[reading];
    for (std::size_t k = 0; k < parameters_; ++k)
      if (r.column[k] != 0) use(k, r.column[k]);
    use(parameters_ + r.test, 1.0);
  }

  double prior_variance(std::size_t row) const {
    return row < parameters_ ? std::max(prior_.doubt[row], 1e-12) : prior_.test_sd * prior_.test_sd;
  }

  HealthyFit posterior(const Information& data) const {
    Square precision = data.precision;
    for (std::size_t i = 0; i < n_; ++i) precision(i, i) += 1 / prior_variance(i);
    const auto factor = cholesky(precision);
    const auto mean = solve(factor, data.vector);
    HealthyFit fit;
    fit.covariance = inverse(factor);
    fit.shift.assign(mean.begin(), mean.begin() + static_cast<std::ptrdiff_t>(parameters_));
    fit.offset.assign(mean.begin() + static_cast<std::ptrdiff_t>(parameters_), mean.end());
    double explained = 0;
    for (std::size_t i = 0; i < n_; ++i) explained += mean[i] * data.vector[i];
    fit.shape = prior_.shape + data.readings / 2;
    fit.scale = prior_.shape - 1 + std::max(0.0, data.square - explained) / 2;
    return fit;
  }

  double weigh(const HealthyFit& others, const std::vector<std::size_t>& members) {
    double moved = 0;
    for (const auto m : members) {
      const auto& r = readings_[m];
      const auto band = predict(prior_, others, r.column, r.test, r.noise_variance);
      const boost::math::students_t law(band.degrees);
      const double sound =
          (1 - r.mistaken) * boost::math::pdf(law, (r.residual - band.centre) / band.spread) / band.spread;
      const double bad = r.mistaken * r.mistaken_density;
      const double kept = sound + bad > 0 ? sound / (sound + bad) : 0;
      moved = std::max(moved, std::abs(kept - kept_[m]));
      kept_[m] = kept;
    }
    return moved;
  }

  const HealthyPrior& prior_;
  std::span<const HealthyReading> readings_;
  std::size_t parameters_, n_;
  std::map<std::size_t, std::vector<std::size_t>> vehicles_;
  std::vector<double> kept_;
};

}  // namespace

NormalInverseGamma NormalInverseGamma::updated(std::span<const double> y) const {
  // Gelman and others, Bayesian Data Analysis, 3rd edition, section 3.3 (from memory).
  const auto n = static_cast<double>(y.size());
  if (y.empty()) return *this;
  double average = 0, squares = 0;
  for (const double v : y) average += v / n;
  for (const double v : y) squares += (v - average) * (v - average);
  NormalInverseGamma out;
  out.count = count + n;
  out.mean = (count * mean + n * average) / out.count;
  out.shape = shape + n / 2;
  out.scale = scale + squares / 2 + count * n * (average - mean) * (average - mean) / (2 * out.count);
  return out;
}

double NormalInverseGamma::spread() const { return std::sqrt(scale / shape * (1 + 1 / count)); }

HealthyFit fit_healthy(const HealthyPrior& prior, std::span<const HealthyReading> readings, std::size_t tests) {
  return Fitter(prior, readings, tests).run();
}

double HealthyBand::quantile(double p) const {
  return centre + spread * boost::math::quantile(boost::math::students_t(degrees), p);
}

HealthyBand predict(const HealthyPrior& prior, const HealthyFit& fit, std::span<const double> column, std::size_t test,
                    double noise_variance) {
  const std::size_t parameters = prior.doubt.size();
  const bool known = test < fit.offset.size();
  HealthyBand out;
  double variance =
      noise_variance + (known ? fit.covariance(parameters + test, parameters + test) : prior.test_sd * prior.test_sd);
  if (known) out.centre += fit.offset[test];
  for (std::size_t k = 0; k < parameters; ++k) {
    if (column[k] == 0) continue;
    out.centre += column[k] * fit.shift[k];
    variance += column[k] * column[k] * (1 - prior.doubt[k]);
    if (known) variance += 2 * column[k] * fit.covariance(k, parameters + test);
    for (std::size_t l = 0; l < parameters; ++l) variance += column[k] * column[l] * fit.covariance(k, l);
  }
  out.spread = std::sqrt(variance * fit.scale / fit.shape);
  out.degrees = 2 * fit.shape;
  return out;
}

namespace {

/// Share of the doubt about a parameter that the readings have left.
double doubt_left(const HealthyPrior& prior, const HealthyFit& fit, std::size_t k) {
  const double doubt = std::max(prior.doubt[k], 1e-12);
  return std::min(fit.covariance(k, k) / doubt, 1.0);
}

}  // namespace

double scatter_factor(const HealthyFit& fit, std::size_t k) {
  return std::sqrt(1 + fit.relevance[k] * (fit.variance_factor() - 1));
}

double spread_factor(const HealthyPrior& prior, const HealthyFit& fit, std::size_t k) {
  return scatter_factor(fit, k) * std::sqrt(1 - prior.doubt[k] + prior.doubt[k] * doubt_left(prior, fit, k));
}

}  // namespace lostspark::learning
