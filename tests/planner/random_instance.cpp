#include "planner/random_instance.hpp"

#include <algorithm>
#include <cmath>
#include <map>

namespace lostspark::planner {
namespace {

using namespace planning;

class Dice {  // own generator: the standard distributions differ between libraries
 public:
  explicit Dice(std::uint64_t seed) : x_(seed * 0x9e3779b97f4a7c15ULL + 0x1234567) {}
  double uniform(double low = 0, double high = 1) {
    x_ += 0x9e3779b97f4a7c15ULL;
    std::uint64_t z = x_;
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9ULL;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebULL;
    return low + (high - low) * static_cast<double>((z ^ (z >> 31)) >> 11) * 0x1p-53;
  }
  int below(int n) { return std::min(n - 1, static_cast<int>(uniform() * n)); }
  double lognormal(double median, double factor) {  // a factor is one standard deviation
    double sum = 0;
    for (int i = 0; i < 12; ++i) sum += uniform();
    return median * std::pow(factor, sum - 6);
  }

 private:
  std::uint64_t x_;
};

}  // namespace

Problem random_instance(const RandomOptions& o, std::uint64_t seed) {
  Dice dice(seed);
  Problem p;
  p.check = dice.uniform(1, 4);
  p.comeback = dice.uniform(70, 170);
  p.refer = dice.uniform(150, 350);
  std::vector<CoverMask> closed;
  for (int c = 0; c < o.covers; ++c) {
    p.cover_minutes.push_back(dice.lognormal(10, 1.8));
    CoverMask mask = CoverMask{1} << c;
    if (c > 0 && dice.uniform() < 0.4) mask |= closed[dice.below(c)];
    closed.push_back(mask);
  }
  p.setup_minutes = {0, dice.uniform(2, 8)};
  // Components along the chain; a fault belongs to one, a repair mends one component (one fault in seven shares).
  const int n = o.faults;
  std::vector<int> repair_of(n);
  std::vector<double> odds(n), hide(n);
  int repairs = 0;
  for (int f = 0; f < n; ++f) {
    repair_of[f] = f > 0 && dice.uniform() < 0.14 ? repairs - 1 : repairs++;
    odds[f] = dice.lognormal(0.05, 2.2);
    hide[f] = dice.uniform() < 0.2 ? dice.uniform(0.02, o.most_hide) : 0;
  }
  std::vector<CoverMask> behind(repairs);
  for (auto& b : behind) b = o.covers > 0 && dice.uniform() < 0.5 ? closed[dice.below(o.covers)] : 0;
  std::vector<std::pair<int, int>> sets;
  std::map<std::pair<int, int>, int> index;
  const auto add = [&](int a, int b, double weight, double passes) {
    index[{a, b}] = static_cast<int>(sets.size());
    sets.push_back({a, b});
    p.prior.push_back(weight);
    p.passes.push_back(passes);
    p.nothing.push_back(0);
  };
  for (int f = 0; f < n; ++f) add(f, -1, odds[f], hide[f]);
  if (o.pairs)
    for (int a = 0; a < n; ++a)
      for (int b = a + 1; b < n; ++b) add(a, b, odds[a] * odds[b], hide[a] * hide[b]);
  for (int k = 0; k < repairs; ++k) {
    Problem::Repair r;
    r.minutes = dice.lognormal(10, 2.0);
    r.price = dice.uniform() < 0.25 ? 0 : dice.lognormal(18, 2.2);
    r.needs = behind[k];
    if (dice.uniform() < 0.2) r.swap_minutes = r.minutes * dice.uniform(0.8, 1.5);
    for (std::size_t h = 0; h < sets.size(); ++h) {
      const auto [a, b] = sets[h];
      const bool mends_a = repair_of[a] == k, mends_b = b >= 0 && repair_of[b] == k;
      if (!mends_a && !mends_b) r.after.push_back(static_cast<int>(h));
      else if ((mends_a && b < 0) || (mends_a && mends_b)) r.after.push_back(k_mended);
      else r.after.push_back(mends_a ? index[{b, -1}] : index[{a, -1}]);
    }
    p.repairs.push_back(std::move(r));
  }
  for (int t = 0; t < o.tests; ++t) {
    Problem::Test test;
    test.minutes = dice.lognormal(3, 1.7);
    test.needs = o.covers > 0 && dice.uniform() < 0.35 ? closed[dice.below(o.covers)] : 0;
    test.setup = dice.uniform() < 0.3 ? 1 : 0;
    test.outcomes = dice.uniform() < 0.3 ? 3 : 2;
    // Half the tests look at the signal after a place in the chain, the others at one component.
    const bool signal = dice.uniform() < 0.5;
    const int place = dice.below(n), span = 1 + dice.below(2);
    const double slip = std::min(0.5, o.noise * dice.uniform(0.01, 0.07));
    const double seen = 1 - std::min(0.5, o.noise * (1 - dice.uniform(0.75, 0.97)));
    std::vector<std::vector<double>> single(n);
    const double soft = dice.uniform(0.1, 0.6);
    for (int f = 0; f < n; ++f) {
      const bool hit = signal ? f <= place : f >= place && f < place + span;
      const double bad = hit ? (signal ? 1 - slip : seen) : slip;
      single[f] = test.outcomes == 2 ? std::vector{bad, 1 - bad} : std::vector{bad * (1 - soft), bad * soft, 1 - bad};
    }
    for (const auto& [a, b] : sets) {
      if (b < 0) {
        test.p.insert(test.p.end(), single[a].begin(), single[a].end());
        continue;
      }
      // The reading of a pair is the worse of the two.
      double below_a = 0, below_b = 0, last = 0;
      for (int x = 0; x < test.outcomes; ++x) {
        below_a += single[a][x];
        below_b += single[b][x];
        const double now = 1 - (1 - below_a) * (1 - below_b);
        test.p.push_back(now - last);
        last = now;
      }
    }
    p.tests.push_back(std::move(test));
  }
  validate(p);
  return p;
}

}  // namespace lostspark::planner
