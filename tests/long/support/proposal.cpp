#include "proposal.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

namespace lostspark::long_checks {
namespace {

constexpr double k_tail = 0.25, k_tail_mass = 0.05;  // docs/model.md section 2
constexpr double k_log_root_two_pi = 0.9189385332046727;
constexpr double k_widen = 1.15;                     // fitted standard deviations are made this much larger
constexpr double k_minus_infinity = -std::numeric_limits<double>::infinity();

/// Cholesky in place of a row-major matrix; a ridge keeps it positive.
void cholesky(std::vector<double>& a, std::size_t n) {
  for (std::size_t i = 0; i < n; ++i) {
    const double own = a[i * n + i];
    for (std::size_t j = 0; j <= i; ++j) {
      double sum = a[i * n + j];
      for (std::size_t k = 0; k < j; ++k) sum -= a[i * n + k] * a[j * n + k];
      a[i * n + j] = i == j ? std::sqrt(std::max(sum, 1e-6 * own + 1e-18)) : sum / a[j * n + j];
    }
    for (std::size_t j = i + 1; j < n; ++j) a[i * n + j] = 0;
  }
}

double log_gaussian(const Part& part, std::span<const double> x, std::vector<double>& scratch) {
  const std::size_t n = part.dims.size();
  scratch.resize(n);
  double log = 0;
  for (std::size_t i = 0; i < n; ++i) {
    double sum = x[static_cast<std::size_t>(part.dims[i])] - part.mean[i];
    for (std::size_t k = 0; k < i; ++k) sum -= part.lower[i * n + k] * scratch[k];
    scratch[i] = sum / part.lower[i * n + i];
    log -= 0.5 * scratch[i] * scratch[i] + std::log(part.lower[i * n + i]) + k_log_root_two_pi;
  }
  return log;
}

}  // namespace

double log_prior(Coordinate kind, double x) {
  if (kind == Coordinate::normal) return -0.5 * x * x - k_log_root_two_pi;
  if (x < -k_tail || x > 1 + k_tail) return k_minus_infinity;
  return x >= 0 && x <= 1 ? std::log(1 - k_tail_mass) : std::log(k_tail_mass / (2 * k_tail));
}

double severity_at(double u) {
  const double tail = k_tail_mass / 2;
  if (u < tail) return -k_tail + k_tail * u / tail;
  if (u > 1 - tail) return 1 + k_tail * (u - (1 - tail)) / tail;
  return (u - tail) / (1 - k_tail_mass);
}

Proposal::Proposal(std::vector<Coordinate> coordinates, std::vector<Part> parts)
    : coordinates_(std::move(coordinates)), parts_(std::move(parts)) {
  double total = 0;
  for (const auto& part : parts_) total += part.weight;
  for (auto& part : parts_) part.weight /= total;
}

void Proposal::draw(std::mt19937_64& random, std::span<double> x, double u) const {
  std::uniform_real_distribution<double> unit(0, 1);
  std::normal_distribution<double> normal;
  const Part* part = &parts_.back();
  if (parts_.size() > 1) {
    double pick = unit(random);
    for (const auto& p : parts_) {
      part = &p;
      pick -= p.weight;
      if (pick < 0) break;
    }
  }
  for (std::size_t i = 0; i < coordinates_.size(); ++i) {
    if (coordinates_[i] == Coordinate::normal) {
      x[i] = normal(random);
    } else {
      x[i] = severity_at(u >= 0 && part->dims.empty() ? u : unit(random));
      u = -1;
    }
  }
  const std::size_t n = part->dims.size();
  std::vector<double> z(n);
  for (double& value : z) value = normal(random);
  for (std::size_t i = 0; i < n; ++i) {
    double sum = part->mean[i];
    for (std::size_t k = 0; k <= i; ++k) sum += part->lower[i * n + k] * z[k];
    x[static_cast<std::size_t>(part->dims[i])] = sum;
  }
}

double Proposal::log_ratio(std::span<const double> x) const {
  for (std::size_t i = 0; i < coordinates_.size(); ++i)
    if (coordinates_[i] == Coordinate::severity && std::isinf(log_prior(Coordinate::severity, x[i]))) return k_minus_infinity;
  if (parts_.size() == 1 && parts_[0].dims.empty()) return 0;
  std::vector<double> scratch;
  double sum = 0;
  for (const auto& part : parts_) {
    double log = 0;
    if (!part.dims.empty()) {
      log = log_gaussian(part, x, scratch);
      for (int d : part.dims) log -= log_prior(coordinates_[static_cast<std::size_t>(d)], x[static_cast<std::size_t>(d)]);
    }
    sum += part.weight * std::exp(std::min(log, 690.0));
  }
  return -std::log(sum);
}

double effective_size(std::span<const double> log_weight, double power) {
  double most = k_minus_infinity;
  for (double w : log_weight) most = std::max(most, w);
  if (std::isinf(most)) return 0;
  double sum = 0, squares = 0;
  for (double w : log_weight) {
    const double v = std::exp(power * (w - most));
    sum += v;
    squares += v * v;
  }
  return sum * sum / squares;
}

std::vector<Part> fit(const Sample& sample, double power, const std::vector<int>& dims, int parts,
                      std::mt19937_64& random) {
  const std::size_t n = sample.size(), d = dims.size(), count = static_cast<std::size_t>(parts);
  double most = k_minus_infinity;
  for (double w : sample.log_weight) most = std::max(most, w);
  std::vector<double> weight(n);
  double total = 0;
  for (std::size_t k = 0; k < n; ++k) total += weight[k] = std::exp(power * (sample.log_weight[k] - most));
  std::vector<std::size_t> used;
  for (std::size_t k = 0; k < n; ++k) {
    weight[k] /= total;
    if (weight[k] > 1e-7 / static_cast<double>(n)) used.push_back(k);
  }
  const auto at = [&](std::size_t k, std::size_t i) { return sample.x[k * sample.width + static_cast<std::size_t>(dims[i])]; };

  // Responsibilities: hard by the nearest of randomly picked samples first, then by the fitted densities.
  std::vector<double> share(n * count, 1.0 / static_cast<double>(count)), scale(d);
  if (count > 1) {
    std::vector<double> mean(d, 0.0);
    for (std::size_t k : used)
      for (std::size_t i = 0; i < d; ++i) mean[i] += weight[k] * at(k, i);
    for (std::size_t k : used)
      for (std::size_t i = 0; i < d; ++i) scale[i] += weight[k] * (at(k, i) - mean[i]) * (at(k, i) - mean[i]);
    std::discrete_distribution<std::size_t> pick(weight.begin(), weight.end());
    std::vector<std::size_t> seeds;
    for (std::size_t c = 0; c < count; ++c) seeds.push_back(pick(random));
    for (std::size_t k : used) {
      std::size_t nearest = 0;
      double least = std::numeric_limits<double>::infinity();
      for (std::size_t c = 0; c < count; ++c) {
        double distance = 0;
        for (std::size_t i = 0; i < d; ++i) {
          const double step = at(k, i) - at(seeds[c], i);
          distance += step * step / std::max(scale[i], 1e-12);
        }
        if (distance < least) {
          least = distance;
          nearest = c;
        }
      }
      for (std::size_t c = 0; c < count; ++c) share[k * count + c] = c == nearest ? 1 : 0;
    }
  }
  std::vector<Part> out(count);
  std::vector<double> scratch, density(count);
  for (int round = 0; round < (count > 1 ? 12 : 1); ++round) {
    for (std::size_t c = 0; c < count; ++c) {
      auto& part = out[c];
      part.dims = dims;
      part.mean.assign(d, 0.0);
      part.lower.assign(d * d, 0.0);
      double mass = 0, squares = 0;
      for (std::size_t k : used) {
        const double w = weight[k] * share[k * count + c];
        mass += w;
        squares += w * w;
        for (std::size_t i = 0; i < d; ++i) part.mean[i] += w * at(k, i);
      }
      part.weight = mass;
      if (mass < 1e-6) {
        part.weight = 0;
        for (std::size_t i = 0; i < d; ++i) part.lower[i * d + i] = 1;
        continue;
      }
      for (double& m : part.mean) m /= mass;
      std::vector<double> offset(d);
      for (std::size_t k : used) {
        const double w = weight[k] * share[k * count + c] / mass;
        if (w < 1e-12) continue;
        for (std::size_t i = 0; i < d; ++i) offset[i] = at(k, i) - part.mean[i];
        for (std::size_t i = 0; i < d; ++i)
          for (std::size_t j = 0; j <= i; ++j) part.lower[i * d + j] += w * offset[i] * offset[j];
      }
      const double size = mass * mass / std::max(squares, 1e-300);
      const double keep = size / (size + 0.5 * static_cast<double>(d));
      for (std::size_t i = 0; i < d; ++i)
        for (std::size_t j = 0; j <= i; ++j) {
          double& value = part.lower[i * d + j];
          value *= k_widen * k_widen;
          if (i == j) value += 1e-10 + (size < 20 ? value : 0);
          else value *= keep;
        }
      cholesky(part.lower, d);
    }
    if (count == 1) break;
    for (std::size_t k : used) {
      double high = k_minus_infinity;
      for (std::size_t c = 0; c < count; ++c) {
        density[c] = out[c].weight > 0 ? std::log(out[c].weight) + log_gaussian(out[c], sample.row(k), scratch) : k_minus_infinity;
        high = std::max(high, density[c]);
      }
      double sum = 0;
      for (double& v : density) sum += v = std::exp(v - high);
      for (std::size_t c = 0; c < count; ++c) share[k * count + c] = density[c] / sum;
    }
  }
  std::erase_if(out, [](const Part& p) { return p.weight < 1e-4; });
  return out;
}

std::vector<Part> defended(std::vector<Part> fitted, double prior_share) {
  std::vector<Part> out;
  double total = 0;
  for (const auto& part : fitted) total += part.weight;
  for (auto part : fitted) {
    const double weight = part.weight / total * (1 - prior_share);
    part.weight = 0.8 * weight;
    out.push_back(part);
    part.weight = 0.2 * weight;
    for (double& v : part.lower) v *= 2;
    out.push_back(std::move(part));
  }
  Part prior;
  prior.weight = prior_share;
  out.push_back(prior);
  return out;
}

}  // namespace lostspark::long_checks
