#include "job/shares.hpp"

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "base/error.hpp"
#include "job/fault_class.hpp"
#include "job/job_impl.hpp"
#include "job/memory.hpp"
#include "job/words.hpp"

namespace lostspark::job {
namespace {

Json rows_json(const std::map<std::string, ShareSet::Network>& rows) {
  Json out = Json::object();
  for (const auto& [id, n] : rows) out[id] = {{"family", n.family}, {"faults", n.faults}, {"factors", n.factors}};
  return out;
}

std::map<std::string, ShareSet::Network> rows_from(const Json& j) {
  std::map<std::string, ShareSet::Network> out;
  for (const auto& [id, row] : j.items())
    out[id] = {row.at("family").get<std::string>(), row.at("faults").get<double>(),
               row.at("factors").get<ShareSet::Factors>()};
  return out;
}

std::string body_json(const ShareSet& set) {
  Json out{{"networks", rows_json(set.networks)}, {"families", rows_json(set.families)}};
  const auto& m = set.minutes;
  if (!m.empty()) out["minutes"] = {{"all", m.all}, {"networks", m.networks}, {"families", m.families}};
  return out.dump();
}

MinuteSet minutes_from(const Json& body) {
  if (!body.contains("minutes")) return {};  // sets of older versions
  using Rows = std::map<std::string, MinuteSet::Factors>;
  const auto& m = body.at("minutes");
  return {m.at("all").get<double>(), m.at("networks").get<Rows>(), m.at("families").get<Rows>()};
}

ShareSet set_of(const history::RateSet& stored) {
  try {
    const auto j = Json::parse(stored.body);
    return {stored.name,    stored.made_at, stored.note, rows_from(j.at("networks")), rows_from(j.at("families")),
            minutes_from(j)};
  } catch (const Json::exception& e) {
    throw StoreError("the set '" + stored.name + "' in the job store cannot be read: " + e.what() +
                     "; set it aside (`lostspark rates set-aside`) or put back a backup");
  }
}

/// Name of the set in use after each event, "" for none; what roll_back goes back over.
std::vector<std::string> in_use_over_time(const history::Knowledge& knowledge) {
  std::vector<std::string> stack;
  for (const auto& e : knowledge.rate_events()) {
    if (e.action == "applied")
      stack.push_back(e.name);
    else if (e.action == "set_aside")
      stack.emplace_back();
    else if (!stack.empty())
      stack.pop_back();
  }
  return stack;
}

void store(history::Knowledge& knowledge, const ShareSet& set,
           const std::optional<history::RateEvent>& event = std::nullopt) {
  if (!knowledge.add_rate_set({set.name, set.made_at, set.note, body_json(set)}, event))
    throw InputError("there is a set '" + set.name + "' already; choose another name");
}

void check_name(const std::string& name) {
  const bool good = !name.empty() && name.size() <= 60 && std::all_of(name.begin(), name.end(), [](unsigned char c) {
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '_' || c == '-';
  });
  if (!good) throw InputError("'" + name + "' is no name for a set: expected letters, digits, '-' and '_', at most 60");
}

std::string first_advice(const model::Vehicle& v, const planning::Plan& plan) {
  if (plan.steps.empty()) return "nothing to advise";
  const auto& a = plan.steps.front();
  switch (a.kind) {
    case planning::StepKind::test:
      return v.tests[a.test].title;
    case planning::StepKind::repair:
      return v.repairs[a.repair].title;
    case planning::StepKind::refer:
      break;
  }
  return "refer the job on";
}

}  // namespace

std::optional<ShareSet> set_in_use(const history::Knowledge& knowledge) {
  const auto stack = in_use_over_time(knowledge);
  if (stack.empty() || stack.back().empty()) return std::nullopt;
  const auto stored = knowledge.rate_set(stack.back());
  if (!stored)
    throw StoreError("the job store uses a set '" + stack.back() + "' that it does not hold; put back a backup");
  return set_of(*stored);
}

std::vector<Learned::Share> shares_of(const ShareSet& set, const model::Vehicle& v) {
  std::vector<Learned::Share> out;
  const ShareSet::Factors* factors = nullptr;
  if (const auto network = set.networks.find(v.id); network != set.networks.end())
    factors = &network->second.factors;
  else if (const auto family = set.families.find(v.family); family != set.families.end())
    factors = &family->second.factors;
  if (factors == nullptr) return out;
  double before = 0, after = 0;
  for (std::size_t m = 0; m < v.modes.size(); ++m) {
    const auto& mode = v.modes[m];
    const auto factor = factors->find(fault_class(v, static_cast<Index>(m)));
    const double share = mode.share * (factor == factors->end() ? 1 : factor->second);
    before += mode.share;
    after += share;
    out.push_back({mode.id, share});
  }
  // Shares are shares: how many ignition faults a vehicle has stays the network's statement.
  if (after > 0)
    for (auto& s : out) s.share *= before / after;
  return out;
}

learning::LearnedShares learn_shares(const history::CaseSource& cases) {
  std::vector<learning::NetworkCases> all;
  std::map<std::string, std::size_t> row;
  for (const auto& o : cases.class_odds()) {
    const auto at = row.emplace(o.vehicle, all.size());
    if (at.second) {
      all.emplace_back();
      all.back().network = o.vehicle;
      all.back().family = o.family;
    }
    // Ordered by class: add() looks them up by halves.
    all[at.first->second].classes.push_back(o.name);
    all[at.first->second].odds.push_back(o.odds);
  }
  cases.each_pattern([&](const history::PatternCount& group) {
    const auto at = row.find(group.vehicle);
    if (at != row.end()) all[at->second].add(group.pattern, static_cast<double>(group.jobs));
  });
  std::erase_if(all, [](const auto& n) { return n.groups.empty(); });
  return learning::learn_shares(all);
}

ShareSet as_set(const learning::LearnedShares& learned, const LearnedMinutes& minutes, const std::string& name,
                const std::string& made_at, const std::string& note) {
  ShareSet out{name, made_at, note, {}, {}, minutes.as_set()};
  const auto factors = [](const learning::SharesOf& of) {
    ShareSet::Factors f;
    for (const auto& c : of.classes)
      if (c.file > 0) f[c.name] = c.learned / c.file;
    return f;
  };
  for (const auto& n : learned.networks) out.networks[n.name] = {n.family, n.jobs, factors(n)};
  for (const auto& f : learned.families) out.families[f.name] = {f.name, f.jobs, factors(f)};
  return out;
}

std::vector<RateView> learn_rates(const history::CaseSource& cases, const learning::LearnedShares& learned) {
  std::map<std::string, double> hours;
  for (const auto& e : cases.exposures()) hours[e.vehicle] += e.hours;
  std::map<std::string, std::vector<RateView>> by_class;
  for (const auto& n : learned.networks)
    if (const auto h = hours.find(n.name); h != hours.end())
      for (const auto& c : n.classes) by_class[c.name].push_back({n.name, c.name, c.count, h->second, {}});
  std::vector<RateView> out;
  for (auto& [name, rows] : by_class) {
    std::vector<double> faults, exposure;
    double faults_sum = 0, hours_sum = 0;
    for (const auto& r : rows) {
      faults_sum += r.faults;
      hours_sum += r.hours;
    }
    if (faults_sum < 0.5) continue;  // never met: nothing to tell about its rate
    // In units that give about one fault each, as the pool's priors expect.
    const double unit = hours_sum / faults_sum;
    for (const auto& r : rows) {
      faults.push_back(r.faults);
      exposure.push_back(r.hours / unit);
    }
    const auto pooled = learning::pool_rates(faults, exposure);
    for (std::size_t i = 0; i < rows.size(); ++i) {
      const auto& e = pooled.rates[i];
      rows[i].per_thousand_hours = {e.mean / unit * 1000, e.low / unit * 1000, e.high / unit * 1000};
      out.push_back(std::move(rows[i]));
    }
  }
  std::sort(out.begin(), out.end(),
            [](const auto& a, const auto& b) { return std::tie(a.vehicle, a.name) < std::tie(b.vehicle, b.name); });
  return out;
}

AdviceEffect advice_effect(const Desk& desk, const std::string& vehicle, const ShareSet& set) {
  const auto filed = desk.vehicle(vehicle);
  AdviceEffect out;
  out.vehicle = filed->id;
  Intake intake;
  std::string complaint = filed->find_complaint("no_spark") ? "no_spark" : "";
  if (complaint.empty() && !filed->complaints.empty()) complaint = filed->complaints.front().id;
  if (!complaint.empty()) intake.complaints = {complaint};
  out.complaint = complaint;
  Learned now = learned_for(filed, desk.workshop(), desk.store().knowledge());
  Learned then = now;
  then.set = set.name.empty() ? "learned" : set.name;
  then.shares = shares_of(set, *filed);
  then.minutes = minutes_of(set.minutes, *filed);
  planning::BenchState bench;
  bench.helper = desk.workshop().helper;
  const auto ask = [&](const Learned& learned, std::string& advice, std::vector<std::string>& suspects) {
    const auto v = with_learned(filed, learned);
    const auto belief = inference::update(inference::compile(v, desk.workshop(), desk.options().inference),
                                          intake_evidence(*v, intake));
    advice = first_advice(*v, planning::advise(belief, bench));
    for (const auto& s : suspect_views(*v, belief, 0.001, 3))
      suspects.push_back(s.title + " " + exact(std::round(s.probability * 1000) / 10) + " %");
  };
  ask(now, out.now, out.suspects_now);
  ask(then, out.then, out.suspects_then);
  return out;
}

ShareSet apply_shares(Desk& desk, const history::CaseSource& cases, const std::string& name, const std::string& note) {
  check_name(name);
  auto& knowledge = desk.store().knowledge();
  ShareSet set;
  if (const auto stored = knowledge.rate_set(name)) {
    set = set_of(*stored);
  } else {
    const auto learned = learn_shares(cases);
    const auto minutes = learn_minutes(knowledge);
    if (learned.networks.empty() && minutes.rows.empty())
      throw InputError(
          "there is no closed job to learn from yet; close jobs, or import a set (`lostspark rates import`)");
    set = as_set(learned, minutes, name, desk.now(), note);
    // Made and in use, or neither, whatever dies on the way.
    store(knowledge, set, history::RateEvent{"applied", name, desk.now()});
    return set;
  }
  knowledge.add_rate_event({"applied", name, desk.now()});
  return set;
}

bool set_aside(Desk& desk) {
  auto& knowledge = desk.store().knowledge();
  const auto current = set_in_use(knowledge);
  if (!current) return false;
  knowledge.add_rate_event({"set_aside", current->name, desk.now()});
  return true;
}

std::optional<ShareSet> roll_back(Desk& desk) {
  auto& knowledge = desk.store().knowledge();
  const auto stack = in_use_over_time(knowledge);
  if (stack.empty()) throw InputError("no set was ever applied, so there is nothing to go back to");
  knowledge.add_rate_event({"rolled_back", stack.back(), desk.now()});
  return set_in_use(knowledge);
}

void import_set(Desk& desk, const ShareSet& set) {
  check_name(set.name);
  store(desk.store().knowledge(), set);
}

ShareSet named_set(const history::Knowledge& knowledge, const std::string& name) {
  if (const auto stored = knowledge.rate_set(name)) return set_of(*stored);
  std::vector<std::string> known;
  for (const auto& s : knowledge.rate_sets()) known.push_back(s.name);
  throw InputError(unknown("set", name, known));
}

}  // namespace lostspark::job
