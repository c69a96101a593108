// Are stated probabilities kept? 10,000 simulated jobs follow the advice until it says repair (or refer). Compared: the stated
// probability that the leading repair cures against how often it does, in ten bins of equal count. Bounds: calibration error
// below 0.02; over-confident in no bin by more than 0.03 and one standard error of that bin. On the first 200 jobs the
// log score of "what must be repaired" is within 0.05 nat of importance sampling of the nonlinear physics; the prior's
// score (complaint only) stands beside it.
#include <algorithm>
#include <cmath>
#include <cstdio>
#include <map>
#include <set>
#include <sstream>

#include "base/error.hpp"
#include "jobs.hpp"
#include "options.hpp"
#include "sampler.hpp"

using namespace lostspark;
using namespace lostspark::long_checks;

namespace {

constexpr int k_jobs = 10000, k_scored = 200, k_step_limit = 25;
constexpr double k_error = 0.02, k_over_confident = 0.03, k_score = 0.05;
constexpr double k_least_probability = 1e-4;  // of a set nobody evaluates (three faults): the same for every score

using Repairs = std::vector<Index>;

struct Outcome {
  int kind = 0;                     ///< 0 repair, 1 refer, 2 nothing left to advise
  double stated = 0;                ///< probability that the leading repair cures
  bool cured = false;
  int readings = 0, faults = 0;
  double score = 0, prior_score = 0, sampled_score = -1;  ///< -ln P(what must be repaired); -1: not scored
};

Repairs needed(const model::Vehicle& v, const std::vector<circuit::ActiveMode>& faults) {
  std::set<Index> out;
  for (const auto& fault : faults) out.insert(v.modes[static_cast<std::size_t>(fault.mode)].repair);
  return {out.begin(), out.end()};
}

double score_of(const model::Vehicle& v, const inference::Posterior& posterior, const Repairs& truth) {
  double p = 0;
  for (const auto& set : posterior.fault_sets(0)) {
    std::set<Index> repairs;
    for (Index mode : set.modes) repairs.insert(v.modes[static_cast<std::size_t>(mode)].repair);
    if (Repairs(repairs.begin(), repairs.end()) == truth) p += set.probability;
  }
  return -std::log(std::max(p, k_least_probability));
}

double sampled_score(const Setting& setting, const inference::Posterior& posterior, const model::Evidence& evidence,
                     const Repairs& truth, std::uint64_t seed) {
  std::set<std::pair<Index, Index>> pairs;
  for (const auto& set : posterior.fault_sets(1e-3))
    if (set.modes.size() == 2) pairs.emplace(std::min(set.modes[0], set.modes[1]), std::max(set.modes[0], set.modes[1]));
  JobModel model(setting.vehicle, setting.workshop, evidence);
  SamplerOptions options;
  options.seed = seed;
  options.standard_error = 0.01;
  options.first_draws = options.adapt_draws = 1000;
  options.rest = 0.02;
  options.most_pairs = 200;
  options.most_draws = 1e6;
  const auto sampled = sample_posterior(model, pairs, options);
  double p = 0;
  for (const auto& [repairs, probability] : sampled.repairs)
    if (repairs == truth) p += probability;
  return -std::log(std::max(p, k_least_probability));
}

Outcome run(const Setting& setting, const inference::Posterior& prior, Index complaint,
            std::uint64_t seed, bool scored) {
  const auto& v = *setting.vehicle;
  simulation::Bench bench(setting.vehicle, setting.workshop, seed);
  bench.put(bench.draw(complaint));
  Follower job(setting, bench, complaint);
  int steps = 0;
  while (steps++ < k_step_limit && job.step()) {}
  Outcome out;
  out.readings = job.readings();
  out.faults = static_cast<int>(bench.present().size());
  const auto truth = needed(v, bench.present());
  const auto& posterior = job.posterior();
  out.score = score_of(v, posterior, truth);
  out.prior_score = score_of(v, prior, truth);
  if (scored) out.sampled_score = sampled_score(setting, posterior, job.evidence(), truth, seed + 1);
  const auto& plan = job.plan();
  // A job at the step limit still has a leading repair; a referral has none.
  const planning::Advice* repair = nullptr;
  for (const auto& step : plan.steps) {
    if (step.kind == planning::StepKind::refer) break;
    if (step.kind == planning::StepKind::repair) {
      repair = &step;
      break;
    }
  }
  if (!repair) {
    out.kind = plan.steps.empty() ? 2 : 1;
    return out;
  }
  out.stated = repair->cures;
  out.cured = !bench.healthy() && bench.repair(repair->repair);
  return out;
}

std::string line_of(const Outcome& o) {
  std::ostringstream out;
  out.precision(10);
  out << o.kind << ' ' << o.stated << ' ' << o.cured << ' ' << o.readings << ' ' << o.faults << ' ' << o.score << ' '
      << o.prior_score << ' ' << o.sampled_score;
  return out.str();
}

Outcome outcome_of(const std::string& line) {
  Outcome o;
  std::istringstream(line) >> o.kind >> o.stated >> o.cured >> o.readings >> o.faults >> o.score >> o.prior_score >>
      o.sampled_score;
  return o;
}

bool judge_bins(std::vector<Outcome> repairs, bool full) {
  std::sort(repairs.begin(), repairs.end(), [](const Outcome& a, const Outcome& b) { return a.stated < b.stated; });
  const std::size_t n = repairs.size();
  double error = 0, expected = 0;
  bool good = true;
  std::printf("%4s %6s %8s %10s %8s\n", "bin", "jobs", "stated", "frequency", "+-");
  for (std::size_t bin = 0; bin < 10; ++bin) {
    const std::size_t from = n * bin / 10, to = n * (bin + 1) / 10;
    if (from == to) continue;
    const double count = static_cast<double>(to - from);
    double stated = 0, cured = 0, variance = 0;
    for (std::size_t k = from; k < to; ++k) {
      stated += repairs[k].stated / count;
      cured += (repairs[k].cured ? 1 : 0) / count;
      variance += repairs[k].stated * (1 - repairs[k].stated) / (count * count);
    }
    const double deviation = std::sqrt(variance);
    std::printf("%4zu %6.0f %8.4f %10.4f %8.4f\n", bin + 1, count, stated, cured, deviation);
    error += std::abs(stated - cured) * count / static_cast<double>(n);
    // What a perfect model would show by chance: mean of |N(0, sd)|.
    expected += deviation * 0.7979 * count / static_cast<double>(n);
    good = good && stated - cured <= k_over_confident + (full ? 1 : 3) * deviation;
  }
  const double bound = k_error + (full ? 0 : 2 * expected);
  std::printf("calibration error %.4f (bound %.4f; a perfect model shows %.4f by chance)\n", error, bound, expected);
  return good && error < bound;
}

int check(const CheckOptions& options) {
  const Settings settings(options);
  const auto& setting = settings[0];
  const auto complaint = setting.vehicle->find_complaint("no_spark");
  ensure(complaint.has_value(), "the vehicle knows the complaint no_spark");
  const auto prior = inference::update(setting.compiled, {model::Complained{*complaint}});
  const int jobs = options.jobs(k_jobs, 40), scored = options.jobs(k_scored, 3);
  const auto outcomes = resumed_outcomes(options, setting.fingerprint, jobs, outcome_of, line_of, [&](int job, int thread) {
    return run(settings[thread], prior, *complaint, job_seed(options.seed, job), job < scored);
  });
  std::vector<Outcome> repairs;
  std::array<int, 3> kinds{};
  double readings = 0, score = 0, prior_score = 0, ours = 0, theirs = 0, squares = 0;
  int compared = 0;
  for (const auto& o : outcomes) {
    ++kinds[static_cast<std::size_t>(o.kind)];
    readings += o.readings / static_cast<double>(jobs);
    score += o.score / static_cast<double>(jobs);
    prior_score += o.prior_score / static_cast<double>(jobs);
    if (o.kind == 0) repairs.push_back(o);
    if (o.sampled_score < 0) continue;
    ++compared;
    ours += o.score;
    theirs += o.sampled_score;
    squares += (o.score - o.sampled_score) * (o.score - o.sampled_score);
  }
  std::printf("%d jobs, %.2f readings each: %d stop with a repair, %d are referred, %d end without advice\n", jobs, readings,
              kinds[0], kinds[1], kinds[2]);
  std::printf("log score of what must be repaired, nats (lower is better): %.4f; prior (complaint only): %.4f\n", score,
              prior_score);
  const double difference = compared ? (ours - theirs) / compared : 0;
  const double deviation = compared > 1 ? std::sqrt(squares) / compared : 0;
  const double score_bound = k_score + (options.full() ? 0 : 2 * deviation + 0.05);
  std::printf("on %d jobs: program %.4f, importance sampling %.4f, difference %+.4f +- %.4f (bound %.4f)\n", compared,
              ours / std::max(compared, 1), theirs / std::max(compared, 1), difference, deviation, score_bound);
  bool good = judge_bins(repairs, options.full());
  if (!options.full()) std::printf("a sample: bounds widened by its standard error\n");
  good = good && difference <= score_bound;
  std::printf("%s\n", good ? "passed" : "FAILED");
  return good ? 0 : 1;
}

}  // namespace

int main(int argc, char** argv) { return run_check(argc, argv, "calibration", check); }
