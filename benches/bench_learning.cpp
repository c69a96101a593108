// Closed jobs grouped and learned from SQLite: generated, streamed into a scratch store, 90 % confirmed, the rest
// spread over many patterns. Prints rows, time to count in the database, time to learn, and the largest memory the
// program took. Full size: bench_learning --jobs 10000000 (docs/learning.md).
#include <sys/resource.h>
#include <unistd.h>

#include <CLI/CLI.hpp>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <filesystem>
#include <random>
#include <string>
#include <vector>

#include "history/knowledge.hpp"
#include "history/store.hpp"
#include "job/shares.hpp"
#include "learning/pattern.hpp"

using namespace lostspark;

namespace {

constexpr int k_families = 5, k_networks = 20, k_classes = 40;

double seconds_since(std::chrono::steady_clock::time_point start) {
  return std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
}

/// Processor time of this program: what counts on a machine that does other things too.
double processor_seconds() {
  rusage usage{};
  getrusage(RUSAGE_SELF, &usage);
  const auto of = [](const timeval& t) {
    return static_cast<double>(t.tv_sec) + 1e-6 * static_cast<double>(t.tv_usec);
  };
  return of(usage.ru_utime) + of(usage.ru_stime);
}

double megabytes() {
  rusage usage{};
  getrusage(RUSAGE_SELF, &usage);
  return static_cast<double>(usage.ru_maxrss) / 1024;
}

std::string class_name(int c) { return "class" + std::to_string(c / 10) + ".way" + std::to_string(c % 10); }

/// Patterns that leave a doubt between three to eight classes.
std::vector<std::string> doubts(std::mt19937_64& random, int count) {
  std::vector<std::string> out;
  for (int i = 0; i < count; ++i) {
    std::vector<learning::PatternEntry> entries;
    for (int k = 0, n = 3 + static_cast<int>(random() % 6); k < n; ++k)
      entries.push_back(
          {{class_name(static_cast<int>(random() % k_classes))}, std::exp2(-static_cast<double>(random() % 8))});
    out.push_back(learning::pattern_text(std::move(entries)));
  }
  return out;
}

void fill(history::Store& store, std::int64_t jobs, int patterns, std::uint64_t seed) {
  std::mt19937_64 random(seed);
  const auto unsure = doubts(random, patterns);
  const auto& c = store.knowledge().connection();
  std::vector<history::ClassOdds> odds;
  std::vector<std::discrete_distribution<int>> truth;
  for (int n = 0; n < k_families * k_networks; ++n) {
    std::vector<double> shares;
    for (int k = 0; k < k_classes; ++k) {
      shares.push_back(0.2 + static_cast<double>(random() % 1000) / 200);
      odds.push_back({"network" + std::to_string(n), "family" + std::to_string(n / k_networks), class_name(k), 0.002});
    }
    truth.emplace_back(shares.begin(), shares.end());
  }
  history::Case first;
  first.job = "first";
  first.family = "family0";
  first.vehicle = "network0";
  first.pattern = class_name(0) + ":0";
  store.knowledge().put_case(first, odds);
  history::Transaction transaction(c, "fill the bench's store");
  history::Statement insert(c,
                            "INSERT INTO cases (shop, job, family, vehicle, pattern, confirmed, faults, for_nothing, "
                            "closed_at, entries) VALUES ('', ?1, ?2, ?3, ?4, ?5, '', '', '', 1)",
                            "fill");
  char job[24];
  for (std::int64_t i = 1; i < jobs; ++i) {
    const int n = static_cast<int>(random() % (k_families * k_networks));
    const bool sure = random() % 10 != 0;
    const std::string pattern =
        sure ? class_name(truth[static_cast<std::size_t>(n)](random)) + ":0" : unsure[random() % unsure.size()];
    std::snprintf(job, sizeof job, "J%09lld", static_cast<long long>(i));
    const std::string family = "family" + std::to_string(n / k_networks), network = "network" + std::to_string(n);
    history::Statement::Run(insert, "fill")
        .bind(1, std::string_view(job))
        .bind(2, family)
        .bind(3, network)
        .bind(4, pattern)
        .bind(5, std::string_view(sure ? "seen" : ""))
        .finish();
  }
  transaction.commit();
}

}  // namespace

int main(int argc, char** argv) {
  std::int64_t jobs = 100000;
  int patterns = 20000;
  std::uint64_t seed = 1;
  std::string folder = std::filesystem::temp_directory_path().string();
  CLI::App app{"closed jobs grouped and learned from SQLite"};
  app.add_option("--jobs", jobs, "closed jobs (100000)");
  app.add_option("--patterns", patterns, "different patterns among the jobs that are not confirmed (20000)");
  app.add_option("--seed", seed, "(1)");
  app.add_option("--folder", folder, "where the scratch store goes");
  CLI11_PARSE(app, argc, argv);
  const std::string path = folder + "/lostspark-bench-learning-" + std::to_string(::getpid()) + ".sqlite3";
  {
    history::SqliteOptions options;
    options.synchronous_full = false;  // filling is not what is measured
    const auto store = history::open_sqlite(path, options);
    const auto filling = std::chrono::steady_clock::now();
    fill(*store, jobs, patterns, seed);
    const double filled = seconds_since(filling);
    auto start = std::chrono::steady_clock::now();
    double processor = processor_seconds();
    std::int64_t groups = 0, counted = 0;
    store->knowledge().each_pattern([&](const history::PatternCount& g) {
      ++groups;
      counted += g.jobs;
    });
    const double counting = seconds_since(start), counting_processor = processor_seconds() - processor;
    start = std::chrono::steady_clock::now();
    processor = processor_seconds();
    const auto learned = job::learn_shares(store->knowledge());
    const double learning = seconds_since(start);
    std::printf("jobs %lld, groups %lld, networks %zu, rounds %d, seed %llu\n", static_cast<long long>(counted),
                static_cast<long long>(groups), learned.networks.size(), learned.rounds,
                static_cast<unsigned long long>(seed));
    std::printf("filling %.1f s (not part of it), memory %.0f MB, file %.0f MB\n", filled, megabytes(),
                static_cast<double>(std::filesystem::file_size(path)) / 1e6);
    std::printf("counting %.2f s (processor %.2f s), counting and learning %.2f s (processor %.2f s)\n", counting,
                counting_processor, learning, processor_seconds() - processor);
  }
  for (const char* ending : {"", "-wal", "-shm"}) std::filesystem::remove(path + ending);
  return 0;
}
