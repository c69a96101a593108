// The simulated bench against what inference predicts before any reading: two ways to the same distribution.
#include <cmath>

#include "catch_all.hpp"
#include "inference/posterior.hpp"
#include "simulation/bench.hpp"
#include "support/toy_vehicle.hpp"

using namespace lostspark;
using model::Index;

namespace {

struct Shop {
  std::shared_ptr<model::Vehicle> vehicle = toy::make_vehicle(0.25, 0.08, 0.3);
  model::Workshop workshop = toy::make_workshop(0.03);
  Index weak = toy::add_mode(*vehicle, "weak", 0.2,
                             {{model::ChangeTarget::parameter, 0, model::Operation::scale, 0.8, 0.1}});
  Index number = toy::add_number(*vehicle, "number", 0, 0.08, 0.05);
  Index word = toy::add_word(*vehicle, "word", 0.05);
  Index look = toy::add_finding(*vehicle, "look", {{weak, 0.7}}, 0.02, 0.03);
};

}  // namespace

TEST_CASE("what the bench shows over many vehicles is what inference predicts", "[simulation][property]") {
  Shop shop;
  shop.vehicle->parameters[0].event_log_sd = 0.12;
  inference::Options options;
  options.pairs = false;
  const auto posterior = inference::update(inference::compile(shop.vehicle, shop.workshop, options), {});
  simulation::Bench bench(shop.vehicle, shop.workshop, 11);
  const int vehicles = 20000;
  std::array<double, 3> words{};
  double found = 0, low = 0, high = 0, floor = 0;
  const auto band = posterior.predict(shop.number);
  for (int k = 0; k < vehicles; ++k) {
    bench.put(bench.draw());
    words[bench.read(shop.word).word] += 1.0 / vehicles;
    found += bench.read(shop.look).word == 1 ? 1.0 / vehicles : 0;
    const auto value = bench.read(shop.number);
    if (value.kind == model::ValueKind::below_floor) floor += 1.0 / vehicles;
    if (value.kind != model::ValueKind::number) continue;
    low += value.number < band.low ? 1.0 / vehicles : 0;
    high += value.number > band.high ? 1.0 / vehicles : 0;
  }
  // Bounds: four standard errors of 20,000 draws, and what 17 cells leave open.
  const auto word = posterior.predict(shop.word).word;
  for (std::size_t w = 0; w < 3; ++w) {
    INFO("word " << w);
    CHECK(words[w] == Approx(word[w]).margin(4 * std::sqrt(0.25 / vehicles) + 0.003));
  }
  CHECK(found == Approx(posterior.predict(shop.look).word[1]).margin(4 * std::sqrt(0.25 / vehicles)));
  CHECK(floor == Approx(band.below_floor).margin(0.01));
  CHECK(low == Approx(0.05).margin(0.012));
  CHECK(high == Approx(0.05).margin(0.012));
}

TEST_CASE("the same seed gives the same vehicle and readings", "[simulation][property]") {
  Shop shop;
  simulation::Bench a(shop.vehicle, shop.workshop, 5), b(shop.vehicle, shop.workshop, 5);
  a.put(a.draw());
  b.put(b.draw());
  for (int k = 0; k < 20; ++k) CHECK(a.read(shop.number).number == b.read(shop.number).number);
}

TEST_CASE("the right repair heals, another does not", "[simulation][unit]") {
  Shop shop;
  const auto other = toy::add_mode(*shop.vehicle, "other", 0.1);
  simulation::Bench bench(shop.vehicle, shop.workshop, 3);
  bench.put(bench.draw_with({shop.weak}));
  CHECK_FALSE(bench.repair(shop.vehicle->modes[other].repair));
  CHECK(bench.repair(shop.vehicle->modes[shop.weak].repair));
  CHECK(bench.healthy());
}

TEST_CASE("an intermittent fault keeps its state through a visit", "[simulation][unit]") {
  Shop shop;
  shop.vehicle->modes[shop.weak].visible = {0.5, 1, 1, 1, 1, 1};
  shop.vehicle->parameters[0].log_sd = shop.vehicle->parameters[1].log_sd = 0;
  simulation::BenchOptions options;
  options.mistakes = false;
  int changed = 0, showing = 0;
  for (std::uint64_t seed = 0; seed < 60; ++seed) {
    simulation::Bench bench(shop.vehicle, shop.workshop, seed, options);
    bench.put({.faults = {{shop.weak, 1.0}}, .log_shift = {}, .calibration = {}});
    const bool first = bench.read(shop.number).number < 100;
    showing += first;
    for (int k = 0; k < 5; ++k) changed += (bench.read(shop.number).number < 100) != first;
  }
  CHECK(changed == 0);
  CHECK(showing > 15);
  CHECK(showing < 45);
}
