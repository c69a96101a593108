// Loads the library named on the command line as the host would, prints every problem found in it; 0 = sound.
#include <cstdio>
#include <exception>

#include "sources/load.hpp"

int main(int argc, char** argv) {
  if (argc != 2) {
    std::fprintf(stderr, "usage: check_outside_family LIBRARY\n");
    return 2;
  }
  try {
    const auto problems = lostspark::sources::check_family(argv[1]);
    for (const auto& problem : problems) std::printf("%s\n", problem.c_str());
    return problems.empty() ? 0 : 1;
  } catch (const std::exception& error) {
    std::fprintf(stderr, "%s\n", error.what());
    return 1;
  }
}
