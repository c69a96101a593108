// Closed jobs grouped and learned from SQLite: generated, streamed into a scratch store, 90 % confirmed, the rest
// spread over many patterns. Prints rows, time to count in the database, time to learn, and the largest memory the
// program took. Full size: bench_learning --jobs 10000000 (docs/learning.md). With --postgres the same table stands in
// a PostgreSQL server of its own (Debian's package), and the groups are counted there.
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <CLI/CLI.hpp>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <optional>
#include <random>
#include <stdexcept>
#include <string>
#include <vector>

#include "history/knowledge.hpp"
#include "history/store.hpp"
#include "job/shares.hpp"
#include "learning/pattern.hpp"
#ifdef LOSTSPARK_POSTGRES
#include "history/shared.hpp"
#include "postgres/test_server.hpp"
#endif

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
  // Rows go in as closing jobs would put them in, index and all; a large cache only makes it bearable.
  c.execute("PRAGMA cache_size = -4000000", "fill");
  std::optional<history::Transaction> transaction(std::in_place, c, "fill the bench's store");
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
    if (i % 1000000 == 0) {
      transaction->commit();
      transaction.emplace(c, "fill the bench's store");
    }
  }
  transaction->commit();
  c.execute("PRAGMA wal_checkpoint(TRUNCATE)", "fill");
}

/// Counts and learns, and says how long that took.
void measure(const history::CaseSource& cases, std::uint64_t seed) {
  auto start = std::chrono::steady_clock::now();
  double processor = processor_seconds();
  std::int64_t groups = 0, counted = 0;
  cases.each_pattern([&](const history::PatternCount& g) {
    ++groups;
    counted += g.jobs;
  });
  const double counting = seconds_since(start), counting_processor = processor_seconds() - processor;
  const double memory = megabytes();
  start = std::chrono::steady_clock::now();
  processor = processor_seconds();
  const auto learned = job::learn_shares(cases);
  const double learning = seconds_since(start);
  std::printf("jobs %lld, groups %lld, networks %zu, rounds %d, seed %llu\n", static_cast<long long>(counted),
              static_cast<long long>(groups), learned.networks.size(), learned.rounds,
              static_cast<unsigned long long>(seed));
  std::printf("counting %.2f s (processor %.2f s), counting and learning %.2f s (processor %.2f s)\n", counting,
              counting_processor, learning, processor_seconds() - processor);
  std::printf("largest memory %.0f MB, %.0f MB before learning\n", megabytes(), memory);
}

#ifdef LOSTSPARK_POSTGRES
/// Every row of this file sent to a server of its own, as a shop sends them, then counted there.
void measure_on_server(const std::string& path, std::uint64_t seed) {
  history::SharedOptions options;
  options.shop = "bench";
  const auto store = history::open_shared(history::testing::TestServer::shared().new_database(), path, options);
  auto& shared = *store->shared();
  const auto start = std::chrono::steady_clock::now();
  while (shared.waiting() > 0) {
    shared.send();
    if (!shared.trouble().empty()) throw std::runtime_error(shared.trouble());
  }
  std::printf("sending %.1f s (not part of it)\n", seconds_since(start));
  measure(shared, seed);
}
#endif

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
  bool postgres = false;
#ifdef LOSTSPARK_POSTGRES
  app.add_flag("--postgres", postgres, "count on a PostgreSQL server that is started for it");
#endif
  app.add_option("--folder", folder, "where the scratch store goes");
  CLI11_PARSE(app, argc, argv);
  const std::string path = folder + "/lostspark-bench-learning-" + std::to_string(::getpid()) + ".sqlite3";
  const auto filling = std::chrono::steady_clock::now();
  // In a process of its own: what filling takes in memory is not what counting takes.
  const pid_t filler = ::fork();
  if (filler == 0) {
    history::SqliteOptions options;
    options.synchronous_full = false;  // filling is not what is measured
    fill(*history::open_sqlite(path, options), jobs, patterns, seed);
    std::_Exit(0);
  }
  int status = 0;
  if (filler < 0 || ::waitpid(filler, &status, 0) != filler || status != 0) {
    std::fprintf(stderr, "bench_learning: the store %s could not be filled\n", path.c_str());
    return 1;
  }
  const double filled = seconds_since(filling);
  {
    const auto store = history::open_sqlite(path);
    std::printf("filling %.1f s (not part of it), memory %.0f MB, file %.0f MB\n", filled, megabytes(),
                static_cast<double>(std::filesystem::file_size(path)) / 1e6);
    if (!postgres) measure(store->knowledge(), seed);
  }
#ifdef LOSTSPARK_POSTGRES
  if (postgres) measure_on_server(path, seed);
#endif
  for (const char* ending : {"", "-wal", "-shm"}) std::filesystem::remove(path + ending);
  return 0;
}
