// Which of several classes a thing belongs to, from signs that are independent once the class is known (naive Bayes).
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

namespace lostspark::inference {

/// One sign: its answers and how often each class gives them.
struct Sign {
  std::string id;
  std::vector<std::string> answers;
  /// weight[answer][class], relative within a class; any positive scale.
  std::vector<std::vector<double>> weight;
  /// Probability that the answer is mistaken; then every answer is as likely.
  double mistaken = 0.03;
};

struct SignTable {
  std::vector<std::string> classes;
  std::vector<double> prior;  ///< relative, by class
  std::vector<Sign> signs;
};

/// By sign of the table: the row of its answer, none where it was skipped.
using SignAnswers = std::vector<std::optional<std::size_t>>;

/// P(answer | class), mistakes included.
[[nodiscard]] double likelihood(const Sign&, std::size_t answer, std::size_t the_class);

/// Probability of each class; sums to 1. Throws InternalError where `answers` does not fit the table.
[[nodiscard]] std::vector<double> class_posterior(const SignTable&, const SignAnswers& answers);

/// What the answer to `sign` is expected to tell about the class, in bits, given the others; 0 for one that is
/// answered. Mutual information, exact.
[[nodiscard]] double sign_gain_bits(const SignTable&, const SignAnswers& answers, std::size_t sign);

}  // namespace lostspark::inference
