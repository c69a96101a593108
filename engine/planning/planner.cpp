#include "planning/planner.hpp"

#include <algorithm>

#include "planning/flat.hpp"
#include "planning/lookahead.hpp"

namespace lostspark::planning {
namespace {

constexpr std::size_t k_default_work = 1500000;  // node evaluations times fault sets
constexpr std::size_t k_followed = 6;           // first tests followed to the end
constexpr double k_near_refer = 0.9;
constexpr std::size_t k_table_bits = 15, k_exact_table_bits = 18;

// From a glance to far ahead; each pass starts where the nodes still allow. Widths up to the third as measured in
// docs/planning.md, the rest for small jobs.
constexpr Level k_levels[] = {
    {1, 1000, 1000, 3, 1000}, {2, 4, 3, 3, 12},   {2, 8, 5, 4, 16},   {3, 5, 4, 3, 12},   {3, 8, 6, 4, 16},
    {4, 6, 4, 3, 12},         {4, 10, 8, 6, 24},  {5, 6, 4, 4, 16},   {5, 10, 8, 6, 24},  {6, 8, 5, 4, 16},
    {7, 10, 8, 6, 24},        {9, 10, 8, 6, 24},  {12, 1000, 1000, 1000, 1000}};

bool dear(const Problem& p, const Option& a, const Option& b) {
  const auto minutes = [&](const Option& o) {
    if (o.action.kind == ActionKind::refer) return p.refer;
    if (o.action.kind == ActionKind::test) return p.tests[o.action.index].minutes;
    const auto& r = p.repairs[o.action.index];
    return o.action.kind == ActionKind::swap ? r.swap_minutes : r.minutes + r.price;
  };
  return minutes(a) < minutes(b);
}

}  // namespace

Decision decide(const Problem& problem, const JobState& state, const PlannerOptions& options) {
  Flat flat(problem, state, options.fault_sets);
  Decision out;
  const std::size_t nodes =
      options.nodes ? options.nodes : std::max<std::size_t>(400, k_default_work / static_cast<std::size_t>(flat.n + 8));
  const auto take = [&](const std::vector<Option>& found, int depth) {
    out.options = found;
    // Equal costs: the cheaper step first, what rounding makes of equal sums not counted.
    std::stable_sort(out.options.begin(), out.options.end(),
                     [](const Option& a, const Option& b) { return a.cost < b.cost; });
    for (std::size_t i = 1; i < out.options.size(); ++i)
      for (std::size_t j = i; j > 0; --j) {
        auto &a = out.options[j - 1], &b = out.options[j];
        if (b.cost - a.cost > 1e-9 * (1 + a.cost) || !dear(problem, b, a)) break;
        std::swap(a, b);
      }
    out.action = out.options.front().action;
    out.cost = out.options.front().cost;
    out.depth = depth;
  };
  if (options.exact) {
    Lookahead search(flat, options.exact_nodes, options.stop, k_exact_table_bits);
    const auto& found = search.look({1000, 1000000, 1000000, 1000000, 1000000});
    out.nodes += search.nodes();
    out.no_test_cost = search.no_test_cost();
    if (!found.empty() && search.complete() && flat.dropped <= 0) {
      take(found, 1000);
      out.exact = true;
      return out;
    }
  }
  // The first pass costs what it costs: there is always an answer.
  Lookahead search(flat, static_cast<std::size_t>(-1), nullptr, k_table_bits);
  take(search.look(k_levels[0]), 1);
  out.no_test_cost = search.no_test_cost();
  for (const Level& level : std::span(k_levels).subspan(1)) {
    const bool first_of_two = &level == &k_levels[1];
    const std::size_t limit = first_of_two ? std::max(nodes, options.nodes_to_two) : nodes;
    if (level.depth > options.depth || search.nodes() >= limit) break;
    search.set_limit(limit);
    Level here = level;
    here.screened = std::max(here.screened, options.screened);
    const auto& found = search.look(here);
    if (found.empty()) break;
    take(found, level.depth);
    if (search.complete()) {
      out.exact = flat.dropped <= 0;
      break;
    }
  }
  if (!out.exact && options.depth > 1 && out.cost > k_near_refer * problem.refer) {
    // Where giving up looks as good as anything within sight, a long way of small steps may still be cheaper: a second
    // opinion that needs no depth, for half the nodes again at most.
    search.set_limit(search.nodes() + nodes / 2);
    auto options_now = out.options;
    for (const auto& o : search.follow(k_followed))
      for (auto& known : options_now)
        if (known.action == o.action) known.cost = std::min(known.cost, o.cost);
    take(options_now, out.depth);
  }
  out.nodes += search.nodes();
  return out;
}

}  // namespace lostspark::planning
