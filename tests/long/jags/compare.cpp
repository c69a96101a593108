// The posterior of a small vehicle against JAGS (Debian package `jags`), a general Gibbs sampler that knows nothing of this
// program: three faults, one with degrees, a source that all readings share, two numbers, a word of the spark, one number
// that is below the floor, mistakes. Returns 77 (skipped, said aloud) where the program jags is missing.
//
// The model is written here a second time, in JAGS' own language; JAGS samples fault set, severity and unknowns. Compared: the probability of each component, within four Monte Carlo standard errors (batch means)
// and 0.004 for the cells that stand for the severity.
#include <unistd.h>

#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <sstream>
#include <string>
#include <vector>

#include "inference/posterior.hpp"
#include "support/toy_vehicle.hpp"

using namespace lostspark;
using model::Index;

namespace {

constexpr double k_prior[3] = {0.06, 0.05, 0.08};
constexpr double k_numbers[2] = {92, 66};
constexpr int k_iterations = 150000, k_chains = 4, k_batches = 30;

/// weak: source x 0.45. leaking: gain x 0.9 .. 0.1. hungry: the plug needs 1.6 times as much.
struct Shop {
  std::shared_ptr<model::Vehicle> vehicle = toy::make_vehicle(0.25, 0.08, 0.2);
  model::Workshop workshop = toy::make_workshop(0.03);
  model::Evidence evidence;
  Shop() {
    using enum model::ChangeTarget;
    using model::Operation;
    toy::add_mode(*vehicle, "weak", k_prior[0], {{parameter, 0, Operation::scale, 0.45, 0.45}});
    toy::add_mode(*vehicle, "leaking", k_prior[1], {{parameter, 1, Operation::scale, 0.9, 0.1}});
    toy::add_mode(*vehicle, "hungry", k_prior[2], {{parameter, 2, Operation::scale, 1.6, 1.6}});
    // A second instrument that shows nothing below 80 volts.
    workshop.instruments.push_back({.id = "blunt", .title = "blunt meter", .kind = "blunt", .unit = "volt",
                                    .accuracy_log_sd = 0.05, .step = 0, .floor = 80, .range = 1000});
    const Index volts = toy::add_number(*vehicle, "volts", 0, 0.10, 0.03);
    const Index spark = toy::add_word(*vehicle, "spark", 0.03);
    const Index blunt = toy::add_number(*vehicle, "blunt", 0, 0.10, 0.03);
    vehicle->tests[static_cast<std::size_t>(blunt)].instrument = "blunt";
    for (double value : k_numbers) {
      model::Reading reading{.test = volts};
      reading.value.number = value;
      evidence.push_back(reading);
    }
    model::Reading word{.test = spark};
    word.value.kind = model::ValueKind::word;
    word.value.word = 0;
    evidence.push_back(word);
    model::Reading below{.test = blunt};
    below.value.kind = model::ValueKind::below_floor;
    evidence.push_back(below);
  }
};

void write(const std::filesystem::path& path, const std::string& text) { std::ofstream(path) << text; }

/// Each reading is a Bernoulli trial that succeeded, with its likelihood over a constant as probability (the "ones trick",
/// common practice). Three faults at once are left to the program's unexplored mass: they are no state of JAGS' either.
std::string model_text() {
  std::ostringstream out;
  out << R"(model {
  # one indicator for the fault set, so that the chain can pass from one explanation to another: none, 1, 2, 3, 12, 13, 23
  faults ~ dcat(odds)
  f1 <- equals(faults, 2) + equals(faults, 5) + equals(faults, 6)
  f2 <- equals(faults, 3) + equals(faults, 5) + equals(faults, 7)
  f3 <- equals(faults, 4) + equals(faults, 6) + equals(faults, 7)
  # severity: 95 % uniform on [0, 1], 5 % on the quarters of the range beyond
  tail ~ dcat(tail_share)
  inside ~ dunif(0, 1)
  s <- (tail == 1) * inside + (tail == 2) * (-0.25 * inside) + (tail == 3) * (1 + 0.25 * inside)
  strength ~ dnorm(0, 1)
  gain ~ dnorm(0, 1)
  demand ~ dnorm(0, 1)
  meter ~ dnorm(0, 1)
  blunt ~ dnorm(0, 1)
  y <- log(200) + 0.25 * strength + 0.08 * gain + f1 * log(0.45) + f2 * (log(0.9) + s * (log(0.1) - log(0.9)))
  margin <- y - log(80) - 0.2 * demand - f3 * log(1.6)
  for (k in 1:2) {
    right[k] <- exp(-0.5 * pow((log(volts[k]) - y - 0.03 * meter) / 0.10, 2)) / (0.10 * sqrt(2 * 3.14159265358979))
    p[k] <- (0.97 * right[k] + 0.03 * 0.5 / log(1000)) / 5
  }
  p[3] <- 0.97 * phi((-0.10 - margin) / 0.10) + 0.03 / 3
  p[4] <- 0.97 * phi((log(80) - y - 0.05 * blunt) / 0.10) + 0.03 * 0.45
  for (k in 1:4) { ones[k] ~ dbern(p[k]) }
}
)";
  return out.str();
}

