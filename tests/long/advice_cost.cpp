// What learned shares are worth: expected cost of jobs whose advice follows the files' shares, the shares learned from
// 10, 100, 1,000 and 10,000 closed jobs, and the true shares. Synthetic repair jobs (tests/planner), whose files are
// wrong by a factor of about two; jobs drawn from the truth, one in ten not confirmed; learned by
// learning::learn_shares, advised by planning::decide, scored over all outcomes under the truth (planner::exact_cost:
// no luck of the draw in the score). Bounds of the full run: the part of the files' extra cost that is left is at most
// a half at 100 jobs, a tenth at 1,000 and a twentieth at 10,000. Judgement: the point where learning more cannot be
// told from knowing.
#include <array>
#include <cmath>
#include <cstdio>
#include <random>
#include <sstream>

#include "learning/shares.hpp"
#include "options.hpp"
#include "planner/random_instance.hpp"
#include "planner/score.hpp"
#include "planning/planner.hpp"

using namespace lostspark;
using namespace lostspark::long_checks;

namespace {

constexpr int k_instances = 400;
constexpr std::array<int, 5> k_jobs{0, 10, 100, 1000, 10000};
constexpr std::array<double, 5> k_most_left{1.01, 1.01, 0.5, 0.1, 0.05};
constexpr double k_file_off = 0.8;  // sd of the log of a file's share over the true one

/// Costs with the files' shares, 10 ... 10,000 jobs, and with the true shares.
using Costs = std::array<double, k_jobs.size() + 1>;

std::string class_of(std::size_t fault) { return std::string("c") + static_cast<char>('a' + static_cast<int>(fault)); }

double cost_when_believing(const planning::Problem& truth, const std::vector<double>& prior) {
  planning::PlannerOptions options;
  options.exact = false;
  return planner::exact_cost(truth, [&](const planning::Problem& p, const planning::JobState& s) {
    // All that was seen multiplies both beliefs alike: only the priors differ.
    planning::Problem believed = p;
    believed.prior = prior;
    planning::JobState state = s;
    for (std::size_t h = 0; h < prior.size(); ++h) state.belief[h] *= prior[h] / p.prior[h];
    return planning::decide(believed, state, options).action;
  });
}

Costs one_instance(std::uint64_t seed) {
  const auto truth = planner::random_instance({}, seed);
  const std::size_t n = truth.prior.size();
  std::mt19937_64 random(seed * 7919 + 17);
  std::normal_distribution<double> normal;
  double sum = 0, file_sum = 0;
  for (const double p : truth.prior) sum += p;
  std::vector<double> file;
  for (const double p : truth.prior) file.push_back(p / sum * std::exp(k_file_off * normal(random)));
  for (const double f : file) file_sum += f;
  std::discrete_distribution<std::size_t> draw(truth.prior.begin(), truth.prior.end());
  std::vector<std::size_t> faults;
  for (int job = 0; job < k_jobs.back(); ++job) faults.push_back(draw(random));
  Costs costs{};
  for (std::size_t step = 0; step < k_jobs.size(); ++step) {
    learning::NetworkCases cases;
    cases.family = "family";
    cases.network = "network";
    for (std::size_t h = 0; h < n; ++h) {
      cases.classes.push_back(class_of(h));
      cases.odds.push_back(0.08 * file[h] / file_sum);
    }
    std::vector<double> sure(n, 0), unsure(n, 0);
    for (int job = 0; job < k_jobs[step]; ++job)
      (job % 10 == 9 ? unsure[faults[static_cast<std::size_t>(job)] / 3]
                     : sure[faults[static_cast<std::size_t>(job)]]) += 1;
    for (std::size_t h = 0; h < n; ++h) {
      if (sure[h] > 0) cases.add(class_of(h) + ":0", sure[h]);
      if (unsure[h] == 0) continue;
      std::string pattern;  // narrowed down to three neighbours
      for (std::size_t k = 3 * h; k < std::min(3 * h + 3, n); ++k)
        pattern += (pattern.empty() ? "" : " ") + class_of(k) + ":0";
      cases.add(pattern, unsure[h]);
    }
    std::vector<double> prior = file;
    if (k_jobs[step] > 0) {
      const auto learned = learning::learn_shares({cases}).networks.at(0);
      for (std::size_t h = 0; h < n; ++h) prior[h] = learned.classes[h].learned;
    }
    costs[step] = cost_when_believing(truth, prior);
  }
  costs.back() = cost_when_believing(truth, truth.prior);
  return costs;
}

int check(const CheckOptions& options) {
  const int instances = options.jobs(k_instances, 12);
  const auto all = resumed_outcomes(
      options, fingerprint("advice cost"), instances,
      [](const std::string& line) {
        Costs costs{};
        std::istringstream in(line);
        for (double& c : costs) in >> c;
        return costs;
      },
      [](const Costs& costs) {
        std::ostringstream out;
        out.precision(17);
        for (const double c : costs) out << c << ' ';
        return out.str();
      },
      [&](int job, int) { return one_instance(options.seed * 100003 + static_cast<std::uint64_t>(job)); });
  Costs mean{};
  for (const auto& costs : all)
    for (std::size_t i = 0; i < mean.size(); ++i) mean[i] += costs[i] / instances;
  const double best = mean.back(), extra = mean.front() - best;
  std::printf("%d synthetic jobs, advice scored over all outcomes\n", instances);
  std::printf("%-12s %12s %14s %18s\n", "shares", "minutes", "over true", "of the files' left");
  bool good = extra > 0;
  for (std::size_t i = 0; i < k_jobs.size(); ++i) {
    const double left = (mean[i] - best) / extra;
    const bool within = left <= k_most_left[i];
    const std::string name = k_jobs[i] == 0 ? "files" : std::to_string(k_jobs[i]) + " jobs";
    std::printf("%-12s %12.3f %13.3f%% %17.1f%%%s\n", name.c_str(), mean[i], 100 * (mean[i] / best - 1), 100 * left,
                within ? "" : "  above its bound");
    if (options.full()) good = good && within;
  }
  std::printf("%-12s %12.3f\n", "true", best);
  // A dozen instances show the way down, not its bounds.
  return good && mean[k_jobs.size() - 1] < mean.front() ? 0 : 1;
}

}  // namespace

int main(int argc, char** argv) { return run_check(argc, argv, "advice_cost", check); }
