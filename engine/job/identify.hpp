// The family of an unknown vehicle as a probability, from what was seen and measured. docs/unknown-vehicles.md
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "job/family_signs.hpp"

namespace lostspark::job {

/// From here on one family counts as certain and the warnings end.
inline constexpr double k_family_certain = 0.95;
/// From here on a network file is written for the leading family without naming it.
inline constexpr double k_family_written = 0.8;
/// A sign that tells less is not asked for.
inline constexpr double k_sign_floor_bits = 0.05;

/// What was answered, by sign of family_signs().
struct Seen {
  inference::SignAnswers answers = inference::SignAnswers(family_signs().signs.size());
};

/// Takes an answer by its word ("primary_ohm", "to_six"); a sign of ohms takes a number too (0.5 belongs to the lower
/// answer). Throws InputError with the nearest sign or answer.
void see(Seen& seen, std::string_view sign, std::string_view answer);
/// "SIGN=ANSWER". Throws InputError.
void see(Seen& seen, std::string_view told);

struct FamilyBelief {
  std::string id, title;
  double probability = 0;
  bool installed = false;  ///< its plugin is there: a network of it can be written
};

struct SignGain {
  std::string sign;
  double gain_bits = 0;
};

struct Identification {
  std::vector<FamilyBelief> families;  ///< likeliest first
  std::vector<SignGain> signs;         ///< those that still tell something: seen before measured, in the order to ask
  std::vector<const FamilyHazard*> warnings;  ///< what to leave alone while it is open; empty when one is certain
  [[nodiscard]] bool certain() const { return families.front().probability >= k_family_certain; }
};

/// `installed`: ids of the families whose plugin loads.
[[nodiscard]] Identification identify(const Seen& seen, const std::vector<std::string>& installed);

/// The question for a sign, with one key per answer.
[[nodiscard]] Question sign_question(const SignQuestion& sign);

/// What the answers say about an option of the family ("cylinders" -> "4"); none: nothing.
[[nodiscard]] std::optional<std::string> told_option(const Seen& seen, std::string_view option);
/// The answer to a sign, empty where it was skipped. Throws InputError for an unknown sign.
[[nodiscard]] std::string answer_of(const Seen& seen, std::string_view sign);

}  // namespace lostspark::job
