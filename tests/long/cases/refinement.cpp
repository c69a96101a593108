// Finer tables and another order of readings must not move an answer: ten jobs recorded on the trail bike.
#include <algorithm>
#include <cmath>
#include <random>

#include "catch_all.hpp"
#include "jobs.hpp"

using namespace lostspark;
using namespace lostspark::long_checks;

namespace {

constexpr int k_jobs = 10;
constexpr std::uint64_t k_seed = 20260102;

const Setting& setting() {
  static const Setting one = load_setting();
  return one;
}
const inference::CompiledPtr& compiled() { return setting().compiled; }
Recorded job(int k) { return recorded_job(setting(), job_seed(k_seed, k), 1 + k % 6, k % 2); }

double largest_difference(const inference::Posterior& a, const inference::Posterior& b) {
  double out = std::abs(a.nothing_wrong() - b.nothing_wrong());
  for (std::size_t c = 0; c < a.component_probability().size(); ++c)
    out = std::max(out, std::abs(a.component_probability()[c] - b.component_probability()[c]));
  return out;
}

}  // namespace

TEST_CASE("twice the severity cells and nodes move no component by more than 0.01", "[long][property]") {
  inference::Options finer;
  finer.severity_nodes = 2 * finer.severity_nodes - 1;
  finer.severity_cells *= 2;
  finer.pair_nodes *= 2;
  const auto fine = inference::compile(setting().vehicle, setting().workshop, finer);
  for (int k = 0; k < k_jobs; ++k) {
    const auto recorded = job(k);
    INFO("job " << k << ": " << recorded.text);
    CHECK(largest_difference(inference::update(compiled(), recorded.evidence),
                             inference::update(fine, recorded.evidence)) <= 0.01);
  }
}

TEST_CASE("the order of the readings changes no probability by more than 1e-6", "[long][property]") {
  std::mt19937_64 random(k_seed);
  for (int k = 0; k < k_jobs; ++k) {
    const auto recorded = job(k);
    INFO("job " << k << ": " << recorded.text);
    const auto first = inference::update(compiled(), recorded.evidence);
    for (int shuffle = 0; shuffle < 3; ++shuffle) {
      auto evidence = recorded.evidence;
      std::shuffle(evidence.begin(), evidence.end(), random);
      CHECK(largest_difference(first, inference::update(compiled(), evidence)) <= 1e-6);
    }
  }
}
