// The vehicle's elements sorted into zones for running scenes and for ohm tests; values are filled in per solution.
#pragma once

#include <memory>
#include <vector>

#include "circuit/circuit.hpp"
#include "circuit/zone.hpp"

namespace lostspark::circuit {

/// Every harness node leaks this much to earth, so that nothing floats: 200 Gohm, a thousandth of what an ohmmeter shows.
inline constexpr double k_leak_siemens = 5e-12;

/// One zone with its plan and scratch.
struct Zone {
  std::vector<Index> nodes;             ///< by local number
  std::vector<int> elements;            ///< vehicle elements with an end in this zone
  ZonePlan plan;
  std::vector<Index> terminals;         ///< nodes by terminal number (position - interior)
  bool sourced = false;                 ///< an element with EMF lies in it
  bool direct = false;                  ///< and none of its EMFs has a frequency: a battery behind the stages' terminals
  std::vector<double> admittance, shunt;  ///< what the factor stands for, to notice that nothing changed
  std::vector<double> diagonal, lower, volts;
  std::vector<double> source_key;         ///< EMFs, inductances and frequency behind the linear solution
  std::vector<double> whole_diagonal, whole_lower;  ///< direct zones: all nodes eliminated, for the linear solution
  std::vector<std::complex<double>> complex_diagonal, complex_lower, complex_volts, complex_admittance, complex_shunt;
};

/// Connected components (Boost.Graph is not needed for what a flood fill does) of the elements in `used`.
class Network {
 public:
  enum class Analysis { running, ohms };
  Network(const model::Vehicle& vehicle, Analysis analysis);

  std::vector<Zone> zones;
  std::vector<int> zone_of_node;        ///< -1 for earth
  std::vector<int> local_of_node;
};

/// Element and parameter values in force: scene effects and faults applied to the vehicle.
struct Values {
  std::vector<double> parameter;        ///< by parameter, SI
  std::vector<double> resistance;       ///< by element, ohm
  std::vector<double> shunt;            ///< by node, siemens to earth
};

/// Fills `values` for one scene. log_shift may be empty.
void apply(const model::Vehicle& vehicle, Index scene, std::span<const ActiveMode> faults,
           std::span<const double> log_shift, Values& values);

}  // namespace lostspark::circuit
