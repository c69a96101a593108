// A host in miniature for tests: loads a plugin, reads its tables through the C interface, fills stage inputs by name.
#pragma once

#include <functional>
#include <map>
#include <string>
#include <vector>

#include "lostspark_plugin.h"

namespace lostspark::tests {

/// Conductances of a harness between named nodes; "earth" is the reference.
class HarnessMatrix {
 public:
  void join(const std::string& a, const std::string& b, double ohm) { branches_.push_back({a, b, 1 / ohm}); }
  /// Packed lower triangle over these terminals; every node that is no terminal is eliminated (Kron reduction), every
  /// node keeps 1e-9 siemens to earth so that nothing floats.
  [[nodiscard]] std::vector<double> packed(const std::vector<std::string>& terminals) const;

 private:
  struct Branch {
    std::string a, b;
    double siemens;
  };
  std::vector<Branch> branches_;
};

/// One instance of a plugin of this tree, AC-CDI where nothing is said. Throws std::runtime_error with the plugin's message.
class FamilyClient {
 public:
  explicit FamilyClient(const std::vector<std::pair<std::string, std::string>>& settings = {},
                        const std::string& family = "ac_cdi");
  ~FamilyClient();
  FamilyClient(const FamilyClient&) = delete;
  FamilyClient& operator=(const FamilyClient&) = delete;

  std::map<std::string, double> parameter;     ///< starts at the typical values
  std::map<std::string, double> linear_volts;  ///< by "a|b"
  HarnessMatrix harness;

  /// Runs all stages in their order; outputs by "stage.output".
  const std::map<std::string, double>& run(bool with_reports = false);
  [[nodiscard]] const std::map<std::string, double>& outputs() const { return outputs_; }

  template <class Row>
  [[nodiscard]] std::vector<Row> rows(std::int32_t table) const {
    std::vector<Row> result(static_cast<std::size_t>(family_->count(instance_, table)));
    for (std::size_t i = 0; i < result.size(); ++i) read(table, static_cast<std::int32_t>(i), &result[i]);
    return result;
  }
  [[nodiscard]] const ls_family_v1& family() const { return *family_; }
  [[nodiscard]] const ls_instance* instance() const { return instance_; }
  /// One stage with a ready row of inputs.
  void evaluate(std::int32_t stage, const std::vector<double>& in, std::vector<double>& out) const;
  /// The row of inputs the last run() gave to a stage.
  [[nodiscard]] const std::vector<double>& last_inputs(std::size_t stage) const { return last_inputs_[stage]; }

 private:
  void read(std::int32_t table, std::int32_t index, void* out) const;
  void* library_ = nullptr;
  const ls_family_v1* family_ = nullptr;
  ls_instance* instance_ = nullptr;
  std::map<std::string, double> outputs_;
  std::vector<std::vector<double>> last_inputs_;
};

/// One circuit of a file in tests/data: column -> number (NaN where empty), and its name.
struct Deck {
  std::string name;
  std::map<std::string, double> value;
};
[[nodiscard]] std::vector<Deck> accdi_decks(const std::string& file = "accdi_decks.csv");
/// Sets parameters and harness as in the deck; meter_rise_second stays as it is.
void build_deck(FamilyClient& client, const Deck& deck);
/// A healthy vehicle's harness, every link 5 milliohm, the kill contacts open.
void build_healthy_harness(FamilyClient& client);
/// The same with one link, named by its ends, at another resistance.
void build_joint(FamilyClient& client, const std::string& from, const std::string& to, double ohm);

}  // namespace lostspark::tests
