// The lostspark program; everything it does is in the library beside this file.
#include <csignal>
#include <iostream>
#include <string>
#include <vector>

#include "faces/cli/run.hpp"

int main(int argc, char** argv) {
  // A reader that goes away (head, a closed terminal) ends a write with an error, not the program in mid-job.
  std::signal(SIGPIPE, SIG_IGN);
  const std::vector<std::string> arguments(argv + (argc > 0 ? 1 : 0), argv + argc);
  return lostspark::faces::run(arguments, std::cin, std::cout, std::cerr);
}
