// What the tests against ngspice do with every vehicle: load it, compare case by case, check the bounds, write the
// table.
#pragma once

#include <string>
#include <vector>

#include "spice/comparison.hpp"

namespace lostspark::spice {

/// compare() on a vehicle that comes with the program.
[[nodiscard]] std::vector<Comparison> compare_vehicle(const std::string& id, const std::vector<Case>& cases);

/// Every bound kept, and more than `least_pairs` readings compared in each case.
void check_bounds(const std::vector<Comparison>& comparisons, std::size_t least_pairs);

/// The usual cases and the further ones together; where the environment variable names a file, the table goes there
/// first.
void check_all(const std::string& id, std::vector<Case> usual, const std::vector<Case>& further,
               std::size_t least_pairs, const char* table_variable);

}  // namespace lostspark::spice
