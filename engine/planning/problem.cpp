#include "planning/problem.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>
#include <stdexcept>
#include <string>

namespace lostspark::planning {
namespace {

void need(bool good, const std::string& what) {
  if (!good) throw std::invalid_argument("planning problem: " + what);
}

}  // namespace

double Problem::access(CoverMask needed, CoverMask off) const {
  double sum = 0;
  for (CoverMask left = needed & ~off; left; left &= left - 1) sum += cover_minutes[__builtin_ctzll(left)];
  return sum;
}

void validate(const Problem& p) {
  const std::size_t n = p.prior.size();
  need(n > 0, "no fault sets");
  need(p.cover_minutes.size() <= 64, "more than 64 covers");
  need(!p.setup_minutes.empty() && p.setup_minutes[0] == 0, "set-up 0 must be there and free");
  need(p.passes.size() == n && p.nothing.size() == n, "passes and nothing need one entry a fault set");
  need(p.check >= 0 && p.comeback >= 0 && p.refer >= 0, "costs must not be negative");
  const CoverMask known = p.cover_minutes.size() == 64 ? ~CoverMask{0} : (CoverMask{1} << p.cover_minutes.size()) - 1;
  double total = 0;
  for (std::size_t h = 0; h < n; ++h) {
    need(p.prior[h] >= 0 && std::isfinite(p.prior[h]), "weight of fault set " + std::to_string(h));
    need(p.passes[h] >= 0 && p.passes[h] <= 1, "pass probability of fault set " + std::to_string(h));
    total += p.prior[h];
  }
  need(total > 0, "all weights are zero");
  for (std::size_t t = 0; t < p.tests.size(); ++t) {
    const auto& test = p.tests[t];
    const std::string name = "test " + std::to_string(t);
    need(test.outcomes > 0 && test.p.size() == n * static_cast<std::size_t>(test.outcomes), name + ": table size");
    need(test.minutes >= 0 && (test.needs & ~known) == 0, name + ": minutes or covers");
    need(test.setup >= 0 && static_cast<std::size_t>(test.setup) < p.setup_minutes.size(), name + ": set-up");
    for (std::size_t h = 0; h < n; ++h) {
      const auto row = test.p.begin() + static_cast<std::ptrdiff_t>(h) * test.outcomes;
      need(std::abs(std::accumulate(row, row + test.outcomes, 0.0) - 1) < 1e-6,
           name + ": outcomes given fault set " + std::to_string(h) + " do not sum to 1");
    }
  }
  for (std::size_t k = 0; k < p.repairs.size(); ++k) {
    const auto& repair = p.repairs[k];
    const std::string name = "repair " + std::to_string(k);
    need(repair.after.size() == n && (repair.needs & ~known) == 0, name + ": fault sets or covers");
    need(repair.minutes >= 0 && repair.price >= 0 && repair.success >= 0 && repair.success <= 1, name + ": costs");
    for (int a : repair.after) need(a >= k_mended && a < static_cast<int>(n), name + ": leaves an unknown fault set");
  }
}

JobState start_of(const Problem& p) {
  return {p.prior, 0, 0, std::vector<char>(p.tests.size(), 0), std::vector<char>(p.repairs.size(), 0),
          std::vector<char>(p.repairs.size(), 0)};
}

std::vector<Branch> branches(const Problem& p, const JobState& s, Action action) {
  const std::size_t n = p.prior.size();
  const double mass = std::accumulate(s.belief.begin(), s.belief.end(), 0.0);
  std::vector<Branch> out;
  if (action.kind == ActionKind::refer) {
    double idle = 0;
    for (std::size_t h = 0; h < n; ++h) idle += p.nothing[h] ? s.belief[h] / mass : 0;
    return {{1, p.refer * (1 - idle) + std::min(p.check, p.refer) * idle, true, -1, {}}};
  }
  if (action.kind == ActionKind::test) {
    const auto& test = p.tests[action.index];
    double cost = test.minutes + p.access(test.needs, s.off);
    if (test.setup != 0 && test.setup != s.setup) cost += p.setup_minutes[test.setup];
    for (int o = 0; o < test.outcomes; ++o) {
      Branch b{0, cost, false, o, s};
      for (std::size_t h = 0; h < n; ++h) b.probability += b.state.belief[h] *= test.p[h * test.outcomes + o];
      if (b.probability <= 0) continue;
      for (double& x : b.state.belief) x /= b.probability;
      b.probability /= mass;
      b.state.off |= test.needs;
      b.state.setup = test.setup;
      b.state.tested[action.index] = 1;
      if (test.twins >= 0)
        for (std::size_t t = 0; t < p.tests.size(); ++t)
          if (p.tests[t].twins == test.twins) b.state.tested[t] = 1;
      out.push_back(std::move(b));
    }
    return out;
  }
  const auto& repair = p.repairs[action.index];
  const bool swap = action.kind == ActionKind::swap;
  const double cost = (swap ? repair.swap_minutes : repair.minutes + repair.price) + p.access(repair.needs, s.off) + p.check;
  double right = 0, wrong = 0, left = 0;
  Branch fails{0, cost, false, -1, s};
  fails.state.belief.assign(n, 0.0);
  for (std::size_t h = 0; h < n; ++h) {
    const double b = s.belief[h] / mass;
    if (b <= 0) continue;
    if (p.nothing[h]) {
      right += b;
      continue;
    }
    const int a = repair.after[h];
    const double works = a == static_cast<int>(h) ? 0 : repair.success;
    const double passes = a == k_mended ? 1 : p.passes[a];
    const bool clean = a == k_mended || p.nothing[a];
    (clean ? right : wrong) += b * works * (clean ? 1 : passes);
    wrong += b * (1 - works) * p.passes[h];
    const double failed = clean ? 0 : b * works * (1 - passes);
    const double stays = b * (1 - works) * (1 - p.passes[h]);
    if (a != k_mended) fails.state.belief[swap ? h : a] += failed;
    fails.state.belief[h] += stays;
    left += failed + stays;
  }
  const double kept = swap ? repair.price : 0;
  if (right > 0) out.push_back({right, cost + kept, true, -1, {}});
  if (wrong > 0) out.push_back({wrong, cost + kept + p.comeback, true, -1, {}});
  if (left > 1e-15) {
    fails.probability = left;
    fails.state.off |= repair.needs;
    fails.state.setup = 0;
    (swap ? fails.state.swapped : fails.state.repaired)[action.index] = 1;
    if (!swap) fails.state.swapped[action.index] = 1;
    out.push_back(std::move(fails));
  }
  return out;
}

}  // namespace lostspark::planning
