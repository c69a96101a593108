// Fault shares: Dirichlet updates, patterns, expectation-maximisation, intervals on simulated shops.
#include "learning/shares.hpp"

#include <algorithm>
#include <cmath>
#include <random>
#include <utility>

#include "catch_all.hpp"
#include "jags.hpp"
#include "learning/dirichlet.hpp"
#include "learning/pattern.hpp"

using namespace lostspark::learning;
namespace jt = lostspark::learning::testing;

namespace {

Concentration exactly(double k) { return {{k}, {1}}; }

NetworkCases network(const std::string& name, const std::vector<double>& shares, const std::string& family = "family") {
  NetworkCases out;
  out.family = family;
  out.network = name;
  for (std::size_t c = 0; c < shares.size(); ++c) {
    out.classes.push_back(std::string("c") + static_cast<char>('a' + static_cast<int>(c)));
    out.odds.push_back(0.08 * shares[c]);
  }
  return out;
}

std::string sure(std::size_t c) { return std::string("c") + static_cast<char>('a' + static_cast<int>(c)) + ":0"; }

std::vector<double> draw_shares(std::mt19937_64& random, const std::vector<double>& centre, double k) {
  std::vector<double> out;
  double sum = 0;
  for (const double c : centre) {
    out.push_back(std::gamma_distribution<double>(k * c, 1)(random) + 1e-12);
    sum += out.back();
  }
  for (double& s : out) s /= sum;
  return out;
}

std::size_t draw(std::mt19937_64& random, const std::vector<double>& shares) {
  return std::discrete_distribution<std::size_t>(shares.begin(), shares.end())(random);
}

/// Simulated shops, each with a family of four networks; true shares differ from the files by an unknown concentration;
/// one job in ten is not confirmed and only narrows the fault down to three classes. How many intervals of classes with
/// at least 50 faults hold the truth, and how many such classes there are.
std::pair<int, int> intervals_that_hold(int shops, std::uint64_t seed) {
  std::mt19937_64 random(seed);
  const std::vector<double> file{0.25, 0.2, 0.15, 0.12, 0.1, 0.08, 0.06, 0.04};
  int held = 0, asked = 0;
  for (int shop = 0; shop < shops; ++shop) {
    const double k_family = std::exp2(3 + static_cast<int>(random() % 6)),
                 k_network = std::exp2(3 + static_cast<int>(random() % 6));
    const auto family = draw_shares(random, file, k_family);
    std::vector<NetworkCases> all;
    std::vector<std::vector<double>> truth;
    for (int n = 0; n < 4; ++n) {
      all.push_back(network("n" + std::to_string(n), file));
      truth.push_back(draw_shares(random, family, k_network));
      const int jobs = 100 << static_cast<int>(random() % 4);
      std::vector<int> counts(file.size(), 0);
      for (int job = 0; job < jobs; ++job) {
        const auto c = draw(random, truth.back());
        if (random() % 10 != 0) {
          ++counts[c];
          continue;
        }
        const auto group = c / 3 * 3;
        std::string pattern;
        for (std::size_t g = group; g < std::min(group + 3, file.size()); ++g)
          pattern += (g > group ? " " : "") + sure(g);
        all.back().add(pattern, 1);
      }
      for (std::size_t c = 0; c < counts.size(); ++c)
        if (counts[c] > 0) all.back().add(sure(c), counts[c]);
    }
    const auto learned = learn_shares(all);
    for (std::size_t n = 0; n < all.size(); ++n)
      for (std::size_t c = 0; c < file.size(); ++c) {
        const auto& share = learned.networks[n].classes[c];
        if (share.count < 50) continue;
        ++asked;
        held += truth[n][c] >= share.low && truth[n][c] <= share.high;
      }
  }
  return {held, asked};
}

}  // namespace

