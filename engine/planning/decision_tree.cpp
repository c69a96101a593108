#include "planning/decision_tree.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <numeric>
#include <queue>

#include "planning/considered.hpp"
#include "planning/held_back.hpp"

namespace lostspark::planning {
namespace {

constexpr std::size_t k_later_nodes = 1200;  // node evaluations of a decision below the first
constexpr double k_worst = 0.90;

/// A way through the job as far as it was followed.
struct Way {
  double probability = 0, minutes = 0, money = 0;
};

struct Pending {
  double reached = 0;
  int depth = 0;
  int parent = -1;                             // node and branch that lead here; -1: the start
  std::size_t branch = 0;
  JobState state;
  Decision decision;
  Way spent;
  bool operator<(const Pending& other) const { return reached < other.reached; }
};

double quantile(std::vector<std::pair<double, double>> values, double share) {
  std::sort(values.begin(), values.end());
  double total = 0, sum = 0;
  for (const auto& [value, p] : values) total += p;
  for (const auto& [value, p] : values)
    if ((sum += p) >= share * total) return value;
  return values.empty() ? 0 : values.back().first;
}

class Follower {
 public:
  Follower(const inference::Posterior& posterior, const BenchState& bench, const TreeOptions& options)
      : posterior_(posterior), bench_(bench), options_(options), considered_(consider(posterior, bench)) {}

  DecisionTree run() {
    auto first = considered_.options;
    Pending start{1, 0, -1, 0, considered_.job.state, {}, {1, 0, 0}};
    start.decision = decide(problem(), start.state, first);
    hold_back(start.state, start.decision);
    open_.push(std::move(start));
    while (!open_.empty()) {
      Pending now = open_.top();
      open_.pop();
      follow(std::move(now));
    }
    settle();
    return std::move(tree_);
  }

 private:
  const Problem& problem() const { return considered_.job.problem; }
  double money(double minutes) const {
    return minutes * inference::workshop_of(posterior_.compiled()).labour_rate_per_hour / 60;
  }

  Decision later(const JobState& state) {
    ++decided_;
    auto options = considered_.options;
    options.nodes = k_later_nodes;
    options.nodes_to_two = 0;
    auto decision = decide(problem(), state, options);
    hold_back(state, decision);
    return decision;
  }
  void hold_back(const JobState& state, Decision& decision) const {
    hold_parts_back(inference::vehicle_of(posterior_.compiled()), considered_.job, state, decision);
  }

  void describe(const Pending& now, TreeNode& node) const {
    const auto& v = inference::vehicle_of(posterior_.compiled());
    const Action action = now.decision.action;
    node.reached = now.reached;
    node.depth = now.depth;
    node.step.expected_cost_min = now.decision.cost;
    switch (action.kind) {
      case ActionKind::test:
        node.step.kind = StepKind::test;
        node.step.test = considered_.job.tests[action.index];
        for (const auto& listed : considered_.tests)
          if (now.parent < 0 && listed.test == node.step.test) node.step.gain_bits = listed.gain_bits;
        break;
      case ActionKind::repair:
      case ActionKind::swap: {
        node.step.kind = StepKind::repair;
        node.step.repair = considered_.job.repairs[action.index];
        node.step.price = v.repairs[node.step.repair].price;
        double ends = 0;
        for (const auto& branch : branches(problem(), now.state, action))
          if (branch.ends) ends += branch.probability;
        node.step.cures = ends;
        break;
      }
      case ActionKind::refer: node.step.kind = StepKind::refer; break;
    }
  }

  void follow(Pending now) {
    const Action action = now.decision.action;
    const int index = static_cast<int>(tree_.nodes.size());
    tree_.nodes.emplace_back();
    if (now.parent >= 0) tree_.nodes[now.parent].branches[now.branch].next = index;
    describe(now, tree_.nodes.back());
    if (action.kind == ActionKind::refer) {
      // Where nothing is wrong the job ends with a check, else it goes to somebody else.
      double idle = 0, mass = 0;
      for (std::size_t h = 0; h < now.state.belief.size(); ++h) {
        mass += now.state.belief[h];
        if (problem().nothing[h]) idle += now.state.belief[h];
      }
      tree_.quote.referred += now.reached * (1 - idle / mass);
      end(now.spent, now.reached, problem().check * idle / mass, 0);
      return;
    }
    auto out = branches(problem(), now.state, action);
    if (action.kind == ActionKind::test) after_test(now, index, out);
    else after_repair(now, index, out);
  }

