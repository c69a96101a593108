#include "job/identify.hpp"

#include <algorithm>
#include <cstdlib>
#include <map>

#include "base/error.hpp"
#include "sources/text.hpp"

namespace lostspark::job {
namespace {

constexpr double k_harm_floor = 0.02;  // together less than this: not worth a line

// Upper ends of the answers of primary_ohm but the last.
constexpr double k_ohm_ends[] = {0.5, 1.5, 6};

std::size_t sign_row(std::string_view id) {
  const auto& signs = family_signs().signs;
  std::vector<std::string> ids;
  for (std::size_t s = 0; s < signs.size(); ++s) {
    if (signs[s].id == id) return s;
    ids.push_back(signs[s].id);
  }
  throw InputError("there is no sign '" + std::string(id) + "'" + sources::suggestion(id, ids));
}

std::optional<std::size_t> by_ohms(const std::string& text) {
  char* rest = nullptr;
  const double ohm = std::strtod(text.c_str(), &rest);
  if (text.empty() || *rest != '\0') return std::nullopt;
  if (!(ohm >= 0) || ohm > 1e12) throw InputError("'" + text + "' are no ohms of a coil");
  return static_cast<std::size_t>(
      std::count_if(std::begin(k_ohm_ends), std::end(k_ohm_ends), [&](double end) { return ohm > end; }));
}

}  // namespace

void see(Seen& seen, std::string_view sign, std::string_view answer) {
  const auto row = sign_row(sign);
  const auto& answers = family_signs().signs[row].answers;
  if (sign == "primary_ohm") {
    if (const auto found = by_ohms(std::string(answer))) {
      seen.answers[row] = found;
      return;
    }
  }
  const auto at = std::find(answers.begin(), answers.end(), answer);
  if (at == answers.end())
    throw InputError("the sign '" + std::string(sign) + "' has no answer '" + std::string(answer) + "'; it takes " +
                     sources::join(answers, ", ") + (sign == "primary_ohm" ? ", or a number of ohms" : ""));
  seen.answers[row] = static_cast<std::size_t>(at - answers.begin());
}

void see(Seen& seen, std::string_view told) {
  const auto equals = told.find('=');
  if (equals == std::string_view::npos)
    throw InputError("'" + std::string(told) + "' is no SIGN=ANSWER, as battery=none");
  see(seen, told.substr(0, equals), told.substr(equals + 1));
}

Identification identify(const Seen& seen, const std::vector<std::string>& installed) {
  const auto& table = family_signs();
  const auto p = inference::class_posterior(table, seen.answers);
  Identification result;
  std::map<std::string, double> probability;
  for (std::size_t f = 0; f < p.size(); ++f) {
    const auto& family = known_families()[f];
    const bool there = std::find(installed.begin(), installed.end(), family.id) != installed.end();
    result.families.push_back({family.id, family.title, p[f], there});
    probability[family.id] = p[f];
  }
  std::stable_sort(result.families.begin(), result.families.end(),
                   [](const FamilyBelief& a, const FamilyBelief& b) { return a.probability > b.probability; });
  for (const bool measured : {false, true})
    for (std::size_t s = 0; s < table.signs.size(); ++s) {
      if (sign_questions()[s].measured != measured) continue;
      const double bits = inference::sign_gain_bits(table, seen.answers, s);
      if (bits >= k_sign_floor_bits) result.signs.push_back({table.signs[s].id, bits});
    }
  if (result.certain()) return result;
  for (const auto& hazard : family_hazards()) {
    double harmed = 0;
    for (const auto& id : hazard.harms) harmed += probability.at(id);
    if (harmed >= k_harm_floor) result.warnings.push_back(&hazard);
  }
  return result;
}

Question sign_question(const SignQuestion& sign) {
  Question q{sign.id, sign.text, AnswerKind::one, {}};
  const auto& answers = family_signs().signs[sign_row(sign.id)].answers;
  for (std::size_t i = 0; i < answers.size(); ++i)
    q.choices.push_back({std::to_string(i + 1), answers[i], sign.words[i]});
  return q;
}

std::string answer_of(const Seen& seen, std::string_view sign) {
  const auto row = sign_row(sign);
  return seen.answers[row] ? family_signs().signs[row].answers[*seen.answers[row]] : std::string();
}

std::optional<std::string> told_option(const Seen& seen, std::string_view option) {
  const auto is = [&](const char* sign, const char* word) { return answer_of(seen, sign) == word; };
  if (option == "cylinders") {
    // "more" is asked for as a number.
    for (const auto& [word, count] : {std::pair{"one", "1"}, {"two", "2"}, {"three", "3"}, {"four", "4"}})
      if (is("cylinders", word)) return count;
  }
  if (option == "pairs") {
    if (is("cylinders", "two")) return "1";
    if (is("cylinders", "four")) return "2";
  }
  if (option == "distributor" && !answer_of(seen, "outputs").empty())
    return is("outputs", "distributor") ? "true" : "false";
  if (option == "switching" && !answer_of(seen, "breaker").empty()) return is("breaker", "seen") ? "points" : "module";
  return std::nullopt;
}

}  // namespace lostspark::job
