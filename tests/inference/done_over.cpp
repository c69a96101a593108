// A repair done over: another part mends as the first did, a part cleaned again seldom does.
#include "catch_all.hpp"
#include "inference/posterior.hpp"
#include "toy_vehicle.hpp"

using namespace lostspark;

namespace {

/// The repair is done over and over, the fault is looked for: what enumeration by hand leaves of it. `success` first to third time.
void check_done_over(model::RepairKind kind, model::ComponentKind of, const std::array<double, 3>& success) {
  auto v = toy::make_vehicle();
  const auto mode = toy::add_mode(*v, "pin", 0.2);
  v->repairs[0].success = 0.9;
  v->repairs[0].kind = kind;
  v->components[0].kind = of;
  toy::add_finding(*v, "look", {{mode, 0.7}});
  const auto compiled = inference::compile(v, toy::make_workshop());
  model::Evidence evidence;
  const double odds = 0.2 / 0.8;
  double left = 1;
  for (const double now : success) {
    const auto posterior = inference::update(compiled, evidence);
    CHECK(posterior.component_probability()[0] == Approx(odds * left / (1 + odds)).epsilon(1e-9));
    CHECK(posterior.success(0) == Approx(now));
    evidence.emplace_back(std::in_place_type<model::Repaired>, model::Repaired{0});
    left *= 1 - now;
  }
}

}  // namespace

TEST_CASE("a second new part, an adjustment and new terminals mend as the first; a part cleaned again with a third of it",
          "[inference][oracle]") {
  using enum model::RepairKind;
  using enum model::ComponentKind;
  check_done_over(replace, part, {0.9, 0.9, 0.9});
  check_done_over(adjust, part, {0.9, 0.9, 0.9});
  check_done_over(clean, connector, {0.9, 0.9, 0.9});
  check_done_over(clean, earth_point, {0.9, 0.9, 0.9});
  check_done_over(clean, part, {0.9, 0.27, 0.081});
}