TEST_CASE("Dirichlet (2, 1, 1) with counts (5, 0, 3) has means 7/12, 1/12, 4/12", "[learning][unit]") {
  const double counts[3] = {5, 0, 3}, centre[3] = {0.5, 0.25, 0.25};
  for (int c = 0; c < 3; ++c) {
    const auto e = estimate_share(exactly(4), centre[c], 1e12, counts[c], 8, 1);
    CHECK(e.mean == Approx((4 * centre[c] + counts[c]) / 12));
    CHECK(e.low > 0);
    CHECK(e.low < e.mean);
    CHECK(e.high > e.mean);
  }
}

TEST_CASE("shares and their spread with an unknown concentration agree with JAGS", "[learning][oracle]") {
  if (!jt::have_jags()) {
    WARN("skipped: the program jags is not installed (Debian package: jags)");
    SUCCEED();
    return;
  }
  // The same grid of concentrations as a categorical variable, so that both have one prior.
  Concentration k = any_concentration();
  const std::vector<double> counts{40, 3, 12, 1}, centre{0.3, 0.3, 0.3, 0.1};
  std::string values = "k <- c(", weights = "w <- c(";
  for (std::size_t i = 0; i < k.value.size(); ++i) {
    values += (i > 0 ? ", " : "") + std::to_string(k.value[i]);
    weights += i > 0 ? ", 1" : "1";
  }
  const auto jags = jt::run_jags(
      "model {\n  which ~ dcat(w)\n  for (c in 1:4) { a[c] <- k[which] * centre[c] }\n  p ~ ddirch(a)\n"
      "  x ~ dmulti(p, 56)\n}\n",
      values + ")\n" + weights + ")\nx <- c(40, 3, 12, 1)\ncentre <- c(0.3, 0.3, 0.3, 0.1)\n", {"p"}, 200000);
  weigh(k, counts, centre);
  for (std::size_t c = 0; c < 4; ++c) {
    const auto e = estimate_share(k, centre[c], 1e12, counts[c], 56, 1);
    const auto& s = jags.at("p[" + std::to_string(c + 1) + "]");
    CAPTURE(c, e.mean, s.mean, s.error);
    CHECK(std::abs(e.mean - s.mean) < 4 * s.error + 1e-4);
    // 90 % interval against the sampled sd: 3.29 sd for a normal shape; these are skewed a little.
    CHECK((e.high - e.low) / 3.29 == Approx(s.sd).epsilon(0.08));
  }
}

TEST_CASE("a pattern comes back as written, scaled, sorted and rounded to 9 %", "[learning][unit]") {
  const std::string text =
      pattern_text({{{"wire.open", "PRI.open"}, 0.5}, {{}, 1e-3}, {{"SRC.open"}, 2}, {{"x.y"}, 1e-12}});
  CHECK(text == "-:44 PRI.open+wire.open:8 SRC.open:0");
  const auto entries = read_pattern(text);
  REQUIRE(entries.size() == 3);
  CHECK(entries[1].classes == std::vector<std::string>{"PRI.open", "wire.open"});
  CHECK(entries[1].likelihood == Approx(0.25));
  CHECK(entries[0].likelihood == Approx(5e-4).epsilon(0.1));
  CHECK_THROWS(read_pattern("PRI.open:x"));
  CHECK_THROWS(read_pattern(""));
  CHECK_THROWS(read_pattern("a++b:1"));
}

TEST_CASE("jobs that say nothing leave the shares as the files have them", "[learning][property]") {
  auto cases = network("bike", {0.5, 0.3, 0.2});
  cases.add("ca:0 cb:0 cc:0", 500);
  const auto learned = learn_shares({cases}).networks.at(0);
  const double file[3] = {0.5, 0.3, 0.2};
  for (std::size_t c = 0; c < 3; ++c) {
    CHECK(learned.classes[c].learned == Approx(file[c]).epsilon(1e-3));
    CHECK(learned.classes[c].high - learned.classes[c].low > 0.05);  // and the doubt stays
  }
}

TEST_CASE("what was never looked at is not counted as good", "[learning][property]") {
  // The jobs rule out cc and say nothing between ca and cb: their ratio stays the file's.
  auto cases = network("bike", {0.5, 0.3, 0.2});
  cases.add("ca:0 cb:0", 300);
  const auto learned = learn_shares({cases}).networks.at(0);
  CHECK(learned.classes[0].learned / learned.classes[1].learned == Approx(5.0 / 3).epsilon(0.02));
  CHECK(learned.classes[2].learned < 0.1);  // 300 jobs against a file that says 0.2
}

