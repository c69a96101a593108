#include "family_client.hpp"

#include <dlfcn.h>

#include <cmath>
#include <fstream>
#include <limits>
#include <sstream>
#include <stdexcept>
#include <tuple>

namespace lostspark::tests {

std::vector<double> HarnessMatrix::packed(const std::vector<std::string>& terminals) const {
  std::map<std::string, std::size_t> at;
  for (const auto& t : terminals) at.emplace(t, at.size());
  for (const auto& b : branches_)
    for (const auto& node : {b.a, b.b})
      if (node != "earth") at.emplace(node, at.size());
  const std::size_t n = at.size();
  std::vector<std::vector<double>> y(n, std::vector<double>(n, 0.0));
  for (std::size_t i = 0; i < n; ++i) y[i][i] = 1e-9;
  for (const auto& b : branches_) {
    if (b.a != "earth") y[at[b.a]][at[b.a]] += b.siemens;
    if (b.b != "earth") y[at[b.b]][at[b.b]] += b.siemens;
    if (b.a == "earth" || b.b == "earth") continue;
    y[at[b.a]][at[b.b]] -= b.siemens;
    y[at[b.b]][at[b.a]] -= b.siemens;
  }
  for (std::size_t k = n; k-- > terminals.size();)
    for (std::size_t i = 0; i < k; ++i)
      for (std::size_t j = 0; j < k; ++j) y[i][j] -= y[i][k] * y[k][j] / y[k][k];
  std::vector<double> packed;
  for (std::size_t i = 0; i < terminals.size(); ++i)
    for (std::size_t j = 0; j <= i; ++j) packed.push_back(y[i][j]);
  return packed;
}

FamilyClient::FamilyClient(const std::vector<std::pair<std::string, std::string>>& settings,
                           const std::string& family) {
  const std::string file = std::string(LOSTSPARK_PLUGIN_DIR) + "/" + family + ".so";
  library_ = dlopen(file.c_str(), RTLD_NOW | RTLD_LOCAL);
  if (library_ == nullptr) throw std::runtime_error(dlerror());
  const auto* entry = static_cast<const ls_entry_v1*>(dlsym(library_, "lostspark_entry"));
  if (entry == nullptr) throw std::runtime_error(file + " has no lostspark_entry");
  family_ = static_cast<const ls_family_v1*>(entry->query(LS_FAMILY_INTERFACE));
  std::vector<ls_setting> given;
  for (const auto& [id, value] : settings) given.push_back({id.c_str(), value.c_str()});
  char text[512] = "";
  ls_message message{text, sizeof text};
  instance_ = family_->create(given.data(), static_cast<std::int32_t>(given.size()), &message);
  if (instance_ == nullptr) {
    dlclose(library_);
    throw std::runtime_error(text);
  }
  for (const auto& p : rows<ls_parameter_v1>(LS_PARAMETERS)) parameter[p.id] = p.typical;
  linear_volts["control_module.gate|control_module.ground"] = 3;
}

FamilyClient::~FamilyClient() {
  family_->destroy(instance_);
  dlclose(library_);
}

void FamilyClient::read(std::int32_t table, std::int32_t index, void* out) const {
  char text[512] = "";
  ls_message message{text, sizeof text};
  if (family_->row(instance_, table, index, out, &message) != LS_OK) throw std::runtime_error(text);
}

void FamilyClient::evaluate(std::int32_t stage, const std::vector<double>& in, std::vector<double>& out) const {
  char text[512] = "";
  ls_message message{text, sizeof text};
  if (family_->evaluate(instance_, stage, 1, in.data(), out.data(), &message) != LS_OK)
    throw std::runtime_error(text);
}

const std::map<std::string, double>& FamilyClient::run(bool with_reports) {
  const auto stages = rows<ls_stage_v1>(LS_STAGES);
  const auto inputs = rows<ls_stage_input_v1>(LS_STAGE_INPUTS);
  const auto outputs = rows<ls_stage_output_v1>(LS_STAGE_OUTPUTS);
  outputs_.clear();
  last_inputs_.assign(stages.size(), {});
  for (std::size_t s = 0; s < stages.size(); ++s) {
    if (stages[s].report_only != 0 && !with_reports) continue;
    std::vector<double> in;
    std::vector<std::string> terminals;
    for (const auto& i : inputs) {
      if (std::string(i.stage) != stages[s].id) continue;
      if (i.kind == LS_INPUT_PARAMETER) in.push_back(parameter.at(i.a));
      if (i.kind == LS_INPUT_OUTPUT) in.push_back(outputs_.at(i.a));
      if (i.kind == LS_INPUT_LINEAR_VOLTS) in.push_back(linear_volts.at(std::string(i.a) + "|" + i.b));
      if (i.kind == LS_INPUT_TERMINAL) terminals.push_back(i.a);
    }
    for (double y : harness.packed(terminals)) in.push_back(y);
    std::vector<std::string> names;
    for (const auto& o : outputs)
      if (std::string(o.stage) == stages[s].id) names.push_back(std::string(o.stage) + "." + o.id);
    std::vector<double> out(names.size(), std::numeric_limits<double>::quiet_NaN());
    evaluate(static_cast<std::int32_t>(s), in, out);
    for (std::size_t k = 0; k < names.size(); ++k) outputs_[names[k]] = out[k];
    last_inputs_[s] = in;
  }
  return outputs_;
}

std::vector<Deck> accdi_decks(const std::string& name) {
  std::ifstream file(std::string(LOSTSPARK_SOURCE_DIR) + "/tests/data/" + name);
  std::vector<std::string> columns;
  std::vector<Deck> decks;
  for (std::string line; std::getline(file, line);) {
    if (line.empty() || line[0] == '#') continue;
    std::vector<std::string> cells;
    std::stringstream row(line);
    for (std::string cell; std::getline(row, cell, ',');) cells.push_back(cell);
    if (columns.empty()) {
      columns = cells;
      continue;
    }
    Deck deck{cells.at(0), {}};
    for (std::size_t k = 1; k < columns.size(); ++k)
      deck.value[columns[k]] =
          k < cells.size() && !cells[k].empty() ? std::stod(cells[k]) : std::numeric_limits<double>::quiet_NaN();
    decks.push_back(std::move(deck));
  }
  return decks;
}

void build_deck(FamilyClient& c, const Deck& deck) {
  const auto& v = deck.value;
  auto& p = c.parameter;
  p["cranking_speed_rpm"] = v.at("speed_rpm");
  p["exciter_emf_volt"] = v.at("exciter_emf_volt");
  p["exciter_ohm"] = v.at("exciter_ohm");
  p["exciter_henry"] = v.at("exciter_henry");
  p["capacitor_leak_ohm"] = 1 / (1 / v.at("capacitor_leak_ohm") + 1 / 50e6);  // the open thyristor of the decks
  p["demand_volt"] = v.at("demand_volt");
  p["plug_leak_ohm"] = v.at("plug_leak_ohm");
  p["secondary_leak_ohm"] = v.at("secondary_leak_ohm");
  p["cap_ohm"] = v.at("lead_ohm");
  p["lead_ohm"] = p["ht_joint_ohm"] = 1e-3;
  p["arc_volt"] = v.at("arc_volt");
  p["earth_lead_henry"] = std::max(v.at("coil_earth_henry"), 1e-12);
  c.linear_volts["control_module.gate|control_module.ground"] = v.at("gate_volt");
  constexpr double k_none = 1e-4;  // ideal connections of the decks
  c.harness = {};
  c.harness.join("exciter.hot", "control_module.source", k_none);
  c.harness.join("exciter.foot", "earth", k_none);
  c.harness.join("control_module.source", "earth", v.at("kill_ohm"));
  c.harness.join("control_module.source", "earth", 2e6);  // meter of the decks
  c.harness.join("control_module.ground", "earth", k_none);
  c.harness.join("control_module.coil_out", "ignition_coil.primary", v.at("joint_ohm"));
  c.harness.join("ignition_coil.ground", "earth", std::max(v.at("coil_earth_ohm"), k_none));
}

void build_healthy_harness(FamilyClient& c) { build_joint(c, "", "", 0); }

void build_joint(FamilyClient& c, const std::string& from, const std::string& to, double ohm) {
  c.harness = {};
  for (const auto& [a, b, good] : {std::tuple{"exciter.hot", "control_module.source", 5e-3},
                                   {"exciter.foot", "earth", 0.02},
                                   {"control_module.ground", "earth", 5e-3},
                                   {"control_module.coil_out", "ignition_coil.primary", 5e-3},
                                   {"ignition_coil.ground", "earth", 5e-3}})
    c.harness.join(a, b, from == a && to == b ? ohm : good);
  c.harness.join("control_module.source", "earth", 3e8);  // stop contacts, open
}

}  // namespace lostspark::tests
