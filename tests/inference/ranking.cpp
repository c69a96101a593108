// The quick ranking against the same mixture with every cell, branch and fine bins, on recorded jobs of the trail bike.
#include <cmath>
#include <map>
#include <set>

#include "catch_all.hpp"
#include "inference/observation.hpp"
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

// A look needs no physics: its gain follows from the fault sets and the table of findings by enumeration.
TEST_CASE("the gain of a look is what the fault sets and its findings give", "[inference][oracle]") {
  const auto folders = sources::default_folders();
  const auto vehicle = sources::load_vehicle(folders, "quillmarsh_trail_125");
  const auto compiled = inference::compile(vehicle, sources::default_workshop(folders));
  const auto& v = *vehicle;
  for (const char* told : {"no_spark", "no_revs", "dies_hot", "misfire_load"}) {
    const auto posterior = inference::update(compiled, {model::Complained{*v.find_complaint(told)}});
    for (const char* id : {"plug_look@spark_plug", "timing_mark", "fuel_at_plug", "look_and_tug@engine_strap"}) {
      const std::array<Index, 1> test{*v.find_test(id)};
      const auto& t = v.tests[static_cast<std::size_t>(test[0])];
      std::map<std::set<Index>, std::vector<double>> joint;  // by components at fault
      double mass = 0;
      for (const auto& set : posterior.fault_sets(0)) {
        std::set<Index> components;
        for (const Index mode : set.modes) components.insert(v.modes[static_cast<std::size_t>(mode)].component);
        auto& row = joint[components];
        row.resize(t.words.size());
        for (std::size_t w = 0; w < row.size(); ++w)
          row[w] += set.probability * ((1 - t.mistaken) * inference::finding_probability(t, w, set.modes) +
                                       t.mistaken / static_cast<double>(row.size()));
        mass += set.probability;
      }
      std::vector<double> words(t.words.size());
      for (const auto& [components, row] : joint)
        for (std::size_t w = 0; w < row.size(); ++w) words[w] += row[w] / mass;
      double bits = 0;
      for (const auto& [components, row] : joint) {
        double whole = 0;
        for (const double p : row) whole += p / mass;
        for (std::size_t w = 0; w < row.size(); ++w) bits += row[w] / mass * std::log2(row[w] / mass / (whole * words[w]));
      }
      INFO(told << ", " << id);
      // Fault sets too light to be predicted from are left out.
      CHECK(std::abs(posterior.gains(test)[0].gain_bits - bits) < 0.01 + 0.03 * bits);
    }
  }
}
