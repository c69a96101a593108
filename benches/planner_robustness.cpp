#include "planner_robustness.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <functional>
#include <random>

#include "planner/random_instance.hpp"
#include "planner/score.hpp"
#include "planner_policies.hpp"
#include "planning/planner.hpp"

namespace lostspark::benches {
namespace {

using planning::JobState;
using planning::Problem;

constexpr std::size_t k_exact_nodes = 3000000;  // instances beyond are left out and counted
constexpr std::size_t k_vehicle_nodes = 4000;   // what an advice on a vehicle spends

double uniform(std::mt19937_64& dice) { return static_cast<double>(dice() >> 11) * 0x1p-53; }

/// Priors changed fault by fault; a pair's is the product of its two faults'.
void scale_priors(Problem& p, int faults, const std::function<double(double)>& becomes) {
  std::vector<double> factor;
  for (int f = 0; f < faults; ++f) factor.push_back(becomes(p.prior[f]) / p.prior[f]);
  std::size_t at = 0;
  for (; at < static_cast<std::size_t>(faults); ++at) p.prior[at] *= factor[at];
  for (int a = 0; a < faults; ++a)
    for (int b = a + 1; b < faults && at < p.prior.size(); ++b, ++at) p.prior[at] *= factor[a] * factor[b];
}

struct Error {
  const char* name;
  enum class Priors { right, within, edge, equal } priors;
  double noise;
};
constexpr Error k_errors[] = {{"none", Error::Priors::right, 1},
                              {"each prior x 1/3 .. 3", Error::Priors::within, 1},
                              {"each prior x 3 or / 3", Error::Priors::edge, 1},
                              {"all priors equal", Error::Priors::equal, 1},
                              {"noise believed half", Error::Priors::right, 0.5},
                              {"noise believed double", Error::Priors::right, 2},
                              {"noise believed a tenth", Error::Priors::right, 0.1},
                              {"priors x 1/3 .. 3, noise half", Error::Priors::within, 0.5},
                              {"priors x 1/3 .. 3, noise double", Error::Priors::within, 2}};

Problem believed(const Error& error, planner::RandomOptions shape, std::uint64_t seed) {
  shape.noise = error.noise;
  Problem p = planner::random_instance(shape, seed);
  std::mt19937_64 dice(seed);
  double mean = 0;
  for (int f = 0; f < shape.faults; ++f) mean += p.prior[f] / shape.faults;
  switch (error.priors) {
    case Error::Priors::right:
      break;
    case Error::Priors::within:
      scale_priors(p, shape.faults, [&](double x) { return x * std::pow(3, 2 * uniform(dice) - 1); });
      break;
    case Error::Priors::edge:
      scale_priors(p, shape.faults, [&](double x) { return uniform(dice) < 0.5 ? x * 3 : x / 3; });
      break;
    case Error::Priors::equal:
      scale_priors(p, shape.faults, [&](double) { return mean; });
      break;
  }
  return p;
}

void table(const planner::RandomOptions& shape, int instances, std::uint64_t seed,
           const std::vector<NamedPolicy>& policies) {
  struct World {
    std::uint64_t seed;
    Problem problem;
    double optimum;
  };
  std::vector<World> worlds;
  for (int i = 0; i < instances; ++i) {
    const std::uint64_t number = seed * 1000 + static_cast<std::uint64_t>(i);
    auto problem = planner::random_instance(shape, number);
    planning::PlannerOptions options;
    options.exact_nodes = k_exact_nodes;
    const auto best = decide(problem, start_of(problem), options);
    if (best.exact) worlds.push_back({number, std::move(problem), best.cost});
  }
  std::printf(
      "%s: %d faults, %d tests, %d covers; %zu instances of %d (the others' optimum was not found), seed %llu\n",
      shape.pairs ? "single faults and pairs" : "single faults", shape.faults, shape.tests, shape.covers, worlds.size(),
      instances, static_cast<unsigned long long>(seed));
  std::printf("| error |");
  for (const auto& policy : policies) std::printf(" %s |", policy.name.c_str());
  std::printf("\n|---|");
  for (std::size_t k = 0; k < policies.size(); ++k) std::printf("--:|");
  for (const auto& error : k_errors) {
    std::printf("\n| %s |", error.name);
    for (const auto& policy : policies) {
      std::vector<double> ratio;
      for (const auto& w : worlds)
        ratio.push_back(planner::exact_cost(w.problem, believed(error, shape, w.seed), policy.choose) / w.optimum);
      std::sort(ratio.begin(), ratio.end());
      double mean = 0;
      for (double r : ratio) mean += r / static_cast<double>(ratio.size());
      std::printf(" %.3f / %.2f |", mean, ratio[ratio.size() * 95 / 100]);
      std::fflush(stdout);
    }
  }
  std::printf("\n\n");
}

}  // namespace

void robustness(int instances, std::uint64_t seed, const std::vector<std::string>& only) {
  auto policies = all_policies();
  policies.back() = {"shipped", [](const Problem& p, const JobState& s) {
                       planning::PlannerOptions options;
                       options.exact = false;
                       options.nodes = k_vehicle_nodes;
                       return decide(p, s, options).action;
                     }};
  if (!only.empty())
    std::erase_if(policies, [&](const auto& p) { return std::find(only.begin(), only.end(), p.name) == only.end(); });
  table({7, 6, 3, false, 0.5}, instances, seed, policies);
  table({5, 5, 3, true, 0.5}, instances / 2, seed, policies);
}

}  // namespace lostspark::benches
