// The stages against circuit simulations: tests/data/accdi_decks.csv, own circuits run with ngspice 39.
#include <cmath>
#include <cstdio>

#include "catch_all.hpp"
#include "family_client.hpp"

using namespace lostspark::tests;

namespace {

/// Triggered, and more volts than the gap demands.
bool fires(const FamilyClient& c) {
  return c.outputs().at("fire.trigger_margin") >= 0 && c.outputs().at("fire.spark_margin") >= 0;
}

struct Compared {
  const char* column;  // of the data file
  double ours, theirs;
  [[nodiscard]] double percent() const { return 100 * (ours / theirs - 1); }
};

/// What the deck measured and this family states; quantities the deck has not are left out.
std::vector<Compared> compare(FamilyClient& c, const Deck& deck) {
  build_deck(c, deck);
  const auto& o = c.run(true);
  const bool sparks = fires(c);
  const auto& v = deck.value;
  const std::vector<Compared> all = {
      {"exciter_peak_volt", o.at("charge.source_volt"), v.at("exciter_peak_volt")},
      {"output_peak_volt", o.at("fire.coil_out_raw_volt"), v.at("output_peak_volt")},
      {"primary_peak_volt", o.at("fire.primary_raw_volt"), v.at("primary_peak_volt")},
      {"primary_current_ampere", o.at(sparks ? "fire.primary_current" : "fire.primary_current_open"),
       v.at("primary_current_ampere")},
      {"tower_peak_volt", o.at(sparks ? "fire.plug_volt_spark" : "fire.coil_reserve_volt"), v.at("tower_peak_volt")},
      {"reserve_volt", o.at("fire.coil_reserve_volt"), v.at("reserve_volt")}};
  std::vector<Compared> measured;
  for (const auto& one : all)
    if (std::isfinite(one.theirs)) measured.push_back(one);
  return measured;
}

bool is_dead(const Deck& deck) {  // no discharge at all: trigger below the threshold, or the coil's wire open
  return deck.value.at("gate_volt") < 0.7 || deck.value.at("joint_ohm") > 1e6;
}

}  // namespace

TEST_CASE("peaks, current and reserve of every simulated AC-CDI circuit come out within two percent",
          "[plugins][oracle]") {
  const auto decks = accdi_decks();
  REQUIRE(decks.size() == 21);
  std::printf("\n%-32s %9s %9s %9s %9s %9s %9s  percent off\n", "deck", "exciter", "output", "primary", "current",
              "tower", "reserve");
  for (const auto& deck : decks) {
    FamilyClient c;
    const auto measured = compare(c, deck);
    if (is_dead(deck)) {
      // Only the exciter is comparable; what leaks through is nothing beside the 200 V of a live circuit.
      CHECK(std::abs(measured[0].percent()) < 2);
      CHECK((c.outputs().at("fire.trigger_margin") < 0 || c.outputs().at("fire.primary_volt") < 2));
      continue;
    }
    std::printf("%-32s", deck.name.c_str());
    for (const auto& one : measured) {
      INFO(deck.name << ": " << one.column << " " << one.ours << ", simulated " << one.theirs);
      std::printf(" %+9.2f", one.percent());
      // Decks 03 and 15 hold 3 and 10 V on their capacitor: beside that the drop of the diodes, which falls with the
      // current and is held constant over a pulse here, is large. Their current is judged at 8 percent.
      const bool nearly_dead = deck.name == "accdi_03_kill_short" || deck.name == "accdi_15_cap_leaky_5k";
      const double allowed = nearly_dead && std::string(one.column) == "primary_current_ampere" ? 8 : 2;
      CHECK(std::abs(one.percent()) < allowed);
    }
    std::printf("\n");
  }
}

TEST_CASE("thirty circuits with drawn values, which nothing was set with in view, come out as close",
          "[plugins][oracle]") {
  const auto decks = accdi_decks("accdi_random_decks.csv");
  REQUIRE(decks.size() == 30);
  std::map<std::string, std::pair<double, std::string>> worst;
  for (const auto& deck : decks) {
    FamilyClient c;
    const auto measured = compare(c, deck);
    for (const auto& one : measured) {
      // Behind many kilohms of lead the tower stands higher while the spark burns than when the gap broke.
      const double burning = deck.value.at("plug_current_ampere") * deck.value.at("lead_ohm") + 1000;
      if (std::string(one.column) == "tower_peak_volt" && burning > deck.value.at("demand_volt")) continue;
      INFO(deck.name << ": " << one.column << " " << one.ours << ", simulated " << one.theirs << ", spark margin "
                     << c.outputs().at("fire.spark_margin"));
      // A spark that hardly breaks (margin under 0.15) dies early, and the current then rings to a higher crest than
      // while it burned: not followed by the transfer stage.
      const bool hardly = fires(c) && c.outputs().at("fire.spark_margin") < 0.15;
      CHECK(std::abs(one.percent()) < (hardly && std::string(one.column) == "primary_current_ampere" ? 12 : 2));
      if (std::abs(one.percent()) > std::abs(worst[one.column].first)) worst[one.column] = {one.percent(), deck.name};
    }
    const double theirs = deck.value.at("spark_second");
    INFO(deck.name << ": spark " << c.outputs().at("spark.spark_second") << " s, simulated " << theirs);
    CHECK(fires(c) == (theirs > 0));
    if (theirs > 0) CHECK(std::abs(c.outputs().at("spark.spark_second") - theirs) < std::max(0.15 * theirs, 5e-6));
  }
  std::printf("\nworst of thirty drawn circuits:");
  for (const auto& [column, one] : worst)
    std::printf(" %s %+.2f %% (%s)", column.c_str(), one.first, one.second.c_str());
  std::printf("\n");
}

