#include "family_rules.hpp"

#include <cmath>
#include <sstream>
#include <stdexcept>
#include <tuple>

namespace lostspark::tests {
namespace {

bool has(const std::string& list, const std::string& id) {
  return (" " + list + " ").find(" " + id + " ") != std::string::npos;
}

}  // namespace

bool is_elsewhere(const std::string& component) {
  return component == "fuel" || component == "compression" || component == "air" || component == "other";
}

double ignition_share(const FamilyClient& c) {
  double sum = 0;
  for (const auto& m : c.rows<ls_mode_v1>(LS_MODES))
    if (!is_elsewhere(m.component)) sum += m.share;
  for (const auto& l : c.rows<ls_link_v1>(LS_LINKS)) sum += l.corroded_share + l.open_share + l.chafed_share;
  return sum;
}

double elsewhere_part(const FamilyClient& c) {
  double elsewhere = 0;
  for (const auto& m : c.rows<ls_mode_v1>(LS_MODES))
    if (is_elsewhere(m.component)) elsewhere += m.share;
  return elsewhere / (elsewhere + 1000);
}

std::set<std::string> unused_parameters(const FamilyClient& c) {
  std::set<std::string> used, unused;
  for (const auto& i : c.rows<ls_stage_input_v1>(LS_STAGE_INPUTS))
    if (i.kind == LS_INPUT_PARAMETER) used.insert(i.a);
  for (const auto& e : c.rows<ls_element_v1>(LS_ELEMENTS))
    for (const char* p : {e.resistance_ohm, e.inductance_henry, e.emf_volt, e.frequency_hertz, e.frequency_factor})
      if (*p != '\0') used.insert(p);
  for (const auto& [id, value] : c.parameter)
    if (used.count(id) == 0 || !(value > 0)) unused.insert(id);
  return unused;
}

std::set<std::string> indistinct_modes(const FamilyClient& c) {
  using Changes = std::set<std::tuple<std::string, int, double, double>>;
  std::map<std::string, Changes> changes;
  for (const auto& r : c.rows<ls_change_v1>(LS_CHANGES))
    changes[r.mode].insert({r.parameter, r.operation, r.mild, r.severe});
  std::map<Changes, std::string> seen;
  std::set<std::string> bad, found;
  for (const auto& r : c.rows<ls_finding_v1>(LS_FINDINGS)) found.insert(r.mode);
  for (const auto& m : c.rows<ls_mode_v1>(LS_MODES)) {
    if (is_elsewhere(m.component)) continue;
    const std::string id = std::string(m.component) + "." + m.id;
    if (changes[id].empty()) {
      if (found.count(id) == 0) bad.insert(id + " changes nothing and nobody finds it");
      continue;
    }
    const auto [other, fresh] = seen.emplace(changes[id], id);
    if (!fresh) bad.insert(id + " is as " + other->second);
  }
  return bad;
}

std::set<std::string> missing_cautions(const FamilyClient& c) {
  std::set<std::string> known, bad;
  for (const auto& caution : c.rows<ls_caution_v1>(LS_CAUTIONS)) known.insert(caution.id);
  for (const auto& kind : c.rows<ls_test_kind_v1>(LS_TEST_KINDS)) {
    const std::string id = kind.id, cautions = kind.cautions, condition = kind.condition, setups = kind.setups;
    std::istringstream words(cautions);
    for (std::string word; words >> word;)
      if (known.count(word) == 0) bad.insert(id + ": unknown " + word);
    const auto need = [&](const char* caution) {
      if (!has(cautions, caution)) bad.insert(id + ": " + caution);
    };
    if (condition == "cranking")
      for (const char* needed : {"S01", "S02", "S03", "S04", "S12", "S19"}) need(needed);
    if (setups.find("gap_tester") != std::string::npos) need("S09");
    for (const char* defeats : {"bypassed", "stop_pressed", "kill_unplugged", "inhibit_unplugged", "stop_unplugged"})
      if (has(setups, defeats) || setups.find(std::string("_") + defeats) != std::string::npos) need("S13");
    if (kind.reads == LS_READS_OHMS) need("S10");
    if (id.rfind("battery", 0) == 0) need("S07");
  }
  return bad;
}

std::set<std::string> careless_stages(const FamilyClient& c) {
  const auto inputs = c.rows<ls_stage_input_v1>(LS_STAGE_INPUTS);
  const auto stages = c.rows<ls_stage_v1>(LS_STAGES);
  std::set<std::string> bad;
  for (std::size_t s = 0; s < stages.size(); ++s) {
    const std::string id = stages[s].id;
    std::vector<double> row, out(64);
    std::vector<bool> free;  // volts and outputs of other stages
    std::size_t terminals = 0, first_parameter = 1000;
    for (const auto& i : inputs) {
      if (i.stage != id) continue;
      if (i.kind == LS_INPUT_TERMINAL) {
        ++terminals;
        continue;
      }
      if (i.kind == LS_INPUT_PARAMETER && first_parameter == 1000) first_parameter = row.size();
      row.push_back(i.kind == LS_INPUT_PARAMETER ? c.parameter.at(i.a) : 1.0);
      free.push_back(i.kind != LS_INPUT_PARAMETER);
    }
    for (std::size_t i = 0; i < terminals; ++i)
      for (std::size_t j = 0; j <= i; ++j) row.push_back(i == j ? 10.0 : 0.0);
    for (const double volts : {1e-9, 1.0, 12.0, 1e4}) {
      auto in = row;
      for (std::size_t k = 0; k < free.size(); ++k)
        if (free[k]) in[k] = volts;
      c.evaluate(static_cast<std::int32_t>(s), in, out);
      for (const double v : out)
        if (!std::isfinite(v)) bad.insert(id + " is not finite");
    }
    if (first_parameter == 1000) continue;
    row[first_parameter] = 0;
    try {
      c.evaluate(static_cast<std::int32_t>(s), row, out);
      bad.insert(id + " takes nought");
    } catch (const std::runtime_error&) {  // refused: right
    }
  }
  return bad;
}

}  // namespace lostspark::tests
