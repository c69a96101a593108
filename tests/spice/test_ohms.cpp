// What an ohmmeter finds, part for part: the circuit's own resistances against ngspice on decks of plain resistors, on a
// healthy vehicle of every family and with each fault of its loop (loop.cpp) at middle severity.
#include <cmath>

#include "catch_all.hpp"
#include "circuit/circuit.hpp"
#include "sources/load.hpp"
#include "spice/loop.hpp"

using namespace lostspark;
using model::Index;

namespace {

constexpr double k_no_meter_shows = 2e7;  // ohms: beyond it a meter is over its range, whatever the number

struct Asked {
  Index test;
  spice::Kick kick;
  spice::Measurement measurement;
};

void compare(const std::string& id) {
  const auto vehicle = sources::load_vehicle(sources::default_folders(), id);
  const spice::SpiceBench bench(vehicle, std::string(LOSTSPARK_SOURCE_DIR "/networks/") + id + ".toml", 1e-6);
  std::vector<spice::Kick> kicks(1);
  for (const auto& what : spice::loop_cases(id)) {
    if (what.kind != spice::LoopCase::Kind::faulty || what.draw > 0) continue;
    kicks.emplace_back();
    kicks.back().faults = {{*vehicle->find_mode(what.mode), 0.5}};
  }
  for (auto& kick : kicks) kick.log_shift.assign(vehicle->parameters.size(), 0.0);
  std::vector<Asked> asked;
  std::vector<std::string> decks;
  for (std::size_t t = 0; t < vehicle->tests.size(); ++t) {
    const auto& test = vehicle->tests[t];
    if (test.reads != model::Reads::ohms || test.provocation != model::Provocation::none || !bench.can_measure(test))
      continue;
    for (const auto& kick : kicks) {
      asked.push_back({static_cast<Index>(t), kick, bench.prepare({static_cast<Index>(t)}, kick)});
      decks.push_back(asked.back().measurement.deck);
    }
  }
  REQUIRE(asked.size() >= 2 * kicks.size());
  const auto runs = spice::run_decks(decks);
  circuit::Circuit circuit(vehicle);
  for (std::size_t k = 0; k < asked.size(); ++k) {
    const auto& a = asked[k];
    const double deck = bench.read(a.measurement, runs[k], 0).value;
    const double engine = circuit.resistance(a.test, a.kick.faults, a.kick.log_shift);
    INFO(id << " " << vehicle->tests[static_cast<std::size_t>(a.test)].id << " "
            << (a.kick.faults.empty() ? "healthy" : vehicle->modes[static_cast<std::size_t>(a.kick.faults[0].mode)].id)
            << ": deck " << deck << ", engine " << engine);
    if (deck > k_no_meter_shows) CHECK(engine > k_no_meter_shows);
    else CHECK(std::abs(engine - deck) <= 0.05 * deck + 0.02);  // 0.02: what leads and the deck's own ohm leave
  }
}

}  // namespace

TEST_CASE("an ohmmeter finds in the circuit what it finds in ngspice", "[spice][oracle]") {
  for (const char* id :
       {"quillmarsh_trail_125", "quillmarsh_road_250", "quillmarsh_utility_quad", "quillmarsh_walk_mower",
        "quillmarsh_points_mower", "quillmarsh_classic_twin", "quillmarsh_sport_600", "quillmarsh_outboard_twin",
        "quillmarsh_cruiser_750"})
    compare(id);
}
