#include "job/fault_class.hpp"

#include <algorithm>

namespace lostspark::job {

namespace {

/// What harness components are called in a class; empty for all others.
std::string harness_word(model::ComponentKind kind) {
  switch (kind) {
    case model::ComponentKind::wire:
      return "wire";
    case model::ComponentKind::connector:
      return "connector";
    case model::ComponentKind::splice:
      return "splice";
    case model::ComponentKind::earth_point:
      return "earth_point";
    case model::ComponentKind::part:
    case model::ComponentKind::operator_state:
    case model::ComponentKind::elsewhere:
      break;
  }
  return "";
}

}  // namespace

std::string fault_class(const model::Vehicle& v, model::Index index) {
  const auto& mode = v.modes[index];
  const auto& component = v.components[mode.component];
  const std::string way = mode.id.substr(mode.id.rfind('.') + 1);
  // Harness modes carry the pin or wire in front of the harm: "pin_3_corroded".
  const std::string harm = way.substr(way.rfind('_') == std::string::npos ? 0 : way.rfind('_') + 1);
  if (const auto word = harness_word(component.kind); !word.empty()) return word + "." + harm;
  return (component.group.empty() ? mode.group : component.group) + "." + way;
}

std::string repair_class(const model::Vehicle& v, model::Index index) {
  const auto& repair = v.repairs[index];
  const std::string way = repair.id.substr(repair.id.rfind('.') + 1);
  if (repair.component < 0) return way;
  const auto& component = v.components[repair.component];
  const std::string harness = harness_word(component.kind);
  return (harness.empty() ? component.group : harness) + "." + way;
}

std::vector<double> mode_odds(const model::Vehicle& v) {
  std::vector<double> out;
  for (const auto& m : v.modes) {
    const double p = std::clamp(m.prior, 1e-12, 0.5);
    out.push_back(p / (1 - p));
  }
  for (const auto& cause : v.common_causes) {
    double spared = cause.probability;
    for (const auto& [mode, p] : cause.modes) spared *= 1 - p;
    for (const auto& [mode, p] : cause.modes) out[static_cast<std::size_t>(mode)] += spared * p / (1 - p);
  }
  return out;
}

std::map<std::string, double> class_odds(const model::Vehicle& v) {
  const auto odds = mode_odds(v);
  std::map<std::string, double> out;
  for (std::size_t m = 0; m < odds.size(); ++m) out[fault_class(v, static_cast<model::Index>(m))] += odds[m];
  return out;
}

}  // namespace lostspark::job
