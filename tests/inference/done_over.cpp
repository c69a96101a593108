// A repair done over: what it left the first time it seldom mends the second.
#include "catch_all.hpp"
#include "inference/posterior.hpp"
#include "toy_vehicle.hpp"

using namespace lostspark;

TEST_CASE("a repair done over mends with a third of the success before", "[inference][oracle]") {
  // A repair that takes with 0.9, done over with 0.27, a third time with 0.081; enumeration by hand: the fault is there before, or nothing is.
  auto v = toy::make_vehicle();
  const auto mode = toy::add_mode(*v, "pin", 0.2);
  v->repairs[0].success = 0.9;
  toy::add_finding(*v, "look", {{mode, 0.7}});
  const auto compiled = inference::compile(v, toy::make_workshop());
  model::Evidence evidence;
  const auto found = [&](double left) {
    const auto posterior = inference::update(compiled, evidence);
    const double odds = 0.2 / 0.8;
    CHECK(posterior.component_probability()[0] == Approx(odds * left / (1 + odds)).epsilon(1e-9));
    return posterior.success(0);
  };
  CHECK(found(1) == Approx(0.9));
  evidence.push_back(model::Repaired{0});
  CHECK(found(0.1) == Approx(0.27));
  evidence.push_back(model::Repaired{0});
  CHECK(found(0.1 * 0.73) == Approx(0.081));
}
