// Scores the shipped planner on instance files: its exact expected cost, walked over all outcomes, one JSON line a file.
#include <CLI/CLI.hpp>
#include <chrono>
#include <cstdio>
#include <iostream>
#include <nlohmann/json.hpp>

#include "planner/instance.hpp"
#include "planner/score.hpp"
#include "planning/planner.hpp"

using namespace lostspark;

int main(int argc, char** argv) {
  CLI::App app{"Exact expected cost of the shipped planner on instance files."};
  std::string exact = "on";
  std::size_t nodes = 0;
  std::vector<std::string> files;
  app.add_option("--exact", exact, "search to the end where the job is small")->check(CLI::IsMember({"on", "off"}));
  app.add_option("--nodes", nodes, "node evaluations a decision (0: the planner's own choice)");
  app.add_option("files", files, "instances")->required();
  CLI11_PARSE(app, argc, argv);
  int failed = 0;
  for (const auto& file : files) try {
      planner::Instance instance = planner::read_instance(file);
      const auto optimum = instance.optimum;
      planning::PlannerOptions options;
      options.exact = exact == "on";
      options.nodes = nodes;
      bool all_exact = true;
      double slowest = 0;
      std::optional<planning::Decision> first;
      const auto policy = [&](const planning::Problem& problem, const planning::JobState& state) {
        const auto begun = std::chrono::steady_clock::now();
        auto decision = planning::decide(problem, state, options);
        const std::chrono::duration<double, std::milli> taken = std::chrono::steady_clock::now() - begun;
        slowest = std::max(slowest, taken.count());
        all_exact = all_exact && decision.exact;
        const auto action = decision.action;
        if (!first) first = std::move(decision);
        return action;
      };
      const double cost = planner::exact_cost(instance.problem, policy);
      nlohmann::ordered_json line;
      line["file"] = file;
      line["policy_cost"] = cost;
      line["optimum"] = optimum ? nlohmann::ordered_json(*optimum) : nlohmann::ordered_json();
      line["ratio"] = optimum ? nlohmann::ordered_json(cost / *optimum) : nlohmann::ordered_json();
      const auto& a = first->action;
      line["first_action"] = {{"type", planner::name_of(a.kind)},
                              {"index", a.index < 0 ? nlohmann::ordered_json() : nlohmann::ordered_json(a.index)}};
      line["exact"] = all_exact;
      line["depth"] = first->depth;
      line["max_decision_ms"] = slowest;
      std::cout << line.dump() << '\n' << std::flush;
    } catch (const std::exception& e) {
      std::cerr << "planner_reference: " << e.what() << '\n';
      failed = 1;
    }
  return failed;
}
