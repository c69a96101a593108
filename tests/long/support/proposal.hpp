// Proposals of the importance sampler: mixtures of Gaussians over some coordinates and the prior over the rest.
#pragma once

#include <random>
#include <span>
#include <vector>

namespace lostspark::long_checks {

/// A coordinate of the sampler: a standard normal unknown, or a severity (95 % uniform on [0, 1], 2.5 % on each
/// quarter of the range beyond).
enum class Coordinate : unsigned char { normal, severity };

[[nodiscard]] double log_prior(Coordinate kind, double x);  ///< -infinity where a severity cannot be
/// u in (0, 1): inverse distribution function of a severity; strata of u are strata of the severity.
[[nodiscard]] double severity_at(double u);

/// One part of a mixture: Gaussian over `dims`, prior over all other coordinates. No dims: the prior.
struct Part {
  double weight = 1;
  std::vector<int> dims;
  std::vector<double> mean, lower;  ///< lower: Cholesky factor of the covariance, row-major [dims * dims]
};

class Proposal {
 public:
  explicit Proposal(std::vector<Coordinate> coordinates) : coordinates_(std::move(coordinates)), parts_{{}} {}
  Proposal(std::vector<Coordinate> coordinates, std::vector<Part> parts);

  /// Fills x. `u` in (0, 1), if given, is the stratum of the first severity when the prior is drawn.
  void draw(std::mt19937_64& random, std::span<double> x, double u = -1) const;
  /// ln of prior density over proposal density; -infinity where the prior is 0.
  [[nodiscard]] double log_ratio(std::span<const double> x) const;
  [[nodiscard]] const std::vector<Part>& parts() const { return parts_; }

 private:
  std::vector<Coordinate> coordinates_;
  std::vector<Part> parts_;
};

/// Weighted samples of all coordinates.
struct Sample {
  std::size_t width = 0;
  std::vector<double> x;           ///< [n][width]
  std::vector<double> log_weight;  ///< prior times likelihood over proposal
  [[nodiscard]] std::size_t size() const { return log_weight.size(); }
  [[nodiscard]] std::span<const double> row(std::size_t k) const { return {&x[k * width], width}; }
};

/// Effective sample size of exp(power * log_weight).
[[nodiscard]] double effective_size(std::span<const double> log_weight, double power = 1);

/// Gaussians fitted to exp(power * log_weight) over `dims` by expectation-maximisation (`parts` of them), spread widened
/// and correlations shrunk as the effective sample allows. Weights sum to 1.
[[nodiscard]] std::vector<Part> fit(const Sample& sample, double power, const std::vector<int>& dims, int parts,
                                    std::mt19937_64& random);

/// The fitted parts, each once more with twice the spread, and the prior: bounded weights whatever was missed.
[[nodiscard]] std::vector<Part> defended(std::vector<Part> fitted, double prior_share);

}  // namespace lostspark::long_checks
