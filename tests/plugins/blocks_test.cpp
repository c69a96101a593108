// Blocks against textbook numbers. P5, P9, P12: published or derived values of ignition and winding physics, from
// memory and from public pages; each is named beside its check.
#include <cmath>

#include "blocks/charge_stage.hpp"
#include "blocks/dense.hpp"
#include "blocks/discharge_stage.hpp"
#include "blocks/laws.hpp"
#include "catch_all.hpp"
#include "family_client.hpp"

using namespace lostspark::blocks;

TEST_CASE("capacitor energy and leakage are those of the textbook", "[plugins][oracle]") {
  CHECK(capacitor_energy(1e-6, 300) == Approx(45.0e-3));
  CHECK(capacitor_energy(0.47e-6, 350) == Approx(28.7875e-3));
  CHECK(capacitor_energy(2.2e-6, 250) == Approx(68.75e-3));
  CHECK(leaked_volt(300, 1e6, 1e-6, 20e-3) == Approx(294.0596));
  CHECK(leaked_volt(300, 1e6, 1e-6, 1.791759) == Approx(50.0).epsilon(1e-5));
}

TEST_CASE("a lossless discharge comes near the two-capacitor limit and never over it", "[plugins][oracle]") {
  // V2 = 2 n V C1 / (C1 + n^2 C2), 300 V, 1 uF, 60 pF: 26.087 kV at n 50, 37.5 at 100, 38.298 at 150.
  CHECK(two_capacitor_limit(300, 50, 1e-6, 60e-12) == Approx(26086.957));
  CHECK(two_capacitor_limit(300, 100, 1e-6, 60e-12) == Approx(37500));
  CHECK(two_capacitor_limit(300, 150, 1e-6, 60e-12) == Approx(38297.872));
  lostspark::tests::HarnessMatrix harness;
  harness.join("ground", "earth", 1e-6);
  harness.join("out", "primary", 1e-6);
  harness.join("coil_ground", "earth", 1e-6);
  const auto packed = harness.packed({"ground", "out", "primary", "coil_ground"});
  DischargeSettings lossless;
  lossless.switch_ohm = 1e-4;
  lossless.core_ohm = 1e12;
  lossless.secondary_farad = 40e-12;
  DischargeInputs in;
  in.primary_ohm = 1e-4;
  in.secondary_ohm = 1;
  in.lead_ohm = 1;
  in.coupling = 0.995;  // the limit leaves out the magnetising current: a tight coil comes within a few percent
  in.harness = packed.data();
  for (double turns : {50.0, 100.0, 150.0}) {
    in.turns = turns;
    const double reached = 300 * discharge(lossless, in).plug, limit = two_capacitor_limit(300, turns, 1e-6, 60e-12);
    INFO(turns << " turns: " << reached << " of " << limit);
    CHECK(reached < limit);
    CHECK(reached > 0.95 * limit);
  }
}

TEST_CASE("an unloaded exciter is in proportion to speed and shows its EMF", "[plugins][oracle]") {
  // P9: EMF in proportion to speed; 0.5 V at 60 rpm is 2.5 at 300, 25 at 3000.
  CHECK(emf_at_speed(0.5, 300, 60) == Approx(2.5));
  CHECK(emf_at_speed(0.5, 3000, 60) == Approx(25.0));
  lostspark::tests::HarnessMatrix harness;
  harness.join("foot", "earth", 1e-6);
  harness.join("ground", "earth", 1e-6);
  const auto packed = harness.packed({"hot", "foot", "source", "ground", "out", "primary", "coil_ground"});
  ChargeInputs in;
  in.harness = packed.data();
  for (double rpm : {100.0, 500.0, 3000.0}) {
    in.speed_rpm = rpm;
    CHECK(charge({}, in).hot_volt == Approx(220 * rpm / 500).epsilon(1e-5));
  }
}

TEST_CASE("copper windings follow the published temperature coefficient", "[plugins][oracle]") {
  CHECK(copper_ohm(0.1, 50) == Approx(0.11179).epsilon(1e-4));
  CHECK(copper_ohm(1.21, 75) == Approx(1.472).epsilon(1e-3));
  CHECK(copper_ohm(0.5, 100) == Approx(0.6572));
  CHECK(copper_ohm(0.5, -20) == Approx(0.4214));
  CHECK(copper_ohm(10e3, 100) == Approx(13144));
}

