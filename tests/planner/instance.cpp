#include "planner/instance.hpp"

#include <algorithm>
#include <fstream>
#include <map>
#include <nlohmann/json.hpp>
#include <stdexcept>

namespace lostspark::planner {
namespace {

using planning::CoverMask;
using Json = nlohmann::json;

CoverMask closure(const Json& covers, int cover) {
  CoverMask mask = CoverMask{1} << cover;
  for (int under : covers.at(cover).at("under")) mask |= closure(covers, under);
  return mask;
}

CoverMask needs(const Json& covers, const Json& step) {
  return step.at("cover").is_null() ? 0 : closure(covers, step.at("cover").get<int>());
}

planning::Problem problem_of(const Json& j) {
  planning::Problem p;
  p.check = j.at("check_minutes");
  p.comeback = j.at("comeback_cost");
  p.refer = j.at("refer_cost");
  for (const auto& c : j.at("covers")) p.cover_minutes.push_back(c.at("minutes"));
  for (const auto& s : j.at("setups")) p.setup_minutes.push_back(s.at("enter_minutes"));
  std::vector<std::vector<int>> sets;
  std::map<std::vector<int>, int> index;
  for (const auto& h : j.at("hypotheses")) {
    auto faults = h.at("faults").get<std::vector<int>>();
    std::sort(faults.begin(), faults.end());
    double passes = 1;
    for (int f : faults) passes *= j.at("faults").at(f).at("hide").get<double>();
    index[faults] = static_cast<int>(sets.size());
    p.prior.push_back(h.at("weight"));
    p.nothing.push_back(faults.empty());
    p.passes.push_back(passes);
    sets.push_back(std::move(faults));
  }
  for (const auto& t : j.at("tests")) {
    planning::Problem::Test test;
    test.minutes = t.at("minutes");
    test.needs = needs(j.at("covers"), t);
    test.setup = t.at("setup");
    test.outcomes = static_cast<int>(t.at("outcomes").size());
    for (const auto& row : t.at("p"))
      for (double x : row) test.p.push_back(x);
    p.tests.push_back(std::move(test));
  }
  for (const auto& r : j.at("repairs")) {
    planning::Problem::Repair repair;
    repair.minutes = r.at("minutes");
    repair.price = r.at("price");
    repair.needs = needs(j.at("covers"), r);
    if (!r.at("swap_minutes").is_null()) repair.swap_minutes = r.at("swap_minutes");
    const auto fixes = r.at("fixes").get<std::vector<int>>();
    for (const auto& set : sets) {
      std::vector<int> left;
      for (int f : set)
        if (std::find(fixes.begin(), fixes.end(), f) == fixes.end()) left.push_back(f);
      if (left.empty() && !set.empty()) {
        repair.after.push_back(planning::k_mended);
        continue;
      }
      const auto found = index.find(left);
      if (found == index.end()) throw std::runtime_error("what a repair leaves of a pair is no hypothesis");
      repair.after.push_back(found->second);
    }
    p.repairs.push_back(std::move(repair));
  }
  planning::validate(p);
  return p;
}

}  // namespace

std::string name_of(planning::ActionKind kind) {
  switch (kind) {
    case planning::ActionKind::test: return "test";
    case planning::ActionKind::repair: return "repair";
    case planning::ActionKind::swap: return "swap";
    case planning::ActionKind::refer: break;
  }
  return "refer";
}

Instance read_instance(const std::string& path) try {
  std::ifstream in(path);
  if (!in) throw std::runtime_error("cannot be read");
  const Json j = Json::parse(in);
  if (j.at("format") != "planner-instance" || j.at("version") != 1)
    throw std::runtime_error("not a planner-instance of version 1");
  Instance out;
  out.id = j.value("id", path);
  out.problem = problem_of(j);
  if (!j.contains("optimal")) return out;
  const auto& best = j.at("optimal");
  if (best.contains("cost")) out.optimum = best.at("cost");
  if (best.contains("cost_without_tests")) out.without_tests = best.at("cost_without_tests");
  for (const auto& a : best.value("first_actions", Json::array())) {
    const std::string type = a.at("type");
    for (auto kind : {planning::ActionKind::test, planning::ActionKind::repair, planning::ActionKind::swap,
                      planning::ActionKind::refer})
      if (type == name_of(kind)) out.first_actions.push_back({kind, a.at("index").is_null() ? -1 : a.at("index").get<int>()});
  }
  return out;
} catch (const std::exception& e) {
  throw std::runtime_error(path + ": " + e.what());
}

}  // namespace lostspark::planner
