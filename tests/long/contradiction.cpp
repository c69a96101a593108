// A corrupted reading must be named, and right ones left alone: 200 jobs of seven right readings, one of them then
// replaced by what a slipped clip shows. Named: its probability of being mistaken is above 0.5, or its predictive tail given
// the others below 1e-3. Bounds: 80 % of the corrupted readings named; under 3 % of the uncorrupted jobs with any reading
// named.
//
// A reading can only contradict others that speak of the same thing. So the corrupted test is one that was read twice with the
// clips re-seated, or that has a neighbour of its kind at another point; and the false value lies off what this very
// vehicle shows by a factor of two or more (or is nothing at all where it shows something).
#include <algorithm>
#include <cmath>
#include <cstdio>
#include <sstream>

#include "base/error.hpp"
#include "jobs.hpp"
#include "options.hpp"

using namespace lostspark;
using namespace lostspark::long_checks;

namespace {

constexpr int k_jobs = 200, k_readings = 7;
constexpr double k_named = 0.80, k_false_alarms = 0.03;
constexpr double k_mistaken = 0.5, k_tail = 1e-3;

struct Case {
  model::Evidence right, corrupted;
  std::size_t event = 0;  ///< of the corrupted reading
  std::string text;
};

bool is_number(const model::Test& test) { return !test.is_word(); }

/// What a slipped clip, a forgotten range or a peak not cleared shows: nothing, beyond the range, or anywhere between.
model::Value false_value(const model::Instrument& instrument, std::mt19937_64& random) {
  std::uniform_real_distribution<double> unit(0, 1);
  model::Value out;
  const double u = unit(random), low = instrument.floor > 0 ? instrument.floor : instrument.range * 1e-4;
  if (u < 0.45) out.kind = model::ValueKind::below_floor;
  else if (u < 0.5) out.kind = model::ValueKind::over_range;
  else out.number = low * std::pow(instrument.range / low, unit(random));
  return out;
}

/// Far from everything the same test shows when it is repeated on this vehicle.
bool differs(const model::Value& value, const std::vector<model::Value>& repeats) {
  for (const auto& r : repeats) {
    if (r.kind != value.kind) continue;
    if (value.kind != model::ValueKind::number) return false;
    if (std::abs(std::log(value.number / r.number)) < std::log(2.0)) return false;
  }
  return true;
}

Case draw_case(const Setting& setting, std::uint64_t seed) {
  const auto& v = *setting.vehicle;
  const auto complaint = v.find_complaint("no_spark");
  ensure(complaint.has_value(), "the vehicle knows the complaint no_spark");
  const auto possible = possible_tests(setting);
  std::mt19937_64 random(seed);
  for (int attempt = 0; attempt < 1000; ++attempt) {
    simulation::Bench bench(setting.vehicle, setting.workshop, random(), {.mistakes = false, .touches_cure = false});
    bench.put(bench.draw(*complaint));
    std::vector<Index> numbers, any = possible;
    for (Index t : possible)
      if (is_number(v.tests[static_cast<std::size_t>(t)])) numbers.push_back(t);
    std::shuffle(numbers.begin(), numbers.end(), random);
    std::shuffle(any.begin(), any.end(), random);
    const Index target = numbers.front();
    const auto& test = v.tests[static_cast<std::size_t>(target)];
    // A companion: the same test again, or one of its kind and provocation elsewhere, by the toss of a coin.
    Index companion = target;
    if (random() % 2)
      for (Index t : numbers)
        if (t != target && v.tests[static_cast<std::size_t>(t)].kind == test.kind &&
            v.tests[static_cast<std::size_t>(t)].provocation == test.provocation)
          companion = t;
    std::vector<Index> chosen{target, companion};
    for (Index t : any)
      if (chosen.size() < k_readings && t != target && t != companion) chosen.push_back(t);
    std::vector<std::size_t> order(chosen.size());
    for (std::size_t k = 0; k < order.size(); ++k) order[k] = k;
    std::shuffle(order.begin(), order.end(), random);
    Case out;
    out.right.push_back(model::Complained{*complaint});
    int number = 0;
    for (std::size_t k : order) {
      if (k == 0) out.event = out.right.size();
      out.right.push_back(take(bench, v, chosen[k], ++number));
    }
    std::vector<model::Value> repeats{std::get<model::Reading>(out.right[out.event]).value};
    for (int k = 0; k < 20; ++k) repeats.push_back(bench.read(target));
    const auto* instrument = setting.workshop.find(test.instrument, test.unit);
    out.corrupted = out.right;
    auto& reading = std::get<model::Reading>(out.corrupted[out.event]);
    const std::string before = describe(v, reading);
    for (int k = 0; k < 50; ++k) {
      reading.value = false_value(*instrument, random);
      if (!differs(reading.value, repeats)) continue;
      out.text = before + " -> " + describe(v, reading) + (companion == target ? " (repeated)" : " (neighbour)");
      return out;
    }
  }
  throw InternalError("no reading could be corrupted");
}

bool named(const inference::Posterior& posterior, std::size_t event) {
  return posterior.mistaken(event) > k_mistaken || posterior.tail(event) < k_tail;
}

int check(const CheckOptions& options) {
  const Settings settings(options);
  const int jobs = options.jobs(k_jobs, 12);
  Resume resume(options.state, settings[0].fingerprint + " " + std::to_string(options.seed));
  std::vector<std::array<int, 4>> results(static_cast<std::size_t>(jobs));  // named, alarms, readings judged, others named
  for_each_job(jobs, options.threads, [&](int job, int thread) {
    const auto& setting = settings[thread];
    auto& result = results[static_cast<std::size_t>(job)];
    if (const auto* line = resume.find(job)) {
      std::istringstream(*line) >> result[0] >> result[1] >> result[2] >> result[3];
      return;
    }
    const auto drawn = draw_case(setting, job_seed(options.seed, job));
    const auto wrong = inference::update(setting.compiled, drawn.corrupted), right = inference::update(setting.compiled, drawn.right);
    result[0] = named(wrong, drawn.event) ? 1 : 0;
    for (std::size_t e = 1; e < drawn.right.size(); ++e) {
      ++result[2];
      if (named(right, e)) {
        ++result[1];
        std::printf("job %d: false alarm: %s, mistaken %.3f, tail %.2g\n", job,
                    describe(*setting.vehicle, std::get<model::Reading>(drawn.right[e])).c_str(), right.mistaken(e),
                    right.tail(e));
      }
      if (e != drawn.event && named(wrong, e)) ++result[3];
    }
    if (!result[0])
      std::printf("job %d: not named: %s, mistaken %.3f, tail %.2g\n", job, drawn.text.c_str(), wrong.mistaken(drawn.event),
                  wrong.tail(drawn.event));
    std::fflush(stdout);
    std::ostringstream line;
    line << result[0] << ' ' << result[1] << ' ' << result[2] << ' ' << result[3];
    resume.add(job, line.str());
  });
  int hits = 0, alarmed_jobs = 0, alarms = 0, judged = 0, others = 0;
  for (const auto& r : results) {
    hits += r[0];
    alarmed_jobs += r[1] > 0 ? 1 : 0;
    alarms += r[1];
    judged += r[2];
    others += r[3];
  }
  const double n = jobs, rate = hits / n, false_rate = alarmed_jobs / n;
  // A sample is allowed two standard errors of its own.
  const double slack = options.full() ? 0 : 2;
  const double named_bound = k_named - slack * std::sqrt(k_named * (1 - k_named) / n);
  const double alarm_bound = k_false_alarms + slack * std::sqrt(k_false_alarms * (1 - k_false_alarms) / n);
  std::printf("%d jobs: corrupted reading named in %.1f %% (bound %.1f %%); false alarms in %.1f %% of uncorrupted jobs "
              "(bound %.1f %%), %.2f %% of %d right readings; beside a corrupted one %.2f %% of the right readings named\n",
              jobs, 100 * rate, 100 * named_bound, 100 * false_rate, 100 * alarm_bound, 100.0 * alarms / judged, judged,
              100.0 * others / (judged - jobs));
  const bool good = rate >= named_bound && false_rate < alarm_bound;
  std::printf("%s\n", good ? "passed" : "FAILED");
  return good ? 0 : 1;
}

}  // namespace

int main(int argc, char** argv) { return run_check(argc, argv, "contradiction", check); }
