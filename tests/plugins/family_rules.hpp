// What must hold for the tables of every family, as checks that a family's own test file calls.
#pragma once

#include <set>
#include <string>

#include "family_client.hpp"

namespace lostspark::tests {

/// Fuel, compression, air, other: not ignition.
[[nodiscard]] bool is_elsewhere(const std::string& component);

/// Shares per 1000 ignition complaints: modes of all components but those elsewhere, and links.
[[nodiscard]] double ignition_share(const FamilyClient& family);
/// Part of all complaints that the modes elsewhere hold.
[[nodiscard]] double elsewhere_part(const FamilyClient& family);

/// Parameters that neither a stage nor an element takes.
[[nodiscard]] std::set<std::string> unused_parameters(const FamilyClient& family);

/// Pairs of modes that change the same parameters in the same way, and ignition modes that change nothing and have no
/// finding.
[[nodiscard]] std::set<std::string> indistinct_modes(const FamilyClient& family);

/// Test kinds whose cautions are unknown, or that lack what their condition, set-up or instrument asks for: "id: S01".
[[nodiscard]] std::set<std::string> missing_cautions(const FamilyClient& family);

/// Stages that answer wild inputs with anything but finite numbers, or take nought for a parameter.
[[nodiscard]] std::set<std::string> careless_stages(const FamilyClient& family);

}  // namespace lostspark::tests
