// Findings of many words (stored codes of an engine of several cylinders): up to the limit judged, beyond it refused.
#include "base/error.hpp"
#include "catch_all.hpp"
#include "inference/posterior.hpp"
#include "support/toy_vehicle.hpp"

using namespace lostspark;
using model::Index;

namespace {

/// One mode a word; each is seen nine times in ten.
std::shared_ptr<model::Vehicle> with_words(std::size_t count) {
  auto v = toy::make_vehicle(0);
  model::Test codes;
  codes.id = codes.kind = codes.title = "codes";
  codes.unit = "word";
  codes.reads = model::Reads::finding;
  codes.instrument = "eyes";
  codes.scene = 0;
  codes.words = {"none"};
  codes.mistaken = 0.02;
  for (std::size_t k = 1; k < count; ++k) {
    toy::add_mode(*v, "part_" + std::to_string(k), 0.01, {});
    codes.words.push_back("p" + std::to_string(k));
    codes.findings.push_back({static_cast<Index>(v->modes.size()) - 1, k, 0.9});
  }
  v->tests.push_back(codes);
  return v;
}

}  // namespace

TEST_CASE("a finding of thirty-two words names its fault, one of more is refused", "[inference][unit]") {
  const auto v = with_words(32);
  const auto compiled = inference::compile(v, toy::make_workshop());
  model::Reading reading;
  reading.test = static_cast<Index>(v->tests.size()) - 1;
  reading.value.kind = model::ValueKind::word;
  reading.value.word = 31;
  const auto posterior = inference::update(compiled, model::Evidence{reading});
  const auto named = static_cast<std::size_t>(v->modes.back().component);
  CHECK(posterior.component_probability()[named] > 0.8);
  CHECK_THROWS_AS(inference::compile(with_words(33), toy::make_workshop()), CapacityError);
}
