#include "jags.hpp"

#include <unistd.h>

#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <sstream>
#include <stdexcept>

namespace lostspark::learning::testing {

namespace fs = std::filesystem;

bool have_jags() { return std::system("command -v jags >/dev/null 2>&1") == 0; }

std::map<std::string, Sampled> run_jags(const std::string& model, const std::string& data,
                                        const std::vector<std::string>& monitors, int draws) {
  const fs::path folder = fs::temp_directory_path() / ("lostspark-learning-jags-" + std::to_string(::getpid()));
  fs::remove_all(folder);
  fs::create_directories(folder);
  const auto write = [&](const char* name, const std::string& text) { std::ofstream(folder / name) << text; };
  write("model.bug", model);
  write("data.R", data);
  write("inits.R", "\".RNG.name\" <- \"base::Mersenne-Twister\"\n\".RNG.seed\" <- 20260101\n");
  std::string run =
      "model in \"model.bug\"\ndata in \"data.R\"\ncompile, nchains(1)\nparameters in \"inits.R\"\n"
      "initialize\nupdate 2000\n";
  for (const auto& m : monitors) run += "monitor " + m + "\n";
  run += "update " + std::to_string(draws) + "\ncoda *, stem(\"out\")\n";
  write("run.txt", run);
  const int code = std::system(("cd '" + folder.string() + "' && jags run.txt > log.txt 2>&1").c_str());
  std::ifstream index(folder / "outindex.txt"), chain(folder / "outchain1.txt");
  if (code != 0 || !index || !chain) {
    std::ostringstream log;
    log << std::ifstream(folder / "log.txt").rdbuf();
    throw std::runtime_error("jags failed in " + folder.string() + ": " + log.str());
  }
  std::map<std::string, Sampled> out;
  std::string name;
  std::size_t from = 0, to = 0;
  while (index >> name >> from >> to) {
    std::vector<double> values(to - from + 1);
    std::size_t iteration = 0;
    for (double& v : values) chain >> iteration >> v;
    Sampled s;
    const auto n = static_cast<double>(values.size());
    for (const double v : values) s.mean += v / n;
    for (const double v : values) s.sd += (v - s.mean) * (v - s.mean) / (n - 1);
    s.sd = std::sqrt(s.sd);
    constexpr std::size_t batches = 50;
    const std::size_t size = values.size() / batches;
    double between = 0;
    for (std::size_t b = 0; b < batches; ++b) {
      double mean = 0;
      for (std::size_t i = 0; i < size; ++i) mean += values[b * size + i] / static_cast<double>(size);
      between += (mean - s.mean) * (mean - s.mean) / (batches - 1);
    }
    s.error = std::sqrt(between / batches);
    out[name] = s;
  }
  fs::remove_all(folder);
  return out;
}

}  // namespace lostspark::learning::testing