TEST_CASE("networks of one family lend each other what they learned, most to the one with no job",
          "[learning][property]") {
  std::vector<NetworkCases> all{network("a", {0.4, 0.4, 0.2}), network("b", {0.4, 0.4, 0.2}),
                                network("c", {0.4, 0.4, 0.2})};
  for (std::size_t n = 0; n < 2; ++n) {
    all[n].add(sure(0), 70);
    all[n].add(sure(1), 10);
    all[n].add(sure(2), 20);
  }
  const auto learned = learn_shares(all);
  CHECK(learned.networks[2].classes[0].learned > 0.55);
  const auto width = [&](std::size_t n) {
    return learned.networks[n].classes[0].high - learned.networks[n].classes[0].low;
  };
  CHECK(width(2) > 1.5 * width(0));
  CHECK(learned.networks[0].classes[0].learned == Approx(0.7).margin(0.04));
  REQUIRE(learned.families.size() == 1);
  CHECK(learned.families[0].classes[0].count == Approx(140).epsilon(0.01));
}

TEST_CASE("90 % intervals of classes with at least 50 jobs hold 87 to 93 %", "[learning][property]") {
  const auto [held, asked] = intervals_that_hold(120, 20260102);
  CAPTURE(held, asked);
  REQUIRE(asked > 1000);
  CHECK(held > 0.87 * asked);
  CHECK(held < 0.93 * asked);
}

TEST_CASE("90 % intervals of classes with at least 50 jobs hold 87 to 93 % over 1,000 shops",
          "[learning][property][slow]") {
  const auto [held, asked] = intervals_that_hold(1000, 20260104);
  WARN(held << " of " << asked << " intervals hold: " << 100.0 * held / asked << " %");  // the number for the page
  REQUIRE(asked > 8000);
  CHECK(held > 0.87 * asked);
  CHECK(held < 0.93 * asked);
}

TEST_CASE("a shop that always replaces the coil first gets its shares within 20 % at 1,000 jobs",
          "[learning][property]") {
  // Coil first; its contacts are re-seated on the way and cure a contact fault with probability 0.3. Then the contact
  // is cleaned, then the source replaced. Nobody measures: only what cured is known.
  std::mt19937_64 random(20260103);
  const std::vector<double> truth{0.15, 0.5, 0.35};  // coil, contact, source
  const std::vector<double> file{0.45, 0.25, 0.30};
  auto cases = network("bike", file);
  std::uniform_real_distribution<double> uniform;
  double cured_by_coil = 0;
  constexpr int jobs = 1000;
  for (int job = 0; job < jobs; ++job) {
    const auto fault = draw(random, truth);
    // Likelihoods as the job room stores them: repair success 0.95 and 0.9, touch 0.3.
    if ((fault == 0 && uniform(random) < 0.95) || (fault == 1 && uniform(random) < 0.3)) {
      ++cured_by_coil;
      cases.add(pattern_text({{{"ca"}, 0.95}, {{"cb"}, 0.3}, {{"cc"}, 1e-6}}), 1);
    } else if (fault == 1 && uniform(random) < 0.9) {
      cases.add(pattern_text({{{"ca"}, 1e-6}, {{"cb"}, 0.7 * 0.9}, {{"cc"}, 1e-6}}), 1);
    } else {
      cases.add(pattern_text({{{"ca"}, 0.05}, {{"cb"}, 0.7 * 0.1}, {{"cc"}, 0.95}}), 1);
    }
  }
  const auto learned = learn_shares({cases}).networks.at(0);
  for (std::size_t c = 0; c < 3; ++c) {
    CAPTURE(c, truth[c], learned.classes[c].learned);
    CHECK(learned.classes[c].learned == Approx(truth[c]).epsilon(0.20));
  }
  // Counting what cured would have given the coil nearly twice its share.
  CHECK(cured_by_coil / jobs > 1.5 * truth[0]);
}