TEST_CASE("a charged capacitor never holds more than was put in", "[plugins][property]") {
  // Sum of all half-waves: at most the EMF's peak plus what the winding's inductance swings beyond it, 10 percent here.
  lostspark::tests::HarnessMatrix harness;
  harness.join("hot", "source", 5e-3);
  for (const char* node : {"foot", "ground", "coil_ground"}) harness.join(node, "earth", 5e-3);
  harness.join("out", "primary", 5e-3);
  const auto packed = harness.packed({"hot", "foot", "source", "ground", "out", "primary", "coil_ground"});
  ChargeInputs in;
  in.harness = packed.data();
  for (double emf : {5.0, 60.0, 220.0, 300.0}) {
    in.emf_volt = emf;
    const auto out = charge({}, in);
    CHECK(out.capacitor_volt < 1.1 * emf);
    CHECK(out.capacitor_volt > 0.8 * emf);
    CHECK(out.capacitor_volt < out.source_volt);
  }
}

TEST_CASE("the limiter holds the capacitor however fast the engine turns", "[plugins][property]") {
  lostspark::tests::HarnessMatrix harness;
  harness.join("hot", "source", 5e-3);
  for (const char* node : {"foot", "ground", "coil_ground"}) harness.join(node, "earth", 5e-3);
  harness.join("out", "primary", 5e-3);
  const auto packed = harness.packed({"hot", "foot", "source", "ground", "out", "primary", "coil_ground"});
  ChargeInputs in;
  in.harness = packed.data();
  for (double rpm : {1500.0, 4000.0, 9000.0}) {
    in.speed_rpm = rpm;
    CHECK(charge({}, in).capacitor_volt == Approx(330).epsilon(0.02));
  }
}

TEST_CASE("matrix exponentials agree with closed forms, stiff ones too", "[plugins][unit]") {
  const Matrix<2> turn{{{0, -3}, {3, 0}}};
  const auto by_series = exponential(turn);
  const auto closed = Exponential2(turn).at(1);
  CHECK(by_series[0][0] == Approx(std::cos(3.0)).epsilon(1e-7));
  CHECK(by_series[1][0] == Approx(std::sin(3.0)).epsilon(1e-7));
  CHECK(closed[0][1] == Approx(-std::sin(3.0)).epsilon(1e-12));
  const Matrix<2> stiff{{{-1e9, 2e3}, {1e-3, -5}}};
  const auto decayed = Exponential2(stiff).at(0.1);
  CHECK(decayed[1][1] == Approx(std::exp(-0.5)).epsilon(1e-6));
  CHECK(std::abs(decayed[0][0]) < 1e-12);
  const Matrix<2> twin{{{-2, 1}, {0, -2}}};  // equal eigenvalues
  CHECK(Exponential2(twin).at(0.5)[0][1] == Approx(0.5 * std::exp(-1.0)));
  const Matrix<3> rates{{{-400, 0, 0}, {100, -7, 0}, {0, 0, -0.1}}};
  const auto e = exponential(rates);
  CHECK(e[1][1] == Approx(std::exp(-7.0)).epsilon(1e-7));
  CHECK(e[1][0] == Approx(100 * (std::exp(-7.0) - std::exp(-400.0)) / 393).epsilon(1e-7));
  CHECK(e[2][2] == Approx(std::exp(-0.1)).epsilon(1e-9));
}

TEST_CASE("soft limits meet their hard ones away from the corner", "[plugins][unit]") {
  CHECK(lesser(20e3, 60e3) == Approx(20e3).epsilon(1e-3));
  CHECK(lesser(60e3, 20e3) == lesser(20e3, 60e3));
  CHECK(lesser(10, 10) == Approx(10 / std::pow(2.0, 0.125)));
  CHECK(remainder_above(20e3, 5e3) == Approx(15e3).epsilon(0.001));
  CHECK(remainder_above(20e3, 20e3) == Approx(200));
  CHECK(remainder_above(20e3, 60e3) > 0);
  CHECK(remainder_above(20e3, 60e3) < 5);
  CHECK(junction_drop(220, 10) == Approx(1.1).epsilon(0.05));
  CHECK(0.1 - junction_drop(0.1, 10) > 0);
  CHECK(junction_drop(0, 10) == 0);
}

TEST_CASE("the symmetric solver meets its equations", "[plugins][unit]") {
  const Matrix<3> a{{{4, -1, -0.5}, {-1, 3, -1}, {-0.5, -1, 5}}};
  Matrix<3> work = a;
  std::array<Vector<2>, 3> x{{{1, 0}, {2, -1}, {3, 4}}};
  const auto b = x;
  solve_symmetric(work, x);
  for (std::size_t i = 0; i < 3; ++i)
    for (std::size_t r = 0; r < 2; ++r) {
      double sum = 0;
      for (std::size_t j = 0; j < 3; ++j) sum += a[i][j] * x[j][r];
      CHECK(sum == Approx(b[i][r]));
    }
}
