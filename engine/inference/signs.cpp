#include "inference/signs.hpp"

#include <cmath>
#include <numeric>

#include "base/error.hpp"

namespace lostspark::inference {

double likelihood(const Sign& sign, std::size_t answer, std::size_t the_class) {
  double sum = 0;
  for (const auto& row : sign.weight) sum += row[the_class];
  const double even = 1 / static_cast<double>(sign.answers.size());
  return (1 - sign.mistaken) * sign.weight[answer][the_class] / sum + sign.mistaken * even;
}

std::vector<double> class_posterior(const SignTable& table, const SignAnswers& answers) {
  if (answers.size() != table.signs.size() || table.prior.size() != table.classes.size())
    throw InternalError("internal error: the answers do not fit the table of signs (please report this)");
  std::vector<double> p = table.prior;
  for (std::size_t s = 0; s < answers.size(); ++s)
    if (answers[s])
      for (std::size_t c = 0; c < p.size(); ++c) p[c] *= likelihood(table.signs[s], *answers[s], c);
  const double sum = std::accumulate(p.begin(), p.end(), 0.0);
  for (double& x : p) x /= sum;
  return p;
}

double sign_gain_bits(const SignTable& table, const SignAnswers& answers, std::size_t sign) {
  if (answers.at(sign)) return 0;
  const auto now = class_posterior(table, answers);
  double bits = 0;
  for (std::size_t a = 0; a < table.signs[sign].answers.size(); ++a) {
    double answered = 0;
    for (std::size_t c = 0; c < now.size(); ++c) answered += now[c] * likelihood(table.signs[sign], a, c);
    for (std::size_t c = 0; c < now.size(); ++c) {
      const double l = likelihood(table.signs[sign], a, c);
      if (now[c] > 0 && l > 0) bits += now[c] * l * std::log2(l / answered);
    }
  }
  return bits;
}

}  // namespace lostspark::inference
