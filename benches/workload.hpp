// What the benches share: the demo vehicle, jobs recorded by a fixed seed, the machine they run on.
#pragma once

#include <cstdint>
#include <memory>
#include <string>
#include <vector>

#include "inference/posterior.hpp"
#include "model/evidence.hpp"
#include "model/instrument.hpp"
#include "model/vehicle.hpp"

namespace lostspark::benches {

inline constexpr const char* k_demo_vehicle = "quillmarsh_trail_125";
inline constexpr std::uint64_t k_seed = 20260101;

/// Plugins of this build, networks of this tree; the environment variables win.
[[nodiscard]] std::shared_ptr<const model::Vehicle> load_demo_vehicle();
[[nodiscard]] model::Workshop demo_workshop();

/// Sets the two folder variables for this process and its children, unless they are set.
void point_to_this_build();

/// Tests whose instrument the workshop owns: the ones a ranking is made over.
[[nodiscard]] std::vector<model::Index> offered_tests(const model::Vehicle& vehicle, const model::Workshop& workshop);

/// `count` jobs of the simulated bench: complaint no_spark, then 1 to 6 readings of offered tests drawn without
/// replacement, mistakes included. The last event is always the reading whose step is timed.
[[nodiscard]] std::vector<model::Evidence> recorded_jobs(const std::shared_ptr<const model::Vehicle>& vehicle,
                                                         const model::Workshop& workshop, int count,
                                                         std::uint64_t seed = k_seed);

[[nodiscard]] double median(std::vector<double> values);
/// Peak resident memory of this process so far, in MB (10^6 bytes).
[[nodiscard]] double peak_memory_mb();

/// Runs the registered benches after printing workload, machine, compiler, build type and seed into the context.
int run(int argc, char** argv, const std::string& workload);

}  // namespace lostspark::benches
