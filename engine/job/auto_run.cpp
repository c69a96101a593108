#include "job/auto_run.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cstdlib>

#include "base/error.hpp"
#include "job/intake.hpp"
#include "job/intake_words.hpp"
#include "job/job_impl.hpp"
#include "model/generative.hpp"

namespace lostspark::job {
namespace {

using planning::Advice;
using planning::StepKind;

/// The number as a person writes it down: six digits, no dust of binary fractions.
model::Value written_down(model::Value value) {
  if (value.kind == model::ValueKind::number)
    value.number = std::strtod(fmt::format("{:.6g}", value.number).c_str(), nullptr);
  return value;
}

/// Takes a test on the bench and records it as a person would; the text of the value.
std::string take(Job& job, simulation::Bench& bench, Index which, const ReadingOptions& how, Done& done) {
  const auto& v = job.vehicle();
  const auto& test = v.tests[which];
  // Contacts move before the reading, on the bench as in the log.
  std::vector<Index> moved = contacts_unplugged(v, test);
  const auto& standing = job.state().setups_standing;
  for (const Index s : setups_of(v, test))
    if (v.setups[s].moves_contacts && std::find(standing.begin(), standing.end(), s) == standing.end())
      moved.insert(moved.end(), v.setups[s].touches.begin(), v.setups[s].touches.end());
  if (!moved.empty()) bench.touch(moved);
  const auto provocation = how.provocation                                ? *how.provocation
                           : test.provocation != model::Provocation::none ? test.provocation
                                                                          : job.state().provocation;
  const auto value = written_down(bench.read(which, provocation));
  done = job.record(which, value, how);
  return reading_text(test, value);
}

void take_down(Job& job) {
  while (!job.state().setups_standing.empty())
    job.setup(job.vehicle().setups[job.state().setups_standing.front()].id, false);
}

/// A functional check of a vehicle that is not mended, under the complaint's condition: no spark, or a spark and the
/// complaint still there.
void failed_check(Job& job, simulation::Bench& bench, AutoStep& step) {
  const auto spark = spark_test(job.vehicle());
  if (!spark) {
    step.answer = job.check("failed").text;
    return;
  }
  const auto& words = job.vehicle().tests[*spark].words;
  const auto seen = bench.read(*spark, complaint_provocation(job.vehicle(), job.state().intake));
  step.answer = job.check(seen.word + 1 == words.size() ? "still_there" : words[seen.word]).text;
}

/// Repairs on the bench and in the log, then the check. True when the check passed.
bool mend(Job& job, simulation::Bench& bench, const Advice& advice, AutoStep& step) {
  const auto& v = job.vehicle();
  const auto& repair = v.repairs[advice.repair];
  step.advice = advice;
  step.title = repair.title;
  step.done = job.repaired(repair.id);
  if (repair.kind == model::RepairKind::replace && repair.component >= 0)
    bench.touch(neighbouring_contacts(v, repair.component));
  const bool runs = bench.repair(advice.repair);
  take_down(job);
  if (!runs) {
    failed_check(job, bench, step);
    return false;
  }
  const auto spark = spark_test(job.vehicle());
  if (!spark) {
    step.answer = job.check("passed").text;
    return true;
  }
  const auto& test = job.vehicle().tests[*spark];
  const auto seen = bench.read(*spark, complaint_provocation(job.vehicle(), job.state().intake));
  step.answer = job.check(test.words[seen.word]).text;
  return job.state().checks.back().passed;
}

}  // namespace

std::string spark_on_arrival(const model::Vehicle& vehicle, simulation::Bench& bench) {
  const auto spark = spark_test(vehicle);
  if (!spark) return {};
  const std::size_t word = bench.read(*spark, model::Provocation::none).word;
  return word == 0 ? "none" : word + 1 < vehicle.tests[*spark].words.size() ? "weak" : "good";
}

std::string complaint_as_told(const std::shared_ptr<const model::Vehicle>& vehicle, const simulation::Truth& truth,
                              std::mt19937_64& random) {
  const auto& v = *vehicle;
  const auto& mode = v.modes[truth.faults.front().mode];
  constexpr std::array<std::string_view, model::k_provocations> by_provocation{
      "", "dies_hot", "dies_wet", "cuts_on_bumps", "cuts_steering", "misfire_load"};
  constexpr double k_clearly = 0.3;  // as much more often than unprovoked
  const auto strongest = std::max_element(mode.visible.begin(), mode.visible.end());
  if (*strongest > mode.visible[0] + k_clearly)
    if (const auto c = v.find_complaint(by_provocation[static_cast<std::size_t>(strongest - mode.visible.begin())]))
      return v.complaints[*c].id;
  const Index scene = v.cranking_scene();
  std::vector<std::size_t> spoken, table;
  for (std::size_t k = 0; k < v.complaints.size(); ++k) (v.complaints[k].by_table() ? table : spoken).push_back(k);
  if (scene >= 0 && !spoken.empty()) {
    circuit::Circuit circuit(vehicle);
    const auto& solution = circuit.solve(scene, truth.faults, truth.log_shift);
    for (std::size_t k : spoken)
      if (model::shows(v.complaints[k], solution.outputs, [] { return 0.0; })) return v.complaints[k].id;
  }
  std::vector<double> weight;
  for (std::size_t k : table) weight.push_back(v.complaints[k].of_group(mode.group));
  if (table.empty()) return v.complaints.front().id;
  return v.complaints[table[std::discrete_distribution<std::size_t>(weight.begin(), weight.end())(random)]].id;
}

AutoResult run_simulated(Job& job, simulation::Bench& bench, const AutoOptions& options) {
  AutoResult result;
  while (result.steps < options.step_limit) {
    planning::Plan plan;
    try {
      plan = job.next();
    } catch (const CapacityError&) {
      break;  // more readings than can be weighed together: given up, as at the step limit
    }
    if (plan.steps.empty()) {
      Advice away;
      away.kind = StepKind::refer;
      plan.steps.push_back(away);
    }
    if (options.before) options.before(plan);
    const Advice* advice = &plan.steps[options.choose ? options.choose(plan) : 0];
    if (advice->kind == StepKind::refer) {
      take_down(job);
      // Nobody sends a vehicle away without having seen whether the complaint is there: if it is, something is wrong.
      const auto& state = job.state();
      const std::int64_t repaired = state.repairs.empty() ? 0 : state.repairs.back().sequence;
      const bool seen = !state.checks.empty() && state.checks.back().sequence > repaired;
      if (!seen && !bench.healthy()) {
        AutoStep step;
        step.number = ++result.steps;
        step.title = "functional check";
        failed_check(job, bench, step);
        if (options.after) options.after(step);
        continue;
      }
      const bool away = planning::elsewhere(job.posterior()) > 0.5;
      job.close(away ? Outcome::not_ignition : Outcome::referred_on);
      result.end = away ? AutoResult::End::not_ignition : AutoResult::End::referred_on;
      break;
    }
    ++result.steps;
    AutoStep step;
    bool passed = false;
    if (advice->kind == StepKind::test) {
      step.advice = *advice;
      step.title = job.vehicle().tests[advice->test].title;
      ReadingOptions how;
      how.reseated = true;  // a reading asked for once more is taken with the leads seated anew, as the step says
      step.answer = take(job, bench, advice->test, how, step.done);
    } else {
      const auto& repair = job.vehicle().repairs[advice->repair];
      if (result.first_part_repair == model::k_none && model::fits_part(repair))
        result.first_part_repair = advice->repair;
      passed = mend(job, bench, *advice, step);
    }
    step.number = result.steps;
    if (options.after) options.after(step);
    if (!passed) continue;
    if (planning::mends_elsewhere(job.vehicle(), advice->repair)) {
      job.close(Outcome::not_ignition);
      result.end = AutoResult::End::not_ignition;
    } else {
      // The proof: the reading that was furthest from healthy, once more.
      const auto check = job.check_view();
      if (check.repeat_sequence > 0) {
        ReadingOptions how;
        how.provocation = job.state().find_reading(check.repeat_sequence)->reading.provocation;
        how.reseated = true;
        Done done;
        (void)take(job, bench, job.test(check.repeat_test), how, done);
      }
      take_down(job);
      if (job.stops_needed())
        for (const auto& stop : job.stops())
          if (!stop.recorded) job.stop_checked(stop.id);
      job.close(Outcome::fixed);
      result.end = AutoResult::End::fixed;
    }
    break;
  }
  result.cured = bench.healthy();
  return result;
}

}  // namespace lostspark::job
