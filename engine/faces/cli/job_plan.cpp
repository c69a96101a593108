#include "faces/cli/job_plan.hpp"

#include <fmt/format.h>

#include <cmath>

#include "faces/cli/cards.hpp"
#include "faces/cli/draw.hpp"
#include "faces/cli/text.hpp"

namespace lostspark::faces {

namespace {

using planning::DecisionTree;
using planning::StepKind;
using planning::TreeBranch;
using planning::TreeNode;

std::string step_title(const model::Vehicle& v, const TreeNode& node) {
  if (node.step.kind == StepKind::refer) return "Refer the job on, or close it as not ignition";
  std::string title = sentence(advice_title(v, node.step));
  if (node.step.kind == StepKind::repair && node.step.price > 0) title += ", part about " + number(node.step.price);
  return title;
}

/// "under 80 V or over 300 V"; "none"; "check passed".
std::string results(const model::Vehicle& v, const TreeNode& node, const TreeBranch& branch) {
  if (node.step.kind == StepKind::repair) return branch.passed ? "the check passes" : "the check fails";
  if (!branch.words.empty()) {
    std::string out;
    for (const auto& word : branch.words) out += (out.empty() ? "" : " or ") + word;
    return out;
  }
  const std::string unit = v.tests[static_cast<std::size_t>(node.step.test)].unit;
  std::string out;
  for (const auto& [low, high] : branch.ranges) {
    if (!out.empty()) out += " or ";
    if (low <= 0 && std::isinf(high)) out += "any reading";
    else if (low <= 0) out += "under " + number(high);
    else if (std::isinf(high)) out += "over " + number(low);
    else out += number(low) + " to " + number(high);
  }
  return out + " " + unit;
}

void write_node(const model::Vehicle& v, const DecisionTree& tree, int index, int depth, std::size_t indent,
                std::string& out) {
  const TreeNode& node = tree.nodes[static_cast<std::size_t>(index)];
  out += wrapped(step_title(v, node) + fmt::format(" (at most {} expected)", minutes(node.step.expected_cost_min)), indent);
  for (const auto& branch : node.branches) {
    const std::string head = results(v, node, branch) + " (" + percent(branch.probability) + ")";
    if (branch.passed) {
      out += wrapped(head + ": done", indent + 2);
    } else if (branch.next < 0) {
      out += wrapped(head + ": not followed, ask again then", indent + 2);
    } else if (node.depth + 1 >= depth) {
      out += wrapped(head + ": then " + step_title(v, tree.nodes[static_cast<std::size_t>(branch.next)]), indent + 2);
    } else {
      out += wrapped(head + ":", indent + 2);
      write_node(v, tree, branch.next, depth, indent + 4, out);
    }
  }
}

Json quote_json(const planning::Quote& q) {
  return {{"expected_min", json_number(q.expected_min)},
          {"worst_min", json_number(q.worst_min)},
          {"expected_parts_money", json_number(q.expected_money)},
          {"worst_parts_money", json_number(q.worst_money)},
          {"referred_probability", json_number(q.referred)},
          {"unfollowed_probability", json_number(q.unfollowed)}};
}

}  // namespace

std::string tree_page(const model::Vehicle& v, const DecisionTree& tree, int depth) {
  if (tree.nodes.empty()) return "Nothing is left to do.\n";
  std::string out = "The plan, as far as it can be seen\n";
  write_node(v, tree, 0, depth, 2, out);
  return out;
}

std::string quote_page(const planning::Quote& q, double spent_min, double spent_money, double rate) {
  const auto money = [&](double min, double parts) { return number(std::round(min / 60 * rate + parts)); };
  std::string out = "What it will cost from here\n";
  out += labelled("expected", minutes(q.expected_min) + " and parts about " + number(std::round(q.expected_money)) +
                                  ": " + money(q.expected_min, q.expected_money) + " in all");
  out += labelled("nine in ten", "at most " + minutes(q.worst_min) + ", and at most " +
                                     number(std::round(q.worst_money)) + " for parts");
  if (spent_min > 0 || spent_money > 0)
    out += labelled("so far", minutes(spent_min) + " and parts " + number(std::round(spent_money)) + " have gone in");
  if (q.referred > 0.005)
    out += labelled("mind", "in " + percent(q.referred) + " of such jobs the fault is given on to somebody else");
  if (q.unfollowed > 0.05)
    out += labelled("mind", percent(q.unfollowed) + " of the ways are too rare to follow; their parts are counted as time");
  return out;
}

std::string tree_dot(const model::Vehicle& v, const DecisionTree& tree, int depth) {
  std::string out = "digraph plan {\n  node [fontname=\"sans-serif\", fontsize=10, shape=box, color=\"#808080\"];\n";
  out += "  edge [fontname=\"sans-serif\", fontsize=9, color=\"#808080\"];\n";
  for (std::size_t k = 0; k < tree.nodes.size(); ++k) {
    const auto& node = tree.nodes[k];
    if (node.depth >= depth) continue;
    out += fmt::format("  n{} [label={}];\n", k,
                       dot_string(step_title(v, node) + "\n" + minutes(node.step.expected_cost_min) + " expected"));
    for (std::size_t b = 0; b < node.branches.size(); ++b) {
      const auto& branch = node.branches[b];
      const std::string label = dot_string(results(v, node, branch) + "\n" + percent(branch.probability));
      const bool shown = branch.next >= 0 && node.depth + 1 < depth;
      const std::string to = shown ? fmt::format("n{}", branch.next) : fmt::format("e{}_{}", k, b);
      if (!shown) {
        const std::string end = branch.passed       ? "done"
                                : branch.next >= 0 ? step_title(v, tree.nodes[static_cast<std::size_t>(branch.next)])
                                                   : "ask again";
        out += fmt::format("  {} [label={}, shape=plaintext];\n", to, dot_string(end));
      }
      out += fmt::format("  n{} -> {} [label={}];\n", k, to, label);
    }
  }
  return out + "}\n";
}

Json tree_json(const job::Job& job, const DecisionTree& tree, int depth) {
  const auto& v = job.vehicle();
  Json nodes = Json::array();
  for (std::size_t k = 0; k < tree.nodes.size(); ++k) {
    const auto& node = tree.nodes[k];
    if (node.depth >= depth) continue;
    Json branches = Json::array();
    for (const auto& branch : node.branches) {
      Json ranges = Json::array();
      for (const auto& [low, high] : branch.ranges) ranges.push_back({json_number(low), json_number(high)});
      const bool shown = branch.next >= 0 && node.depth + 1 < depth;
      branches.push_back({{"probability", json_number(branch.probability)},
                          {"results", results(v, node, branch)},
                          {"ranges", ranges},
                          {"words", branch.words},
                          {"done", branch.passed},
                          {"next", shown ? Json(branch.next) : Json(nullptr)}});
    }
    Json row = {{"node", k}, {"depth", node.depth}, {"reached_probability", json_number(node.reached)}};
    row["kind"] = node.step.kind == StepKind::test ? "test" : node.step.kind == StepKind::repair ? "repair" : "refer";
    if (node.step.kind == StepKind::test) row["test"] = v.tests[static_cast<std::size_t>(node.step.test)].id;
    if (node.step.kind == StepKind::repair) row["repair"] = v.repairs[static_cast<std::size_t>(node.step.repair)].id;
    row["title"] = advice_title(v, node.step);
    row["expected_cost_min"] = json_number(node.step.expected_cost_min);
    row["price"] = json_number(node.step.price);
    row["branches"] = branches;
    nodes.push_back(row);
  }
  return {{"job", job.id()}, {"nodes", nodes}, {"quote", quote_json(tree.quote)}};
}

}  // namespace lostspark::faces
