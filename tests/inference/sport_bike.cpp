// Four cylinders on the real family: what a misfire on one of them says of what all share, and what trading places tells.
#include <map>

#include "catch_all.hpp"
#include "inference/posterior.hpp"
#include "sources/load.hpp"

using namespace lostspark;
using model::Index;

namespace {

/// The bike, compiled once, and a job on it.
class Sport {
 public:
  Sport() : vehicle_(sources::load_vehicle(sources::default_folders(), "quillmarsh_sport_600")) {
    static const auto compiled = inference::compile(vehicle_, sources::default_workshop(sources::default_folders()));
    compiled_ = compiled;
  }
  void complain(const std::string& id) {
    for (std::size_t k = 0; k < vehicle_->complaints.size(); ++k)
      if (vehicle_->complaints[k].id == id) evidence_.emplace_back(model::Complained{static_cast<Index>(k)});
  }
  void read(const std::string& id, std::size_t word) {
    for (std::size_t t = 0; t < vehicle_->tests.size(); ++t) {
      if (vehicle_->tests[t].id != id) continue;
      model::Reading reading;
      reading.test = static_cast<Index>(t);
      reading.value.kind = model::ValueKind::word;
      reading.value.word = word;
      evidence_.emplace_back(reading);
      return;
    }
    FAIL("no test " << id);
  }
  /// One cylinder none, the others steady.
  void firing(int dead, const std::string& setup = "") {
    for (int n = 1; n <= 4; ++n) read("firing_" + std::to_string(n) + setup, n == dead ? 0 : 2);
  }
  /// Probability that any of these components is at fault, added up.
  [[nodiscard]] double of(const std::vector<std::string>& components) const {
    const auto posterior = inference::update(compiled_, evidence_);
    double sum = 0;
    for (std::size_t c = 0; c < vehicle_->components.size(); ++c)
      for (const auto& id : components)
        if (vehicle_->components[c].id == id) sum += posterior.component_probability()[c];
    return sum;
  }

 private:
  std::shared_ptr<const model::Vehicle> vehicle_;
  inference::CompiledPtr compiled_;
  model::Evidence evidence_;
};

const std::vector<std::string> k_shared{"battery",   "battery_plus_post", "battery_minus_post", "main_relay",  "coil_fuse",
                                        "main_fuse", "coil_splice",       "unit_earth",         "crank_sensor", "key_switch"};

}  // namespace

TEST_CASE("a misfire on one cylinder acquits what all cylinders share", "[inference][oracle]") {
  Sport job;
  job.complain("misfire_revs");
  const double before = job.of(k_shared);
  CHECK(before > 0.08);
  job.firing(2);
  job.read("firing_2", 0);  // felt once more after another start
  const double after = job.of(k_shared);
  INFO(before << " before, " << after << " after");
  CHECK(after < before / 3);
  CHECK(job.of({"spark_plug_2", "ignition_coil_2", "boot_2", "plug_well_2", "coil_2_connector"}) > 0.6);
  CHECK(job.of({"spark_plug_1", "ignition_coil_1", "spark_plug_3", "ignition_coil_3"}) < 0.15);
}

TEST_CASE("coils that trade places tell a coil from its plug, and both from wire and driver", "[inference][oracle]") {
  const std::vector<std::string> coil{"ignition_coil_2", "boot_2"}, plug{"spark_plug_2"},
      stays{"control_unit", "coil_2_connector", "driver_wire_2_lead", "plug_well_2", "coil_2_feed_wire"};
  SECTION("the misfire moves with the coil") {
    Sport job;
    job.complain("one_cylinder_dead");
    job.firing(2);
    const double before = job.of(coil);
    job.firing(1, "+coils_exchanged");
    CHECK(job.of(coil) > 0.65);
    CHECK(job.of(coil) > 2 * before);
    CHECK(job.of(plug) < 0.1);
  }
  SECTION("it stays: the coil is sound") {
    Sport job;
    job.complain("one_cylinder_dead");
    job.firing(2);
    job.firing(2, "+coils_exchanged");
    CHECK(job.of(coil) < 0.1);
    CHECK(job.of(plug) > 0.3);
  }
  SECTION("coils and plugs at one opening: it turns up where the plug went") {
    Sport job;
    job.complain("one_cylinder_dead");
    job.firing(2);
    job.firing(4, "+coils_and_plugs_exchanged");
    CHECK(job.of(plug) > 0.75);
    CHECK(job.of(coil) < 0.1);
  }
  SECTION("coils and plugs at one opening: it stays") {
    Sport job;
    job.complain("one_cylinder_dead");
    job.firing(2);
    const double before = job.of(stays);
    job.firing(2, "+coils_and_plugs_exchanged");
    CHECK(job.of(stays) > 0.6);
    CHECK(job.of(stays) > 2 * before);
  }
}
