// The harness of a draft: a plug at each end that has one, a wire between, a bolt for earths, a splice where links
// part.
#pragma once

#include <map>
#include <set>
#include <string>
#include <vector>

#include "sources/draft.hpp"

namespace lostspark::sources {

/// TOML string; control characters become blanks.
[[nodiscard]] std::string toml_text(const std::string& text);
[[nodiscard]] std::string toml_list(const std::vector<std::string>& texts);
/// For a comment: control characters become blanks.
[[nodiscard]] std::string one_line(std::string text);

class DraftHarness {
 public:
  DraftHarness(const FamilyTables& tables, const std::map<std::string, DraftPlace>& places);
  /// Sections connector, splice, earth_point and chain.
  [[nodiscard]] std::string text() const;
  /// Keys place, covers and blind_min of a component.
  [[nodiscard]] std::string access(const std::string& component) const;
  /// Its terminals are read at a connector of the draft.
  [[nodiscard]] bool has_plug(const std::string& component) const { return plugs_.contains(component); }

 private:
  struct Plug {
    std::string id, title;
    int pins = 0;
  };
  void lay(const FamilyLink& link);
  [[nodiscard]] std::string pin_at(const std::string& terminal);
  [[nodiscard]] std::string earth_at(const std::string& component);
  [[nodiscard]] std::string free_id(const std::string& wanted);
  [[nodiscard]] std::string title_of(const std::string& component) const;
  [[nodiscard]] std::string plug_access(const std::string& component) const;

  const FamilyTables& tables_;
  const std::map<std::string, DraftPlace>& places_;
  std::map<std::string, int> leaving_;         // by terminal: how many links begin there
  std::map<std::string, std::string> branch_;  // by terminal: node at which further links begin
  std::map<std::string, Plug> plugs_;          // by component
  std::map<std::string, std::string> earths_;  // by component: its earth point
  std::set<std::string> taken_;                // ids in use
  std::string splices_, chains_;
};

}  // namespace lostspark::sources