TEST_CASE("every simulated AC-CDI circuit gets the same verdict: spark or no spark", "[plugins][oracle]") {
  for (const auto& deck : accdi_decks()) {
    FamilyClient c;
    build_deck(c, deck);
    c.run();
    INFO(deck.name << ", spark margin " << c.outputs().at("fire.spark_margin"));
    CHECK(fires(c) == (deck.value.at("spark_second") > 0));
  }
}

TEST_CASE("spark times of the report are within fifteen percent or five microseconds of the simulations",
          "[plugins][oracle]") {
  std::printf("\n%-32s %10s %10s %12s %12s\n", "deck", "spark us", "simulated", "current mA", "simulated");
  for (const auto& deck : accdi_decks()) {
    if (!(deck.value.at("spark_second") > 0)) continue;
    FamilyClient c;
    build_deck(c, deck);
    const auto& o = c.run(true);
    const double ours = o.at("spark.spark_second"), theirs = deck.value.at("spark_second");
    std::printf("%-32s %10.1f %10.1f %12.0f %12.0f\n", deck.name.c_str(), ours * 1e6, theirs * 1e6,
                o.at("spark.spark_ampere") * 1e3, deck.value.at("plug_current_ampere") * 1e3);
    INFO(deck.name << ": " << ours << " s, simulated " << theirs);
    CHECK(std::abs(ours - theirs) < std::max(0.15 * theirs, 5e-6));
  }
}

TEST_CASE("earth drops behind a two microsecond meter are within four percent of the simulations",
          "[plugins][oracle]") {
  // Four: the return of the secondary's current through the same earth (one percent) is left out of the model.
  std::printf("\n%-32s %10s %10s\n", "deck", "earth volt", "simulated");
  int seen = 0;
  for (const auto& deck : accdi_decks()) {
    const double theirs = deck.value.at("earth_drop_2us_volt");
    if (!std::isfinite(theirs)) continue;
    ++seen;
    FamilyClient c;
    build_deck(c, deck);
    c.parameter["meter_rise_second"] = 2e-6;
    const double ours = c.run().at("fire.coil_ground_volt");
    std::printf("%-32s %10.3f %10.3f\n", deck.name.c_str(), ours, theirs);
    CHECK(ours == Approx(theirs).epsilon(0.04));
  }
  CHECK(seen == 4);
}

TEST_CASE("a joint before the coil hides from an ideal meter and shows to a real one", "[plugins][oracle]") {
  // Three of the circuits run again in ngspice 39 with a single pole behind the probe (1k and 1 or 2 nF, buffered):
  // volts at the module's pin and at the coil's pin. Instantaneous peaks of the same circuits: 219, 218 and 214 at the
  // coil.
  struct Case {
    const char* deck;
    double rise, at_module, at_coil;
  };
  const std::vector<Case> cases = {
      {"accdi_01_healthy", 1e-6, 199.43, 199.09},         {"accdi_01_healthy", 2e-6, 180.34, 179.91},
      {"accdi_06_prim_conn_10ohm", 1e-6, 201.27, 154.83}, {"accdi_06_prim_conn_10ohm", 2e-6, 184.50, 128.22},
      {"accdi_07_prim_conn_100ohm", 1e-6, 209.88, 65.43}, {"accdi_07_prim_conn_100ohm", 2e-6, 203.47, 46.68}};
  for (const auto& one : cases)
    for (const auto& deck : accdi_decks()) {
      if (deck.name != one.deck) continue;
      FamilyClient c;
      build_deck(c, deck);
      c.parameter["meter_rise_second"] = one.rise;
      const auto& o = c.run();
      INFO(one.deck << ", rise " << one.rise);
      CHECK(o.at("fire.coil_out_volt") == Approx(one.at_module).epsilon(0.03));
      CHECK(o.at("fire.primary_volt") == Approx(one.at_coil).epsilon(0.03));
    }
}

TEST_CASE("an open coil circuit shows the exciter's positive peak at the output and charges nothing",
          "[plugins][oracle]") {
  for (const auto& deck : accdi_decks()) {
    if (deck.name != "accdi_08_prim_open") continue;
    FamilyClient c;
    build_deck(c, deck);
    const auto& o = c.run();
    CHECK(o.at("charge.coil_out_charging_volt") == Approx(deck.value.at("output_positive_volt")).epsilon(0.01));
    CHECK(o.at("charge.capacitor_volt") < 2);
    CHECK(o.at("fire.coil_out_volt") < 2);  // a meter set to negative peaks reads near zero
  }
}
