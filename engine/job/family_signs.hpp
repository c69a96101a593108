// The signs by which the family of an unknown vehicle is told, and what a wrong guess would break.
// The numbers are judgement: docs/unknown-vehicles.md holds the same table.
#pragma once

#include <string>
#include <vector>

#include "inference/signs.hpp"
#include "job/intake.hpp"

namespace lostspark::job {

/// How one sign is asked for.
struct SignQuestion {
  std::string id, text;
  std::string how;                   ///< how to look or measure
  bool measured = false;             ///< needs a meter: asked after what is seen
  std::vector<std::string> words;    ///< the answers for people, in the order of the sign's answers
  std::vector<std::string> notes;    ///< ids of safety notes that go with it
  std::vector<std::string> hazards;  ///< ids of FamilyHazard that go with it
  std::string source;
};

/// Something that breaks a part or hurts a person where the family is one of `harms`.
struct FamilyHazard {
  std::string id, text;            ///< text: what not to do, and why
  std::vector<std::string> harms;  ///< family ids
  std::string note;                ///< id of the safety note, empty: property only, no note
};

/// A note of docs/safety.md in short.
struct SafetyNote {
  std::string id, signal_word, text, avoid;
};

/// Families that the program knows, installed or not.
struct KnownFamily {
  std::string id, title;
};

[[nodiscard]] const std::vector<KnownFamily>& known_families();
/// Classes are the known families, in the same order; signs are those of sign_questions(), in the same order.
[[nodiscard]] const inference::SignTable& family_signs();
[[nodiscard]] const std::vector<SignQuestion>& sign_questions();
[[nodiscard]] const std::vector<FamilyHazard>& family_hazards();
/// The note with this id. Throws InternalError for one that is not held here.
[[nodiscard]] const SafetyNote& safety_note(const std::string& id);

}  // namespace lostspark::job
