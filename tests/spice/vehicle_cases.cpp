#include "spice/vehicle_cases.hpp"

#include <cstdlib>
#include <fstream>

#include "catch_all.hpp"
#include "sources/load.hpp"

namespace lostspark::spice {

std::vector<Comparison> compare_vehicle(const std::string& id, const std::vector<Case>& cases) {
  return compare(sources::load_vehicle(sources::default_folders(), id),
                 LOSTSPARK_SOURCE_DIR "/networks/" + id + ".toml", cases);
}

void check_bounds(const std::vector<Comparison>& comparisons, std::size_t least_pairs) {
  for (const auto& c : comparisons) {
    const auto broken = c.broken_bounds();
    std::string list;
    for (const auto& b : broken) list += b + "\n";
    INFO(c.what.title << "\n" << list);
    CHECK(broken.empty());
    CHECK(c.pairs.size() > least_pairs);
  }
}

void check_all(const std::string& id, std::vector<Case> usual, const std::vector<Case>& further,
               std::size_t least_pairs, const char* table_variable) {
  usual.insert(usual.end(), further.begin(), further.end());
  const auto all = compare_vehicle(id, usual);
  if (const char* file = std::getenv(table_variable)) {
    std::ofstream out(file);
    write_table(out, all);
    REQUIRE(out.good());
  }
  check_bounds(all, least_pairs);
}

}  // namespace lostspark::spice
