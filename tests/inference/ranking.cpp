// The quick ranking against the same mixture with every cell, branch and fine bins, on recorded jobs of the trail bike.
#include <cmath>

#include "catch_all.hpp"
#include "inference/posterior.hpp"
#include "simulation/bench.hpp"
#include "sources/load.hpp"

using namespace lostspark;
using model::Index;

TEST_CASE("leaving out and merging light cells moves no gain by more than a hundredth of a bit", "[inference][oracle]") {
  const auto folders = sources::default_folders();
  const auto vehicle = sources::load_vehicle(folders, "quillmarsh_trail_125");
  const auto workshop = sources::default_workshop(folders);
  inference::Options options;
  options.pairs = false;
  const auto compiled = inference::compile(vehicle, workshop, options);
  const auto complaint = *vehicle->find_complaint("no_spark");
  simulation::Bench bench(vehicle, workshop, 2026);
  std::vector<Index> tests;
  for (std::size_t t = 0; t < vehicle->tests.size(); ++t)
    if (workshop.find(vehicle->tests[t].instrument, vehicle->tests[t].is_word() ? "" : vehicle->tests[t].unit))
      tests.push_back(static_cast<Index>(t));
  REQUIRE(tests.size() > 100);
  double worst = 0;
  for (int job = 0; job < 4; ++job) {
    bench.put(bench.draw(complaint));
    model::Evidence evidence{model::Complained{complaint}};
    for (int step = 0; step < 3; ++step) {
      const auto posterior = inference::update(compiled, evidence);
      const auto quick = posterior.gains(tests), whole = posterior.gains(tests, true);
      Index best = tests[0];
      double most = -1;
      for (std::size_t k = 0; k < tests.size(); ++k) {
        worst = std::max(worst, std::abs(quick[k].gain_bits - whole[k].gain_bits));
        INFO("job " << job << " step " << step << " " << vehicle->tests[tests[k]].id);
        CHECK(std::abs(quick[k].gain_bits - whole[k].gain_bits) < 0.01);
        if (quick[k].gain_bits > most) {
          most = quick[k].gain_bits;
          best = tests[k];
        }
      }
      model::Reading reading{.test = best};
      reading.value = bench.read(best);
      reading.provocation = vehicle->tests[best].provocation;
      evidence.push_back(reading);
    }
  }
  WARN("largest difference " << worst << " bit");
}
