#include "job/intake.hpp"

#include <algorithm>
#include <cmath>

#include "base/error.hpp"
#include "job/intake_words.hpp"
#include "job/number_line.hpp"
#include "job/words.hpp"

namespace lostspark::job {
namespace {

constexpr std::size_t k_choices_per_question = 9;

/// Cuts a list into questions of at most nine keys.
void ask(std::vector<Question>& out, const std::string& id, const std::string& text, AnswerKind kind,
         const std::vector<std::pair<std::string, std::string>>& choices) {
  const std::size_t pages = (choices.size() + k_choices_per_question - 1) / k_choices_per_question;
  for (std::size_t page = 0; page < pages; ++page) {
    Question q;
    q.id = page == 0 ? id : id + "." + std::to_string(page + 1);
    q.text = page == 0 ? text : text + " (" + std::to_string(page + 1) + " of " + std::to_string(pages) + ")";
    q.kind = kind;
    for (std::size_t i = page * k_choices_per_question;
         i < std::min(choices.size(), (page + 1) * k_choices_per_question); ++i)
      q.choices.push_back({std::to_string(i - page * k_choices_per_question + 1), choices[i].first, choices[i].second});
    out.push_back(std::move(q));
  }
}

template <class Rows>
std::vector<std::pair<std::string, std::string>> pairs_of(const Rows& rows) {
  std::vector<std::pair<std::string, std::string>> out;
  for (const auto& r : rows) out.emplace_back(std::string(r.id), std::string(r.text));
  return out;
}

template <class Rows>
std::vector<std::pair<std::string, std::string>> titles_of(const Rows& rows) {
  std::vector<std::pair<std::string, std::string>> out;
  for (const auto& r : rows) out.emplace_back(r.id, r.title.empty() ? r.id : r.title);
  return out;
}

bool several_cylinders(const model::Vehicle& vehicle) {
  for (const auto& [id, value] : vehicle.options)
    if (id == "cylinders") return value != "1";
  return false;
}

std::vector<model::Component> replaceable_parts(const model::Vehicle& vehicle) {
  std::vector<model::Component> out;
  for (const auto& r : vehicle.repairs) {
    if (r.kind != model::RepairKind::replace || r.component < 0) continue;
    const auto& c = vehicle.components[r.component];
    if (c.kind == model::ComponentKind::part &&
        std::none_of(out.begin(), out.end(), [&](const auto& seen) { return seen.id == c.id; }))
      out.push_back(c);
  }
  return out;
}

void add(std::vector<std::string>& list, const std::string& id) {
  if (std::find(list.begin(), list.end(), id) == list.end()) list.push_back(id);
}

std::vector<std::string> ids(const std::vector<std::pair<std::string, std::string>>& rows) {
  std::vector<std::string> out;
  for (const auto& r : rows) out.push_back(r.first);
  return out;
}

void check_words(std::string_view what, const std::vector<std::string>& given, const std::vector<std::string>& known) {
  for (const auto& g : given)
    if (std::find(known.begin(), known.end(), g) == known.end()) throw InputError(unknown(what, g, known));
}

/// "complaint: no spark, dies when hot"; nothing for a skipped question.
void line(std::vector<std::string>& out, const std::string& label, const std::vector<std::string>& given,
          const std::vector<std::pair<std::string, std::string>>& titles) {
  if (given.empty()) return;
  std::vector<std::string> texts;
  for (const auto& g : given) {
    const auto at = std::find_if(titles.begin(), titles.end(), [&](const auto& t) { return t.first == g; });
    texts.push_back(at == titles.end() ? g : at->second);
  }
  out.push_back(label + ": " + joined(texts, ", "));
}

std::vector<std::string> list_of(const std::string& one) {
  return one.empty() ? std::vector<std::string>{} : std::vector<std::string>{one};
}

std::vector<std::pair<std::string, std::string>> all_extents() {
  auto out = pairs_of(k_extent_single);
  for (auto& p : pairs_of(k_extent_several)) out.push_back(p);
  return out;
}

}  // namespace

std::vector<Question> intake_questions(const model::Vehicle& vehicle) {
  std::vector<Question> out;
  ask(out, "complaint", "what is the complaint?", AnswerKind::several, titles_of(vehicle.complaints));
  if (several_cylinders(vehicle))
    ask(out, "extent", "how far does it reach?", AnswerKind::one, pairs_of(k_extent_several));
  else
    ask(out, "extent", "is it there all the time?", AnswerKind::one, pairs_of(k_extent_single));
  ask(out, "shows", "when does it show?", AnswerKind::several, pairs_of(k_shows));
  ask(out, "recent_work", "where was work done lately?", AnswerKind::several, pairs_of(k_work_areas));
  ask(out, "replaced", "which parts are new already?", AnswerKind::several, titles_of(replaceable_parts(vehicle)));
  ask(out, "covers_off", "which covers are off already?", AnswerKind::several, titles_of(vehicle.covers));
  ask(out, "add_ons", "what was added to the wiring?", AnswerKind::several, pairs_of(k_add_ons));
  ask(out, "spark", "spark on arrival?", AnswerKind::one, pairs_of(k_spark));
  out.push_back({"limit", "customer's limit, parts and labour together?", AnswerKind::amount, {}});
  return out;
}

void answer(Intake& intake, const Question& question, std::string_view keys) {
  const std::string typed = trimmed(keys);
  if (typed.empty()) return;
  if (question.kind == AnswerKind::amount) {
    NumberLine amount;
    try {
      amount = parse_number_line(typed);
    } catch (const InputError&) {
      amount = {};
    }
    if (amount.numbers.size() != 1 || amount.said != Said::plain || !amount.numbers[0].unit.empty())
      throw InputError("'" + typed.substr(0, 40) + "' is no amount; type a number such as 150, or Enter to skip");
    intake.limit = amount.numbers[0].value;
    return;
  }
  std::vector<std::string> chosen;
  for (const char c : typed) {
    if (c == ' ' || c == ',' || c == '+') continue;
    const auto at = std::find_if(question.choices.begin(), question.choices.end(),
                                 [c](const Choice& choice) { return choice.key == std::string(1, c); });
    if (at == question.choices.end())
      throw InputError(std::string("'") + c + "' is no answer to \"" + question.text + "\"; keys 1 to " +
                       std::to_string(question.choices.size()) + ", or Enter to skip");
    add(chosen, at->id);
  }
  if (question.kind == AnswerKind::one && chosen.size() > 1)
    throw InputError("one key only for \"" + question.text + "\", or Enter to skip");
  const std::string field = question.id.substr(0, question.id.find('.'));
  const auto put = [&](std::vector<std::string>& list) {
    for (const auto& id : chosen) add(list, id);
  };
  if (chosen.empty()) return;
  if (field == "complaint")
    put(intake.complaints);
  else if (field == "extent")
    intake.extent = chosen.front();
  else if (field == "shows")
    put(intake.shows);
  else if (field == "recent_work")
    put(intake.recent_work);
  else if (field == "replaced")
    put(intake.replaced);
  else if (field == "covers_off")
    put(intake.covers_off);
  else if (field == "add_ons")
    put(intake.add_ons);
  else if (field == "spark")
    intake.spark = chosen.front();
  else
    throw InternalError("internal error: unknown question '" + question.id + "' (please report this)");
}

void check_intake(const model::Vehicle& vehicle, const Intake& intake) {
  check_words("complaint", intake.complaints, ids(titles_of(vehicle.complaints)));
  check_words("extent", list_of(intake.extent), ids(all_extents()));
  check_words("answer to when it shows", intake.shows, ids(pairs_of(k_shows)));
  check_words("area of recent work", intake.recent_work, ids(pairs_of(k_work_areas)));
  check_words("component", intake.replaced, ids(titles_of(vehicle.components)));
  check_words("cover", intake.covers_off, ids(titles_of(vehicle.covers)));
  check_words("add-on", intake.add_ons, ids(pairs_of(k_add_ons)));
  check_words("spark on arrival", list_of(intake.spark), ids(pairs_of(k_spark)));
  if (intake.limit && !(std::isfinite(*intake.limit) && *intake.limit >= 0))
    throw InputError("the customer's limit must be a sum of money, 0 or more");
}

std::vector<std::string> intake_lines(const model::Vehicle& vehicle, const Intake& intake) {
  std::vector<std::string> out;
  line(out, "complaint", intake.complaints, titles_of(vehicle.complaints));
  if (!intake.words.empty()) out.push_back("in the customer's words: " + intake.words);
  line(out, "extent", list_of(intake.extent), all_extents());
  line(out, "shows", intake.shows, pairs_of(k_shows));
  line(out, "recent work", intake.recent_work, pairs_of(k_work_areas));
  line(out, "already replaced", intake.replaced, titles_of(vehicle.components));
  line(out, "already off", intake.covers_off, titles_of(vehicle.covers));
  line(out, "add-ons", intake.add_ons, pairs_of(k_add_ons));
  line(out, "spark on arrival", list_of(intake.spark), pairs_of(k_spark));
  if (intake.limit) out.push_back("customer's limit: " + exact(*intake.limit));
  return out;
}

}  // namespace lostspark::job