  void after_test(const Pending& now, int index, const std::vector<Branch>& out) {
    const auto& ranges = considered_.job.ranges[now.decision.action.index];
    const auto& words = inference::vehicle_of(posterior_.compiled()).tests[tree_.nodes[index].step.test].words;
    // By next step, in the order of the results.
    std::vector<std::pair<Decision, Pending>> groups;
    std::vector<TreeBranch> rows;
    for (const auto& branch : out) {
      const double reached = now.reached * branch.probability;
      const bool followed = reached >= options_.least && decided_ < options_.decisions;
      Decision next;
      if (followed) next = later(branch.state);
      std::size_t g = 0;
      while (g < groups.size() && !(followed == (groups[g].second.reached >= 0) && groups[g].first.action == next.action)) ++g;
      if (g == groups.size()) {
        Pending pending;
        pending.reached = followed ? 0 : -1;
        pending.state = branch.state;
        for (double& x : pending.state.belief) x = 0;
        pending.spent = {now.reached, now.spent.minutes + branch.cost, now.spent.money};
        groups.emplace_back(next, std::move(pending));
        groups.back().first.cost = 0;
        rows.emplace_back();
      }
      auto& [decision, pending] = groups[g];
      if (followed) pending.reached += reached;
      else unfollowed(now, branch, reached);
      for (std::size_t h = 0; h < branch.state.belief.size(); ++h)
        pending.state.belief[h] += branch.probability * branch.state.belief[h];
      decision.cost += branch.probability * next.cost;
      rows[g].probability += branch.probability;
      if (ranges.empty()) {
        rows[g].words.push_back(words[static_cast<std::size_t>(branch.outcome)]);
      } else {
        const auto& range = ranges[static_cast<std::size_t>(branch.outcome)];
        if (!rows[g].ranges.empty() && std::abs(rows[g].ranges.back().second / range.first - 1) < 1e-9)
          rows[g].ranges.back().second = range.second;
        else rows[g].ranges.push_back(range);
      }
    }
    tree_.nodes[index].branches = std::move(rows);
    for (std::size_t g = 0; g < groups.size(); ++g) {
      auto& [decision, pending] = groups[g];
      if (pending.reached < 0) continue;
      decision.cost /= tree_.nodes[index].branches[g].probability;
      pending.depth = now.depth + 1;
      pending.parent = index;
      pending.branch = g;
      pending.decision = decision;
      open_.push(std::move(pending));
    }
  }

  void after_repair(const Pending& now, int index, const std::vector<Branch>& out) {
    const auto& repair = problem().repairs[now.decision.action.index];
    TreeBranch passed, failed;
    passed.passed = true;
    double cost = 0;
    for (const auto& branch : out) {
      // A comeback is the shop's, not the customer's.
      const double comeback = branch.ends ? std::max(0.0, branch.cost - least_cost(out)) : 0;
      cost = branch.cost - comeback;
      (branch.ends ? passed : failed).probability += branch.probability;
    }
    const double minutes = cost - repair.price, parts = money(repair.price);
    if (passed.probability > 0) end(now.spent, now.reached * passed.probability, minutes, parts);
    auto& node = tree_.nodes[index];
    node.branches.push_back(passed);
    for (const auto& branch : out) {
      if (branch.ends) continue;
      const double reached = now.reached * branch.probability;
      node.branches.push_back(failed);
      if (reached < options_.least || decided_ >= options_.decisions) {
        unfollowed(now, branch, reached);
        continue;
      }
      Pending pending{reached, now.depth + 1, index, node.branches.size() - 1, branch.state, later(branch.state),
                      {reached, now.spent.minutes + minutes, now.spent.money + parts}};
      open_.push(std::move(pending));
    }
  }

  static double least_cost(const std::vector<Branch>& out) {
    double least = out.front().cost;
    for (const auto& branch : out) least = std::min(least, branch.cost);
    return least;
  }

  void end(const Way& spent, double probability, double minutes, double parts) {
    ends_.push_back({probability, spent.minutes + minutes, spent.money + parts});
  }

  /// A way that is not followed: booked as the mean of what repairs in p/c order cost, minutes and parts together.
  void unfollowed(const Pending& now, const Branch& branch, double probability) {
    tree_.quote.unfollowed += probability;
    ends_.push_back({probability, now.spent.minutes + branch.cost + now.decision.no_test_cost, now.spent.money});
  }

  void settle() {
    auto& q = tree_.quote;
    std::vector<std::pair<double, double>> minutes, parts;
    double total = 0;
    for (const auto& way : ends_) {
      total += way.probability;
      q.expected_min += way.probability * way.minutes;
      q.expected_money += way.probability * way.money;
      minutes.emplace_back(way.minutes, way.probability);
      parts.emplace_back(way.money, way.probability);
    }
    if (total <= 0) return;
    q.expected_min /= total;
    q.expected_money /= total;
    q.worst_min = quantile(minutes, k_worst);
    q.worst_money = quantile(parts, k_worst);
  }

  const inference::Posterior& posterior_;
  const BenchState& bench_;
  TreeOptions options_;
  Considered considered_;
  DecisionTree tree_;
  std::priority_queue<Pending> open_;
  std::vector<Way> ends_;
  std::size_t decided_ = 0;
};

}  // namespace

DecisionTree decision_tree(const inference::Posterior& posterior, const BenchState& bench, const TreeOptions& options) {
  return Follower(posterior, bench, options).run();
}

}  // namespace lostspark::planning
