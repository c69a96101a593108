// Every fault mode of a vehicle on the simulated bench, four draws of severity and unknowns each, the advice followed
// to the end by the job room itself: how often the vehicle leaves mended, how many parts were bought for nothing.
// Bound, our own (no outside source): at least 90 % of the jobs end as they should and without a dear part (class 3 or
// more, above 40 units of money) bought for nothing. Cheap wrong parts are counted and told; the advice weighs them by
// their price.
#include <algorithm>
#include <cmath>
#include <cstdio>
#include <map>
#include <sstream>

#include "base/error.hpp"
#include "job/auto_run.hpp"
#include "job/job.hpp"
#include "jobs.hpp"
#include "model/generative.hpp"
#include "options.hpp"

using namespace lostspark;
using namespace lostspark::long_checks;

namespace {

constexpr int k_draws = 4;
constexpr double k_right = 0.90;
constexpr double k_dear = 40;  // units of money; docs/costs.md, price classes

const char* const k_ends[] = {"fixed", "not ignition", "referred on", "step limit"};  // as AutoResult::End

struct Outcome {
  int end = 0;  ///< job::AutoResult::End
  bool right = false, cured = false;
  int steps = 0, wrong_parts = 0, dear_wrong_parts = 0, parts = 0;
  double minutes = 0;
  std::string complaint;
};

void print(const job::Job& job, const job::AutoStep& step) {
  std::printf("  %2d. %s: %s |", step.number, step.title.c_str(), step.answer.c_str());
  auto suspects = job.posterior().suspects(0.02);
  if (suspects.size() > 4) suspects.resize(4);
  for (const auto& suspect : suspects)
    std::printf(" %s %.2f", job.vehicle().modes[static_cast<std::size_t>(suspect.mode)].id.c_str(), suspect.probability);
  std::printf(" | nothing wrong %.2f\n", job.posterior().nothing_wrong());
}

/// `show`: steps are printed as they are taken.
Outcome run(const Setting& setting, Index mode, std::uint64_t seed, bool show = false) {
  const auto& v = *setting.vehicle;
  simulation::Bench bench(setting.vehicle, setting.workshop, seed);
  bench.put(bench.draw_with({mode}));
  std::mt19937_64 random(seed + 1);
  Outcome out;
  out.complaint = job::complaint_as_told(setting.vehicle, bench.truth(), random);
  const auto store = history::open_memory();
  job::Desk desk({[&](const std::string&) { return setting.vehicle; },
                  [&](const std::string&, const std::string&) { return setting.vehicle; }},
                 *store, setting.workshop, {.now = [] { return std::string("2026-01-01T00:00:00Z"); }, .tables = setting.compiled});
  job::Intake intake;
  intake.complaints = {out.complaint};
  intake.spark = job::spark_on_arrival(v, bench);
  auto job = desk.open(v.id, intake);
  const auto& fault = v.modes[static_cast<std::size_t>(mode)];
  const auto result = job::run_simulated(job, bench, {.after = [&](const job::AutoStep& step) {
                                           if (show) print(job, step);
                                           if (step.advice.kind != planning::StepKind::repair) return;
                                           const auto& repair = v.repairs[static_cast<std::size_t>(step.advice.repair)];
                                           // What is fitted for the fuel side is no ignition part.
                                           if (!model::fits_part(repair) || planning::mends_elsewhere(v, step.advice.repair))
                                             return;
                                           ++out.parts;
                                           if (model::mends(v, step.advice.repair, mode)) return;
                                           ++out.wrong_parts;
                                           if (repair.price > k_dear) ++out.dear_wrong_parts;
                                         }});
  using End = job::AutoResult::End;
  const bool elsewhere =
      v.components[static_cast<std::size_t>(fault.component)].kind == model::ComponentKind::elsewhere;
  out.end = static_cast<int>(result.end);
  out.cured = result.cured;
  out.right = elsewhere ? result.end == End::not_ignition : result.end == End::fixed && result.cured;
  out.steps = result.steps;
  out.minutes = job.state().minutes;
  return out;
}

/// The four draws of one mode, told step by step.
int show(const CheckOptions& options, const Setting& setting) {
  const auto mode = setting.vehicle->find_mode(options.show);
  if (!mode) throw InputError(setting.vehicle->id + " has no fault mode '" + options.show + "'");
  for (int draw = 0; draw < k_draws; ++draw) {
    const auto o = run(setting, *mode, job_seed(options.seed, static_cast<int>(*mode) * k_draws + draw), true);
    std::printf("%s #%d, complaint %s: %s, %s after %d steps\n", options.show.c_str(), draw, o.complaint.c_str(), k_ends[o.end],
                o.right ? "as it should" : "not as it should", o.steps);
  }
  return 0;
}

std::string line_of(const Outcome& o) {
  std::ostringstream out;
  out << o.end << ' ' << o.right << ' ' << o.cured << ' ' << o.steps << ' ' << o.wrong_parts << ' '
      << o.dear_wrong_parts << ' ' << o.parts << ' ' << o.minutes << ' ' << o.complaint;
  return out.str();
}
Outcome outcome_of(const std::string& line) {
  Outcome o;
  std::istringstream(line) >> o.end >> o.right >> o.cured >> o.steps >> o.wrong_parts >> o.dear_wrong_parts >>
      o.parts >> o.minutes >> o.complaint;
  return o;
}

int check(const CheckOptions& options) {
  const Settings settings(options);
  const auto& setting = settings[0];
  if (!options.show.empty()) return show(options, setting);
  const auto& v = *setting.vehicle;
  const int all = static_cast<int>(v.modes.size()) * k_draws;
  const int jobs = options.jobs(all, 8);
  // Draw after draw over all modes, in a drawn order each: a quarter of it injects every mode once.
  std::vector<int> which;
  std::mt19937_64 random(options.seed);
  for (int draw = 0; draw < k_draws; ++draw) {
    std::vector<int> order;
    for (int mode = 0; mode < static_cast<int>(v.modes.size()); ++mode) order.push_back(mode * k_draws + draw);
    if (!options.full()) std::shuffle(order.begin(), order.end(), random);
    which.insert(which.end(), order.begin(), order.end());
  }
  const auto outcomes = resumed_outcomes(options, setting.fingerprint, jobs, outcome_of, line_of, [&](int job, int thread) {
    const int k = which[static_cast<std::size_t>(job)];
    return run(settings[thread], static_cast<Index>(k / k_draws), job_seed(options.seed, k));
  });
  std::map<std::string, int> by_end;
  double right = 0, good = 0, wrong = 0, steps = 0, minutes = 0;
  int with_wrong = 0, with_dear = 0;
  for (int k = 0; k < jobs; ++k) {
    const auto& o = outcomes[static_cast<std::size_t>(k)];
    const auto& mode = v.modes[static_cast<std::size_t>(which[static_cast<std::size_t>(k)] / k_draws)];
    ++by_end[std::string(k_ends[o.end]) + (o.end == 0 && !o.cured ? ", fault still there" : "")];
    right += o.right ? 1 : 0;
    good += o.right && o.dear_wrong_parts == 0 ? 1 : 0;
    with_dear += o.dear_wrong_parts > 0 ? 1 : 0;
    wrong += o.wrong_parts;
    with_wrong += o.wrong_parts > 0 ? 1 : 0;
    steps += o.steps;
    minutes += o.minutes;
    if (!o.right || o.wrong_parts > 0)
      std::printf("%-36s %-16s %-13s%s %2d steps, %d parts, %d wrong, %d dear\n", mode.id.c_str(), o.complaint.c_str(),
                  k_ends[o.end], o.right ? "" : " (not as it should)", o.steps, o.parts, o.wrong_parts,
                  o.dear_wrong_parts);
  }
  const double n = jobs;
  for (const auto& [end, count] : by_end) std::printf("%s: %d\n", end.c_str(), count);
  const double slack = options.full() ? 0 : 2;
  const double bound = k_right - slack * std::sqrt(k_right * (1 - k_right) / n);
  std::printf(
      "%s: %d jobs, %.1f steps and %.0f planned minutes each: %.1f %% end as they should, %.1f %% so and without a "
      "dear wrong part (bound %.1f %%); %.3f wrong parts a job, in %d jobs, dear ones in %d\n",
      v.id.c_str(), jobs, steps / n, minutes / n, 100 * right / n, 100 * good / n, 100 * bound, wrong / n, with_wrong,
      with_dear);
  const bool holds = good / n >= bound;
  std::printf("%s\n", holds ? "passed" : "FAILED");
  return holds ? 0 : 1;
}

}  // namespace

int main(int argc, char** argv) { return run_check(argc, argv, "injection", check); }
