#include "job/minutes.hpp"

#include <algorithm>
#include <charconv>
#include <cmath>
#include <cstdio>
#include <set>

#include "base/error.hpp"
#include "job/bodies.hpp"
#include "job/fault_class.hpp"
#include "job/job.hpp"

namespace lostspark::job {
namespace {

using model::Index;
using Items = std::vector<std::pair<std::string, double>>;

bool of_network(const std::string& item) { return item.starts_with("cover."); }

/// "cover.seat:4 test.exciter_peak:3".
Items read_items(const history::StepMinutes& row) {
  Items out;
  const std::string& text = row.items;
  for (std::size_t from = 0; from < text.size();) {
    const std::size_t end = std::min(text.find(' ', from), text.size());
    const std::size_t colon = text.rfind(':', end);
    double minutes = 0;
    const bool good = colon != std::string::npos && colon > from && [&] {
      const auto [stop, error] = std::from_chars(text.data() + colon + 1, text.data() + end, minutes);
      return error == std::errc() && stop == text.data() + end && std::isfinite(minutes) && minutes > 0;
    }();
    if (!good)
      throw StoreError("the minutes noted at entry " + std::to_string(row.sequence) + " of job " + row.job +
                       " cannot be read ('" + text + "'); open that job again and close it once more");
    out.emplace_back(text.substr(from, colon - from), minutes);
    from = end + 1;
  }
  if (out.empty()) throw StoreError("the minutes noted in job " + row.job + " belong to nothing");
  return out;
}

/// Every item of the vehicle with the numbers it stands for.
template <class Use>
void each_item(model::Vehicle& v, const Use& use) {
  for (auto& c : v.covers) {
    use("cover." + c.id, c.remove_min);
    use("cover." + c.id, c.refit_min);
  }
  for (auto& s : v.setups) use("setup." + s.id, s.minutes);
  for (auto& c : v.conditions) use("condition." + c.id, c.minutes);
  for (auto& t : v.tests) {
    use("test." + t.kind, t.minutes);
    if (t.blind_min > 0) use("test." + t.kind, t.blind_min);
  }
  for (std::size_t r = 0; r < v.repairs.size(); ++r)
    use("repair." + repair_class(v, static_cast<Index>(r)), v.repairs[r].labour_min);
}

}  // namespace

MinuteSet LearnedMinutes::as_set() const {
  MinuteSet out;
  if (rows.empty()) return out;
  out.all = never.median;
  for (const auto& r : rows) (of_network(r.item) ? out.networks : out.families)[r.where][r.item] = r.factor.median;
  return out;
}

LearnedMinutes learn_minutes(const history::Knowledge& knowledge) {
  std::map<std::pair<std::string, std::string>, std::size_t> row_of;  // where, item
  std::vector<learning::MinuteSteps> groups;
  LearnedMinutes out;
  std::string family, vehicle, items;
  knowledge.each_step_minutes([&](const history::StepMinutes& step) {
    // Ordered by these three: steps made of the same come one after the other.
    if (groups.empty() || step.items != items || step.vehicle != vehicle || step.family != family) {
      groups.emplace_back();
      for (const auto& [item, minutes] : read_items(step)) {
        const auto key = std::make_pair(of_network(item) ? step.vehicle : step.family, item);
        groups.back().items.emplace_back(row_of.emplace(key, row_of.size()).first->second, minutes);
      }
      family = step.family;
      vehicle = step.vehicle;
      items = step.items;
    }
    groups.back().add(step.taken);
    out.steps += 1;
  });
  const auto fit = learning::fit_minutes({}, groups, row_of.size());
  out.never = fit.factor(row_of.size());
  for (const auto& [key, row] : row_of) out.rows.push_back({key.first, key.second, fit.steps[row], fit.factor(row)});
  return out;
}

std::vector<Learned::Minutes> minutes_of(const MinuteSet& set, const model::Vehicle& vehicle) {
  std::vector<Learned::Minutes> out;
  if (set.empty()) return out;
  const auto of = [](const std::map<std::string, MinuteSet::Factors>& all, const std::string& id) {
    const auto found = all.find(id);
    return found == all.end() ? MinuteSet::Factors{} : found->second;
  };
  const auto network = of(set.networks, vehicle.id), family = of(set.families, vehicle.family);
  std::set<std::string> met;
  model::Vehicle copy = vehicle;
  each_item(copy, [&](const std::string& item, double) {
    if (!met.insert(item).second) return;
    const auto& factors = of_network(item) ? network : family;
    const auto found = factors.find(item);
    const double factor = found == factors.end() ? set.all : found->second;
    if (factor != 1) out.push_back({item, factor});
  });
  return out;
}

void apply_minutes(model::Vehicle& v, const std::vector<Learned::Minutes>& learned) {
  std::map<std::string, double> factors;
  for (const auto& m : learned) factors[m.item] = m.factor;
  each_item(v, [&](const std::string& item, double& minutes) {
    if (const auto found = factors.find(item); found != factors.end()) minutes *= found->second;
  });
}

std::vector<history::StepMinutes> noted_steps(const Job& job) {
  std::vector<history::StepMinutes> out;
  const InForce force = in_force(job.log());
  if (force.taken.empty()) return out;
  std::map<std::string, double> learned;  // what the job's own planned minutes were multiplied by
  for (const auto& m : job.learned().minutes) learned[m.item] = m.factor;
  for (const auto& entry : job.log()) {
    const auto taken = force.taken.find(entry.sequence);
    // A reading that was typed wrongly and struck took its time all the same.
    if (taken == force.taken.end() || force.undone.contains(entry.sequence)) continue;
    std::string items;
    const Json body = body_of(entry);
    if (!body.contains("items")) continue;
    for (const auto& [item, minutes] : body.at("items").items()) {
      const auto factor = learned.find(item);
      char number[32];
      std::snprintf(number, sizeof number, "%.4g",
                    minutes.get<double>() / (factor == learned.end() ? 1 : factor->second));
      items += (items.empty() ? "" : " ") + item + ":" + number;
    }
    if (!items.empty())
      out.push_back({job.id(), entry.sequence, job.vehicle().family, job.vehicle().id, items, taken->second});
  }
  return out;
}

}  // namespace lostspark::job