struct Estimate {
  double mean = 0, error = 0;
};

/// Reads one node of a chain's index and chain files (CODA format).
Estimate estimate(const std::vector<double>& draws) {
  Estimate out;
  const std::size_t size = draws.size() / k_batches;
  std::vector<double> batch(k_batches, 0.0);
  for (std::size_t k = 0; k < size * k_batches; ++k) batch[k / size] += draws[k] / static_cast<double>(size);
  for (double b : batch) out.mean += b / k_batches;
  double variance = 0;
  for (double b : batch) variance += (b - out.mean) * (b - out.mean) / (k_batches - 1);
  out.error = std::sqrt(variance / k_batches);
  return out;
}

}  // namespace

int main() {
  namespace fs = std::filesystem;
  if (std::system("command -v jags >/dev/null 2>&1") != 0) {
    std::printf("skipped: the program jags is not installed (Debian package: jags)\n");
    return 77;
  }
  const Shop shop;
  const auto posterior = inference::update(inference::compile(shop.vehicle, shop.workshop), shop.evidence);

  const fs::path folder = fs::temp_directory_path() / ("lostspark-jags-" + std::to_string(::getpid()));
  fs::create_directories(folder);
  write(folder / "model.txt", model_text());
  std::ostringstream data;
  data << "volts <- c(" << k_numbers[0] << ", " << k_numbers[1]
       << ")\nones <- c(1, 1, 1, 1)\ntail_share <- c(0.95, 0.025, 0.025)\nodds <- c(1";
  double odds[3];
  for (int k = 0; k < 3; ++k) odds[k] = k_prior[k] / (1 - k_prior[k]);
  data << ", " << odds[0] << ", " << odds[1] << ", " << odds[2] << ", " << odds[0] * odds[1] << ", " << odds[0] * odds[2]
       << ", " << odds[1] * odds[2] << ")\n";
  write(folder / "data.txt", data.str());
  std::ostringstream script;
  script << "model in \"model.txt\"\ndata in \"data.txt\"\ncompile, nchains(" << k_chains << ")\n";
  for (int chain = 1; chain <= k_chains; ++chain) {
    std::ostringstream start;
    start << "\".RNG.name\" <- \"base::Mersenne-Twister\"\n\".RNG.seed\" <- " << 20260100 + chain
          << "\nfaults <- " << chain << "\n";
    const std::string name = "start" + std::to_string(chain) + ".txt";
    write(folder / name, start.str());
    script << "parameters in \"" << name << "\", chain(" << chain << ")\n";
  }
  script << "initialize\nupdate 2000\nmonitor f1\nmonitor f2\nmonitor f3\nupdate " << k_iterations << "\ncoda *\nexit\n";
  write(folder / "run.txt", script.str());
  const std::string command = "cd '" + folder.string() + "' && jags run.txt > log.txt 2>&1";
  if (std::system(command.c_str()) != 0 || !fs::exists(folder / "CODAchain1.txt")) {
    std::ifstream log(folder / "log.txt");
    std::ostringstream text;
    text << log.rdbuf();
    std::printf("jags failed; its folder is kept: %s\n%s\n", folder.c_str(), text.str().c_str());
    return 1;
  }
  std::vector<std::vector<double>> draws(3);
  for (int chain = 1; chain <= k_chains; ++chain) {
    std::ifstream in(folder / ("CODAchain" + std::to_string(chain) + ".txt"));
    double iteration = 0, value = 0;
    for (std::size_t k = 0; in >> iteration >> value; ++k) draws[k / k_iterations].push_back(value);
  }
  bool good = true;
  std::printf("%-10s %9s %9s %9s\n", "component", "program", "jags", "+-");
  for (std::size_t c = 0; c < 3; ++c) {
    if (draws[c].size() != static_cast<std::size_t>(k_iterations) * k_chains) {
      std::printf("jags wrote %zu draws; its folder is kept: %s\n", draws[c].size(), folder.c_str());
      return 1;
    }
    const auto e = estimate(draws[c]);
    const double ours = posterior.component_probability()[c];
    const bool close = std::abs(ours - e.mean) <= 4 * e.error + 0.004;
    std::printf("%-10s %9.4f %9.4f %9.4f%s\n", shop.vehicle->components[c].id.c_str(), ours, e.mean, e.error,
                close ? "" : "  too far apart");
    good = good && close && e.error < 0.01;
  }
  fs::remove_all(folder);
  std::printf("%s\n", good ? "passed" : "FAILED");
  return good ? 0 : 1;
}
