#include "job/learned.hpp"

#include <algorithm>
#include <nlohmann/json.hpp>

#include "base/error.hpp"
#include "job/minutes.hpp"
#include "model/common_causes.hpp"

namespace lostspark::job {

std::shared_ptr<const model::Vehicle> with_learned(const std::shared_ptr<const model::Vehicle>& vehicle,
                                                   const Learned& learned) {
  if (learned.empty()) return vehicle;
  model::Vehicle v = *vehicle;
  for (const auto& p : learned.parameters)
    if (const auto row = v.find_parameter(p.id)) {
      auto& parameter = v.parameters[*row];
      parameter.typical = p.typical;
      parameter.log_sd = p.log_sd;
      parameter.event_log_sd = p.event_log_sd;
      parameter.origin = model::Origin::shop;
    }
  for (const auto& t : learned.tests)
    if (const auto row = v.find_test(t.id)) {
      v.tests[*row].learned_log_offset = t.log_offset;
      v.tests[*row].learned_from = t.readings;
    }
  for (const auto& s : learned.shares)
    if (const auto row = v.find_mode(s.mode)) {
      auto& mode = v.modes[*row];
      mode.share = s.share;
      // As the sources do: docs/model.md, section 1.
      mode.prior =
          std::min(0.5, v.ignition_faults_per_vehicle * mode.share / 1000 * v.components[mode.component].age_factor);
    }
  v.common_causes = model::common_causes(v);
  apply_minutes(v, learned.minutes);
  return std::make_shared<const model::Vehicle>(std::move(v));
}

std::string learned_json(const Learned& learned) {
  nlohmann::json out = nlohmann::json::object();
  auto parameters = nlohmann::json::array(), tests = parameters, shares = parameters, minutes = parameters;
  for (const auto& p : learned.parameters)
    parameters.push_back(
        {{"id", p.id}, {"typical", p.typical}, {"log_sd", p.log_sd}, {"event_log_sd", p.event_log_sd}});
  for (const auto& t : learned.tests)
    tests.push_back({{"id", t.id}, {"log_offset", t.log_offset}, {"readings", t.readings}});
  for (const auto& s : learned.shares) shares.push_back({{"mode", s.mode}, {"share", s.share}});
  for (const auto& m : learned.minutes) minutes.push_back({{"item", m.item}, {"factor", m.factor}});
  if (!parameters.empty()) out["parameters"] = parameters;
  if (!tests.empty()) out["tests"] = tests;
  if (!learned.set.empty()) out["set"] = learned.set;
  if (!shares.empty()) out["shares"] = shares;
  if (!minutes.empty()) out["minutes"] = minutes;
  return out.dump();
}

Learned learned_from_json(const std::string& text) {
  try {
    const auto j = nlohmann::json::parse(text);
    Learned out;
    const auto rows = [&](const char* key) { return j.value(key, nlohmann::json::array()); };
    for (const auto& p : rows("parameters"))
      out.parameters.push_back({p.at("id"), p.at("typical").get<double>(), p.at("log_sd").get<double>(),
                                p.at("event_log_sd").get<double>()});
    for (const auto& t : rows("tests"))
      out.tests.push_back({t.at("id"), t.at("log_offset").get<double>(), t.at("readings").get<std::int32_t>()});
    for (const auto& s : rows("shares")) out.shares.push_back({s.at("mode"), s.at("share").get<double>()});
    for (const auto& m : rows("minutes")) out.minutes.push_back({m.at("item"), m.at("factor").get<double>()});
    out.set = j.value("set", "");
    return out;
  } catch (const nlohmann::json::exception& e) {
    throw StoreError("what the shop had learned when the job was opened cannot be read from its log: " +
                     std::string(e.what()) + "; put back a backup of the store");
  }
}

}  // namespace lostspark::job
